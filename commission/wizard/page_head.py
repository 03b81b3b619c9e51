"""The head of a page: its title, how far it is, what it is about, and its cautions."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QWidget

from commission.definitions.model import Section
from commission.language import spoken
from commission.sequence.functional_load import has_tests
from commission.validation.results import UnitResults
from commission.wizard.appearance import Appearance
from commission.wizard.document import Document
from commission.wizard.flow import WrappingRow
from commission.wizard.parts import (
    SignLabel,
    button,
    caution_frame,
    column,
    label,
    wrapping_row,
)
from commission.wizard.states import counted, sign_of_state


class PageHead(QWidget):
    """What stands above the lines of a page and is not typed into.

    Signals:
        tests_wanted: the functional tests of this page are to be run step by step.
    """

    tests_wanted = Signal()

    def __init__(self, document: Document, section: Section, appearance: Appearance) -> None:
        super().__init__()
        self._document = document
        self._section = section
        self._appearance = appearance
        lines = column(appearance.px(10))
        self.setLayout(lines)
        lines.addLayout(self._title())
        if section.intro:
            lines.addWidget(label(section.intro, "intro"))
        if section.cautions:
            lines.addWidget(caution_frame(section.cautions, appearance))

    def show_state(self, results: UnitResults) -> None:
        """Show how far the page is."""
        self.sign.show_sign(sign_of_state(results.state(self._section)))
        self.counts.setText(counted(results.progress(self._section)))

    def _title(self) -> WrappingRow:
        head = wrapping_row(self._appearance.px(12))
        head.addWidget(label(self._section.title, "title"), 1)
        if has_tests(self._document.form, self._section):
            run = button(spoken("Step by step"), self.tests_wanted.emit)
            run.setToolTip(
                spoken("Run these functional tests step by step, with a stopwatch (Ctrl+R)")
            )
            head.addWidget(run, 0, Qt.AlignmentFlag.AlignVCenter)
        self.counts = label("", "muted", wraps=False)
        head.addWidget(self.counts, 0, Qt.AlignmentFlag.AlignVCenter)
        self.sign = SignLabel(self._appearance, 20)
        head.addWidget(self.sign, 0, Qt.AlignmentFlag.AlignVCenter)
        return head
