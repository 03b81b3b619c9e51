"""Languages: a catalogue is whole, says what its PO file says, and keeps every place to fill."""

from __future__ import annotations

import ast
import errno
import importlib.util
import os
import string
import sys
import threading
from pathlib import Path
from types import ModuleType

import pytest
from babel.messages.catalog import Catalog

from commission.definitions.load import load_form
from commission.definitions.translated import texts_of, translated
from commission.errors import CommissionError
from commission.language import (
    DOMAINS,
    ENGLISH,
    LANGUAGES_FOLDER,
    SYSTEM_WORDS,
    choose_language,
    language,
    languages,
    said_in,
    speaking,
    spoken,
)

OTHERS = [code for code in languages() if code != ENGLISH]
ROOT = Path(__file__).resolve().parent.parent


def tool() -> ModuleType:
    """Return .ci/languages.py, which is no module of the program."""
    spec = importlib.util.spec_from_file_location("languages_tool", ROOT / ".ci" / "languages.py")
    assert spec is not None and spec.loader is not None
    made = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = made
    spec.loader.exec_module(made)
    return made


TOOL = tool()


def catalogue(code: str, domain: str) -> Catalog:
    made: Catalog = TOOL.read(TOOL.path_of(code, domain), code)
    return made


def places(text: str) -> list[str]:
    return sorted(name for _, name, _, _ in string.Formatter().parse(text) if name is not None)


def test_there_is_a_second_language() -> None:
    assert "es" in OTHERS


@pytest.mark.parametrize("domain", DOMAINS)
@pytest.mark.parametrize("code", OTHERS)
def test_nothing_is_untranslated_and_nothing_is_left_over(code: str, domain: str) -> None:
    there = {message.id: message.string for message in catalogue(code, domain) if message.id}
    wanted = {message.id for message in TOOL.template(domain) if message.id}
    assert sorted(wanted - set(there)) == [], "run .ci/languages.py update"
    assert sorted(set(there) - wanted) == [], "run .ci/languages.py update"
    assert [text for text, said in there.items() if not said] == []


@pytest.mark.parametrize("domain", DOMAINS)
@pytest.mark.parametrize("code", OTHERS)
def test_each_text_keeps_its_places_and_its_space_around(code: str, domain: str) -> None:
    for message in catalogue(code, domain):
        if message.id and "{" in message.id:
            assert places(message.string) == places(message.id), message.id
        if message.id:
            assert message.string == message.string.strip() or message.id != message.id.strip()


@pytest.mark.parametrize("domain", DOMAINS)
@pytest.mark.parametrize("code", OTHERS)
def test_what_the_program_reads_is_what_the_translator_wrote(code: str, domain: str) -> None:
    read = TOOL.path_of(code, domain).with_suffix(".mo").read_bytes()
    is_same = read == TOOL.compiled(catalogue(code, domain))  # a diff of the bytes takes minutes
    assert is_same, "run .ci/languages.py compile"


def test_a_text_without_translation_is_said_in_english() -> None:
    assert said_in("es", "no such text {here}", here=3) == "no such text 3"


def test_a_language_is_chosen_for_all_or_for_one_block() -> None:
    text = "Suction pressure"
    assert spoken(text) == text
    with speaking("es"):
        assert language() == "es"
        assert spoken(text) != text
        other: list[str] = []
        thread = threading.Thread(target=lambda: other.append(language()))
        thread.start()
        thread.join()
        assert other == [ENGLISH]
    assert language() == ENGLISH
    choose_language("es")
    try:
        assert language() == "es"
    finally:
        choose_language(ENGLISH)


def test_an_unknown_language_is_refused_with_those_there_are() -> None:
    with pytest.raises(CommissionError, match=r"'e5' is not one of en.*es"):
        choose_language("e5")


@pytest.mark.parametrize("code", OTHERS)
def test_a_translated_form_is_the_same_form(code: str) -> None:
    form = load_form()
    other = translated(form, code)
    assert other.content_hash == form.content_hash
    assert list(other.by_name) == list(form.by_name)
    changed = [
        name for name, entry in form.by_name.items() if other.by_name[name].label != entry.label
    ]
    assert len(changed) > 0.9 * len(form.by_name)


def test_all_words_of_the_form_are_found() -> None:
    texts = {text for text, _ in texts_of(load_form())}
    for section in load_form().sections:
        assert section.title in texts
        assert set(section.cautions) <= texts
        assert {entry.label for entry in section.entries} <= texts


@pytest.mark.parametrize("number", [errno.ENOENT, errno.EACCES, errno.ENOSPC, errno.EROFS])
def test_what_the_system_says_of_a_file_is_said(number: int) -> None:
    """The texts are those of this system's own C library."""
    text = "{path}: cannot be read ({strerror}). Check the name and that the disk is there."
    words = os.strerror(number)
    assert words in SYSTEM_WORDS
    for code in OTHERS:
        assert said_in(code, words) != words
        assert f"({said_in(code, words)})" in said_in(code, text, path="a", strerror=words)
    assert f"({words})" in said_in(ENGLISH, text, path="a", strerror=words)


def test_each_language_has_both_catalogues() -> None:
    for code in OTHERS:
        folder = LANGUAGES_FOLDER / code / "LC_MESSAGES"
        assert sorted(path.name for path in folder.iterdir()) == [
            f"{domain}.{ending}" for domain in sorted(DOMAINS) for ending in ("mo", "po")
        ]


def test_each_text_that_the_code_says_is_in_the_catalogues() -> None:
    """The extractor does not look inside f-strings; this does."""
    known = {message.id for domain in DOMAINS for message in TOOL.template(domain)}
    left = {
        f"{path.relative_to(ROOT)}: {argument.value}"
        for path in (ROOT / "commission").rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") in ("spoken", "to_say")
        for argument in node.args[:1]
        if isinstance(argument, ast.Constant) and argument.value and argument.value not in known
    }
    assert left == set(), "say it outside of the f-string"
