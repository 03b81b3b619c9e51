"""What a log shows: the findings in a list, and the one at hand with its plot."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from PySide6.QtCore import QModelIndex, Qt, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QBoxLayout,
    QCheckBox,
    QFrame,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from commission.definitions.model import Severity
from commission.drawing.shapes import Drawing
from commission.language import spoken, to_say
from commission.sequence.findings import Finding, said_lines, worst_first
from commission.sequence.trend_plot import finding_drawing, overview_drawing
from commission.sequence.trend_shelf import JudgedLog
from commission.validation.verdict import Outcome
from commission.wizard.appearance import Appearance
from commission.wizard.drawing_view import DrawingView
from commission.wizard.icon import icon
from commission.wizard.parts import SignLabel, button, label, stretch_last, wrapping_row
from commission.wizard.record_form import ListModel, Place, RecordList
from commission.wizard.sign import STOP_SIGN, Sign
from commission.wizard.states import NOTED, OUTCOMES
from commission.wizard.whole import Whole

_TITLES = (to_say("Verdict"), to_say("What the log shows"), to_say("Times"))
_WIDTHS = (25, 57, 18)
_NARROW = 700
_SHARES = (43, 57)  # of the width: the list, the finding
_LEAST_HEIGHTS = (110, 200)  # of both, one below the other, pixels at 100 %
OVERVIEW = "overview"
_LOG = to_say("{samples} samples, {columns} columns used; clock: {zone}.")
_LOG_EVEN = to_say(
    "{samples} samples, usually every {interval} s, {columns} columns used; clock: {zone}."
)
_LOG_SIGN = Sign("sequence", to_say("log"), "note")


def sign_of_finding(finding: Finding) -> Sign:
    """Return how a finding is shown: as a verdict of the same outcome and severity."""
    if finding.stops:
        return STOP_SIGN
    if finding.outcome is Outcome.FAIL and finding.severity is Severity.NOTE:
        return NOTED
    return OUTCOMES[finding.outcome]


class FindingModel(ListModel):
    """Findings as rows, each with the icon of its verdict."""

    def __init__(self, appearance: Appearance) -> None:
        super().__init__(tuple(spoken(title) for title in _TITLES))
        self._appearance = appearance
        self._signs: list[Sign] = []

    def show_findings(self, rows: Sequence[tuple[str, Sign, tuple[str, ...]]]) -> None:
        """Show other findings: (id, sign, texts after the verdict)."""
        self._signs = [sign for _, sign, _ in rows]
        self.fill([(record, (sign.word, *texts)) for record, sign, texts in rows])

    def data(self, place: Place, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        if role == Qt.ItemDataRole.DecorationRole and place.isValid() and place.column() == 0:
            sign = self._signs[place.row()]
            return icon(sign.icon, self._appearance.palette[sign.colour], self._appearance.px(18))
        return super().data(place, role)


class FindingsView(QWidget):
    """The list at the left, the finding at hand at the right.

    Signals:
        deficiency_wanted: the Finding.
    """

    deficiency_wanted = Signal(object)

    def __init__(self, appearance: Appearance) -> None:
        super().__init__()
        self._appearance = appearance
        self._shown: JudgedLog | None = None
        self._unit_system = "IP"
        self._made: Callable[[Finding], str] = lambda _finding: ""
        self._by_id: dict[str, Finding] = {}
        self.finding: Finding | None = None
        self._is_choosing = False
        px = appearance.px
        self.summary = label("")
        self.remarks = label("", "muted")
        self.everything = QCheckBox(spoken("All rules"))
        self.everything.setToolTip(
            spoken("Also rules that pass, do not apply or could not be judged")
        )
        self.everything.toggled.connect(lambda _on: self._fill())
        self.model = FindingModel(appearance)
        self.list = RecordList(self.model, _WIDTHS, spoken("What the log shows"), appearance)
        self.list.opened.connect(self._go_on)
        self.list.selectionModel().currentRowChanged.connect(self._row_chosen)
        self.sign = SignLabel(appearance)
        self.title = label("", "heading")
        self.sentence = label("")
        self.limit = label("", "muted")
        self.cure = label("")
        self.deficiency: QPushButton = button(spoken("Make deficiency"), self._want_deficiency)
        self.made = label("", "done")
        self.plot = DrawingView(self._drawing, appearance)
        self.detail = QScrollArea()
        self.detail.setWidgetResizable(True)
        self.detail.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.detail.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._lay_out(px)

    def _lay_out(self, px: Callable[[float], int]) -> None:
        left = QWidget()
        side = QVBoxLayout(left)
        side.setContentsMargins(0, 0, 0, 0)
        side.setSpacing(px(6))
        head = wrapping_row(px(8))
        head.addWidget(self.summary, 1)
        head.addWidget(self.everything)
        side.addLayout(head)
        side.addWidget(self.list, 1)
        self.detail.setWidget(self._card(px))
        self._line = QBoxLayout(QBoxLayout.Direction.LeftToRight, self)
        self._line.setContentsMargins(0, 0, 0, 0)
        self._line.setSpacing(px(6))
        self._line.addWidget(left)
        self._line.addWidget(self.detail)
        self._is_narrow = False
        self._wholes = (Whole(self.list, 0), Whole(self.detail, 0))
        self._arrange()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Where there is little room the finding stands below the list."""
        super().resizeEvent(event)
        narrow = event.size().width() < self._appearance.px(_NARROW)
        if narrow != self._is_narrow:
            self._is_narrow = narrow
            self._arrange()

    def _arrange(self) -> None:
        narrow, directions = self._is_narrow, QBoxLayout.Direction
        self._line.setDirection(directions.TopToBottom if narrow else directions.LeftToRight)
        for place, share in enumerate((0, 1) if narrow else _SHARES):
            self._line.setStretch(place, share)
        for whole, least in zip(self._wholes, _LEAST_HEIGHTS, strict=True):
            whole.set_least(self._appearance.px(least) if narrow else 0)
            whole.set_stacked(narrow)

    def _card(self, px: Callable[[float], int]) -> QFrame:
        card = QFrame()
        card.setProperty("role", "card")
        inner = QVBoxLayout(card)
        inner.setContentsMargins(px(14), px(10), px(14), px(10))
        inner.setSpacing(px(4))
        line = wrapping_row(px(8))
        line.addWidget(self.sign)
        line.addWidget(self.title, 1)
        inner.addLayout(line)
        inner.addWidget(self.sentence)
        buttons = wrapping_row(px(8))
        buttons.addWidget(self.deficiency)
        buttons.addWidget(self.made)
        inner.addLayout(stretch_last(buttons))
        for widget in (self.plot, self.cure, self.limit, self.remarks):
            inner.addWidget(widget)
        inner.addStretch(1)
        return card

    def showing_log(
        self, shown: JudgedLog, unit_system: str, made: Callable[[Finding], str]
    ) -> Iterator[None]:
        """Show a judged log: the list, then the finding at hand.

        Args:
            made: returns which deficiency has been made of a finding already, in words, or "".
        """
        self._shown, self._unit_system, self._made = shown, unit_system, made
        self.summary.setText(shown.summary())
        yield
        yield from self._filling(shown)

    def _fill(self) -> None:
        if self._shown is not None:
            for _ in self._filling(self._shown):
                continue

    def _filling(self, shown: JudgedLog) -> Iterator[None]:
        kept = self.list.currentIndex()
        before = self.model.ids[kept.row()] if kept.isValid() else ""
        worth = (Outcome.FAIL, Outcome.INCONCLUSIVE)
        found = worst_first(
            f for f in shown.findings if self.everything.isChecked() or f.outcome in worth
        )
        self._by_id = {f"{finding.rule} {finding.member}": finding for finding in found}
        span = spoken(
            "The whole log, {first} to {last}",
            first=shown.log.clock(0),
            last=shown.log.clock(len(shown.log.moments) - 1),
        )
        rows = [(OVERVIEW, _LOG_SIGN, (span, ""))]
        rows += [
            (record, sign_of_finding(f), (f"{f.title}. {f.sentence}", str(f.count or "")))
            for record, f in self._by_id.items()
        ]
        self.model.show_findings(rows)
        at = self.model.ids.index(before) if before in self.model.ids else min(1, len(rows) - 1)
        yield
        self._is_choosing = True  # it is shown below, also where it is the row that was chosen
        self.list.setCurrentIndex(self.model.index(at, 0))
        self._is_choosing = False
        self._tell_row(at)
        yield
        self.plot.refresh()

    def _row_chosen(self, place: QModelIndex, _before: QModelIndex) -> None:
        if place.isValid() and not self._is_choosing:
            self._tell_row(place.row())
            self.plot.refresh()

    def _tell_row(self, row_number: int) -> None:
        if self._shown is None:
            return
        self.finding = self._by_id.get(self.model.ids[row_number])
        self.sign.show_sign(sign_of_finding(self.finding) if self.finding else _LOG_SIGN)
        if self.finding is None:
            self._say_log(self._shown)
        else:
            self._say_finding(self.finding)
        self.detail.verticalScrollBar().setValue(0)

    def _say_log(self, shown: JudgedLog) -> None:
        log = shown.log
        # The interval is "not a number" where there is no usual step.
        words = _LOG_EVEN if log.interval_s == log.interval_s else _LOG
        self.title.setText(log.source)
        self.sentence.setText(
            spoken(
                words,
                samples=f"{len(log.moments):,}",
                interval=f"{log.interval_s:.3g}",
                columns=len(log.columns),
                zone=log.zone or spoken("as the file has it, zone not known"),
            )
        )
        self.remarks.setText("\n".join(remark.sentence for remark in log.remarks))
        self.remarks.setVisible(bool(log.remarks))
        for widget in (self.limit, self.cure, self.deficiency, self.made):
            widget.hide()

    def _say_finding(self, finding: Finding) -> None:
        self.title.setText(finding.title)
        when = " " + spoken("First {moment}.", moment=finding.first_moment) if finding.rows else ""
        if finding.worst_moment != finding.first_moment:
            when += " " + spoken("Worst {moment}.", moment=finding.worst_moment)
        lines = said_lines(finding.lines)
        where = " " + spoken("Lines {lines} of the file.", lines=lines) if lines else ""
        self.sentence.setText(f"{finding.sentence}{when}{where}")
        limit = f"{finding.limit}. " if finding.limit else ""
        self.limit.setText(f"{limit}{finding.source}.".replace("..", "."))
        wrong = finding.outcome is Outcome.FAIL
        self.cure.setText(spoken("What to do: {cure}", cure=finding.cure))
        self.cure.setVisible(wrong and bool(finding.cure))
        made = self._made(finding)
        self.made.setText(made)
        self.made.setVisible(bool(made))
        self.deficiency.setVisible(finding.outcome in (Outcome.FAIL, Outcome.INCONCLUSIVE))
        self.limit.show()
        self.remarks.hide()

    def _drawing(self, width: float) -> Drawing:
        shown = self._shown
        if shown is None:
            return Drawing(width, 1.0, (), "", "")
        if self.finding is None:
            return overview_drawing(shown.log, shown.findings, width, self._unit_system)
        return finding_drawing(
            shown.log, self.finding, shown.configuration, width, self._unit_system
        )

    def _go_on(self, _record: str) -> None:
        """Enter on a finding: to the button that makes a deficiency of it."""
        if self.deficiency.isVisible():
            self.deficiency.setFocus(Qt.FocusReason.OtherFocusReason)

    def _want_deficiency(self) -> None:
        if self.finding is not None:
            self.deficiency_wanted.emit(self.finding)
