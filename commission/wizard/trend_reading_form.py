"""How a trend file will be read, found from the file and shown to be confirmed or changed."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path
from zoneinfo import available_timezones

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QCheckBox,
    QCompleter,
    QFrame,
    QGridLayout,
    QLineEdit,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from commission.errors import CommissionError, ReadingError
from commission.language import spoken, to_say
from commission.sequence.trend_log import zone_of
from commission.sequence.trend_reading import (
    BLANKS,
    IN_STAMPS,
    ORDERS,
    ColumnReading,
    FileReading,
    check_reading,
)
from commission.sequence.trend_signals import SIGNALS
from commission.units import UNITS
from commission.validation.entry import parse_number
from commission.wizard.adding import adding_to
from commission.wizard.appearance import Appearance
from commission.wizard.choice import Choice, fill
from commission.wizard.parts import bounded, button, clear, label, stretch_last, wrapping_row
from commission.wizard.slices import Slices

_DELIMITERS = (
    (to_say("comma"), ","),
    (to_say("semicolon"), ";"),
    (to_say("tab"), "\t"),
    (to_say("bar"), "|"),
)
_MARKS = ((to_say("point"), "."), (to_say("comma"), ","))
_NOT_USED = to_say("not used")
_HEADINGS = (
    to_say("Column of the file"),
    to_say("First cells"),
    to_say("Is"),
    to_say("Unit"),
    to_say("On from"),
    to_say("Reversed"),
)


@cache
def time_zones() -> tuple[str, ...]:
    """Return the names of all time zones, and the word for those in the file's own stamps."""
    return tuple(sorted([*available_timezones(), IN_STAMPS]))


def _said(pairs: Sequence[tuple[str, str]]) -> list[tuple[str, str]]:
    return [(spoken(words), data) for words, data in pairs]


class ColumnRow:
    """The inputs of one column of the file."""

    def __init__(
        self, column: ColumnReading, cells: Sequence[str], signals: Sequence[str], look: Appearance
    ) -> None:
        self.column = column
        shown = ", ".join(cells)
        self.words = (label(column.heading), label(shown[:40], "muted"))
        self.signal = Choice(look)
        pairs = [(spoken(_NOT_USED), "")] + [(SIGNALS[name].label, name) for name in signals]
        fill(self.signal, pairs, column.signal)
        self.signal.setAccessibleName(spoken("{heading}: what it is", heading=column.heading))
        self.unit = Choice(look)
        self.unit.setAccessibleName(spoken("{heading}: unit", heading=column.heading))
        self.threshold = QLineEdit("" if column.threshold is None else f"{column.threshold:g}")
        self.threshold.setAccessibleName(spoken("{heading}: on from", heading=column.heading))
        self.threshold.setPlaceholderText("words")
        self.inverted = QCheckBox(spoken("off is on"))
        self.inverted.setAccessibleName(spoken("{heading}: reversed", heading=column.heading))
        self.inverted.setChecked(column.inverted)
        self.signal.activated.connect(lambda _place: self._show_kind())
        self._show_kind()

    def _show_kind(self) -> None:
        """Ask for a unit of measurements, for the way to tell on from off of states."""
        signal = SIGNALS.get(str(self.signal.currentData() or ""))
        measured = signal is not None and not signal.is_on_off
        if signal is not None and measured:
            own = signal.unit or ""
            alike = [u for u, known in UNITS.items() if known.dimension == UNITS[own].dimension]
            alike = [u for u in alike if UNITS[u].datum == UNITS[own].datum]
            chosen = self.column.unit if self.column.unit in alike else own
            fill(self.unit, [(code or "1", code) for code in alike], chosen)
        for widget in (self.threshold, self.inverted):
            widget.setEnabled(signal is not None and not measured)
        self.unit.setEnabled(measured)
        if not measured:
            fill(self.unit, [("", "")], "")

    def widgets(self) -> tuple[QWidget, ...]:
        """Return what stands in the row, from left to right."""
        return (*self.words, self.signal, self.unit, self.threshold, self.inverted)

    def reading(self) -> ColumnReading:
        """Return the column as a person has it now.

        Raises:
            ReadingError: the threshold is no number.
        """
        text = self.threshold.text().strip()
        threshold = None
        if text and self.threshold.isEnabled():
            threshold, rest, _ = parse_number(text)
            if rest.strip():
                raise ReadingError(
                    spoken(
                        "column '{heading}': on from '{text}' is not a number. Leave the unit "
                        "away: it is the file's own.",
                        heading=self.column.heading,
                        text=text,
                    )
                )
        return replace(
            self.column,
            signal=str(self.signal.currentData() or ""),
            unit=str(self.unit.currentData() or "") if self.unit.isEnabled() else "",
            threshold=threshold,
            inverted=self.inverted.isChecked() and self.inverted.isEnabled(),
        )


