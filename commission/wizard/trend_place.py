"""Trend logs: a unit's logs read, confirmed, judged; what they show, and deficiencies of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cached_property
from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QDragEnterEvent, QDropEvent, QHideEvent, QShowEvent
from PySide6.QtWidgets import QProgressBar, QVBoxLayout, QWidget

from commission.errors import CommissionError
from commission.language import spoken, to_say
from commission.project import TrendRecord
from commission.sequence.configuration import Configuration, configuration_of
from commission.sequence.findings import Finding
from commission.sequence.trend_deficiency import deficiency_made_of
from commission.sequence.trend_discovery import first_cells
from commission.sequence.trend_limits import LimitInForce
from commission.sequence.trend_reading import FileReading
from commission.sequence.trend_shelf import (
    JudgedLog,
    deficiency_texts,
    keep_log,
    limits_of_unit,
    plain_findings,
    with_kept_mapping,
)
from commission.sequence.trend_signals import expected_signals
from commission.wizard.appearance import Appearance, set_role
from commission.wizard.choice import Choice, fill
from commission.wizard.dialogs import Dialogs
from commission.wizard.document import Document
from commission.wizard.flow import FlowLayout
from commission.wizard.incoming_file import dropped_file
from commission.wizard.parts import button, label, row
from commission.wizard.room import RoomyStack
from commission.wizard.slices import Slices
from commission.wizard.trend_findings import FindingsView
from commission.wizard.trend_job import Fresh, TrendJob, Work, finding, judging, reading_and_judging
from commission.wizard.trend_limit_list import TrendLimitList
from commission.wizard.trend_reading_form import ReadingForm

LOG_SUFFIXES = (".csv", ".tsv", ".txt", ".log", ".dat")
_LINES_LOOKED_AT = 400  # for the cells that a column shows; different ones are shown
_NOTHING = to_say(
    "No log of {tag} has been read. Choose the logger's or the building system's file (CSV or "
    "TSV), or drop it here. A day or more, sampled every few seconds, shows most: calls, fan, "
    "compressors, valves, flame, damper, and outdoor, return, mixed and supply air."
)


class TrendPlace(QWidget):
    """The place of the logs.

    Signals:
        deficiency_wanted: unit id, and a deficiency's texts.
    """

    deficiency_wanted = Signal(str, object)

    def __init__(self, document: Document, appearance: Appearance, dialogs: Dialogs) -> None:
        super().__init__()
        self.setObjectName("ground")
        self.setAcceptDrops(True)
        self._document = document
        self._appearance = appearance
        self._dialogs = dialogs
        self.unit_id = ""
        self.job: TrendJob | None = None
        self._path: Path | None = None
        self._fresh: FileReading | None = None
        self.shown: JudgedLog | None = None
        self._slices = Slices(self)
        document.closing.connect(self._slices.stop)
        px = appearance.px
        self.units = Choice(appearance)
        self.units.setAccessibleName(spoken("Unit"))
        self.units.setFixedWidth(px(150))
        self.units.activated.connect(lambda _place: self.show_unit(str(self.units.currentData())))
        self.logs = Choice(appearance)
        self.logs.setAccessibleName(spoken("Log"))
        self.logs.setMinimumWidth(px(150))
        self.logs.activated.connect(lambda _place: self._show_kept())
        self.add = button(spoken("Read a log"), self.choose, "primary")
        self.limits_button = button(spoken("Limits"), self.show_limits)
        self.remove = button(spoken("Take it off"), self._remove)
        self.remove.setAccessibleName(spoken("Take this log off the list"))
        self.said = label("", "error")
        self.said.hide()
        self.bar = QProgressBar()
        self.bar.setAccessibleName(spoken("Progress"))
        self.bar.setRange(0, 100)
        self.cancel = button(spoken("Cancel"), self._cancel)
        self.nothing = label("", "intro")
        self.stack = RoomyStack()
        self._lay_out(px)
        document.units_changed.connect(self.refresh)
        document.closing.connect(self.stop)
        self.refresh()

    # -- what one of is shown; each built when it is first shown ----------------------

    @cached_property
    def form(self) -> ReadingForm:
        """How a file will be read."""
        form = ReadingForm(self._appearance)
        form.confirmed.connect(self._confirmed)
        form.given_up.connect(self._show_kept)
        form.delimiter_chosen.connect(self._look_anew)
        self.stack.addWidget(form)
        return form

    @property
    def findings(self) -> FindingsView:
        """What a log shows; what is not shown yet is shown now."""
        self._slices.finish()
        return self._findings

    @cached_property
    def _findings(self) -> FindingsView:
        findings = FindingsView(self._appearance)
        findings.deficiency_wanted.connect(self._make_deficiency)
        self.stack.addWidget(findings)
        return findings

    @cached_property
    def limits(self) -> TrendLimitList:
        """The limits in force for a unit."""
        limits = TrendLimitList(self._document, self._appearance)
        limits.changed.connect(self._judge_anew)
        limits.closed.connect(self._show_kept)
        self.stack.addWidget(limits)
        return limits

    def _lay_out(self, px: Callable[[float], int]) -> None:
        layout = QVBoxLayout(self)
        layout.setContentsMargins(px(20), px(12), px(20), px(12))
        layout.setSpacing(px(8))
        head = FlowLayout(px(8), px(6))
        head.addWidget(label(spoken("Trend logs"), "title", wraps=False))
        for words, box in ((spoken("Unit"), self.units), (spoken("Log"), self.logs)):
            named = label(words, wraps=False)
            named.setBuddy(box)
            head.addWidget(named)
            head.addWidget(box)
        for made in (self.add, self.limits_button, self.remove):
            head.addWidget(made)
        layout.addLayout(head)
        layout.addWidget(self.said)
        running = row(px(8))
        running.addWidget(self.bar, 1)
        running.addWidget(self.cancel)
        layout.addLayout(running)
        empty = QWidget()
        inner = QVBoxLayout(empty)
        inner.setContentsMargins(0, px(8), 0, 0)
        inner.addWidget(self.nothing)
        inner.addStretch(1)
        self.empty = empty
        self.stack.addWidget(empty)
        layout.addWidget(self.stack, 1)
        self._show_running(False)

    def hideEvent(self, event: QHideEvent) -> None:
        super().hideEvent(event)
        self._slices.pause()

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._slices.go_on()

    # -- which unit, which log -------------------------------------------------------

    def refresh(self) -> None:
        """Show units and logs as they are now; a log is judged by the form as it is now."""
        if self.job is not None or isinstance(self.stack.currentWidget(), ReadingForm):
            return
        pairs = [(unit.tag, unit.id) for unit in self._document.units()]
        ids = [unit_id for _, unit_id in pairs]
        if self.unit_id not in ids:
            self.unit_id = ids[0] if ids else ""
        fill(self.units, pairs or [("none", "")], self.unit_id)
        self._fill_logs(str(self.logs.currentData() or ""))
        self._show_kept()

    def show_unit(self, unit_id: str) -> None:
        """Show another unit's logs."""
        self.stop()
        self.unit_id, self.shown, self._fresh = unit_id, None, None
        self.stack.setCurrentWidget(self.empty)
        self.refresh()

    def records(self) -> list[TrendRecord]:
        """Return the unit's logs."""
        return self._document.session.project.trend_logs(self.unit_id) if self.unit_id else []

    def _fill_logs(self, chosen: str) -> None:
        records = self.records()
        pairs = [(f"{record.name}, {record.at[:10]}", record.id) for record in records]
        last = records[-1].id if records else ""
        known = [record.id for record in records]
        fill(self.logs, pairs or [(spoken("none yet"), "")], chosen if chosen in known else last)
        self.logs.setEnabled(bool(pairs))
        self.add.setEnabled(bool(self.unit_id))
        for made in (self.limits_button, self.remove):
            made.setEnabled(bool(pairs))

    def record(self) -> TrendRecord | None:
        """Return the log that is chosen."""
        chosen = str(self.logs.currentData() or "")
        return next((record for record in self.records() if record.id == chosen), None)

    def _show_kept(self) -> None:
        """Show the chosen log, judged by the form and the limits as they are now."""
        record = self.record()
        self.said.hide()
        if record is None:
            tag = self._document.tag(self.unit_id) if self.unit_id else spoken("any unit")
            self.nothing.setText(spoken(_NOTHING, tag=tag))
            self.stack.setCurrentWidget(self.empty)
            return
        given = self._basis()
        if given is None:
            return
        configuration, limits = given
        shown = self.shown
        held = shown is not None and shown.record is not None and shown.record.id == record.id
        if shown is not None and held and (shown.configuration, shown.limits) == given:
            self._show_findings(shown)
            return
        samples = shown.log if shown is not None and held else None
        if samples is None:
            try:
                work = judging(record.data, configuration, limits)
            except CommissionError as error:
                self._refused(str(error))
                return
        else:
            work = judging(samples, configuration, limits)
        self._run(work, record.name, lambda found: self._judged(record, found))

    def _basis(self) -> tuple[Configuration, dict[str, LimitInForce]] | None:
        """Return what a log is judged by, or None after saying why that cannot be told."""
        session = self._document.session
        results = session.results(self.unit_id)
        try:
            configuration = configuration_of(results.calculation)
            return configuration, limits_of_unit(session.project, results)
        except CommissionError as error:
            self._refused(str(error))
            return None

    def _judged(self, record: TrendRecord, found: object) -> None:
        assert isinstance(found, JudgedLog)
        project = self._document.session.project
        if not project.read_only:
            plain = plain_findings(found.findings)
            self._document.attempt(lambda: project.update_trend_findings(record.id, plain))
        kept = JudgedLog(found.log, found.configuration, found.limits, found.findings, record)
        self._show_findings(kept)

    def _show_findings(self, shown: JudgedLog) -> None:
        self.shown = shown
        # A drawing is made for the width that it has once it is seen.
        self.stack.setCurrentWidget(self._findings)
        self._findings.list.setFocus(Qt.FocusReason.OtherFocusReason)
        self._slices.begin(self._filling(shown))

    def _filling(self, shown: JudgedLog) -> Iterator[None]:
        system = self._document.session.project.unit_system
        yield from self._findings.showing_log(shown, system, self._made_already)

    # -- reading a file --------------------------------------------------------------

    def choose(self) -> None:
        """Ask for a file."""
        path = self._dialogs.choose_log(self)
        if path is not None:
            self.read(path)

    def read(self, path: Path) -> None:
        """Look how a file is written, and show it to be confirmed."""
        if not self.unit_id:
            self._refused(spoken("Add a unit first; a log belongs to a unit."))
            return
        self._path = path
        self._run(finding(path), path.name, self._found)

    def _look_anew(self, delimiter: str) -> None:
        if self._path is not None:
            self._run(finding(self._path, delimiter), self._path.name, self._found)

    def _found(self, found: object) -> None:
        assert isinstance(found, FileReading)
        assert self._path is not None
        session = self._document.session
        reading = with_kept_mapping(session.project, found)
        given = self._basis()
        signals = expected_signals(given[0]) if given else ()
        try:
            cells = first_cells(self._path, reading, _LINES_LOOKED_AT)
        except OSError:
            cells = []
        self.form.show_reading(self._path, reading, signals, cells)
        self.stack.setCurrentWidget(self.form)
        self.form.start()

    def _confirmed(self, reading: object) -> None:
        given = self._basis()
        if given is None or self._path is None:
            return
        assert isinstance(reading, FileReading)
        self._run(reading_and_judging(self._path, reading, *given), self._path.name, self._keep)

    def _keep(self, found: object) -> None:
        assert isinstance(found, Fresh)
        project, unit_id = self._document.session.project, self.unit_id
        kept: list[TrendRecord] = []
        refusal = self._document.attempt(
            lambda: kept.append(
                keep_log(project, unit_id, found.shown, found.reading, found.digest, found.data)
            ),
            spoken(
                "{source} is kept with {tag}.",
                source=found.shown.log.source,
                tag=self._document.tag(unit_id),
            ),
        )
        if refusal:
            self.form.refuse(refusal)
            return
        shown = found.shown
        self._fill_logs(kept[0].id)
        self._show_findings(
            JudgedLog(shown.log, shown.configuration, shown.limits, shown.findings, kept[0])
        )

    def _remove(self) -> None:
        record = self.record()
        if record is None:
            return
        project = self._document.session.project
        refusal = self._document.attempt(
            lambda: project.remove_trend_log(record.id),
            spoken("{name} is off the list. It stays in the file's history.", name=record.name),
        )
        if not refusal:
            self.shown = None
            self._fill_logs("")
            self._show_kept()

    # -- limits, deficiencies ----------------------------------------------------------

    def show_limits(self) -> None:
        """Show the limits in force for this unit."""
        given = self._basis()
        if given is not None:
            self.limits.show_limits(self.unit_id, given[1])
            self.stack.setCurrentWidget(self.limits)
            self.limits.start()

    def _judge_anew(self) -> None:
        """After a change of a limit: show it, and the log by it once it is gone back to."""
        given = self._basis()
        if given is not None:
            self.limits.show_limits(self.unit_id, given[1])

    def _make_deficiency(self, found: object) -> None:
        assert isinstance(found, Finding)
        record = self.shown.record if self.shown else None
        self.deficiency_wanted.emit(self.unit_id, deficiency_texts(found, record))

    def _made_already(self, found: Finding) -> str:
        """Return which deficiency was made of this finding, in words, or ""."""
        name = self.shown.record.name if self.shown and self.shown.record else ""
        known = self._document.session.project.deficiencies(self.unit_id)
        made = deficiency_made_of(found, name, known)
        if made is None:
            return ""
        return spoken(
            "Deficiency {number} is made of it ({status}).",
            number=made.number,
            status=spoken(made.status),
        )

    # -- the job -----------------------------------------------------------------------

    def _run(self, work: Work, called: str, then: Callable[[object], None]) -> None:
        if self.job is not None:
            return
        self._then = then
        self.job = TrendJob(work, called, self)
        # Bound methods, so that Qt delivers them in this thread and not in the job's.
        self.job.progressed.connect(self._progressed)
        self.job.done.connect(self._done)
        self.job.refused.connect(self._refused)
        self.job.cancelled.connect(self._cancelled)
        self.said.hide()
        self._show_running(True)
        self.job.start()

    def _show_running(self, running: bool) -> None:
        for widget in (self.bar, self.cancel):
            widget.setVisible(running)
        for box in (self.units, self.logs, self.stack):
            box.setEnabled(not running)
        for made in (self.add, self.limits_button, self.remove):
            made.setEnabled(not running)
        if running:
            self.bar.setValue(0)
            self.bar.setFormat("starting")
            self.cancel.setFocus(Qt.FocusReason.OtherFocusReason)
        else:
            self._fill_logs(str(self.logs.currentData() or ""))

    def _progressed(self, share: float, what: str) -> None:
        self.bar.setValue(round(100 * share))
        self.bar.setFormat(f"{what} %p %")

    def _cancel(self) -> None:
        if self.job is not None:
            self.job.cancel()
            self.bar.setFormat("cancelling")

    def _end_job(self) -> None:
        job, self.job = self.job, None
        if job is not None:
            job.wait()
            job.deleteLater()
        self._show_running(False)

    def _done(self, found: object) -> None:
        self._end_job()
        self._then(found)

    def _refused(self, sentence: str) -> None:
        self._end_job()
        self._say(sentence, "error")

    def _cancelled(self) -> None:
        self._end_job()
        self._say(spoken("Cancelled. Nothing was kept."), "warning")

    def _say(self, sentence: str, role: str) -> None:
        self.said.setText(sentence)
        set_role(self.said, role)
        self.said.show()
        self.add.setFocus(Qt.FocusReason.OtherFocusReason)

    def stop(self) -> None:
        """Cancel and wait: the window is closing, or another unit is shown."""
        job, self.job = self.job, None
        if job is not None:
            job.blockSignals(True)
            job.cancel()
            job.wait()
            job.deleteLater()
            self._show_running(False)

    def start(self) -> None:
        """Put the focus where a person goes on."""
        shown = self.stack.currentWidget()
        if isinstance(shown, FindingsView):
            shown.list.setFocus(Qt.FocusReason.OtherFocusReason)
        elif isinstance(shown, ReadingForm):
            shown.start()
        else:
            self.add.setFocus(Qt.FocusReason.OtherFocusReason)

    # -- dropping ----------------------------------------------------------------------

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        if dropped_file(event.mimeData(), LOG_SUFFIXES) is not None and self.job is None:
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        path = dropped_file(event.mimeData(), LOG_SUFFIXES)
        if path is not None:
            event.acceptProposedAction()
            self.read(path)
