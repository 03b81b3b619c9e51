"""One step of a functional test on the screen: caution, what to do, call, parts, marks, clock."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from PySide6.QtCore import QObject, QTimer, Signal
from PySide6.QtGui import QHideEvent, QShowEvent
from PySide6.QtWidgets import QFrame, QGridLayout, QVBoxLayout, QWidget

from commission.definitions.model import Key
from commission.errors import CommissionError
from commission.language import spoken
from commission.sequence.functional_model import FunctionalStep, FunctionalTest, Part
from commission.sequence.functional_record import dangers
from commission.wizard.adding import adding_to
from commission.wizard.appearance import Appearance
from commission.wizard.document import Document
from commission.wizard.entry_row import FieldRow
from commission.wizard.parts import (
    SignLabel,
    button,
    caution_frame,
    label,
    reveal,
    wrapping_row,
)
from commission.wizard.sign import STOP_SIGN
from commission.wizard.slices import Slices
from commission.wizard.stepper_rows import MarkRow
from commission.wizard.stepper_run import Clock, StepRun, typed_time
from commission.wizard.stops import GuardNotice

_TICK_MS = 100


class StepView(QWidget):
    """One step, live. Its marks are built one at a time, between rounds of the event loop.

    Signals:
        go_wanted: the key of a check to settle elsewhere.
        deficiency_wanted: unit id and check key.
        end_reached: the last mark was entered.
    """

    go_wanted = Signal(object)
    deficiency_wanted = Signal(str, object)
    end_reached = Signal()

    def __init__(
        self,
        document: Document,
        unit_id: str,
        test: FunctionalTest,
        step: FunctionalStep,
        appearance: Appearance,
        clock: Clock,
        watcher: QObject,
    ) -> None:
        """Make it; `watcher` filters the events of all that takes the focus in its marks."""
        super().__init__()
        self._document = document
        self._unit_id = unit_id
        self._test = test
        self.step = step
        self._appearance = appearance
        self._clock_given = clock
        self.run = StepRun(step, clock)
        self._watcher = watcher
        self._rows: list[MarkRow] = []
        self._building = Slices(self)
        self._passes = Slices(self)
        self.bar: QFrame
        """The stopwatch, to be set where it does not scroll away; used if there are times.

        So is `danger`, the dangerous states that stand.
        """
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(appearance.px(10))
        section = document.form.section_by_name[test.section]
        self.guard = GuardNotice(document, unit_id, section, appearance)
        self.guard.go_wanted.connect(self.go_wanted)
        layout.addWidget(self.guard)
        self.guard.refresh()
        self._danger_frame()
        if test.cautions:
            layout.addWidget(caution_frame(test.cautions, appearance))
        layout.addWidget(self._task())
        layout.addWidget(self._marks())
        for slices in (self._building, self._passes):
            document.closing.connect(slices.stop)
        self._tick = QTimer(self)
        self._tick.setInterval(_TICK_MS)
        self._tick.timeout.connect(self._show_clock)
        document.closing.connect(self._tick.stop)

    @property
    def rows(self) -> list[MarkRow]:
        """The marks; what is not built yet is built now."""
        self._building.finish()
        return self._rows

    def hideEvent(self, event: QHideEvent) -> None:
        super().hideEvent(event)
        self._building.pause()
        self._passes.pause()

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._building.go_on()
        self._passes.go_on()

    # -- building ------------------------------------------------------------------

    def _danger_frame(self) -> None:
        px = self._appearance.px
        self.danger = QFrame()
        self.danger.setProperty("role", "stop_frame")
        line = wrapping_row(px(10))
        line.setContentsMargins(px(16), px(12), px(16), px(12))
        sign = SignLabel(self._appearance, 22)
        sign.show_sign(STOP_SIGN)
        line.addWidget(sign)
        self.danger_words = label("", "value")
        line.addWidget(self.danger_words, 1)
        self.danger.setLayout(line)

    def _task(self) -> QFrame:
        px = self._appearance.px
        card = QFrame()
        card.setProperty("role", "card")
        grid = QGridLayout(card)
        grid.setContentsMargins(px(16), px(12), px(16), px(12))
        grid.setHorizontalSpacing(px(12))
        grid.setVerticalSpacing(px(8))
        grid.setColumnMinimumWidth(0, px(110))
        grid.setColumnStretch(1, 1)
        grid.addWidget(label(self.step.do, "intro"), 0, 0, 1, 2)
        must = spoken("Must run, in this order") if self.step.ordered else spoken("Must run")
        lines = (
            (spoken("Call"), _call_words(self.step)),
            (must, _part_words(self.step.run)),
            (spoken("Must not run"), _part_words(self.step.rest)),
            (spoken("Reset"), self.step.reset),
        )
        for words, told in lines:
            if told:
                place = grid.rowCount()
                named = label(words, "muted")
                named.setFixedWidth(px(110))
                grid.addWidget(named, place, 0)
                grid.addWidget(label(told, "value"), place, 1)
        return card

    def _earlier_passes(self) -> Iterator[None]:
        """Show earlier passes beside the fields, once they are worked out."""
        yield from self._document.passes.computing(self._unit_id)
        for made in self._rows:
            if made.field is not None:
                made.field.refresh_passes()
            yield

    def _marks(self) -> QFrame:
        px = self._appearance.px
        card = QFrame()
        card.setProperty("role", "card")
        column = QVBoxLayout(card)
        column.setContentsMargins(1, 1, 1, 1)
        column.setSpacing(0)
        self.bar = QFrame()
        self.bar.setProperty("role", "ask")
        head = wrapping_row(px(12))
        head.setContentsMargins(px(20), px(4), px(20), px(4))
        self.bar.setLayout(head)
        self.clock = label("0.0 s", "title", wraps=False)
        self.clock.setAccessibleName(spoken("Stopwatch"))
        self.clock.setMinimumWidth(px(120))
        self.told = label("", "muted")
        head.addWidget(self.clock)
        head.addWidget(self.told, 1)
        self.zero = button(spoken("Clock to zero"), self.start_again, "quiet")
        self.zero.setToolTip(spoken("The call was not made yet: the clock stands again (F6)"))
        head.addWidget(self.zero)
        self.body = QWidget()
        self._lines = QVBoxLayout(self.body)
        self._lines.setContentsMargins(0, 0, 0, 0)
        self._lines.setSpacing(0)
        column.addWidget(self.body)
        return card

    def show_first(self) -> None:
        """Show how it stands, once there is a place for it; its marks follow by themselves."""
        self.refresh(None)
        self._building.begin(self._mark_rows())

    def _mark_rows(self) -> Iterator[None]:
        for mark in self.step.marks:
            with self._document.passes.held_back():
                made = MarkRow(self._document, self._unit_id, mark, self._appearance)
            if made.field is not None:
                made.field.wants_next.connect(self.focus_next)
                made.field.deficiency_wanted.connect(self.deficiency_wanted)
            self._rows.append(made)
            with adding_to(self.body, [made]):
                self._lines.addWidget(made)
            editor = made.editor()
            if editor is not None:
                for widget in (editor, *editor.findChildren(QWidget)):
                    widget.installEventFilter(self._watcher)
            made.show_event(self.run)
            yield
        if not self._document.passes.is_ready(self._unit_id):
            self._passes.begin(self._earlier_passes())

    # -- the stopwatch ---------------------------------------------------------------

    def press(self) -> str:
        """The stopwatch key: the call, then each event as it comes; return a refusal, or ""."""
        if not self.run.timed or not self.body.isEnabled():
            return ""
        if not self.run.is_running:
            self.run.call()
            self._tick.start()
        elif (mark := self.run.next_mark()) is not None:
            try:
                self._keep(mark, self.run.mark(mark))
            except CommissionError as error:
                return str(error)
        if self.run.is_over:
            self._tick.stop()
        self._show_clock()
        self._focus_after_press()
        return ""

    def _keep(self, mark, seconds: float) -> None:
        if mark.key is None:
            return
        unit = self._document.session.plan.entries[mark.key.name].unit
        answer = self._document.enter(self._unit_id, mark.key, typed_time(seconds, unit))
        if answer.refusal:
            self._document.said.emit(answer.refusal, True)

    def _focus_after_press(self) -> None:
        """Go to the event that comes next; after the last, to what is answered."""
        mark = self.run.next_mark()
        for one in self.rows:
            editor = one.editor()
            is_next = one.mark is mark if mark is not None else not one.mark.event
            if is_next and editor is not None:
                editor.setFocus()
                return

    def start_again(self) -> None:
        """Forget the clock; what was marked stays where it is kept."""
        self._tick.stop()
        self.run = StepRun(self.step, self._clock_given)
        self._show_clock()
        self.focus_first()

    def _show_clock(self) -> None:
        shown = self.run.elapsed_s
        if self.run.is_over and self.run.timed:
            shown = self.run.came_s(self.run.timed[-1]) or 0.0
        self.clock.setText(f"{shown:.1f} s")
        mark = self.run.next_mark()
        if not self.run.is_running:
            words = spoken("Space: the call is made now, the clock starts.")
        elif mark is not None:
            event = f"{mark.event[:1].lower()}{mark.event[1:]}"
            words = spoken("Space: {event}.", event=event)
        else:
            words = spoken("All events are marked.")
        self.told.setText(words)
        self.zero.setEnabled(self.run.is_running)
        for one in self._rows:
            one.show_event(self.run)

    # -- following -----------------------------------------------------------------

    def refresh(self, changed: frozenset[Key] | None) -> None:
        """Show what is known now; None means that anything may have changed."""
        with self._passes_held_back():
            for one in self._rows:
                one.refresh(changed)
        self.guard.refresh()
        self.body.setEnabled(not self.guard.blocking())
        found = dangers(self._document.results(self._unit_id), self._test)
        reveal(self.danger, bool(found))
        self.danger_words.setText(
            "\n".join(
                spoken(
                    "{danger} ({check}: not so.)",
                    danger=one.step.danger,
                    check=one.verdict.check.label,
                )
                for one in found
            )
        )
        self._show_clock()

    @contextmanager
    def _passes_held_back(self) -> Iterator[None]:
        """Leave earlier passes to the slices that work them out, while they do."""
        if self._passes.is_under_way() or self._building.is_under_way():
            with self._document.passes.held_back():
                yield
        else:
            yield

    # -- focus ---------------------------------------------------------------------

    def editors(self) -> list[QWidget]:
        """Return what takes the focus in this step, in order."""
        return [editor for one in self.rows if (editor := one.editor()) is not None]

    def timed_fields(self) -> list[FieldRow]:
        """Return the lines whose fields are times."""
        return [one.field for one in self.rows if one.field is not None and one.mark.event]

    def focus_first(self) -> None:
        """Put the focus on the first mark, or on the way past what closes the step."""
        if not self.body.isEnabled():
            self.guard.focus_first()
        elif built := [editor for one in self._rows if (editor := one.editor()) is not None]:
            built[0].setFocus()
        elif editors := self.editors():
            editors[0].setFocus()

    def focus_next(self) -> None:
        """Go to the mark after the one that has the focus; at the end, say so."""
        editors = self.editors()
        here = self.window().focusWidget()
        place = next(
            (
                n
                for n, one in enumerate(editors)
                if here and (one is here or one.isAncestorOf(here))
            ),
            -1,
        )
        if place + 1 < len(editors):
            editors[place + 1].setFocus()
        else:
            self.end_reached.emit()


def _call_words(step: FunctionalStep) -> str:
    if not step.signals:
        return step.call
    terminals = ", ".join(step.signals)
    return spoken("{call}:  R to {terminals}", call=step.call, terminals=terminals)


def _part_words(parts: tuple[Part, ...]) -> str:
    return ", ".join(part.label for part in parts)
