"""Writing an output: in its own thread, with progress, cancel, refusal and a way to open it."""

from __future__ import annotations

import os
import threading
from collections.abc import Callable
from pathlib import Path

import pytest
from pytestqt.qtbot import QtBot

from commission.definitions.model import Form
from commission.errors import OutputError
from commission.project import ProjectFile
from commission.validation.volumes import Written
from commission.wizard import export_place
from commission.wizard.dialogs import Dialogs
from commission.wizard.export_job import PACKAGE, WORKBOOK, Output
from commission.wizard.export_place import ExportCard, ExportPlace
from commission.wizard.window import MainWindow
from commission.workbook import write_workbooks
from wizard.at_the_window import key, open_page, place_of

Writer = Callable[..., object]


def use_writer(monkeypatch: pytest.MonkeyPatch, writer: Writer) -> None:
    """Let the workbook's card write with a writer of the test's own."""
    output = Output(WORKBOOK.name, ".txt", "Text (*.txt)", lambda: writer)
    monkeypatch.setattr(export_place, "WORKBOOK", output)


def card_of(window: MainWindow) -> ExportCard:
    """Go to the export, and return the card of the workbook."""
    place_of(window).go("export")
    export = place_of(window).place("export")
    assert isinstance(export, ExportPlace)
    return export.cards[0]


def test_output_is_written_from_the_file_in_a_thread_of_its_own(
    make_window, project_path: Path, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: dict[str, object] = {}

    def write(site, path: Path, progress) -> None:
        seen["thread"] = threading.current_thread() is threading.main_thread()
        seen["tags"] = [unit.tag for unit in site.units]
        seen["control_v"] = site.units[0].value("control_v").number
        for number in range(3):
            progress(number, 3, f"sheet {number}")
        path.write_text("written", encoding="utf-8")

    use_writer(monkeypatch, write)
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
    qtbot.waitUntil(lambda: card.job is None, timeout=10_000)
    target = project_path.with_suffix(".txt")
    assert target.read_text(encoding="utf-8") == "written"
    assert seen == {"thread": False, "tags": ["RTU-1"], "control_v": 24}
    assert (2, 3, "sheet 2") in progressed
    assert card.result.text() == f"Written: {target}"
    assert card.write.isEnabled()
    card.open.click()
    assert opened == [target]


def test_cancel_stops_the_writer_and_leaves_no_file(
    window: MainWindow, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun, goes_on = threading.Event(), threading.Event()

    def write(site, path: Path, progress) -> None:
        progress(1, 100, "first")
        begun.set()
        assert goes_on.wait(10)
        progress(2, 100, "second")
        path.write_text("too late", encoding="utf-8")

    use_writer(monkeypatch, write)
    card = card_of(window)
    card.write.click()
    qtbot.waitUntil(begun.is_set, timeout=10_000)
    # The window answers while the writer is at work.
    page = open_page(window, "volts")
    assert page.isVisible()
    card = card_of(window)
    card.cancel.click()
    goes_on.set()
    qtbot.waitUntil(lambda: card.job is None, timeout=10_000)
    assert card.result.text() == "Cancelled. No file was written."
    assert not place_of(window).path.with_suffix(".txt").exists()


@pytest.mark.parametrize(
    ("fault", "said"),
    [
        (OutputError("out.txt: the disk is full. Make room."), "the disk is full"),
        (ZeroDivisionError("odd"), "could not be written (ZeroDivisionError: odd)"),
    ],
)
def test_refusal_is_a_sentence(
    window: MainWindow,
    qtbot: QtBot,
    monkeypatch: pytest.MonkeyPatch,
    fault: Exception,
    said: str,
) -> None:
    def write(site, path: Path, progress) -> None:
        raise fault

    use_writer(monkeypatch, write)
    card = card_of(window)
    card.write.click()
    qtbot.waitUntil(lambda: card.job is None, timeout=10_000)
    assert said in card.result.text()
    assert said in place_of(window).strip.words.text()
    assert not card.open.isVisible()


def test_closing_the_window_ends_the_job(
    window: MainWindow, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun = threading.Event()
    ended: list[str] = []

    def write(site, path: Path, progress) -> None:
        begun.set()
        try:
            for number in range(10_000):
                progress(number, 10_000, "sheet")
                threading.Event().wait(0.005)
        finally:
            ended.append("ended")

    use_writer(monkeypatch, write)
    card_of(window).write.click()
    qtbot.waitUntil(begun.is_set, timeout=10_000)
    window.close()
    assert ended == ["ended"]


def test_volumes_are_written_from_the_project_and_told(
    window: MainWindow, project_path: Path, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A set of volumes takes no results of the whole site; the card says what there is."""
    seen: dict[str, object] = {}

    def write(project: ProjectFile, form: Form, path: Path, progress) -> Written:
        seen.update(units=len(project.units()), form=form.id)
        beside = [path.with_name(f"{path.stem}.volume-{n}.txt") for n in (1, 2, 3)]
        return Written(path, tuple(beside[:2]), tuple(beside[2:]))

    output = Output(WORKBOOK.name, ".txt", "Text (*.txt)", WORKBOOK.writer, lambda: write)
    monkeypatch.setattr(export_place, "WORKBOOK", output)
    card = card_of(window)
    card.write.click()
    qtbot.waitUntil(lambda: card.job is None, timeout=10_000)
    assert seen == {"units": 1, "form": place_of(window).document.form.id}
    target = project_path.with_suffix(".txt")
    assert card.result.text().splitlines() == [
        f"Written: {target}",
        "It is the index of 2 volumes beside it; keep them in one folder.",
        f"Of an earlier export, and no part of this one: {target.stem}.volume-3.txt.",
    ]


def test_workbook_of_the_window_is_written_in_volumes() -> None:
    assert WORKBOOK.in_volumes is not None
    assert WORKBOOK.in_volumes() is write_workbooks


@pytest.mark.parametrize("system", ["IP", "SI"])
def test_package_shows_the_units_that_were_chosen(
    make_window, project_path: Path, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch, system: str
) -> None:
    """The project is in IP; the choice stands at that, and does not change the project."""
    seen: list[str] = []

    def write(site, path: Path, _progress) -> None:
        seen.append(site.unit_system)
        path.write_text("written", encoding="utf-8")

    output = Output(PACKAGE.name, ".txt", "Text (*.txt)", lambda: write)
    monkeypatch.setattr(export_place, "PACKAGE", output)
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
    qtbot.waitUntil(lambda: card.job is None, timeout=20_000)
    assert seen == [system]
    assert place_of(window).document.session.project.unit_system == "IP"
    if folder := os.environ.get("COMMISSION_PICTURES"):
        window.grab().save(f"{folder}/export-{system}.png")
