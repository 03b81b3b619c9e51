"""The limits of the trend rules for a unit: value, where it comes from, and a way to type one."""

from __future__ import annotations

from collections.abc import Mapping

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QLineEdit, QVBoxLayout, QWidget

from commission.errors import CommissionError, ReadingError, UnitError
from commission.language import spoken, to_say
from commission.sequence.trend_limits import LimitInForce, Origin
from commission.units import convert, recognised
from commission.validation.entry import parse_number
from commission.wizard.appearance import Appearance
from commission.wizard.document import Document
from commission.wizard.parts import button, label, wrapping_row
from commission.wizard.record_form import Asked, ListModel, RecordForm, RecordList
from commission.wizard.room import Beside

_TITLES = (to_say("Limit"), to_say("Value"), to_say("Where it comes from"))
_WIDTHS = (44, 16, 40)
_INTRO = to_say(
    "A limit typed here beats the form's, and the form's beats a default. Enter what the unit's "
    "own literature says; a default is only what the trade usually finds."
)


class TrendLimitList(QWidget):
    """List and form.

    Signals:
        changed: judge anew.
        closed: back to the findings.
    """

    changed = Signal()
    closed = Signal()

    def __init__(self, document: Document, appearance: Appearance) -> None:
        super().__init__()
        self._document = document
        self._unit_id = ""
        self._limits: Mapping[str, LimitInForce] = {}
        self._edited = ""
        px = appearance.px
        self.model = ListModel(tuple(spoken(title) for title in _TITLES))
        self.list = RecordList(self.model, _WIDTHS, spoken("Limits of the trend rules"), appearance)
        asked = [
            Asked("value", spoken("Value")),
            Asked("origin", spoken("Comes from"), spoken("Document, page, date"), is_long=True),
        ]
        self.take_back = button(spoken("Take it back"), self._take_back)
        self.form = RecordForm(asked, appearance, ((1, self.take_back),))
        self.form.hide()
        head = wrapping_row(px(8))
        head.addWidget(label(spoken(_INTRO), "muted"), 1)
        self.back = button(spoken("Back to the findings"), self.closed.emit)
        head.addWidget(self.back)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(px(8))
        layout.addLayout(head)
        layout.addWidget(Beside(self.list, (self.form,), 360, appearance), 1)
        self.list.opened.connect(self._open)
        self.form.kept.connect(self._keep)
        self.form.given_up.connect(self._close)

    def show_limits(self, unit_id: str, limits: Mapping[str, LimitInForce]) -> None:
        """Show a unit's limits in force."""
        if unit_id != self._unit_id:
            self._close()
        self._unit_id, self._limits = unit_id, limits
        self.model.fill([(name, _texts(limit)) for name, limit in limits.items()])

    def start(self) -> None:
        """Put the focus on the list."""
        if not self.list.currentIndex().isValid():
            self.list.setCurrentIndex(self.model.index(0, 0))
        self.list.setFocus(Qt.FocusReason.OtherFocusReason)

    def _open(self, name: str) -> None:
        limit = self._limits[name]
        self._edited = name
        typed = limit.origin is Origin.ENTERED
        values = {"value": _number(limit), "origin": limit.words if typed else ""}
        unit = f", {limit.row.unit}" if limit.row.unit else ""
        self.form.show_record(f"{limit.row.label}{unit}", values)
        self.take_back.setVisible(typed)
        self.form.start("value")
        value = self.form.inputs["value"]
        assert isinstance(value, QLineEdit)
        value.selectAll()

    def _keep(self, values: dict[str, str]) -> None:
        row_ = self._limits[self._edited].row
        try:
            value = _understood(values["value"], row_.unit, row_.label)
        except CommissionError as error:
            self.form.refuse(str(error))
            return
        project, name, unit_id = self._document.session.project, self._edited, self._unit_id
        refusal = self._document.attempt(
            lambda: project.set_trend_limit(unit_id, name, value, values["origin"]),
            spoken("The limit is kept; the log is judged anew."),
        )
        self.form.refuse(refusal)
        if not refusal:
            self._close()
            self.changed.emit()

    def _take_back(self) -> None:
        project, name, unit_id = self._document.session.project, self._edited, self._unit_id
        refusal = self._document.attempt(
            lambda: project.clear_trend_limit(unit_id, name),
            spoken("The typed limit is taken back."),
        )
        self.form.refuse(refusal)
        if not refusal:
            self._close()
            self.changed.emit()

    def _close(self) -> None:
        had_focus = self.form.isAncestorOf(self.window().focusWidget() or self)
        self.form.hide()
        if had_focus:
            self.list.setFocus(Qt.FocusReason.OtherFocusReason)


def _number(limit: LimitInForce) -> str:
    return "" if limit.value is None else f"{limit.value:.6g}"


def _texts(limit: LimitInForce) -> tuple[str, ...]:
    value = f"{_number(limit)} {limit.row.unit}".strip() if limit.value is not None else "none"
    words = limit.words
    if limit.origin is Origin.DEFAULT:
        words = limit.row.source
    return limit.row.label, value, f"{limit.origin}: {words}" if words else str(limit.origin)


def _understood(text: str, unit: str, label_: str) -> float:
    """Return a typed limit in its own unit; another unit may be typed behind the number."""
    number, suffix, _ = parse_number(text)
    if not suffix.strip():
        return number
    code = recognised(suffix.strip())
    try:
        return convert(number, code or suffix.strip(), unit)
    except UnitError as error:
        raise ReadingError(
            spoken(
                "{label}: {error} Type it in {unit}.",
                label=label_,
                error=error,
                unit=unit or spoken("plain numbers"),
            )
        ) from None
