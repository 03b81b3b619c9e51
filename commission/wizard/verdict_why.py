"""Why a verdict is as it is: its work, what its doubt comes from, what would explain a failure."""

from __future__ import annotations

from PySide6.QtCore import QThread, Signal
from PySide6.QtWidgets import QFrame, QVBoxLayout, QWidget

from commission.definitions.model import Field, Key, Quantity
from commission.language import spoken
from commission.validation.explanation import Explanation, companions, explanations
from commission.validation.results import UnitResults
from commission.validation.verdict import Outcome, Verdict
from commission.wizard.appearance import Appearance
from commission.wizard.document import Document
from commission.wizard.parts import label
from commission.wizard.value_words import work_words

_MOST = 4


class ExplainingJob(QThread):
    """Tries which readings would explain a verdict, on a calculation of its own.

    Signals:
        found: the explanations, the nearest first.
        failed: they could not be tried.
    """

    found = Signal(object)
    failed = Signal()

    def __init__(self, results: UnitResults, verdict: Verdict, parent: QWidget) -> None:
        super().__init__(parent)
        self._trying = explanations(results, verdict)
        self._is_over = False

    def run(self) -> None:
        """Try them all; where that goes wrong nothing is said of it."""
        tried: list[Explanation] = []
        try:
            for one in self._trying:
                if self._is_over:
                    return
                tried.append(one)
        except Exception:
            self.failed.emit()
            return
        self.found.emit(sorted(tried, key=lambda one: one.share))

    def end(self) -> None:
        """Stop at the next reading and wait for that."""
        self._is_over = True
        self.wait()


class WhyView(QFrame):
    """Stands below a verdict on request, and follows it."""

    def __init__(self, document: Document, unit_id: str, key: Key, appearance: Appearance) -> None:
        super().__init__()
        self.setProperty("role", "nested")
        self.setAccessibleName(spoken("Why this verdict"))
        self._document = document
        self._unit_id = unit_id
        self._key = key
        self.job: ExplainingJob | None = None
        px = appearance.px
        self.work = label("", "work")
        self.heading = label("", "muted")
        self.explaining = label("")
        self.others = label("", "muted")
        layout = QVBoxLayout(self)
        layout.setContentsMargins(px(12), px(8), px(12), px(8))
        layout.setSpacing(px(6))
        for part in (self.work, self.heading, self.explaining, self.others):
            layout.addWidget(part)
        document.closing.connect(self.end)
        self.refresh()

    @property
    def _results(self) -> UnitResults:
        return self._document.results(self._unit_id)

    def refresh(self) -> None:
        """Say it as it stands now; what would explain a failure is tried anew."""
        self.end()
        verdict = self._results.verdict(*self._key)
        self._say(self.work, self._work_of(verdict))
        self._say(self.heading, "")
        self._say(self.explaining, "")
        self._say(self.others, "")
        if verdict.outcome is Outcome.FAIL and verdict.margin is not None:
            self._say(self.heading, spoken("Trying which readings would explain it ..."))
            self.job = ExplainingJob(self._results, verdict, self)
            self.job.found.connect(self._found)
            self.job.failed.connect(self._failed)
            self.job.start()

    def _work_of(self, verdict: Verdict) -> str:
        judged = Key(verdict.check.judges, verdict.index)
        entry = self._document.session.plan.entries[judged.name]
        if isinstance(entry, Quantity):
            return work_words(self._results, judged, entry)
        if isinstance(entry, Field):
            return f"{self._results.label(judged)} = {self._results.shown(*judged)}"
        return ""

    def _found(self, explaining: list[Explanation]) -> None:
        results = self._results
        verdict = results.verdict(*self._key)
        if not explaining:
            self._say(self.heading, spoken("No single reading, were it another, would explain it."))
            return
        self._say(
            self.heading,
            spoken("Each of these alone would explain it, were it misread and the others right:"),
        )
        self._say(self.explaining, "\n".join(self._line(one) for one in explaining[:_MOST]))
        names = {one.key.name for one in explaining[:_MOST]}
        shared = [one for one in companions(results, verdict) if names & set(one.shared)][:_MOST]
        if shared:
            told = [results.label(Key(o.verdict.check.name, o.verdict.index)) for o in shared]
            self._say(
                self.others,
                spoken("Fails too, on the same readings: {checks}", checks="; ".join(told)),
            )

    def _failed(self) -> None:
        self._say(self.heading, "")

    def _line(self, one: Explanation) -> str:
        results = self._results
        entry = self._document.session.plan.entries[one.key.name]
        return spoken(
            "{reading}: {would} in place of {reads}",
            reading=results.label(one.key),
            would=results.shown_number(one.would_read, entry.unit, entry.decimals),
            reads=results.shown_number(one.reads, entry.unit, entry.decimals),
        )

    def _say(self, part: QWidget, words: str) -> None:
        part.setText(words)  # type: ignore[attr-defined]
        part.setVisible(bool(words))

    def end(self) -> None:
        """Give up what is being tried."""
        if self.job is not None:
            self.job.found.disconnect(self._found)
            self.job.failed.disconnect(self._failed)
            self.job.end()
            self.job.deleteLater()
            self.job = None
