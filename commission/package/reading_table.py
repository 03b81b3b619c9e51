"""One page's readings and quantities as tables: value in each pass, limit, verdict, instrument.

Things asked once are rows with a column for each pass. Things asked for several members
(circuits, compressors) have a column for each member; things of two repeats are a small grid.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from commission.definitions.model import Check, Field, Quantity, Section
from commission.formula.evaluate import State
from commission.formula.figures import uncertainty_figure
from commission.package.look import BOLD, INK, QUIET, REGULAR, TABLE_SIZE
from commission.package.tables import Cell, Column, DataTable, Row
from commission.package.turnover import Part, Turnover
from commission.package.typesetting import width_of
from commission.package.wording import verdict_colour, verdict_glyph, verdict_mark
from commission.units import unit
from commission.validation.report import word
from commission.validation.results import UnitResults
from commission.validation.verdict import Outcome, Verdict

Index = tuple[int, ...]
Asked = Field | Quantity

MOST_MEMBER_COLUMNS = 6
DEFAULT_MARK = " †"
UNREAD = "not recorded"
_LABEL, _UNIT, _VALUE, _LIMIT, _VERDICT, _UNCERTAIN, _INSTRUMENT = 150, 42, 60, 92, 76, 40, 36


@dataclass(frozen=True)
class PageTables:
    """Makes the tables of one page of one part."""

    turnover: Turnover
    part: Part
    section: Section

    @property
    def results(self) -> UnitResults:
        """The results in force."""
        return self.part.results

    def tables(self) -> Iterator[tuple[str, DataTable]]:
        """Yield (caption, table); the caption of a table of things asked once is ""."""
        asked = list(self._shown_entries())
        for repeats, group in groupby(asked, key=lambda entry: entry.repeat):
            entries = list(group)
            if not repeats:
                yield "", self._single_table(entries)
            elif len(repeats) == 1:
                yield from self._member_tables(entries)
            else:
                for entry in entries:
                    yield from self._grids(entry)
        strangers = list(self._checks_of_other_pages())
        if strangers:
            yield "Checks of readings on other pages", self._stranger_table(strangers)

    def _shown_entries(self) -> Iterator[Asked]:
        for entry in self.section.entries:
            if not isinstance(entry, Check) and any(
                self._stands(name, index)
                for name in (entry.name,)
                for index in self.results.asked_members(name)
            ):
                yield entry

    def _stands(self, name: str, index: Index) -> bool:
        """Return whether any pass has something to show for this member."""
        return any(
            results.value(name, index).state is not State.MISSING for _, results in self.part.passes
        )

    # -- single values -------------------------------------------------------------

    def _value_text(self, results: UnitResults, name: str, index: Index) -> str:
        """Return a value without its unit, which has a column of its own."""
        text = results.shown(name, index)
        if text == "n/a" or not text:
            return text
        unit_text = results.shown_unit(name)
        return text.removesuffix(f" {unit_text}") if unit_text else text

    def _pass_texts(self, name: str, index: Index) -> list[str]:
        """Return the value after each pass; "" where a pass changed nothing."""
        texts: list[str] = []
        last = ""
        for _, results in self.part.passes:
            text = self._value_text(results, name, index)
            texts.append(text if text != last or not texts else "")
            last = text
        return texts

    def passes_of(self, entries: Sequence[Asked]) -> list[int]:
        """Return the places of the passes that have anything of their own in these entries."""
        found = {0}
        for entry in entries:
            for index in self.results.asked_members(entry.name):
                for place, text in enumerate(self._pass_texts(entry.name, index)):
                    reading = self.part.passes[place][1].reading(entry.name, index)
                    own = reading is not None and reading.pass_name == self.part.passes[place][0]
                    if text or own:
                        found.add(place)
        if len(found) > 1 and not self._anything_in(0, entries):
            found.discard(0)
        return sorted(found)

    def _anything_in(self, place: int, entries: Sequence[Asked]) -> bool:
        results = self.part.passes[place][1]
        return any(
            self._value_text(results, entry.name, index)
            for entry in entries
            for index in self.results.asked_members(entry.name)
        )

    def _pass_title(self, place: int) -> str:
        name = self.part.passes[place][0]
        return name[0].upper() + name[1:]

    def _uncertainty(self, name: str, index: Index) -> str:
        expanded = self.results.expanded(name, index)
        if not expanded:
            return ""
        own, shown = self.results.form.by_name[name], self.results.shown_unit(name)
        if isinstance(own, Check):
            return ""
        if shown != own.unit:
            expanded *= unit(own.unit).scale / unit(shown).scale
        return f"±{uncertainty_figure(expanded)}"

    def _instrument(self, name: str, index: Index) -> str:
        reading = self.results.reading(name, index)
        return self.turnover.instrument_tags.get(reading.instrument_id, "") if reading else ""

    def _verdicts(self, name: str, index: Index) -> list[Verdict]:
        """Return the verdicts of this page's own checks on a value."""
        return [
            self.results.verdict(check.name, index)
            for check in self.section.checks
            if check.judges == name and self.results.relevant(check.name, index)
        ]

    def _limit_text(self, verdict: Verdict) -> str:
        text = self.results.limit_text(verdict)
        mark = DEFAULT_MARK if text and verdict.limit.is_default else ""
        return text + mark

    # -- things asked once ---------------------------------------------------------

    def _single_table(self, entries: Sequence[Asked]) -> DataTable:
        passes = self.passes_of(entries)
        judged = any(self._verdicts(entry.name, ()) for entry in entries)
        measured = any(
            self._uncertainty(entry.name, ()) or self._instrument(entry.name, ())
            for entry in entries
        )
        columns = [Column("Reading or quantity", _LABEL), Column("Unit", _UNIT)]
        columns += [Column(self._pass_title(place), _VALUE, "right") for place in passes]
        if judged:
            columns += [Column("Limit", _LIMIT), Column("Verdict", _VERDICT)]
        if measured:
            columns += [Column("±", _UNCERTAIN, "right"), Column("Instr.", _INSTRUMENT)]
        if not judged and not measured:
            columns[0] = Column("Reading or quantity", 2 * _LABEL)
            columns = [*columns[:2], *(Column(c.title, 2 * _VALUE, c.align) for c in columns[2:])]
        whole = sum(column.share for column in columns)
        room = self.turnover.width * _VALUE / whole - 8
        rows = [
            row
            for entry in entries
            for row in self._single_rows(entry, passes, judged, measured, room)
        ]
        return DataTable(columns, rows)

    def _single_rows(
        self, entry: Asked, passes: Sequence[int], judged: bool, measured: bool, room: float
    ) -> Iterator[Row]:
        texts = self._pass_texts(entry.name, ())
        shown = [texts[place] for place in passes]
        verdicts = self._verdicts(entry.name, ())
        unit_text = self.results.shown_unit(entry.name)
        is_long = not unit_text and any(width_of(t, REGULAR, TABLE_SIZE) > room for t in shown)
        extra = 2 * judged + 2 * measured
        if is_long and not verdicts:
            text = self._joined(shown, passes)
            yield Row([entry.label, Cell(text, span=1 + len(passes) + extra)])
            return
        values = [Cell(text, align="" if _is_number(text) else "left") for text in shown]
        tail = self._tail(entry.name, ()) if measured else []
        first = verdicts[0] if verdicts else None
        limit = self._limit_cells(first) if judged else []
        yield Row([entry.label, unit_text, *values, *limit, *tail], ruled=len(verdicts) < 2)
        for place, verdict in enumerate(verdicts[1:], 2):
            cells: list[Cell | str] = [Cell(f"· {verdict.check.label}", colour=QUIET)]
            cells += [""] * (1 + len(shown))
            cells += [*self._limit_cells(verdict), *([""] * len(tail))]
            yield Row(cells, ruled=place == len(verdicts))

    def _joined(self, shown: Sequence[str], passes: Sequence[int]) -> str:
        if len(passes) == 1:
            return shown[0]
        given = [(self._pass_title(p), t) for p, t in zip(passes, shown, strict=True) if t]
        if len(given) == 1:
            return given[0][1]
        return "\n".join(f"{title}: {text}" for title, text in given)

    def _limit_cells(self, verdict: Verdict | None) -> list[Cell | str]:
        if verdict is None:
            return ["", ""]
        return [
            self._limit_text(verdict),
            Cell(verdict_mark(verdict), _face(verdict), verdict_colour(verdict)),
        ]

    def _tail(self, name: str, index: Index) -> list[Cell | str]:
        tag = self._instrument(name, index)
        return [self._uncertainty(name, index), Cell(tag, link="instruments" if tag else "")]

    # -- things asked for several members --------------------------------------------

    def _member_tables(self, entries: Sequence[Asked]) -> Iterator[tuple[str, DataTable]]:
        members = self._members_of(entries)
        name = entries[0].name
        if len(members) > MOST_MEMBER_COLUMNS:
            for first in range(0, len(entries), MOST_MEMBER_COLUMNS):
                chosen = entries[first : first + MOST_MEMBER_COLUMNS]
                yield self._repeat_title(name), self._table_by_member(chosen, members)
            return
        passes = self.passes_of(entries)
        several = len(passes) > 1
        judged = any(self._verdicts(e.name, m) for e in entries for m in members)
        columns = [Column("Reading or quantity", _LABEL), Column("Unit", _UNIT)]
        columns += [Column("Pass", 44)] * several
        room = 516 - _LABEL - _UNIT - 44 * several - _LIMIT * judged
        share = min(room / max(len(members), 1), 110)
        for member in members:
            columns.append(Column(self.results.member_label(name, member), share))
        columns += [Column("Limit", _LIMIT)] * judged
        rows = [
            row
            for entry in entries
            for row in self._member_rows(entry, members, passes, several, judged)
        ]
        yield "", DataTable(columns, rows)

    def _members_of(self, entries: Sequence[Asked]) -> list[Index]:
        found: dict[Index, None] = {}
        for entry in entries:
            found |= dict.fromkeys(self.results.asked_members(entry.name))
        return sorted(found)

    def _repeat_title(self, name: str) -> str:
        repeats = self.results.form.by_name[name].repeat
        return " by ".join(repeat.replace("_", " ") for repeat in repeats).capitalize()

    def _member_rows(
        self,
        entry: Asked,
        members: Sequence[Index],
        passes: Sequence[int],
        several: bool,
        judged: bool,
    ) -> Iterator[Row]:
        texts = {member: self._pass_texts(entry.name, member) for member in members}
        own = [p for p in passes if any(texts[m][p] for m in members)] or [passes[0]]
        unit_text = self.results.shown_unit(entry.name)
        details = self._detail_rows(entry, members, several, judged)
        for number, place in enumerate(own):
            cells: list[Cell | str] = [entry.label, unit_text] if number == 0 else ["", ""]
            cells += [Cell(self._pass_title(place), colour=QUIET)] * several
            for member in members:
                asked = self.results.relevant(entry.name, member)
                missing = UNREAD if number == 0 and asked else ""
                text = texts[member][place] or missing
                cells.append(Cell(text, colour=QUIET if text == UNREAD else INK))
            cells += [""] * judged
            yield Row(cells, ruled=number == len(own) - 1 and not details)
        for number, row in enumerate(details):
            yield Row(row, ruled=number == len(details) - 1)

    def _detail_rows(
        self, entry: Asked, members: Sequence[Index], several: bool, judged: bool
    ) -> list[list[Cell | str]]:
        """Return rows beneath the values: uncertainty with instrument, then each check."""
        lead: list[Cell | str] = [""] * (1 + several)
        rows: list[list[Cell | str]] = []
        measured: list[Cell | str] = [
            Cell(" ".join(filter(None, self._tail_texts(entry.name, member))), colour=QUIET)
            for member in members
        ]
        if any(isinstance(cell, Cell) and cell.text for cell in measured):
            rows.append([Cell("· uncertainty, instrument", colour=QUIET), *lead, *measured])
            rows[-1] += [""] * judged
        for check in self.section.checks:
            if check.judges != entry.name:
                continue
            verdicts = {
                m: self.results.verdict(check.name, m)
                for m in members
                if self.results.relevant(check.name, m)
            }
            if verdicts:
                rows.append(self._check_row(check, verdicts, members, lead))
        return rows

    def _tail_texts(self, name: str, member: Index) -> tuple[str, str]:
        return self._uncertainty(name, member), self._instrument(name, member)

    def _check_row(
        self,
        check: Check,
        verdicts: dict[Index, Verdict],
        members: Sequence[Index],
        lead: Sequence[Cell | str],
    ) -> list[Cell | str]:
        limits = {member: self._limit_text(verdict) for member, verdict in verdicts.items()}
        same = len(set(limits.values())) == 1
        cells: list[Cell | str] = [Cell(f"· {check.label}", colour=QUIET), *lead]
        for member in members:
            verdict = verdicts.get(member)
            if verdict is None:
                cells.append("")
                continue
            own = "" if same or not limits[member] else f"\n{limits[member]}"
            text = verdict_mark(verdict) + own
            cells.append(Cell(text, _face(verdict), verdict_colour(verdict)))
        return [*cells, next(iter(limits.values())) if same else "as shown"]

    def _table_by_member(self, entries: Sequence[Asked], members: Sequence[Index]) -> DataTable:
        """Return a table with a row for each of many members and a column for each entry."""
        name = entries[0].name
        columns = [Column("", 76)]
        for entry in entries:
            unit_text = self.results.shown_unit(entry.name)
            title = f"{entry.label}, {unit_text}" if unit_text else entry.label
            columns.append(Column(title, 440 / len(entries)))
        rows = []
        for member in members:
            cells: list[Cell | str] = [self.results.member_label(name, member)]
            cells += [self._crowded_cell(entry, member) for entry in entries]
            rows.append(Row(cells))
        return DataTable(columns, rows)

    def _crowded_cell(self, entry: Asked, member: Index) -> Cell | str:
        """Return all that is known of one member in one cell."""
        if not self.results.relevant(entry.name, member):
            return ""
        texts = [text for text in self._pass_texts(entry.name, member) if text]
        lines = [" → ".join(texts) or UNREAD]
        lines += filter(None, [" ".join(filter(None, self._tail_texts(entry.name, member)))])
        for verdict in self._verdicts(entry.name, member):
            limit = self._limit_text(verdict)
            lines.append(f"{verdict_mark(verdict)} ({limit})" if limit else verdict_mark(verdict))
        return "\n".join(lines)

    # -- things of two repeats -------------------------------------------------------

    def _grids(self, entry: Asked) -> Iterator[tuple[str, DataTable]]:
        for place in self.passes_of([entry]):
            several = len(self.passes_of([entry])) > 1
            suffix = f", {self.part.passes[place][0]}" if several else ""
            unit_text = self.results.shown_unit(entry.name)
            title = f"{entry.label}{', ' if unit_text else ''}{unit_text}{suffix}"
            is_last = place == self.passes_of([entry])[-1]
            yield title, self._grid(entry, place, is_last)

    def _grid(self, entry: Asked, place: int, is_last: bool) -> DataTable:
        members = self.results.asked_members(entry.name)
        firsts = sorted({member[0] for member in members})
        rests = sorted({member[1:] for member in members})
        form = self.results.form
        first_repeat, second_repeat = form.repeats[entry.repeat[0]], form.repeats[entry.repeat[1]]
        columns = [Column("", 96)]
        columns += [
            Column(second_repeat.member_label(rest[0]), min(420 / len(rests), 90), "right")
            for rest in rests
        ]
        rows = []
        for first in firsts:
            cells: list[Cell | str] = [first_repeat.member_label(first)]
            for rest in rests:
                cells.append(self._grid_cell(entry, (first, *rest), place, is_last))
            rows.append(Row(cells))
        if is_last:
            rows += self._grid_notes(entry, members, len(rests))
        left = 516 - sum(column.share for column in columns)
        if left > 1:
            columns.append(Column("", left))
            rows = [Row([*row.cells, ""]) if len(row.cells) > 1 else row for row in rows]
        return DataTable(columns, rows)

    def _grid_cell(self, entry: Asked, member: Index, place: int, is_last: bool) -> Cell | str:
        if not self.results.relevant(entry.name, member):
            return ""
        results = self.part.passes[place][1]
        text = self._value_text(results, entry.name, member) or UNREAD
        verdicts = self._verdicts(entry.name, member) if is_last else []
        odd = [verdict for verdict in verdicts if verdict.outcome is not Outcome.PASS]
        worst = next(iter(odd or verdicts), None)
        if worst is None:
            return Cell(text, colour=QUIET if text == UNREAD else INK)
        return Cell(f"{text} {verdict_glyph(worst)}", _face(worst), verdict_colour(worst))

    def _grid_notes(self, entry: Asked, members: Sequence[Index], width: int) -> list[Row]:
        """Return rows that span the grid: its checks with limits and counts, instruments, ±."""
        notes = []
        for check in self.section.checks:
            if check.judges != entry.name:
                continue
            verdicts = [
                self.results.verdict(check.name, m)
                for m in members
                if self.results.relevant(check.name, m)
            ]
            if verdicts:
                notes.append(self._grid_check_note(check, verdicts))
        tags = dict.fromkeys(filter(None, (self._instrument(entry.name, m) for m in members)))
        largest = [self.results.expanded(entry.name, m) or 0.0 for m in members]
        if tags:
            at = members[largest.index(max(largest))]
            uncertain = self._uncertainty(entry.name, at)
            most = f"; uncertainty at most {uncertain}" if uncertain else ""
            notes.append(f"Instrument {', '.join(tags)}{most}")
        return [Row([Cell(note, colour=QUIET, span=width + 2)]) for note in notes]

    def _grid_check_note(self, check: Check, verdicts: Sequence[Verdict]) -> str:
        limits = dict.fromkeys(filter(None, (self._limit_text(v) for v in verdicts)))
        counts: dict[str, int] = {}
        for verdict in verdicts:
            counts[word(verdict)] = counts.get(word(verdict), 0) + 1
        told = ", ".join(f"{number} {name}" for name, number in counts.items())
        held = f" ({'; '.join(limits)})" if limits else ""
        return f"{check.label}{held}: {told}"

    # -- checks of readings on other pages ---------------------------------------------

    def _checks_of_other_pages(self) -> Iterator[Verdict]:
        own = {entry.name for entry in self.section.entries if not isinstance(entry, Check)}
        for check in self.section.checks:
            if check.judges not in own:
                for index in self.results.asked_members(check.name):
                    yield self.results.verdict(check.name, index)

    def _stranger_table(self, verdicts: Sequence[Verdict]) -> DataTable:
        columns = [Column("Check", 190), Column("Value", 80), Column("Limit", 110)]
        columns += [Column("Verdict", 80), Column("±", 56, "right")]
        rows = []
        for verdict in verdicts:
            label = verdict.check.label
            member = self.results.member_label(verdict.check.name, verdict.index)
            shown = self.results.shown(verdict.check.judges, verdict.index)
            cells: list[Cell | str] = [f"{label}, {member}" if member else label, shown]
            cells += self._limit_cells(verdict)
            cells.append(self._uncertainty(verdict.check.judges, verdict.index))
            rows.append(Row(cells))
        return DataTable(columns, rows)


def _face(verdict: Verdict) -> str:
    plain = (Outcome.PASS, Outcome.NOT_APPLICABLE, Outcome.MISSING)
    return REGULAR if verdict.outcome in plain else BOLD


def _is_number(text: str) -> bool:
    return (
        text[:1] in "−0123456789"
        and text.replace(",", "").lstrip("−").replace(".", "", 1).isdigit()
    )
