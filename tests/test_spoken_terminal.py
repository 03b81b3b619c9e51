"""What commands print with --language is said in that language, or was typed by a person.

So is their help. What is for machines stays English whatever is asked.
"""

from __future__ import annotations

import argparse
import ast
import csv
import errno
import gettext
import inspect
import json
import os
import shutil
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest

from commission.__main__ import _parser, main
from commission.archive import write_record
from commission.archive.handover_rules import sheets
from commission.commands import making
from commission.commands.parser_words import ARGPARSE_WORDS, argparse_speaking
from commission.definitions.load import load_form
from commission.language import ENGLISH, LANGUAGES_FOLDER, choose_language, language, said_in
from commission.package import write_package
from commission.package.signing import signature_fields
from commission.project import ProjectFile
from commission.project.scenario import project_from_scenario
from commission.resources import demo_units_folder
from commission.units import UNITS
from commission.validation.session import Session
from commission.validation.site import site_results
from commission.validation.sources import source_rows
from commission.workbook import write_workbooks
from tests.spoken_marks import CODE, LOG, Marks, speak_marks, stored_texts, strangers

TAG = "RTU-1"
# What is typed after `commission`, and what only a file may be called.
NAMES = ("unit", "tag", "yes", "keep", "xlsx", "csv", "America", "Denver", "utf", "UTC")


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("demo") / "demo.rtuproject"
    project_from_scenario(demo_units_folder(), path, load_form()).close()
    return path


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A project of one unit: its workbook is soon written."""
    path = tmp_path_factory.mktemp("small") / "small.rtuproject"
    with Session.create(path, load_form(), "Depot") as session:
        unit = session.add_unit(TAG)
        for name, text in (("heat_type", "gas"), ("phases", "3"), ("rated_volts", "460")):
            session.enter(unit.id, name, (), text)
    return path


def entered(path: Path, value: str) -> Path:
    with Session.open(path, load_form()) as session:
        session.enter(session.units()[0].id, "unit_serial", (), value)
    return path


def log_of(demo: Path, folder: Path) -> list[Path | str]:
    log = folder / "log.csv"
    log.write_text(LOG, encoding="utf-8")
    return ["trend", demo, log, "--unit", TAG, "--all"]


def merging(small: Path, folder: Path) -> list[Path | str]:
    ours, theirs = (shutil.copy(small, folder / name) for name in ("a.rtuproject", "b.rtuproject"))
    entered(Path(ours), "A1"), entered(Path(theirs), "B2")
    return ["merge", ours, theirs, "-o", folder / "joined.rtuproject"]


def schedule(small: Path, folder: Path) -> list[Path | str]:
    path = folder / "units.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(
            [
                ["Tag", "Heat type", "Serial", "Wheels"],
                ["RTU-9", "coal", "X1", "4"],
                ["", "", "", "2"],
            ]
        )
    return ["schedule", small, path]


def returned(small: Path, folder: Path) -> list[Path | str]:
    path = write_one(small, folder / "back.xlsx")
    book = openpyxl.load_workbook(path)
    for name, typed in (("u1_unit_serial", "=1+1"), ("u1_rated_volts", "many")):
        sheet, cell = next(iter(book.defined_names[name].destinations))
        book[sheet][cell.replace("$", "")] = typed
    for name, head, typed in (
        ("deficiency_heads", "What is wrong", "Belt loose"),
        ("deficiency_heads", "Status", "gone"),
        ("deficiency_heads", "Unit", "RTU-77"),
        ("instrument_heads", "Kind", "Thermometer"),
        ("instrument_heads", "% of reading", -3.0),
        ("person_heads", "Name", "R. Vance"),
        ("person_heads", "Company", "Example Balancing"),
    ):
        title, cell = next(iter(book.defined_names[name].destinations))
        heads = book[title][cell.replace("$", "")].row
        column = next(one.column for one in book[title][heads] if one.value == head)
        book[title].cell(heads + 1, column).value = typed
    book.save(path)
    return ["readback", small, path]


def write_one(project: Path, path: Path) -> Path:
    with ProjectFile.open(project, read_only=True) as opened:
        return write_workbooks(opened, load_form(), path).path


def record_of(project: Path, folder: Path) -> Path:
    with ProjectFile.open(project, read_only=True) as opened:
        return write_record(site_results(opened, load_form()), folder / "one.record.json")


def rebuilding(small: Path, folder: Path) -> list[Path | str]:
    return ["rebuild", record_of(small, folder), folder / "again.rtuproject"]


def listing(small: Path, folder: Path) -> list[Path | str]:
    path = folder / "one.pdf"
    with ProjectFile.open(small, read_only=True) as opened:
        write_package(site_results(opened, load_form()), path)
    return ["sign", path]


def adding(small: Path, folder: Path) -> list[Path | str]:
    no_record = folder / "none.record.json"
    no_record.write_text("{}", encoding="utf-8")
    place = folder / "all.rtustore"
    return ["store", "add", "--store", place, record_of(small, folder), no_record]


def stored(small: Path, folder: Path) -> Path:
    """Return a store with the record of a small project."""
    place = folder / "all.rtustore"
    assert main(["store", "add", "--store", str(place), str(record_of(small, folder))]) == 0
    return place


CALLS: dict[str, Callable[[Path, Path], list[Path | str]]] = {
    "check": lambda demo, _: ["check", demo, "--unit", TAG, "--all"],
    "tests": lambda demo, _: ["tests", demo, "--unit", TAG, "--steps"],
    "trend": log_of,
    "merge": merging,
    "schedule": schedule,
    "readback": returned,
    "new": lambda _, folder: ["new", folder / "x.rtuproject", "--title", "Depot", "--unit", TAG],
    "sources": lambda _, __: ["sources"],
    "workbook": lambda small, folder: ["workbook", small, "-o", folder / "one.xlsx", "--blank"],
    "package": lambda small, folder: ["package", small, "-o", folder / "one.pdf"],
    "archive": lambda small, folder: ["archive", small, "-o", folder / "one.record.json"],
    "handover": lambda small, folder: ["handover", small, folder / "sheets"],
    "rebuild": rebuilding,
    "sign": listing,
    "demo": lambda _, folder: ["demo", folder],
    "store add": adding,
    "store search": lambda small, folder: ["store", "search", "--store", stored(small, folder)],
    "store outliers": lambda small, folder: ["store", "outliers", "--store", stored(small, folder)],
    "store history": lambda small, folder: [
        *("store", "history", "--store", stored(small, folder), "--unit", TAG),
        *("--name", "rated_volts"),
    ],
    "store extract": lambda small, folder: [
        *("store", "extract", "--store", stored(small, folder), "1", "-o", folder / "out.json"),
    ],
}
# Walked elsewhere: the window, and two records compared (archive/test_spoken_archive.py).
ELSEWHERE = {"window", "compare"}
# Which of them look at the whole demo.
OF_DEMO = ("check", "tests", "trend")


def commands(parser: argparse.ArgumentParser) -> dict[str, argparse.ArgumentParser]:
    """Return every command by what is typed for it, and the actions of one that has such."""
    found: dict[str, argparse.ArgumentParser] = {}
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for name, one in action.choices.items():
                inner = commands(one)
                found |= {f"{name} {part}": each for part, each in inner.items()} or {name: one}
    return found


def test_each_command_is_walked() -> None:
    assert set(CALLS) | ELSEWHERE == set(commands(_parser()))


def quick_demo(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let `demo` say what it writes without writing it: other tests look at that."""
    monkeypatch.setattr("commission.package.write_package", lambda _site, path, _progress: path)
    monkeypatch.setattr(making, "_write_workbook", lambda *_: None)


