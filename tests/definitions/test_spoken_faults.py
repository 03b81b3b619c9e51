"""Every fault of a form file is said in the language of whoever sees it.

Outside of what is said stand only places and what the file itself has: names, keys, formulas.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from builders import form_of, write_form
from commission.definitions import schema
from commission.definitions.load import load_form
from commission.definitions.model import FigureKind, LimitKind
from commission.errors import FormError, FormulaError
from commission.formula.functions import FUNCTIONS
from commission.formula.parse import parse
from commission.language import ENGLISH, speaking
from commission.sequence import functional_schema
from commission.units import UNITS
from definitions.test_figures import CHART, FIELDS
from definitions.test_figures import FAULTS as FIGURE_FAULTS
from definitions.test_figures import REPEATS as FIGURE_REPEATS
from definitions.test_load import BAD, LEG
from sequence.test_functional_load import FAULTS as SEQUENCE_FAULTS
from sequence.test_functional_load import TEST
from sequence.test_functional_load import faults_of as sequence_faults
from tests.spoken_marks import CODE, OPEN, speak_marks, strangers

FILES = ("page.toml", "sequence.toml")


def keys() -> Iterator[str]:
    """Yield what a form file calls its tables, keys, kinds and roles."""
    for module in (schema, functional_schema):
        for table in vars(module).values():
            yield from getattr(table, "model_fields", {})
    yield from ("section", "step", "lane", "mark", "moment", "figure", "point", "process")
    yield from (str(kind) for kind in (*FigureKind, *LimitKind))
    for function in FUNCTIONS.values():
        yield from (function.name, *(argument.name for argument in function.arguments))


def assert_said(faults: tuple[str, ...], *files: str) -> None:
    typed = sorted({word for text in files for word in re.findall(r"\w+", text)})
    for fault in faults:
        assert OPEN in fault, fault
        found = strangers(fault, (), [*typed, *keys(), *UNITS, *FILES])
        assert not found, fault


@pytest.mark.parametrize("text", [text for text, _ in BAD])
def test_each_fault_of_a_page_is_said(
    text: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = f'[section]\nname = "page"\ntitle = "Page"\n{text}\n'
    folder = write_form(tmp_path, {"page.toml": page}, LEG)
    speak_marks(monkeypatch)
    with speaking(CODE), pytest.raises(FormError) as caught:
        load_form(folder)
    assert_said(caught.value.faults, page, LEG)


@pytest.mark.parametrize(("old", "new"), [(old, new) for old, new, _ in FIGURE_FAULTS])
def test_each_fault_of_a_figure_is_said(
    old: str, new: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = FIELDS + CHART.replace(old, new)
    speak_marks(monkeypatch)
    with speaking(CODE), pytest.raises(FormError) as caught:
        form_of(text, FIGURE_REPEATS)
    assert_said(caught.value.faults, text, FIGURE_REPEATS)


@pytest.mark.parametrize(
    ("right", "wrong"), [(right, wrong) for right, wrong, _ in SEQUENCE_FAULTS]
)
def test_each_fault_of_the_functional_tests_is_said(
    right: str, wrong: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    form, text = load_form(), TEST.replace(right, wrong)
    speak_marks(monkeypatch)
    with speaking(CODE):
        faults = sequence_faults(form, text)
    assert_said(faults, text, *form.by_name)


@pytest.mark.parametrize(
    "text",
    [
        "[section\n",
        "[[field\n",
        "[section]\nname\n",
        "[section]\nname = \n",
        '[section]\nname = "x\n',
        "[section]\nname = [1\n",
        "[section]\nname = {a = 1\n",
        "[section]\n[section]\n",
        "[section]\nname = 1\nname = 2\n",
        "[section]\nname = 1 2\n",
        "[section]\n= 2\n",
        '[section]\nname = "\\q"\n',
        "[section]\nname = 2026-13-40\n",
        "[section]\nname = {a = 1, a = 2}\n",
    ],
)
def test_each_fault_of_a_file_that_is_no_toml_is_said(
    text: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = write_form(tmp_path, {"page.toml": text})
    speak_marks(monkeypatch)
    with speaking(CODE), pytest.raises(FormError) as caught:
        load_form(folder)
    fault = str(caught.value)
    assert fault.count(OPEN) == 2, fault  # the sentence, and within it the reader's reason
    assert_said(caught.value.faults, text)


@pytest.mark.parametrize(
    "formula", ["volts +", "2 volts", "(volts", "volts)", "1 if volts", "volts == 'x", "2x"]
)
def test_why_a_text_is_no_formula_is_said(formula: str, monkeypatch: pytest.MonkeyPatch) -> None:
    speak_marks(monkeypatch)
    with speaking(CODE), pytest.raises(FormulaError) as caught:
        parse(formula)
    assert str(caught.value).count(OPEN) == 2, str(caught.value)


def test_the_walk_finds_what_is_not_said() -> None:
    with pytest.raises(AssertionError):
        assert_said((f"page.toml, field x: must be whole {OPEN}",), "x")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("maximum = 2.5", "número entero"),
        ('maximum = "many"', "número entero"),
        ("maximum = 500", "a lo más 200"),
        ("maximum = 0", "al menos 1"),
        ("label = 3", "debe ser un texto"),
        ('label = ""', "al menos 1 caracteres"),
        ("members = 3", "debe ser una lista"),
        ('name = "Not so"', "no sigue el patrón ^[a-z]"),
        (f'name = "{"x" * 61}"', "a lo más 60 caracteres"),
    ],
)
def test_a_key_of_the_wrong_kind_is_told_in_spanish(tmp_path: Path, text: str, told: str) -> None:
    key = text.split(" = ")[0]
    lines = [line for line in LEG.splitlines() if not line.startswith(f"{key} =")]
    repeat = "\n".join([*lines, text, ""])
    folder = write_form(tmp_path, {"page.toml": '[section]\nname = "page"\ntitle = "P"\n'}, repeat)
    with speaking("es"), pytest.raises(FormError) as caught:
        load_form(folder)
    shown = "\n".join(caught.value.faults)
    assert told in shown
    assert "(es " in shown


def test_a_file_that_is_no_toml_says_where_in_spanish(tmp_path: Path) -> None:
    folder = write_form(tmp_path, {"page.toml": '[section]\nname = "page\n'})
    with speaking("es"), pytest.raises(FormError) as caught:
        load_form(folder)
    assert "page.toml: no se puede leer como TOML: línea 2, columna" in str(caught.value)
    with speaking(ENGLISH), pytest.raises(FormError) as again:
        load_form(folder)
    assert "page.toml: cannot be read as TOML: line 2, column" in str(again.value)