class ReadingForm(QScrollArea):
    """What was found of a file, each part to be confirmed or changed.

    Signals:
        confirmed: the FileReading.
        delimiter_chosen: look at the file anew with this one.
        given_up: leave the file.
    """

    confirmed = Signal(object)
    delimiter_chosen = Signal(str)
    given_up = Signal()

    def __init__(self, appearance: Appearance) -> None:
        super().__init__()
        self._appearance = appearance
        self._reading = FileReading()
        self._rows: list[ColumnRow] = []
        self._slices = Slices(self)
        self.setWidgetResizable(True)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        px = appearance.px
        self.title = label("", "heading")
        self.questions = label("", "warning")
        self.refusal = label("", "error")
        self.refusal.hide()
        self.delimiter = self._choice(spoken("Cells apart by"), _said(_DELIMITERS))
        self.delimiter.activated.connect(
            lambda _place: self.delimiter_chosen.emit(str(self.delimiter.currentData()))
        )
        self.mark = self._choice(spoken("Decimal mark"), _said(_MARKS))
        self.order = self._choice(
            spoken("Date order"), [(spoken(words), code) for code, words in ORDERS.items()]
        )
        self.blanks = self._choice(spoken("Empty cells"), [(spoken(word), word) for word in BLANKS])
        self.zone = QLineEdit()
        self.zone.setPlaceholderText(spoken("not known; such as America/Denver"))
        self.zone.setAccessibleName(spoken("Time zone"))
        completer = QCompleter([*time_zones()], self)
        completer.setCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
        completer.setFilterMode(Qt.MatchFlag.MatchContains)
        self.zone.setCompleter(completer)
        self.read_button = button(spoken("Read and judge"), self._confirm, "primary")
        self.leave_button = button(spoken("Leave it"), self.given_up.emit, "quiet")
        self.columns = QGridLayout()
        self.columns.setHorizontalSpacing(px(8))
        self.columns.setVerticalSpacing(px(4))
        self._lay_out(px)

    def _choice(self, name: str, pairs: Sequence[tuple[str, str]]) -> Choice:
        box = Choice(self._appearance)
        fill(box, pairs, pairs[0][1])
        box.setAccessibleName(name)
        return box

    def _lay_out(self, px: Callable[[float], int]) -> None:
        content = QWidget()
        content.setObjectName("ground")
        layout = QVBoxLayout(content)
        layout.setContentsMargins(0, 0, px(8), px(8))
        layout.setSpacing(px(8))
        card = self._card = QFrame()
        card.setProperty("role", "card")
        inner = QVBoxLayout(card)
        inner.setContentsMargins(px(14), px(10), px(14), px(12))
        inner.setSpacing(px(8))
        inner.addWidget(self.title)
        inner.addWidget(self.questions)
        inner.addLayout(self._file_grid(px))
        # Above the columns, of which there are dozens: it has the focus, and stays where it is.
        buttons = wrapping_row(px(8))
        buttons.addWidget(self.read_button)
        buttons.addWidget(self.leave_button)
        inner.addLayout(stretch_last(buttons))
        inner.addWidget(self.refusal)
        inner.addLayout(self.columns)
        layout.addLayout(bounded(card, px(1100)))
        layout.addStretch(1)
        self.setWidget(content)

    def _file_grid(self, px: Callable[[float], int]) -> QGridLayout:
        grid = QGridLayout()
        grid.setHorizontalSpacing(px(8))
        grid.setVerticalSpacing(px(4))
        asked: Sequence[tuple[str, QWidget]] = (
            (spoken("Cells apart by"), self.delimiter),
            (spoken("Decimal mark"), self.mark),
            (spoken("Empty cells"), self.blanks),
            (spoken("Date order"), self.order),
            (spoken("Time zone"), self.zone),
        )
        for number, (words, widget) in enumerate(asked):
            line, side = divmod(number, 3)
            named = label(words, wraps=False)
            named.setBuddy(widget)
            grid.addWidget(named, line, 2 * side)
            grid.addWidget(widget, line, 2 * side + 1)
            grid.setColumnStretch(2 * side + 1, 1)
        return grid

    def show_reading(
        self,
        path: Path,
        reading: FileReading,
        signals: Sequence[str],
        cells: Sequence[Sequence[str]],
    ) -> None:
        """Show what was found; `signals` can be chosen, `cells` are the first lines of data."""
        self._reading = reading
        stamps = ", ".join(str(place + 1) for place in reading.stamp_places)
        self.title.setText(
            spoken(
                "{name}: data from line {first_line}, {encoding}, date and time in column {stamps}",
                name=path.name,
                first_line=reading.first_line,
                encoding=reading.encoding,
                stamps=stamps,
            )
        )
        questions = "\n".join(
            spoken("To confirm: {question}", question=question) for question in reading.questions
        )
        self.questions.setText(questions)
        self.questions.setVisible(bool(questions))
        for box, value in (
            (self.delimiter, reading.delimiter),
            (self.mark, reading.decimal_mark),
            (self.order, reading.stamp_order),
            (self.blanks, reading.blanks),
        ):
            box.setCurrentIndex(max(box.findData(value), 0))
        self.zone.setText(reading.zone)
        self.refuse("")
        self._show_columns(signals, cells)
        self.verticalScrollBar().setValue(0)

    def _show_columns(self, signals: Sequence[str], cells: Sequence[Sequence[str]]) -> None:
        clear(self.columns)
        used = [column.signal for column in self._reading.columns if column.signal]
        names = list(dict.fromkeys([*signals, *used]))
        for place, words in enumerate(spoken(heading) for heading in _HEADINGS):
            self.columns.addWidget(label(words, "muted"), 0, place)
        self._rows = []
        for place, share in enumerate((5, 4, 6, 3, 2, 0)):
            self.columns.setColumnStretch(place, share)
        self._slices.begin(self._lines(names, cells))
        self._slices.turn()

    @property
    def rows(self) -> list[ColumnRow]:
        """The inputs of all columns; what is not built yet is built now."""
        self._slices.finish()
        return self._rows

    def _lines(self, names: Sequence[str], cells: Sequence[Sequence[str]]) -> Iterator[None]:
        """Build the inputs, a column at a time: a logger writes dozens of them."""
        for number, column in enumerate(self._reading.columns, start=1):
            seen = list(dict.fromkeys(line[column.place] for line in cells))[:6]
            made = ColumnRow(column, seen, names, self._appearance)
            self._rows.append(made)
            widgets = made.widgets()
            with adding_to(self._card, widgets):
                for place, widget in enumerate(widgets):
                    self.columns.addWidget(widget, number, place)
            yield

    def reading(self) -> FileReading:
        """Return the reading as a person has it now.

        Raises:
            ReadingError: it cannot be used so; every fault at once.
        """
        faults: list[str] = []
        columns = []
        for made in self.rows:
            try:
                columns.append(made.reading())
            except CommissionError as error:
                faults.append(str(error))
        zone = self.zone.text().strip()
        if zone and zone != IN_STAMPS:
            try:
                zone_of(zone)
            except (KeyError, ValueError, OSError):
                faults.append(
                    spoken(
                        "Time zone '{zone}' is not known. Type one such as America/Denver.",
                        zone=zone,
                    )
                )
        changed = replace(
            self._reading,
            decimal_mark=str(self.mark.currentData()),
            stamp_order=str(self.order.currentData()),
            blanks=str(self.blanks.currentData()),
            zone=zone,
            columns=tuple(columns),
            questions=(),  # answered by looking and going on
        )
        if faults:
            raise ReadingError("\n".join(faults))
        check_reading(changed)
        return changed

    def _confirm(self) -> None:
        try:
            reading = self.reading()
        except CommissionError as error:
            self.refuse(str(error))
            return
        self.refuse("")
        self.confirmed.emit(reading)

    def refuse(self, sentence: str) -> None:
        """Say why it cannot be read so."""
        self.refusal.setText(sentence)
        self.refusal.setVisible(bool(sentence))
        if sentence:
            self.ensureWidgetVisible(self.refusal)

    def start(self) -> None:
        """Put the focus where a person goes on."""
        self.read_button.setFocus(Qt.FocusReason.OtherFocusReason)
        self.verticalScrollBar().setValue(0)