def written_in_files() -> list[str]:
    """Return what `sources` prints as form files and the table of functions have it."""
    rows = list(source_rows(load_form()))
    return [text for row in rows for text in (row.name, row.rule, row.rule.partition("; ")[0])]


REPORTS = ("check", "tests", "trend", "merge", "schedule", "readback")


@pytest.mark.parametrize("name", CALLS)
def test_what_a_command_prints_is_said_or_was_typed(
    name: str,
    demo: Path,
    small: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    project = demo if name in OF_DEMO else small
    words = [str(word) for word in CALLS[name](project, tmp_path)]
    if name == "demo":
        quick_demo(monkeypatch)
    monkeypatch.setenv("COLUMNS", "100000")  # so that no cell is broken over lines
    speak_marks(monkeypatch)
    capsys.readouterr()
    main([*words, "--language", CODE])
    done = capsys.readouterr()
    data = [*stored_texts(demo), *stored_texts(small), *words]
    data += [text for path in tmp_path.rglob("*") for text in (str(path), path.name)]
    data += ["coal", "many", "Wheels", "Heat type", "Serial", "Setting 7", "Compressor 1"]
    data += ["Indoor fan", "Date and time", "=1+1", "unit_serial", "Configuration!", "Nameplate!"]
    data += ["Belt loose", "gone", "RTU-77", "Thermometer", "R. Vance", "Example Balancing"]
    data += ["Deficiencies!", "Instruments!", "People!"]  # of a workbook written in English
    form = load_form()
    symbols = [str(getattr(entry, "symbol", "") or "") for entry in form.by_name.values()]
    if name == "sources":
        data += written_in_files()
    if name == "sign":  # a field is called as the package's own language has it
        data += [field.name for field in signature_fields(Path(words[-1]))]
    if name == "handover":
        data += [*sheets(), *(heading for one in sheets().values() for heading in one.headings)]
    found = strangers(done.out + done.err, data, [*UNITS, *NAMES, *symbols])
    assert len(done.out + done.err) > 20
    assert len(done.out) > 200 or name not in REPORTS
    assert not found, "\n".join(f"{word}: ... {place} ..." for word, place in found.items())


# -- help --------------------------------------------------------------------------------

# What is typed as it is: the program's name, choices, examples of addresses and files.
TYPED = (
    "commission", "RTU-1 accepted", "America/Denver", "postgresql://USER@HOST/DATABASE",
    "portfolio.rtustore", "rtuproject", "letter", "{pass,fail,inconclusive,missing,not applicable}",
    "'commission compare'", "JSON", "COBie", "search",
)  # fmt: skip
HELPS = ["", *sorted(commands(_parser())), "store"]


@pytest.mark.parametrize("name", HELPS)
def test_help_is_said(
    name: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """All but the words that argparse itself says: those are below."""
    monkeypatch.setenv("COLUMNS", "100000")
    speak_marks(monkeypatch)
    with pytest.raises(SystemExit) as left:
        main([*name.split(), "--language", CODE, "--help"])
    assert left.value.code == 0
    shown = capsys.readouterr().out
    parsers = (_parser(), *commands(_parser()).values())
    options = [option for one in parsers for option in one._option_string_actions]
    own = [said_in_catalogue(text).strip() for text in ARGPARSE_WORDS]
    found = strangers(shown, [*TYPED, *own, *options, *name.split()], [*commands(_parser()), "es"])
    found = {word: place for word, place in found.items() if word not in " ".join(HELPS).split()}
    assert not found, "\n".join(f"{word}: ... {place} ..." for word, place in found.items())


def said_in_catalogue(text: str) -> str:
    """Return a text as the language's own catalogue has it, past any marks."""
    return gettext.translation("program", LANGUAGES_FOLDER, languages=[CODE]).gettext(text)


def test_argparse_s_own_words_are_in_the_catalogue() -> None:
    """Read from the argparse of the Python at hand: those that a line such as ours can meet."""
    calls = [
        node
        for node in ast.walk(ast.parse(inspect.getsource(argparse)))
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "_"
    ]
    asked = {call.args[0].value for call in calls if isinstance(call.args[0], ast.Constant)}
    assert len(asked) > 20
    assert asked - NEVER_MET <= set(ARGPARSE_WORDS)
    assert set(ARGPARSE_WORDS) <= Marks().known
    assert said_in_catalogue("expected one argument") == "se esperaba un argumento"


# What argparse says to who writes a parser, or of what ours do not use: files opened by it,
# mutually exclusive groups, a number of arguments other than one or more, deprecated ones.
NEVER_MET = {
    ".__call__() not defined", "'required' is an invalid argument for positionals",
    "mutually exclusive arguments must be optional", "%r is not callable",
    "can't open '%(filename)s': %(error)s", "cannot merge actions - two groups are named %r",
    "invalid option string %(option)r: must start with a character %(prefix_chars)r",
    "dest= is required for options like %r", "invalid conflict_resolution value: %r",
    "cannot have multiple subparser arguments", "conflicting subparser: %s",
    "unknown parser %(parser_name)r (choices: %(choices)s)", "conflicting subparser alias: %s",
    "one of the arguments %s is required", 'argument "-" with mode %r', "subcommands",
    "not allowed with argument %s", "unexpected option string: %s", "%(heading)s:",
    "expected at most one argument", " (default: %(default)s)",
    "option '%(option)s' is deprecated", "command '%(parser_name)s' is deprecated",
    "argument '%(argument_name)s' is deprecated", "%(prog)s: warning: %(message)s\n",
    "show program's version number and exit",
}  # fmt: skip


@pytest.mark.parametrize(
    ("line", "told"),
    [
        (["--language", "es"], "faltan estos argumentos: COMANDO"),
        (["check", "--language", "es"], "faltan estos argumentos: archivo"),
        (["--language", "es", "check", "a", "--wheels"], "argumentos no reconocidos: --wheels"),
        (["--language=es", "trend", "a", "b", "--zone"], "se esperaba un argumento"),
        (["store", "extract", "many", "-o", "x", "--language", "es"], "se esperaba int: 'many'"),
        (["package", "a", "--units", "US", "--language", "es"], "opción no válida: 'US'"),
    ],
)
def test_a_line_that_cannot_be_read_is_refused_in_its_language(
    line: list[str], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    before = (gettext.textdomain(), os.environ.get("LANGUAGE"))
    with pytest.raises(SystemExit) as left:
        main(line)
    assert left.value.code == 2
    shown = capsys.readouterr().err
    assert told in shown
    assert shown.startswith("uso: commission")
    assert (gettext.textdomain(), os.environ.get("LANGUAGE")) == before


def test_the_person_s_own_language_setting_is_left_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LANGUAGE", "fr")
    with argparse_speaking("es"):
        assert os.environ["LANGUAGE"] == "es"
    assert os.environ["LANGUAGE"] == "fr"


def test_an_unknown_language_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["sources", "--language", "e5"]) == 2
    assert "'e5' is not one of en, es" in capsys.readouterr().err
    with pytest.raises(SystemExit):
        main(["sources", "--language"])
    assert "argument --language: expected one argument" in capsys.readouterr().err


# -- what is for machines, and the window --------------------------------------------------


@pytest.mark.parametrize(
    "words", [["check", "{project}", "--json"], ["sources", "--csv"]], ids=["json", "csv"]
)
def test_what_is_for_machines_is_english(
    words: list[str], demo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    line = [word.format(project=demo) for word in words]
    printed = []
    for code in (ENGLISH, CODE):
        main([*line, "--language", code])
        printed.append(capsys.readouterr().out)
    assert len(printed[0]) > 10_000
    assert printed[0] == printed[1]


@pytest.mark.parametrize("words", [["archive"], ["archive", "--csv"]], ids=["json", "csv"])
def test_a_record_is_english(words: list[str], demo: Path, tmp_path: Path) -> None:
    written = []
    for code in (ENGLISH, CODE):
        path = tmp_path / f"{code}.record"
        assert main([*words, str(demo), "-o", str(path), "--language", code]) == 0
        written.append(path.read_bytes())
    assert written[0] == written[1]


def test_handover_sheets_are_english(demo: Path, tmp_path: Path) -> None:
    for code in (ENGLISH, CODE):
        assert main(["handover", str(demo), str(tmp_path / code), "--language", code]) == 0
    sheets_written = sorted(path.name for path in (tmp_path / ENGLISH).glob("*.csv"))
    assert len(sheets_written) > 15
    for name in sheets_written:
        assert (tmp_path / ENGLISH / name).read_bytes() == (tmp_path / CODE / name).read_bytes()


def test_a_record_that_cannot_be_written_is_refused_in_the_person_s_language(
    small: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    target = tmp_path / "gone" / "one.json"
    assert main(["archive", str(small), "-o", str(target), "--language", CODE]) == 2
    told = said_in(
        CODE,
        "{path}: the {what} cannot be written there ({strerror}). Choose another folder, close "
        "the file if it is open elsewhere, or make room on the disk.",
        path=target,
        what=said_in(CODE, "archive record"),
        strerror=os.strerror(errno.ENOENT),
    )
    assert told in capsys.readouterr().err


def test_the_window_opens_in_the_language_that_was_chosen_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A command speaks in a block of its own; the window must not be held by one."""
    preferences = pytest.importorskip("commission.wizard.preferences")
    monkeypatch.setenv("COMMISSION_CONFIG_DIR", str(tmp_path))
    spoken: list[str] = []

    def opened(*_: object, **__: object) -> int:
        choose_language(preferences.Preferences.load().language)
        spoken.append(language())
        return 0

    monkeypatch.setattr("commission.wizard.application.run", opened)
    try:
        for line in (["window"], ["window", "--language", "es"], ["window"]):
            assert main(line) == 0
        assert main(["window", "--language", "e5"]) == 2
    finally:
        choose_language(ENGLISH)
    assert spoken == [ENGLISH, "es", "es"]
    assert json.loads((tmp_path / "window.json").read_text())["language"] == "es"
