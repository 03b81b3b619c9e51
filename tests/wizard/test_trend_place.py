"""Trend logs in the window: dropped, confirmed, judged, made a deficiency of, by real keys."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QTimer, QUrl
from PySide6.QtGui import QDragEnterEvent, QDropEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from commission.project import ProjectFile, TrendRecord
from commission.sequence.trend_limits import Origin
from commission.validation.verdict import Outcome
from commission.wizard.dialogs import Dialogs
from commission.wizard.trend_place import TrendPlace
from commission.wizard.window import MainWindow
from wizard.at_the_window import focused, place_of, press, type_text

STOPPED, HOUR = "off", 3_600


def write_log(path: Path, every_s: int = 5, headings: str = "G,Y1,Supply fan,Compressor 1") -> Path:
    """Write an hour: called from 600 to 2400 s; the fan stops at 1200 s, the compressor not."""
    lines = [f"Date,{headings}"]
    for second in range(0, HOUR, every_s):
        called = 600 <= second < 2_400
        fan = called and second < 1_200
        words = ["on" if state else "off" for state in (called, called, fan, called)]
        stamp = f"2026-09-15 {8 + second // 3600:02d}:{second // 60 % 60:02d}:{second % 60:02d}"
        lines.append(",".join([stamp, *words]))
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def trends(window: MainWindow) -> TrendPlace:
    """Go to the trend logs by their key."""
    press(Qt.Key.Key_T, Qt.KeyboardModifier.ControlModifier)
    place = place_of(window).place("trends")
    assert isinstance(place, TrendPlace)
    assert place_of(window).stack.currentWidget() is place
    return place


def settle(place: TrendPlace) -> None:
    """Wait until nothing is being read or judged."""
    for _ in range(1_200):
        if place.job is None:
            break
        QTest.qWait(25)
    assert place.job is None
    QApplication.processEvents()


def drop(place: TrendPlace, path: Path) -> bool:
    """Drag a file over the place and drop it; return whether it was taken."""
    mime = QMimeData()
    mime.setUrls([QUrl.fromLocalFile(str(path))])
    left, none = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    copy = Qt.DropAction.CopyAction
    over = QDragEnterEvent(QPoint(50, 50), copy, mime, left, none)
    over.ignore()
    QApplication.sendEvent(place, over)
    if not over.isAccepted():
        return False
    QApplication.sendEvent(place, QDropEvent(QPointF(50, 50), copy, mime, left, none))
    return True


def read(place: TrendPlace, path: Path) -> None:
    """Drop a file, and confirm what was found with the key."""
    assert drop(place, path)
    settle(place)
    assert focused() is place.form.read_button, place.said.text()
    press(Qt.Key.Key_Space)
    settle(place)


def kept(window: MainWindow) -> list[TrendRecord]:
    """Return the logs as the project file itself has them, read anew."""
    with ProjectFile.open(place_of(window).path, read_only=True) as project:
        return project.trend_logs()


def verdict(place: TrendPlace, rule: str) -> Outcome:
    """Return what a rule found in the log shown."""
    assert place.shown is not None
    return next(f.outcome for f in place.shown.findings if f.rule == rule)


def test_a_dropped_log_is_confirmed_judged_and_kept(window: MainWindow, tmp_path: Path) -> None:
    place = trends(window)
    assert focused() is place.add
    read(place, write_log(tmp_path / "roof.csv"))
    assert place.stack.currentWidget() is place.findings
    assert verdict(place, "compressor_with_fan") is Outcome.FAIL
    (record,) = kept(window)
    assert (record.name, record.facts["samples"]) == ("roof.csv", 720)
    assert any(f["rule"] == "compressor_with_fan" for f in record.findings)
    assert "is kept with RTU-1" in place_of(window).strip.words.text()


def test_what_is_no_log_is_not_taken(window: MainWindow, tmp_path: Path) -> None:
    place = trends(window)
    picture = tmp_path / "roof.png"
    picture.write_bytes(b"x")
    assert not drop(place, picture)


def test_a_file_is_chosen_by_button(
    make_window: Callable[..., MainWindow], project_path: Path, tmp_path: Path
) -> None:
    path = write_log(tmp_path / "roof.csv")
    window = make_window(Dialogs(choose_log=lambda _parent: path))
    window.open_project(project_path)
    place = trends(window)
    press(Qt.Key.Key_Space)
    settle(place)
    assert place.form.title.text().startswith("roof.csv: data from line 2")
    assert "time zone" in place.form.questions.text()
    assert [row.signal.currentData() for row in place.form.rows] == [
        "call_fan", "call_cool_1", "indoor_fan", "compressor_1",
    ]  # fmt: skip


def test_a_finding_becomes_a_deficiency_by_keys_alone(window: MainWindow, tmp_path: Path) -> None:
    place = trends(window)
    read(place, write_log(tmp_path / "roof.csv"))
    assert focused() is place.findings.list
    for _ in range(20):
        if place.findings.finding and place.findings.finding.rule == "compressor_with_fan":
            break
        press(Qt.Key.Key_Down)
    assert place.findings.title.text() == "Compressor only with the indoor fan"
    press(Qt.Key.Key_Return)
    assert focused() is place.findings.deficiency
    press(Qt.Key.Key_Space)
    type_text("Controls crew")
    press(Qt.Key.Key_Return)
    with ProjectFile.open(place_of(window).path, read_only=True) as project:
        (made,) = project.deficiencies()
    assert made.owner == "Controls crew"
    assert made.description.startswith("Compressor only with the indoor fan: A compressor ran")
    assert "(trend log roof.csv)" in made.description
    assert "default, common practice" in made.requirement
    again = trends(window)
    settle(again)
    shown = next(f for f in again.shown.findings if f.rule == "compressor_with_fan")
    assert again._made_already(shown) == "Deficiency 1 is made of it (open)."


def test_each_finding_has_its_plot_and_the_log_has_its_own(
    window: MainWindow, tmp_path: Path
) -> None:
    place = trends(window)
    read(place, write_log(tmp_path / "roof.csv"))
    titles = set()
    for row in range(place.findings.model.rowCount()):
        place.findings.list.setCurrentIndex(place.findings.model.index(row, 0))
        drawing = place.findings.plot.drawing
        assert drawing.shapes
        assert place.findings.plot.accessibleDescription() == drawing.description
        titles.add(drawing.title)
    assert "The log" in titles and "Compressor only with the indoor fan" in titles


def test_a_limit_typed_by_keys_judges_the_log_anew(window: MainWindow, tmp_path: Path) -> None:
    place = trends(window)
    read(place, write_log(tmp_path / "roof.csv"))
    place.limits_button.setFocus()
    press(Qt.Key.Key_Space)
    assert focused() is place.limits.list
    assert "default" in place.limits.model.index(0, 2).data()
    press(Qt.Key.Key_Return)  # the first limit: the shortest forbidden state that counts
    type_text("2 h")
    press(Qt.Key.Key_Return)
    assert "Where a limit comes from is empty" in place.limits.form.refusal.text()
    press(Qt.Key.Key_Tab)
    type_text("Control sheet, page 2")
    press(Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    assert not place.limits.form.isVisible()
    assert place.limits._limits["grace_s"].origin is Origin.ENTERED
    assert place.limits._limits["grace_s"].value == 7_200.0
    place.limits.back.setFocus()
    press(Qt.Key.Key_Space)
    settle(place)
    assert verdict(place, "compressor_with_fan") is Outcome.PASS
    assert all(f["outcome"] != "fail" for f in kept(window)[0].findings
               if f["rule"] == "compressor_with_fan")  # fmt: skip
    place.limits_button.setFocus()
    press(Qt.Key.Key_Space)
    press(Qt.Key.Key_Return)
    place.limits.take_back.setFocus()
    press(Qt.Key.Key_Space)
    assert place.limits._limits["grace_s"].origin is Origin.DEFAULT


def test_what_a_column_is_can_be_changed_and_is_kept_for_the_next_file(
    window: MainWindow, tmp_path: Path
) -> None:
    headings = "G,Y1,Zz Relay,Compressor 1"
    place = trends(window)
    assert drop(place, write_log(tmp_path / "one.csv", headings=headings))
    settle(place)
    strange = place.form.rows[2]
    QApplication.processEvents()  # a line that was just built is shown
    assert strange.signal.currentData() == "" and "'Zz Relay'" in place.form.questions.text()
    strange.signal.setFocus()
    type_text("Indoor fan")  # a closed list goes to what is typed
    assert strange.signal.currentData() == "indoor_fan"
    place.form.read_button.setFocus()
    press(Qt.Key.Key_Space)
    settle(place)
    assert verdict(place, "compressor_with_fan") is Outcome.FAIL
    assert drop(place, write_log(tmp_path / "two.csv", headings=headings))
    settle(place)
    assert place.form.rows[2].signal.currentData() == "indoor_fan"


def test_another_delimiter_and_zone_are_taken_as_a_person_says(
    window: MainWindow, tmp_path: Path
) -> None:
    path = write_log(tmp_path / "semi.csv")
    path.write_text(path.read_text("utf-8").replace(",", ";"), "utf-8")
    place = trends(window)
    assert drop(place, path)
    settle(place)
    assert place.form.delimiter.currentData() == ";"
    place.form.zone.setFocus()
    type_text("America/Nowhere")
    place.form.read_button.setFocus()
    press(Qt.Key.Key_Space)
    assert "'America/Nowhere' is not known" in place.form.refusal.text()
    place.form.zone.clear()
    place.form.zone.setFocus()
    type_text("America/Denver")
    place.form.read_button.setFocus()
    press(Qt.Key.Key_Space)
    settle(place)
    assert kept(window)[0].facts["zone"] == "America/Denver"
    assert place.shown is not None and place.shown.log.clock(0) == "2026-09-15 08:00:00"


def test_coarse_sampling_is_inconclusive_and_says_what_would_do(
    window: MainWindow, tmp_path: Path
) -> None:
    place = trends(window)
    read(place, write_log(tmp_path / "coarse.csv", every_s=300))
    assert place.shown is not None
    doubtful = [f for f in place.shown.findings if f.outcome is Outcome.INCONCLUSIVE]
    assert doubtful
    texts = [place.findings.model.index(row, 1).data()
             for row in range(place.findings.model.rowCount())]  # fmt: skip
    assert any("Sampling every" in text for text in texts)


def test_a_file_that_cannot_be_read_is_a_sentence_in_place(
    window: MainWindow, tmp_path: Path
) -> None:
    place = trends(window)
    path = tmp_path / "empty.csv"
    path.write_text("", "utf-8")
    assert drop(place, path)
    settle(place)
    assert "empty.csv: the file is empty" in place.said.text()
    assert place.said.isVisible() and kept(window) == []


def test_reading_can_be_cancelled_and_the_window_stays_free(
    window: MainWindow, tmp_path: Path
) -> None:
    place = trends(window)
    path = write_log(tmp_path / "long.csv", every_s=1)
    head, *body = path.read_text("utf-8").splitlines()
    path.write_text("\n".join([head, *body * 60]) + "\n", "utf-8")
    assert drop(place, path)
    settle(place)
    ticks: list[int] = []
    timer = QTimer()
    timer.timeout.connect(lambda: ticks.append(1))
    timer.start(10)
    press(Qt.Key.Key_Space)
    assert place.job is not None and focused() is place.cancel
    QTest.qWait(150)
    running = place.job is not None
    press(Qt.Key.Key_Space)
    settle(place)
    timer.stop()
    assert running and len(ticks) >= 3
    assert place.said.text() == "Cancelled. Nothing was kept."
    assert kept(window) == []


def test_closing_the_window_while_reading_ends_the_job(window: MainWindow, tmp_path: Path) -> None:
    place = trends(window)
    assert drop(place, write_log(tmp_path / "roof.csv", every_s=1))
    settle(place)
    press(Qt.Key.Key_Space)
    job = place.job
    assert job is not None
    window.close()
    assert place.job is None


def test_a_log_taken_off_is_off_the_list_and_stays_in_the_file(
    window: MainWindow, tmp_path: Path
) -> None:
    place = trends(window)
    read(place, write_log(tmp_path / "roof.csv"))
    place.remove.setFocus()
    press(Qt.Key.Key_Space)
    assert kept(window) == [] and place.stack.currentWidget() is place.empty
    with ProjectFile.open(place_of(window).path, read_only=True) as project:
        assert len(project.rows("trend_log")) == 2


@pytest.mark.parametrize("size", [(1024, 640), (1440, 900)])
def test_nothing_is_wider_than_the_window(
    window: MainWindow, tmp_path: Path, size: tuple[int, int]
) -> None:
    window.resize(*size)
    place = trends(window)
    read(place, write_log(tmp_path / "roof.csv"))
    assert place.minimumSizeHint().width() <= size[0]
    assert window.width() == size[0]
