"""Writing an output: in its own process, with progress, cancel, refusal and a way to open it."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from pathlib import Path

import pytest
from pytestqt.qtbot import QtBot

from commission.wizard import export_place
from commission.wizard.dialogs import Dialogs
from commission.wizard.export_place import ExportCard, ExportPlace
from commission.wizard.export_work import PACKAGE, WORKBOOK, Output, Writer
from commission.wizard.window import MainWindow
from commission.workbook import write_workbooks
from wizard import export_writers
from wizard.at_the_window import key, open_page, place_of
from wizard.export_writers import beside

_LONGEST_MS = 60_000  # a process is started for each, on a machine that has others


def use_writer(
    monkeypatch: pytest.MonkeyPatch, writer: Callable[..., object], card: str = "WORKBOOK"
) -> None:
    """Let a card write with a writer of the tests' own."""
    shown = WORKBOOK if card == "WORKBOOK" else PACKAGE
    named = Writer(writer.__module__, writer.__name__)
    monkeypatch.setattr(export_place, card, Output(shown.name, ".txt", "Text (*.txt)", named))


def card_of(window: MainWindow) -> ExportCard:
    """Go to the export, and return the card of the workbook."""
    place_of(window).go("export")
    export = place_of(window).place("export")
    assert isinstance(export, ExportPlace)
    return export.cards[0]


def wait_for(qtbot: QtBot, card: ExportCard) -> None:
    qtbot.waitUntil(lambda: card.job is None, timeout=_LONGEST_MS)


def test_output_is_written_from_the_file_in_a_process_of_its_own(
    make_window, project_path: Path, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    use_writer(monkeypatch, export_writers.tells_what_it_sees)
    opened: list[Path] = []
    window = make_window(Dialogs(open_outside=lambda path: bool(opened.append(path)) or True))
    window.open_project(project_path)
    document = place_of(window).document
    document.enter(document.units()[0].id, key("control_v"), "24")
    card = card_of(window)
    progressed: list[tuple[int, int, str]] = []
    card.write.click()
    assert card.job is not None
    card.job.progressed.connect(lambda *step: progressed.append(step))
    assert not card.write.isEnabled()
    wait_for(qtbot, card)
    target = project_path.with_suffix(".txt")
    seen = json.loads(target.read_text(encoding="utf-8"))
    assert seen["process"] != os.getpid() and seen["thread"]
    assert (seen["tags"], seen["control_v"]) == (["RTU-1"], 24)
    assert (2, 3, "sheet 2") in progressed
    assert card.result.text() == f"Written: {target}"
    assert card.write.isEnabled()
    card.open.click()
    assert opened == [target]


def test_cancel_stops_the_writer_and_leaves_no_file(
    window: MainWindow, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    use_writer(monkeypatch, export_writers.is_slow)
    card = card_of(window)
    card.write.click()
    target = place_of(window).path.with_suffix(".txt")
    qtbot.waitUntil(beside(target, "half").exists, timeout=_LONGEST_MS)
    # The window answers while the writer is at work.
    page = open_page(window, "volts")
    assert page.isVisible()
    card = card_of(window)
    card.cancel.click()
    wait_for(qtbot, card)
    assert card.result.text() == "Cancelled. No file was written."
    assert beside(target, "ended").exists()  # it tidied up, and was not ended from outside
    assert not target.exists() and not beside(target, "half").exists()


@pytest.mark.parametrize(
    ("writer", "said"),
    [
        (export_writers.finds_the_disk_full, "the disk is full"),
        (export_writers.is_faulty, "could not be written (ZeroDivisionError: odd)"),
        (export_writers.dies, "could not be written (SystemExit: 9)"),
    ],
)
def test_refusal_is_a_sentence(
    window: MainWindow,
    qtbot: QtBot,
    monkeypatch: pytest.MonkeyPatch,
    writer: Callable[..., object],
    said: str,
) -> None:
    use_writer(monkeypatch, writer)
    card = card_of(window)
    card.write.click()
    wait_for(qtbot, card)
    assert said in card.result.text()
    assert said in place_of(window).strip.words.text()
    assert not card.open.isVisible()


def test_closing_the_window_ends_the_job(
    window: MainWindow, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    use_writer(monkeypatch, export_writers.is_slow)
    card_of(window).write.click()
    target = place_of(window).path.with_suffix(".txt")
    qtbot.waitUntil(beside(target, "half").exists, timeout=_LONGEST_MS)
    window.close()
    assert beside(target, "ended").exists() and not target.exists()


def test_volumes_are_written_from_the_project_and_told(
    window: MainWindow, project_path: Path, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A set of volumes takes no results of the whole site; the card says what there is."""
    volumes = Writer(export_writers.__name__, export_writers.writes_volumes.__name__)
    output = Output(WORKBOOK.name, ".txt", "Text (*.txt)", WORKBOOK.writer, volumes)
    monkeypatch.setattr(export_place, "WORKBOOK", output)
    card = card_of(window)
    card.write.click()
    wait_for(qtbot, card)
    target = project_path.with_suffix(".txt")
    seen = json.loads(target.read_text(encoding="utf-8"))
    assert seen == {"units": 1, "form": place_of(window).document.form.id}
    assert card.result.text().splitlines() == [
        f"Written: {target}",
        "It is the index of 2 volumes beside it; keep them in one folder.",
        f"Of an earlier export, and no part of this one: {target.stem}.volume-3.txt.",
    ]


def test_workbook_of_the_window_is_written_in_volumes() -> None:
    assert WORKBOOK.in_volumes is not None
    assert WORKBOOK.in_volumes.load() is write_workbooks


@pytest.mark.parametrize("system", ["IP", "SI"])
def test_package_shows_the_units_that_were_chosen(
    make_window, project_path: Path, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch, system: str
) -> None:
    """The project is in IP; the choice stands at that, and does not change the project."""
    use_writer(monkeypatch, export_writers.tells_what_it_sees, "PACKAGE")
    window = make_window()
    window.open_project(project_path)
    place_of(window).go("export")
    export = place_of(window).place("export")
    assert isinstance(export, ExportPlace)
    card = export.cards[1]
    assert export.cards[0].systems is None  # the workbook is typed in, in the project's own
    assert card.systems is not None
    assert card.systems.currentData() == "IP"
    card.systems.setCurrentIndex(card.systems.findData(system))
    card.start()
    wait_for(qtbot, card)
    seen = json.loads(project_path.with_suffix(".txt").read_text(encoding="utf-8"))
    assert seen["unit_system"] == system
    assert place_of(window).document.session.project.unit_system == "IP"
    if folder := os.environ.get("COMMISSION_PICTURES"):
        window.grab().save(f"{folder}/export-{system}.png")
