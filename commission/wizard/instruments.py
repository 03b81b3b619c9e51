"""Which instrument a reading is taken with: a small list, and a mark when it is past due."""

from __future__ import annotations

from datetime import date
from weakref import WeakKeyDictionary

from PySide6.QtCore import QSize, Signal
from PySide6.QtWidgets import QWidget

from commission.language import spoken
from commission.project import Instrument
from commission.wizard.appearance import Appearance
from commission.wizard.choice import Choice, fill
from commission.wizard.document import Document

_known: WeakKeyDictionary[Document, tuple[int, list[Instrument]]] = WeakKeyDictionary()


def instruments_of(document: Document) -> list[Instrument]:
    """Return the project's instruments; they are read anew once something was committed."""
    project = document.session.project
    kept = _known.get(document)
    if kept is None or kept[0] != project.revision:
        kept = _known[document] = (project.revision, project.instruments())
    return kept[1]


def instrument_name(instrument: Instrument) -> str:
    """Return how an instrument is called in lists: its kind and serial number."""
    return f"{spoken(instrument.kind)} {instrument.serial}".strip()


def past_due(instrument: Instrument, on: str = "") -> str:
    """Return "past due since 2026-03-31" if its calibration is past due on a day, or ""."""
    due, day = instrument.calibration_due, on or date.today().isoformat()
    return spoken("past due since {date}", date=due) if due and due < day[:10] else ""


class InstrumentPicker(Choice):
    """The project's instruments, those of the expected kind first.

    Signals:
        picked: the id of the instrument chosen ("" for none).
    """

    picked = Signal(str)

    def __init__(
        self, document: Document, kind: str, name: str, appearance: Appearance, parent: QWidget
    ) -> None:
        super().__init__(appearance, parent)
        self._document = document
        self._kind = kind
        self._widths: tuple[int, int] | None = None
        self._serials: dict[str, str] = {}
        self.setAccessibleName(spoken("{name}: instrument", name=name))
        self.setToolTip(spoken("Instrument: {kind}", kind=kind) if kind else spoken("Instrument"))
        self.refill("")
        self.activated.connect(lambda place: self.picked.emit(self.itemData(place) or ""))

    def past_due_words(self, read_at: str = "") -> str:
        """Return a sentence where the chosen instrument is past due; "" where it is not.

        Args:
            read_at: when the reading was taken (ISO 8601); "" for today.
        """
        chosen = self.currentData() or ""
        instruments = instruments_of(self._document)
        found = next((one for one in instruments if one.id == chosen), None)
        due = past_due(found, read_at) if found is not None else ""
        if found is None or not due:
            return ""
        return spoken(
            "{instrument}: calibration {due}. Its readings count; the package says so.",
            instrument=instrument_name(found),
            due=due,
        )

    def refill(self, chosen: str) -> None:
        """Show the instruments as they are now, one of them chosen."""
        instruments = instruments_of(self._document)
        fitting = [item for item in instruments if item.kind.casefold() == self._kind.casefold()]
        others = [item for item in instruments if item not in fitting]
        kind = spoken(self._kind)
        none = spoken("no {kind}", kind=kind) if kind else spoken("no instrument")
        self._serials = {item.id: item.serial for item in instruments}
        items = [(none, "")]
        for item in (*fitting, *others):
            due = past_due(item)
            items.append((f"{instrument_name(item)}{f' ({due})' if due else ''}", item.id))
        fill(self, items, chosen)
        self.setToolTip(self.currentText())
        self._hold_chosen()

    def short_words(self) -> str:
        """The serial number tells instruments of one kind apart; the kind is known."""
        return self._serials.get(self.currentData() or "", "")

    def keep_between(self, least: int, most: int) -> None:
        """Be as wide as the instrument chosen needs; at least as wide as bounds say, pixels."""
        self._widths = (least, most)
        self._hold_chosen()

    def sizeHint(self) -> QSize:
        """Ask for all the words of what is chosen; it may be given less."""
        hint = super().sizeHint()
        if self._widths is not None:
            hint.setWidth(self.maximumWidth())
        return hint

    def _hold_chosen(self) -> None:
        if self._widths is not None:
            least, most = self._widths
            needed = max(least, self.width_for([self.currentText()]))
            self.setMinimumWidth(min(most, needed))
            self.setMaximumWidth(needed)
