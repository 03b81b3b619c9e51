"""Repeats as a table: which entry and member each cell holds, and what it shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt

from commission.definitions.model import Check, Entry, Field, Key, Kind
from commission.formula.evaluate import State
from commission.language import spoken
from commission.validation.results import UnitResults
from commission.validation.verdict import Outcome, Verdict
from commission.wizard.document import Answer, Document
from commission.wizard.page_layout import Crossed, Shared
from commission.wizard.sign import Sign
from commission.wizard.states import sign_of

_MANY_MEMBERS = 6

Place = QModelIndex | QPersistentModelIndex


@dataclass(frozen=True, slots=True)
class Shape:
    """Keys by row and column, and what rows and columns are called."""

    keys: tuple[tuple[Key, ...], ...] = ()
    rows: tuple[str, ...] = ()
    columns: tuple[str, ...] = ()
    row_notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Cell:
    """What one cell shows."""

    text: str = ""
    sign: Sign | None = None
    tone: str = ""
    is_asked: bool = True


@dataclass
class Refusals:
    """Texts that were refused, kept as typed, each with its sentence."""

    texts: dict[Key, str] = field(default_factory=dict)
    sentences: dict[Key, str] = field(default_factory=dict)

    def note(self, key: Key, text: str, sentence: str) -> None:
        """Keep a refused text, or forget the key when the sentence is empty."""
        if sentence:
            self.texts[key], self.sentences[key] = text, sentence
        else:
            self.texts.pop(key, None)
            self.sentences.pop(key, None)


class GridModel(QAbstractTableModel):
    """The cells of one table of a page, read from the live results."""

    def __init__(self, document: Document, unit_id: str, block: Shared | Crossed) -> None:
        super().__init__()
        self.document = document
        self.unit_id = unit_id
        self.block = block
        self.refusals = Refusals()
        self.answers: dict[Key, Answer] = {}
        self._take(self._shaped())

    @property
    def results(self) -> UnitResults:
        """The unit's live results."""
        return self.document.results(self.unit_id)

    # -- shape ---------------------------------------------------------------------

    def reshape(self) -> bool:
        """Take on the members and lines that are asked now; return whether that changed."""
        shape = self._shaped()
        if shape == self.shape:
            return False
        self.beginResetModel()
        self._take(shape)
        self.endResetModel()
        return True

    def _take(self, shape: Shape) -> None:
        self.shape = shape
        self._places = {
            key: (row, column)
            for row, keys in enumerate(shape.keys)
            for column, key in enumerate(keys)
        }

    def _shaped(self) -> Shape:
        if isinstance(self.block, Crossed):
            return self._crossed(self.block.entry)
        lines = [entry for entry in self.block.entries if self.results.asked_members(entry.name)]
        members = self._members(lines)
        names = [self.document.form.repeats[self.block.repeat].member_label(n) for n in members]
        keys = tuple(tuple(Key(line.name, (n,)) for n in members) for line in lines)
        titles = tuple(line.label for line in lines)
        notes = tuple(self._note(line) for line in lines)
        if len(members) > _MANY_MEMBERS and len(lines) < len(members):
            columns = tuple(
                f"{title}\n{note}".strip() for title, note in zip(titles, notes, strict=True)
            )
            turned = tuple(zip(*keys, strict=True))
            return Shape(turned, tuple(names), columns, ("",) * len(names))
        return Shape(keys, titles, tuple(names), notes)

    def _members(self, lines: Sequence[Entry]) -> list[int]:
        found = {index[0] for line in lines for index in self.results.members(line.name)}
        return sorted(found)

    def _crossed(self, entry: Entry) -> Shape:
        indexes = self.results.members(entry.name) if self._is_any_asked(entry) else ()
        repeats = [self.document.form.repeats[name] for name in entry.repeat]
        down = sorted({index[:-1] for index in indexes})
        across = sorted({index[-1] for index in indexes})
        keys = tuple(tuple(Key(entry.name, (*a, b)) for b in across) for a in down)
        rows = tuple(
            " · ".join(one.member_label(n) for one, n in zip(repeats, index, strict=False))
            for index in down
        )
        columns = tuple(repeats[-1].member_label(n) for n in across)
        return Shape(keys, rows, columns, ("",) * len(rows))

    def _is_any_asked(self, entry: Entry) -> bool:
        return bool(self.results.asked_members(entry.name))

    def _note(self, entry: Entry) -> str:
        if isinstance(entry, Check):
            return (
                spoken("must be: {expected}", expected=spoken(entry.expected))
                if entry.expected
                else spoken(entry.limit)
            )
        return self.results.shown_unit(entry.name)

    def limit_note(self, row: int) -> str:
        """Return the limit of a row of checks, if it is one for all members."""
        keys = self.shape.keys[row]
        if not keys or not isinstance(self.entry(keys[0]), Check):
            return self.shape.row_notes[row]
        results = self.results
        if self.document.check_of(keys[0].name).expected:
            return self.shape.row_notes[row]
        texts = {
            results.limit_text(results.verdict(*key)) for key in keys if results.relevant(*key)
        }
        default = any(results.limit(*key).is_default for key in keys)
        text = texts.pop() if len(texts) == 1 else spoken("by member") if texts else ""
        if not text:
            return spoken("no limit yet")
        return spoken("{limit} (default)", limit=text) if default else text

    def key_at(self, place: Place) -> Key | None:
        """Return what a cell holds."""
        return self.shape.keys[place.row()][place.column()] if place.isValid() else None

    def place_of(self, key: Key) -> QModelIndex:
        """Return where a key stands, or an invalid index."""
        found = self._places.get(key)
        return QModelIndex() if found is None else self.index(*found)

    def entry(self, key: Key) -> Entry:
        """Return the entry of a key."""
        return self.document.session.plan.entries[key.name]

    def is_field(self, place: Place) -> bool:
        """Return whether a person can type into a cell."""
        key = self.key_at(place)
        return (
            key is not None and isinstance(self.entry(key), Field) and self.results.relevant(*key)
        )

    # -- cells ---------------------------------------------------------------------

    def cell(self, key: Key) -> Cell:
        """Return what the cell of a key shows."""
        results = self.results
        entry = self.entry(key)
        if not results.relevant(*key):
            return Cell(spoken("not asked"), tone="muted", is_asked=False)
        if isinstance(entry, Check):
            sign = sign_of(results.verdict(*key))
            return Cell(sign.word, sign, sign.colour)
        if isinstance(entry, Field):
            if key in self.refusals.texts:
                return Cell(self.refusals.texts[key], tone="error")
            return Cell(self.document.said_text(self.unit_id, key), self._field_sign(entry, key))
        value = results.value(*key)
        if value.state is State.FAULT:
            return Cell(spoken("out of range"), tone="error")
        text = results.shown(*key)
        unit = results.shown_unit(key.name)
        return Cell(text.removesuffix(f" {unit}") if unit else text, tone="value")

    def _field_sign(self, entry: Field, key: Key) -> Sign | None:
        """Return the verdict on an answer where no row of its own shows it."""
        has_row = isinstance(self.block, Shared) and entry.kind is not Kind.ITEM
        if has_row:
            return None
        section = self.document.form.section_of(entry.name)
        judged = [
            verdict
            for verdict in self.results.verdicts_on(*key)
            if verdict.check.section == section.name and verdict.outcome is not Outcome.MISSING
        ]
        if not judged:
            return None
        return sign_of(min(judged, key=_gravity))

    def rowCount(self, parent: Place = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self.shape.rows)

    def columnCount(self, parent: Place = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self.shape.columns)

    def data(self, place: Place, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        key = self.key_at(place)
        if key is None:
            return None
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.EditRole):
            return self.cell(key).text
        if role == Qt.ItemDataRole.AccessibleTextRole:
            shown = self.cell(key)
            said = f"{self.results.label(key)}: {shown.text or spoken('empty')}"
            return "\n".join(filter(None, (said, self.noted(key))))
        if role == Qt.ItemDataRole.ToolTipRole:
            told = (self.refusals.sentences.get(key), self.noted(key))
            return "\n".join(filter(None, told)) or None
        return None

    def noted(self, key: Key) -> str:
        """Return what is noted on the reading of a cell, in words; "" for nothing."""
        note = self.document.note(self.unit_id, key)
        return spoken("Note: {note}", note=note) if note else ""

    def headerData(
        self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole
    ) -> object:
        if role != Qt.ItemDataRole.DisplayRole:
            return None
        names = self.shape.columns if orientation == Qt.Orientation.Horizontal else self.shape.rows
        return names[section] if section < len(names) else None

    def flags(self, place: Place) -> Qt.ItemFlag:
        if not place.isValid():
            return Qt.ItemFlag.NoItemFlags
        flags = Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable
        return flags | Qt.ItemFlag.ItemIsEditable if self.is_field(place) else flags

    # -- entering ------------------------------------------------------------------

    def setData(self, place: Place, text: object, role: int = Qt.ItemDataRole.EditRole) -> bool:
        key = self.key_at(place)
        if key is None or role != Qt.ItemDataRole.EditRole or not self.is_field(place):
            return False
        same = str(text).strip() == self.cell(key).text.strip()
        if same and not self.document.waives_for_nobody(self.unit_id, key):
            self.document.drop_preview(self.unit_id, key)
            return True
        self.enter(key, str(text))
        self.dataChanged.emit(place, place)
        return True

    def enter(self, key: Key, text: str) -> str:
        """Store a typed text; return the refusal, which stands in the cell's place."""
        answer = self.document.enter(self.unit_id, key, text)
        self.refusals.note(key, text, answer.refusal)
        self.answers[key] = answer
        return answer.refusal

    def own(self, keys: frozenset[Key]) -> frozenset[Key]:
        """Return those of some keys that have a cell here."""
        return keys & self._places.keys()

    def changed(self, keys: frozenset[Key] | None = None) -> None:
        """Tell the view which of its cells may look different (None: all of them)."""
        if keys is not None:
            for key in keys:
                place = self.place_of(key)
                self.dataChanged.emit(place, place)
        elif self.rowCount() and self.columnCount():
            last = self.index(self.rowCount() - 1, self.columnCount() - 1)
            self.dataChanged.emit(self.index(0, 0), last)

    def verdicts(self) -> list[Verdict]:
        """Return the verdicts that this table shows, in reading order."""
        block = self.block
        checks: Sequence[Check]
        if isinstance(block, Crossed):
            checks = (block.entry,) if isinstance(block.entry, Check) else block.checks
        else:
            section = self.document.form.section_by_name[block.entries[0].section]
            checks = [check for check in section.checks if check.repeat == (block.repeat,)]
        return [
            self.results.verdict(check.name, index)
            for check in checks
            for index in self.results.asked_members(check.name)
        ]


_GRAVEST = (
    Outcome.FAIL,
    Outcome.INCONCLUSIVE,
    Outcome.MISSING,
    Outcome.PASS,
    Outcome.NOT_APPLICABLE,
)


def _gravity(verdict: Verdict) -> tuple[bool, int]:
    return not verdict.stops, _GRAVEST.index(verdict.outcome)
