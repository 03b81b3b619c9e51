"""The place where functional tests are run, step by step, by keyboard alone."""

from __future__ import annotations

import time

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import (
    QBoxLayout,
    QFrame,
    QLineEdit,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from commission.definitions.model import Key
from commission.language import spoken
from commission.sequence.functional_model import FunctionalTest
from commission.sequence.functional_record import next_pass
from commission.sequence.functional_tests import functional_tests
from commission.sequence.functional_timeline import timeline
from commission.validation.sentences import pass_words
from commission.wizard.appearance import Appearance
from commission.wizard.document import Document
from commission.wizard.drawing_view import DrawingView
from commission.wizard.parts import bounded, button, clear, column, label, wrapping_row
from commission.wizard.stepper_list import TestList
from commission.wizard.stepper_run import Clock
from commission.wizard.stepper_signals import SignalsView
from commission.wizard.stepper_step import StepView
from commission.wizard.whole import Whole

_WIDEST = 980
_NARROW = 700  # pixels at 100 %
_LEAST_HEIGHT = 130


class StepperPlace(QWidget):
    """The tests of one unit at the left, one step of one test at the right.

    Space is the stopwatch, F6 sets it to zero, PgDn and PgUp go through the steps, F5
    repeats the test as a retest.

    Signals:
        page_wanted: unit id and page name.
        go_wanted: unit id and key to go to.
        deficiency_wanted: unit id and check key.
    """

    page_wanted = Signal(str, str)
    go_wanted = Signal(str, object)
    deficiency_wanted = Signal(str, object)

    def __init__(
        self, document: Document, appearance: Appearance, clock: Clock = time.monotonic
    ) -> None:
        super().__init__()
        self._document = document
        self._appearance = appearance
        self._clock = clock
        self._tests: tuple[FunctionalTest, ...] = ()
        self._pass_before = ""
        self.unit_id = ""
        self.test: FunctionalTest | None = None
        self.number = 0
        self.view: StepView | None = None
        self.list = TestList(document, appearance)
        self.list.test_chosen.connect(self._open_test)
        self.list.signals_chosen.connect(self._open_signals)
        self.list.unit_chosen.connect(self.open_unit)
        self.list.entered.connect(self._enter_step)
        self._lay_out()
        document.recomputed.connect(self._recomputed)
        document.replaced.connect(self._replaced)
        document.units_changed.connect(self._replaced)

    def _lay_out(self) -> None:
        px = self._appearance.px
        layout = self._line = QBoxLayout(QBoxLayout.Direction.LeftToRight, self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addWidget(self.list)
        right = column()
        right.addLayout(self._head())
        self.area = QScrollArea()
        self.area.setWidgetResizable(True)
        self.area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.area.installEventFilter(self)  # it would scroll by the keys of the steps
        inner = QWidget()
        self._content = QVBoxLayout(inner)
        self._content.setContentsMargins(0, 0, 0, 0)
        ground = QWidget()
        ground.setObjectName("ground")
        outer = bounded(inner, px(_WIDEST))
        outer.setContentsMargins(px(20), px(4), px(20), px(16))
        ground.setLayout(outer)
        self.area.setWidget(ground)
        self._bar_slot = column()
        right.addLayout(self._bar_slot)
        right.addWidget(self.area, 1)
        self._whole = Whole(self.area, px(_LEAST_HEIGHT))
        right.addWidget(self._foot())
        layout.addLayout(right, 1)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Where there is little room the list of tests stands above the step."""
        super().resizeEvent(event)
        narrow = event.size().width() < self._appearance.px(_NARROW)
        directions = QBoxLayout.Direction
        self._line.setDirection(directions.TopToBottom if narrow else directions.LeftToRight)
        self.list.set_narrow(narrow)
        self._whole.set_stacked(narrow)

    def _head(self):
        px = self._appearance.px
        line = wrapping_row(px(12))
        line.setContentsMargins(px(20), px(12), px(20), px(6))
        self.title = label("", "title")
        self.where = label("", "muted", wraps=False)
        line.addWidget(self.title, 1)
        line.addWidget(self.where, 0, Qt.AlignmentFlag.AlignVCenter)
        return line

    def _foot(self) -> QFrame:
        px = self._appearance.px
        palette = self._appearance.palette
        foot = QFrame()
        foot.setProperty("role", "foot")
        line = wrapping_row(px(10))
        line.setContentsMargins(px(20), px(6), px(20), px(6))
        self.back = button(spoken("Back"), lambda: self.step(-1), "", "back", palette["ink"])
        self.back.setToolTip(spoken("Step before (PgUp)"))
        self.again = button(spoken("Repeat as retest"), self.repeat)
        self.again.setToolTip(spoken("Run this test again; what was marked is kept (F5)"))
        self.page = button(spoken("Form page"), self._want_page, "quiet")
        self.page.setToolTip(spoken("The page on which these marks stand (Esc)"))
        self.next = button(
            spoken("Next"), lambda: self.step(1), "primary", "next", palette["on_accent"]
        )
        self.next.setLayoutDirection(Qt.LayoutDirection.RightToLeft)
        self.next.setToolTip(spoken("Next step (PgDn)"))
        for one in (self.back, self.again, self.page):
            line.addWidget(one)
        line.addStretch(1)
        line.addWidget(self.next)
        foot.setLayout(line)
        return foot

    # -- opening -------------------------------------------------------------------

    def use_clock(self, clock: Clock) -> None:
        """Time the runs that follow by another clock, s."""
        self._clock = clock

    def open(self, unit_id: str, section: str = "") -> None:
        """Show a unit's tests; begin at the first one of a page, if one is named."""
        self.open_unit(unit_id, section)

    def start(self) -> None:
        """Put the focus on the list of tests; the first unit's, if none was open."""
        if not self.unit_id:
            self.open_unit("")
        has_tests = self.list.items.isVisibleTo(self)
        target = self.list.items if has_tests else self.list.units
        target.setFocus(Qt.FocusReason.OtherFocusReason)

    def open_unit(self, unit_id: str, section: str = "") -> None:
        """Show the tests of a unit ("" for the first one), from the first one of a page on."""
        units = self._document.units()
        known = [unit.id for unit in units]
        self._end_run()
        self.unit_id = unit_id if unit_id in known else (known[0] if known else "")
        self.test = None
        self._read_tests()
        first = next((test for test in self._tests if section and test.section == section), None)
        self.list.show_unit(self.unit_id, self._tests, first)

    def _read_tests(self) -> None:
        results = self._document.results(self.unit_id) if self.unit_id else None
        self._tests = functional_tests(results.calculation) if results is not None else ()

    def _open_test(self, test: FunctionalTest) -> None:
        if self.test is None or (self.test.name, self.test.index) != (test.name, test.index):
            self._end_run()
            self.test, self.number = test, 0
            self._show_step()

    def _open_signals(self) -> None:
        self._end_run()
        self.test, self.view = None, None
        self._clear()
        self.title.setText(spoken("{tag}: signals", tag=self._document.tag(self.unit_id)))
        self.where.setText("")
        self._content.addWidget(SignalsView(self._document, self.unit_id, self._appearance))
        self._content.addStretch(1)
        self._show_foot()

    def _show_step(self) -> None:
        assert self.test is not None
        self._clear()
        step = self.test.steps[self.number]
        self.view = StepView(
            self._document, self.unit_id, self.test, step, self._appearance, self._clock, self
        )
        self.view.go_wanted.connect(lambda key: self.go_wanted.emit(self.unit_id, key))
        self.view.deficiency_wanted.connect(self.deficiency_wanted)
        self.view.end_reached.connect(lambda: self.next.setFocus(Qt.FocusReason.OtherFocusReason))
        self._content.addWidget(self.view)
        self._bar_slot.addWidget(self.view.danger)
        self.view.show_first()
        if self.view.run.timed:
            self._bar_slot.addWidget(self.view.bar)
        if self.test.lanes:
            self.drawing = DrawingView(self._drawn, self._appearance)
            self._content.addWidget(self.drawing)
        self._content.addStretch(1)
        self.area.verticalScrollBar().setValue(0)
        self.title.setText(f"{self._document.tag(self.unit_id)}: {self.test.title}")
        self._show_foot()

    def _clear(self) -> None:
        clear(self._bar_slot)
        clear(self._content)

    def _drawn(self, width: float):
        from commission.drawing.shapes import Drawing

        results = self._document.results(self.unit_id)
        made = timeline(results, self.test, width) if self.test is not None else None
        return made or Drawing(width, 1.0, (), "", "")

    def _show_foot(self) -> None:
        test = self.test
        self.again.setEnabled(test is not None)
        self.page.setEnabled(test is not None)
        self.back.setEnabled(test is not None and self._neighbour(-1) is not None)
        self.next.setEnabled(test is None or self._neighbour(1) is not None)
        if test is not None:
            kept_as = self._document.session.pass_name
            self.where.setText(
                spoken(
                    "step {number} of {count}, kept as '{kept_as}'",
                    number=self.number + 1,
                    count=len(test.steps),
                    kept_as=pass_words(kept_as),
                )
            )

    # -- going through --------------------------------------------------------------

    def _neighbour(self, by: int) -> tuple[FunctionalTest, int] | None:
        if self.test is None:
            return (self._tests[0], 0) if self._tests and by > 0 else None
        number = self.number + by
        if 0 <= number < len(self.test.steps):
            return self.test, number
        names = [(test.name, test.index) for test in self._tests]
        if (self.test.name, self.test.index) not in names:
            return None
        place = names.index((self.test.name, self.test.index)) + by
        if not 0 <= place < len(self._tests):
            return None
        other = self._tests[place]
        return other, (0 if by > 0 else len(other.steps) - 1)

    def step(self, by: int) -> None:
        """Go to the next step, or the one before; past the end, to the next test."""
        focused = self.window().focusWidget()
        if focused is not None:
            focused.clearFocus()  # what is being typed is entered
        found = self._neighbour(by)
        if found is None:
            return
        test, number = found
        if self.test is None or (test.name, test.index) != (self.test.name, self.test.index):
            self._end_run()
            self.test = test
            self.list.mark(test)
        self.number = number
        self._show_step()
        self._enter_step()

    def _enter_step(self) -> None:
        if self.view is not None:
            self.view.focus_first()

    def repeat(self) -> None:
        """Run the test again from its first step, as the next retest; nothing is lost."""
        if self.test is None:
            return
        used = {
            reading.pass_name
            for key in self.test.keys
            for reading in self._document.session.history(self.unit_id, key.name, key.index)
            if not reading.is_unread
        }
        if not used:
            self._document.said.emit(spoken("Nothing is marked yet; this run is the first."), False)
            return
        before = self._pass_before or self._document.session.pass_name
        self._document.choose_pass(next_pass(sorted(used)))
        self._pass_before = before
        self.number = 0
        self._show_step()
        self._enter_step()
        name = self._document.session.pass_name
        words = spoken(
            "{test}: this run is kept as '{name}'.", test=self.test.title, name=pass_words(name)
        )
        self._document.said.emit(words, False)

    def _end_run(self) -> None:
        """Go back to the pass that was recorded before a retest of one test."""
        if self._pass_before:
            before, self._pass_before = self._pass_before, ""
            self._document.choose_pass(before)

    def leave(self) -> None:
        """End the run; the place is left."""
        self._end_run()

    def _want_page(self) -> None:
        if self.test is not None:
            self.page_wanted.emit(self.unit_id, self.test.section)

    # -- following -----------------------------------------------------------------

    def _recomputed(self, unit_id: str, changed: frozenset[Key]) -> None:
        if unit_id != self.unit_id or not self.isVisible():
            return
        if self.view is not None:
            self.view.refresh(changed)
        self.list.refresh(self._tests)
        if self.test is not None and self.test.lanes:
            self.drawing.refresh()

    def _replaced(self) -> None:
        if not self.unit_id:
            return
        self._read_tests()
        self.list.show_unit(self.unit_id, self._tests, keep=True)
        if self.view is not None:
            self.view.refresh(None)
        self._show_foot()

    # -- keys ----------------------------------------------------------------------

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.FocusIn and isinstance(watched, QWidget):
            self.area.ensureWidgetVisible(watched, 0, self._appearance.px(80))
        if isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyPress:
            return self._takes(watched, event) or super().eventFilter(watched, event)
        return super().eventFilter(watched, event)

    def _takes(self, watched: QObject, event: QKeyEvent) -> bool:
        """Take the stopwatch key in a mark, unless somebody is typing words or a time there."""
        if event.key() != Qt.Key.Key_Space:
            return self._moves(event)
        if isinstance(watched, QLineEdit):
            timed = [one.input.editor() for one in self.view.timed_fields()] if self.view else []
            if watched not in timed or watched.isModified():
                return False
        elif not self._is_segment(watched):
            return False
        self._press()
        return True

    def _is_segment(self, watched: QObject) -> bool:
        from commission.wizard.inputs import Group

        return isinstance(watched, Group)

    def _press(self) -> None:
        refusal = self.view.press() if self.view is not None else ""
        if refusal:
            self._document.said.emit(refusal, True)

    def _moves(self, event: QKeyEvent) -> bool:
        plain = not event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier
        if plain and event.key() in (Qt.Key.Key_PageDown, Qt.Key.Key_PageUp):
            self.step(1 if event.key() == Qt.Key.Key_PageDown else -1)
            return True
        if plain and event.key() == Qt.Key.Key_F5:
            self.repeat()
            return True
        if plain and event.key() == Qt.Key.Key_F6 and self.view is not None:
            self.view.start_again()
            return True
        return False

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if self._moves(event):
            return
        if event.key() == Qt.Key.Key_Space:
            self._press()
        elif event.key() == Qt.Key.Key_Escape:
            self._want_page()
        else:
            super().keyPressEvent(event)
