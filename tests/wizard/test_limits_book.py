"""The limits book at the window: kept while one types, offered to the next unit of the model."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication

from commission.definitions.load import load_form
from commission.definitions.model import Form
from commission.project.limits_book import LimitsBook, read_shared
from commission.validation.session import Session
from commission.validation.verdict import Outcome
from commission.wizard.book_keeper import book_path
from commission.wizard.dialogs import Dialogs
from commission.wizard.limits_book_card import LimitsBookCard
from commission.wizard.page import SectionPage
from commission.wizard.settings_place import SettingsPlace
from commission.wizard.window import MainWindow
from wizard.at_the_window import field_row, open_page, place_of, press, type_text

TOP = """
id = "book_test"
version = "1"
title = "A form for the limits book"
sections = ["plate.toml", "heat.toml"]
"""
PLATE = """
[section]
name = "plate"
title = "Rating plate"
stage = "Job"
[[field]]
name = "unit_make"
label = "Make"
kind = "text"
[[field]]
name = "unit_model"
label = "Model"
kind = "text"
"""
HEAT = """
[section]
name = "heat"
title = "Heat"
stage = "Running"
[[field]]
name = "rise_f"
label = "Temperature rise"
unit = "Δ°F"
[[check]]
name = "rise_in_range"
label = "Rise in range"
judges = "rise_f"
limit = "range"
severity = "fail"
[[field]]
name = "table_used"
label = "Charging chart at hand?"
kind = "yes_no"
[[field]]
name = "chart_origin"
label = "Charging chart: document, page"
kind = "text"
when = "table_used == 'yes'"
[[field]]
name = "chart_table"
label = "Charging chart"
kind = "table"
when = "table_used == 'yes'"
rows = {label = "Outdoor dry bulb", unit = "°F", decimals = 0}
body = {label = "Subcooling", unit = "Δ°F", decimals = 1}
possible = [0, 60]
"""
ORIGIN = "Installation sheet, page 4"


@pytest.fixture(scope="session")
def form(tmp_path_factory: pytest.TempPathFactory) -> Form:
    folder = tmp_path_factory.mktemp("book_form")
    (folder / "rooftop_unit.toml").write_text(TOP, encoding="utf-8")
    (folder / "plate.toml").write_text(PLATE, encoding="utf-8")
    (folder / "heat.toml").write_text(HEAT, encoding="utf-8")
    return load_form(folder)


@pytest.fixture
def project_path(tmp_path: Path, form: Form) -> Path:
    """Two units of one model; the first has a limit and a chart, the second only its rise."""
    path = tmp_path / "book.rtuproject"
    with Session.create(path, form, "Book job") as session:
        for tag in ("RTU-1", "RTU-2"):
            unit = session.add_unit(tag)
            session.enter(unit.id, "unit_make", (), "Example Air")
            session.enter(unit.id, "rise_f", (), "40")
        for unit in session.units():
            session.enter(unit.id, "table_used", (), "yes")
        session.enter(session.units()[0].id, "unit_model", (), "EX-120")
    return path


def type_limit(window: MainWindow) -> None:
    """Type the first unit's limit on its page."""
    page = open_page(window, "heat")
    line = field_row(page, "rise_f")
    line.verdicts[0].change.setFocus()
    press(Qt.Key.Key_Space)
    type_text("30")
    press(Qt.Key.Key_Tab)
    type_text("60")
    press(Qt.Key.Key_Tab)
    type_text(ORIGIN)
    press(Qt.Key.Key_Return)
    QApplication.processEvents()


def type_model(window: MainWindow, tag: str, text: str) -> SectionPage:
    """Type a unit's model on its page."""
    page = open_page(window, "plate", tag)
    field_row(page, "unit_model").input.setFocus()
    type_text(text)
    press(Qt.Key.Key_Return)
    QApplication.processEvents()
    QApplication.processEvents()
    return page


def test_a_typed_limit_is_in_the_book(window: MainWindow) -> None:
    type_limit(window)
    [entry] = LimitsBook(book_path()).entries()
    assert (entry.name, dict(entry.parts), entry.origin) == (
        "rise_in_range",
        {"low": 30.0, "high": 60.0},
        ORIGIN,
    )
    assert entry.source == "Book job, RTU-1"


def test_undo_takes_the_limit_out_of_the_book_too(window: MainWindow) -> None:
    type_limit(window)
    place_of(window).undo()
    assert LimitsBook(book_path()).entries() == []
    place_of(window).redo()
    assert len(LimitsBook(book_path()).entries()) == 1


def test_nothing_is_offered_until_the_model_is_known_nor_taken_by_itself(
    window: MainWindow,
) -> None:
    type_limit(window)
    page = open_page(window, "heat", "RTU-2")
    assert not page.book.isVisible()
    page = type_model(window, "RTU-2", "ex-120")
    assert page.book.isVisible()
    assert ORIGIN in page.book.words.text()
    unit = place_of(window).document.units()[1]
    assert place_of(window).document.session.project.limits(unit.id) == {}


