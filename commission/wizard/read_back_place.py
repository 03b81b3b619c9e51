"""A workbook that comes home: what changed in it, row by row, and what is taken over."""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtWidgets import QVBoxLayout

from commission.language import spoken, to_say
from commission.validation.sentences import pass_words
from commission.wizard.appearance import Appearance
from commission.wizard.dialogs import Dialogs
from commission.wizard.document import Document
from commission.wizard.incoming_file import IncomingPlace
from commission.wizard.parts import button, hint, label, wrapping_row
from commission.wizard.read_back_job import ReadBackJob
from commission.wizard.read_back_list import (
    ENTERED,
    REFUSED,
    ReviewList,
    ReviewModel,
    RowDetail,
    word_of,
)

if TYPE_CHECKING:
    from commission.workbook.read_back_rows import Review, ReviewRow

_AT_ONCE = 8  # rows entered between two looks at the event loop
_NOBODY = to_say("nobody named")


class ReadBackPlace(IncomingPlace):
    """Choose or drop a file, look through what it changed, take one or all.

    Signals:
        said: a sentence, and whether it is a refusal.
    """

    said = Signal(str, bool)
    kinds = (".xlsx", ".ods")

    def __init__(self, document: Document, appearance: Appearance, dialogs: Dialogs) -> None:
        super().__init__(dialogs.choose_workbook)
        self._document = document
        self.review: Review | None = None
        self._standings: dict[int, str] = {}
        self._refusals: dict[int, str] = {}
        self._waiting: list[list[int]] = []
        self._entered = 0
        self.path.setAccessibleName(spoken("Workbook that came back"))
        hint(self.path, spoken("Drop a workbook here (.xlsx, .ods), or choose one"))
        self.read = button(spoken("Compare it"), self.start, "primary")
        self.bar.setRange(0, 0)
        self.bar.setAccessibleName(spoken("Reading the workbook"))
        self.who = label("", "muted")
        self.remarks = label("", "warning")
        self.summary = label("")
        self.take_all = button(spoken("Take all that only the file has changed"), self.accept_all)
        self.take_all.setToolTip("Ctrl+Enter, in the list")
        self.model = ReviewModel(appearance)
        self.list = ReviewList(self.model, appearance)
        self.detail = RowDetail(appearance)
        self._lay_out(appearance)
        self.list.taken.connect(self._take)
        self.list.all_taken.connect(self.accept_all)
        self.list.selectionModel().currentRowChanged.connect(lambda *_: self._show_detail())
        self.detail.taken.connect(self._take_current)
        document.recording_changed.connect(self._say_who)
        self._show_review()
        self._say_who()

    def _lay_out(self, appearance: Appearance) -> None:
        px = appearance.px
        layout = QVBoxLayout(self)
        layout.setContentsMargins(px(20), px(14), px(20), px(14))
        layout.setSpacing(px(8))
        layout.addWidget(label(spoken("Workbook back"), "title"))
        layout.addWidget(
            label(
                spoken(
                    "A workbook filled in elsewhere, compared with what it was sent out with and "
                    "with the project now. Nothing is entered until you take it."
                )
            )
        )
        layout.addLayout(self.file_line(px(8), self.read))
        for widget in (self.who, self.bar, self.remarks):
            layout.addWidget(widget)
        head = wrapping_row(px(8))
        head.addWidget(self.summary, 1)
        head.addWidget(self.take_all)
        layout.addLayout(head)
        layout.addWidget(self.list, 1)
        layout.addWidget(self.detail)
        layout.addStretch(0)  # so that words do not spread where nothing has been compared yet

    def _say_who(self) -> None:
        session = self._document.session
        name = self._document.person_name(session.person_id) or spoken(_NOBODY)
        self.who.setText(
            spoken(
                "What you take is recorded by {name}, as '{pass_name}' or the later pass that "
                "holds it, and marked as come by workbook.",
                name=name,
                pass_name=pass_words(session.pass_name),
            )
        )

    # -- the file ------------------------------------------------------------------------

    def start(self) -> None:
        """Compare the file that is named, if none is being compared."""
        text = self.path.text().strip()
        if self.job is not None or self._waiting or not text:
            return
        session = self._document.session
        workbook = Path(text).expanduser()
        job = ReadBackJob(session.project.path, self._document.form, workbook, self)
        self.run_job(job, self._compared)

    def _show_running(self, running: bool) -> None:
        super()._show_running(running)
        self.read.setEnabled(not running)

    def _refused(self, sentence: str) -> None:
        self._ended()
        self.said.emit(sentence, True)
        self.review = None
        self._show_review(sentence)
        self.path.setFocus(Qt.FocusReason.OtherFocusReason)

    def _cancelled(self) -> None:
        self._ended()
        self.said.emit(spoken("Cancelled. Nothing was read."), False)
        self.path.setFocus(Qt.FocusReason.OtherFocusReason)

    def _compared(self, review: Review) -> None:
        self._ended()
        self.review = review
        self._standings = {
            number: str(one.standing) for number, one in enumerate(review.rows) if one.to_settle
        }
        self._refusals = {}
        self._show_review()
        target = self.list if self._standings else self.path
        target.setFocus(Qt.FocusReason.OtherFocusReason)

    # -- what is shown -------------------------------------------------------------------

    def _show_review(self, refusal: str = "") -> None:
        review = self.review
        remarks = refusal or "\n".join(review.remarks if review is not None else ())
        self.remarks.setText(remarks)
        self.remarks.setVisible(bool(remarks))
        rows = [] if review is None else [
            (number, standing, review.rows[number]) for number, standing in self._standings.items()
        ]  # fmt: skip
        at = max(self.list.currentIndex().row(), 0)
        self.model.show_rows(rows)
        for widget in (self.list, self.detail):
            widget.setVisible(bool(rows))
        if rows:
            self.list.selectRow(min(at, len(rows) - 1))
        self._summarise()
        self._show_detail()

    def _summarise(self) -> None:
        review = self.review
        if review is None:
            self.summary.setText("")
        elif review.foreign:
            self.summary.setText(spoken("Nothing was compared."))
        else:
            counts = Counter(self._standings.values())
            told = ", ".join(f"{count} {word_of(standing)}" for standing, count in counts.items())
            self.summary.setText(
                spoken(
                    "{count} cells compared: {told}.",
                    count=f"{len(review.rows):,}",
                    told=told or "nothing to settle",
                )
            )
        changed = sum(standing == "changed" for standing in self._standings.values())
        self.take_all.setVisible(bool(changed))
        self.take_all.setText(
            spoken("Take all that only the file has changed ({changed})", changed=changed)
        )

    def _current(self) -> int | None:
        place = self.list.currentIndex()
        return int(self.model.ids[place.row()]) if place.isValid() else None

    def _show_detail(self) -> None:
        number = self._current()
        if self.review is not None and number is not None:
            refusal = self._refusals.get(number, "")
            one = self.review.rows[number]
            self.detail.show_row(one, self._standings[number], refusal)

    # -- taking over ---------------------------------------------------------------------

    def _take(self, number: str) -> None:
        self._accept([int(number)])

    def _take_current(self) -> None:
        number = self._current()
        if number is not None:
            self._accept([number])
            self.list.setFocus(Qt.FocusReason.OtherFocusReason)

    def accept_all(self) -> None:
        """Enter all that only the file has changed; conflicts are taken one by one."""
        self._accept([n for n, standing in self._standings.items() if standing == "changed"])

    def _accept(self, numbers: list[int]) -> None:
        review = self.review
        if review is None or self._waiting:
            return
        chosen = [n for n in numbers if self._standings[n] in ("changed", "conflict")]
        if len(chosen) == 1:
            chosen = self._with_its_limit(chosen[0])
        together: dict[tuple[object, ...], list[int]] = {}
        for number in chosen:
            together.setdefault(self._group(number), []).append(number)
        self._waiting = list(together.values())
        self._entered = 0
        if self._waiting:
            self.take_all.setEnabled(False)
            self._accept_some()
        elif numbers:
            self.said.emit(spoken("This row holds nothing that could be entered."), False)

    def _group(self, number: int) -> tuple[object, ...]:
        """Return what belongs together: the parts of one limit."""
        assert self.review is not None
        one = self.review.rows[number]
        return (number,) if not _is_limit(one) else (one.unit_id, one.key)

    def _with_its_limit(self, number: int) -> list[int]:
        """Return a row, and if it is a part of a limit the others of it with its origin."""
        assert self.review is not None
        if not _is_limit(self.review.rows[number]):
            return [number]
        return [
            n
            for n, standing in self._standings.items()
            if standing in ("changed", "conflict") and self._group(n) == self._group(number)
            and (n == number or standing == "changed")
        ]  # fmt: skip

    def _accept_some(self) -> None:
        """Enter a few, let the window breathe, go on."""
        from commission.workbook.read_back_accept import accept

        assert self.review is not None
        review, session = self.review, self._document.session
        groups, self._waiting = self._waiting[:_AT_ONCE], self._waiting[_AT_ONCE:]
        numbers = [number for group in groups for number in group]
        rows = [review.rows[number] for number in numbers]
        by_row = {id(one): number for one, number in zip(rows, numbers, strict=True)}

        def act() -> None:
            done = accept(session, review, rows)
            for one in done.entered:
                self._standings[by_row[id(one)]] = ENTERED
            for one, reason in done.refused:
                self._standings[by_row[id(one)]] = REFUSED
                self._refusals[by_row[id(one)]] = reason
            self._entered += len(done.entered)

        if self._document.attempt(act):
            self._waiting = []
        if self._waiting:
            left = len(self._waiting)
            self.said.emit(
                spoken("{count} entered, {left} to go.", count=self._entered, left=left), False
            )
            QTimer.singleShot(0, self._accept_some)
        else:
            self._all_accepted()

    def _all_accepted(self) -> None:
        self.take_all.setEnabled(True)
        self._document.refresh()
        self._document.deficiencies_changed.emit()
        at = self.list.currentIndex().row()
        self._show_review()
        self._go_on_from(at)
        refused = sum(standing == REFUSED for standing in self._standings.values())
        words = spoken("{count} entered from the workbook.", count=self._entered)
        if refused:
            words = spoken(
                "{count} entered from the workbook, {refused} refused.",
                count=self._entered,
                refused=refused,
            )
        self.said.emit(words, bool(refused))

    def _go_on_from(self, at: int) -> None:
        """Go to the next row that waits for a decision."""
        standings = list(self._standings.values())
        ahead = (*range(max(at, 0), len(standings)), *range(max(at, 0)))
        waiting = (n for n in ahead if standings[n] not in (ENTERED, REFUSED))
        found = next(waiting, None)
        if found is not None:
            self.list.selectRow(found)

    def stop(self) -> None:
        """Cancel and wait; the window is closing."""
        self._waiting = []
        super().stop()


def _is_limit(one: ReviewRow) -> bool:
    from commission.workbook.read_back_accept import ONE_BY_ONE

    return bool(one.what) and one.what not in ONE_BY_ONE
