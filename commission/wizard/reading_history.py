"""What was ever read in one field: each pass side by side, and every entry below."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QGridLayout, QPushButton, QVBoxLayout, QWidget

from commission.definitions.model import Field, Key
from commission.language import spoken, to_say
from commission.project import Reading, pass_rank
from commission.validation.results import UnitResults
from commission.wizard.appearance import Appearance
from commission.wizard.document import Document
from commission.wizard.instruments import instrument_name
from commission.wizard.parts import button, clear, column, label

_MOST_LISTED = 8
_COLUMNS = (
    (to_say("When"), 24),
    (to_say("Pass"), 16),
    (to_say("Value"), 26),
    (to_say("Who"), 20),
    (to_say("Instrument"), 20),
)


@dataclass(frozen=True, slots=True)
class PastReading:
    """One entry of a field in words."""

    when: str
    pass_name: str
    value: str
    who: str
    instrument: str
    note: str = ""
    is_standing: bool = False
    counts_now: bool = False


def past_readings(document: Document, unit_id: str, key: Key) -> list[PastReading]:
    """Return every entry of a field, oldest first.

    `is_standing` marks the newest entry of each pass, `counts_now` the one that is computed
    with.
    """
    readings = document.session.history(unit_id, *key)
    newest = {reading.pass_name: reading.id for reading in readings if not reading.withdrawn}
    last = {reading.pass_name: reading.id for reading in readings}
    standing = {found for name, found in newest.items() if last[name] == found}
    in_force = document.results(unit_id).reading(*key)
    project = document.session.project
    people = {person.id: person.name for person in project.people()}
    instruments = {one.id: instrument_name(one) for one in project.instruments()}
    return [
        PastReading(
            reading.at[:16].replace("T", " "),
            reading.pass_name,
            value_words(document.results(unit_id), reading),
            people.get(reading.person_id, spoken("nobody named")),
            instruments.get(reading.instrument_id, ""),
            "" if reading.withdrawn else reading.note,
            reading.id in standing,
            in_force is not None and reading.id == in_force.id,
        )
        for reading in readings
    ]


def value_words(results: UnitResults, reading: Reading) -> str:
    """Return what one entry said, in the unit that is shown."""
    if reading.withdrawn:
        return spoken("taken back")
    if reading.not_applicable:
        return f"n/a: {reading.not_applicable}"
    if reading.value is None:
        return spoken("not read") if reading.note else spoken("cleared")
    field = results.calculation.plan.entries[reading.name]
    if isinstance(reading.value, str) or not isinstance(field, Field):
        return str(reading.value)
    return results.shown_number(float(reading.value), field.unit, field.decimals)


class HistoryView(QFrame):
    """The history of one field. Passes stand side by side where there is more than one."""

    def __init__(self, document: Document, unit_id: str, key: Key, appearance: Appearance) -> None:
        super().__init__()
        self.setProperty("role", "nested")
        # It has a place in the order of Tab, so that what is opened in it has one as well.
        self.setFocusPolicy(Qt.FocusPolicy.ClickFocus)
        self.setAccessibleName(spoken("History of this reading"))
        self._document = document
        self._unit_id = unit_id
        self._key = key
        self._appearance = appearance
        self._all_shown = False
        self._shown: list[PastReading] | None = None
        px = appearance.px
        self._column = column(px(8))
        layout = QVBoxLayout(self)
        layout.setContentsMargins(px(12), px(8), px(12), px(8))
        layout.addLayout(self._column)
        self.refresh()

    def stand_after(self, widget: QWidget) -> None:
        """Let Tab come here after a widget, since this is made late."""
        QWidget.setTabOrder(widget, self)
        before: QWidget = self
        for inner in self.findChildren(QPushButton):
            QWidget.setTabOrder(before, inner)
            before = inner

    def refresh(self) -> None:
        """Show the history as it is now."""
        found = past_readings(self._document, self._unit_id, self._key)
        if found != self._shown:
            self._shown = found
            self._rebuild(found)

    def words(self) -> str:
        """Return all that is shown, for assistive technology."""
        lines = [
            ", ".join(filter(None, (*_texts(one), one.note)))
            + (f", {spoken('counts now')}" if one.counts_now else "")
            for one in self._shown or []
        ]
        return "\n".join(lines)

    def _rebuild(self, found: Sequence[PastReading]) -> None:
        clear(self._column)
        self.setAccessibleDescription(self.words())
        if not found:
            self._column.addWidget(label(spoken("Nothing was read here yet."), "muted"))
            return
        standing = [one for one in found if one.is_standing]
        if len(standing) > 1:
            self._column.addLayout(self._side_by_side(standing))
        listed = list(reversed(found))
        hidden = 0 if self._all_shown else max(0, len(listed) - _MOST_LISTED)
        self._column.addLayout(self._list(listed[: len(listed) - hidden]))
        if hidden:
            more = button(
                spoken("Show the {hidden} earlier", hidden=hidden), self._show_all, "quiet"
            )
            self._column.addWidget(more, 0, Qt.AlignmentFlag.AlignLeft)
            QWidget.setTabOrder(self, more)

    def _show_all(self) -> None:
        self._all_shown = True
        self._rebuild(self._shown or [])
        self.setFocus(Qt.FocusReason.OtherFocusReason)

    def _side_by_side(self, standing: list[PastReading]) -> QGridLayout:
        """Return as found, as left and the retests beside one another."""
        grid = QGridLayout()
        grid.setHorizontalSpacing(self._appearance.px(16))
        grid.setVerticalSpacing(self._appearance.px(2))
        ordered = sorted(standing, key=lambda one: pass_rank(one.pass_name))
        for place, one in enumerate(ordered):
            name = one.pass_name.capitalize()
            words = spoken("{value} (counts now)", value=name) if one.counts_now else name
            grid.addWidget(label(words, "muted"), 0, place)
            grid.addWidget(label(one.value, "value"), 1, place)
            grid.setColumnStretch(place, 1)
        return grid

    def _list(self, listed: list[PastReading]) -> QGridLayout:
        grid = QGridLayout()
        grid.setHorizontalSpacing(self._appearance.px(8))
        grid.setVerticalSpacing(self._appearance.px(4))
        measured = any(one.instrument for one in listed)
        for place, (title, share) in enumerate(_COLUMNS if measured else _COLUMNS[:-1]):
            grid.addWidget(label(spoken(title), "muted"), 0, place)
            grid.setColumnStretch(place, share)
        for one in listed:
            line = grid.rowCount()
            value = one.value
            if one.counts_now:
                value = spoken("{value} (counts now)", value=value)
            texts = (one.when, one.pass_name, value, one.who, one.instrument)
            role = "" if one.counts_now else "past"
            for place, text in enumerate(texts if measured else texts[:-1]):
                grid.addWidget(label(text, role), line, place, Qt.AlignmentFlag.AlignTop)
            if one.note:
                noted = label(spoken("Note: {note}", note=one.note), role)
                grid.addWidget(noted, line + 1, 1, 1, grid.columnCount() - 1)
        return grid


def _texts(one: PastReading) -> tuple[str, ...]:
    return one.when, one.pass_name, one.value, one.who, one.instrument