def test_reviewed_and_taken_by_keys(window: MainWindow) -> None:
    type_limit(window)
    page = type_model(window, "RTU-2", "EX-120")
    page.book.review.setFocus()
    press(Qt.Key.Key_Space)
    [(box, offer)] = page.book.boxes
    assert box.hasFocus()
    assert box.isChecked()
    assert "60" in box.accessibleName()
    press(Qt.Key.Key_Tab)
    assert page.book.take_button.hasFocus()
    press(Qt.Key.Key_Space)
    QApplication.processEvents()
    document = place_of(window).document
    unit = document.units()[1]
    limit = document.session.project.limits(unit.id)[("rise_in_range", ())]
    assert (dict(limit.parts), limit.origin) == (dict(offer.entry.parts), ORIGIN)
    assert document.results(unit.id).verdict("rise_in_range").outcome is Outcome.PASS
    assert not page.book.isVisible()
    place_of(window).undo()
    assert document.session.project.limits(unit.id) == {}
    assert document.results(unit.id).verdict("rise_in_range").outcome is Outcome.MISSING


def test_another_limit_here_is_shown_and_not_chosen(window: MainWindow) -> None:
    type_limit(window)
    document = place_of(window).document
    unit = document.units()[1]
    page = type_model(window, "RTU-2", "EX-120")
    document.set_limit(unit.id, page.book.offers()[0].key, {"low": 20, "high": 50}, "Other, p. 1")
    QApplication.processEvents()
    page.book.review.click()
    assert [box.isChecked() for box, _ in page.book.boxes] == [False] * len(page.book.boxes)
    page.book.take_button.click()
    assert "None is chosen" in page.book.refusal.text()
    press(Qt.Key.Key_Escape)
    assert not page.book.take_button.isVisible()


def test_a_table_goes_with_its_origin(window: MainWindow) -> None:
    document = place_of(window).document
    first, second = document.units()
    session = document.session
    for name, text in (("chart_origin", "Chart, p. 2"), ("chart_table", "85\t8\n95\t9")):
        document.enter(first.id, field_row(open_page(window, "heat"), name).key, text)
    page = type_model(window, "RTU-2", "EX-120")
    assert page.book.isVisible()
    page.book.review.click()
    assert page.book.boxes[0][0].isChecked()
    page.book.take_button.click()
    taken = session.project.readings(second.id)
    kept = session.project.readings(first.id)
    assert taken[("chart_table", ())].value == kept[("chart_table", ())].value
    assert taken[("chart_origin", ())].value == "Chart, p. 2"
    assert taken[("chart_table", ())].source == "limits book"
    place_of(window).undo()
    assert ("chart_table", ()) not in session.project.readings(second.id)
    assert ("chart_origin", ()) not in session.project.readings(second.id)


def card_of(window: MainWindow) -> LimitsBookCard:
    place_of(window).go("settings")
    settings = place_of(window).place("settings")
    assert isinstance(settings, SettingsPlace)
    return settings.book


def test_shared_changed_and_taken_in_with_the_conflict_shown(
    make_window: Callable[..., MainWindow], project_path: Path, tmp_path: Path
) -> None:
    shared = tmp_path / "shared.limits.json"
    dialogs = Dialogs(
        choose_to_save=lambda *_: shared,
        choose_limits_book=lambda _: shared,
    )
    window = make_window(dialogs)
    window.open_project(project_path)
    type_limit(window)
    card = card_of(window)
    card.share_button.setFocus()
    press(Qt.Key.Key_Space)
    assert "shared.limits.json" in card.said.text()
    [mine] = read_shared(shared)
    theirs = LimitsBook(tmp_path / "theirs.json")
    theirs.put(replace(mine, parts={"low": 25.0, "high": 55.0}))
    theirs.put(replace(mine, origin="A newer sheet"))
    theirs.share(shared)
    card.take_button.setFocus()
    press(Qt.Key.Key_Space)
    assert "1 new" in card.said.text()
    assert "1 that disagree" in card.said.text()
    line = card.conflicts.itemAt(0).widget()
    buttons = {one.text(): one for one in line.findChildren(type(card.take_button))}
    buttons["Take the file's"].setFocus()
    press(Qt.Key.Key_Space)
    parts = {one.origin: dict(one.parts) for one in LimitsBook(book_path()).entries()}
    assert parts == {
        ORIGIN: {"low": 25.0, "high": 55.0},
        "A newer sheet": {"low": 30.0, "high": 60.0},
    }


def test_a_damaged_book_is_said_once_and_left(window: MainWindow) -> None:
    book_path().write_text("{cut", encoding="utf-8")
    said: list[str] = []
    place_of(window).document.said.connect(lambda words, bad: said.append(words) if bad else None)
    type_limit(window)
    type_model(window, "RTU-2", "EX-120")
    assert len([words for words in said if "limits_book.json" in words]) == 1
    assert book_path().read_text(encoding="utf-8") == "{cut"
