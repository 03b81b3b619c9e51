"""Deficiencies, instruments and people that came back, against what was sent and what is now."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from commission.definitions.model import Key
from commission.errors import CommissionError, ReadingError
from commission.formula.evaluate import Content
from commission.language import said_in, spoken, to_say
from commission.project import DEFICIENCY_STATUSES, ProjectFile
from commission.validation.entry import parse_number
from commission.workbook.incoming_tables import CellValue, Formula, Unread, shown
from commission.workbook.read_back_cells import ReturnedBook
from commission.workbook.read_back_readings import same
from commission.workbook.read_back_registers import (
    REGISTERS,
    RegisterColumns,
    ReturnedLine,
    SentLine,
    attribute_of,
    records_of,
)
from commission.workbook.read_back_rows import ReviewRow, Standing

KINDS = frozenset(register.kind for register in REGISTERS)
_BY_KIND = {register.kind: register for register in REGISTERS}
_PROJECT = "Project"
_MEANWHILE = to_say("the project has changed since the file was compared. Read it back again.")


def compare_registers(project: ProjectFile, book: ReturnedBook) -> Iterator[ReviewRow]:
    """Yield a row for each value of a record that was sent out, and for each line added."""
    for register in REGISTERS:
        lines = book.lines.get(register.kind)
        if lines is None:
            continue  # written before registers came home
        sent = [line for line in book.sent if line.kind == register.kind]
        records = {record.id: record for record in records_of(project, register.kind)}
        title = said_in(book.language, register.sheet)
        comparing = _Comparing(project, register, title, sent, records)
        if isinstance(lines, str):
            yield comparing.about(Standing.LOST, title, title, lines)
        else:
            yield from comparing.rows(lines)


@dataclass
class _Comparing:
    project: ProjectFile
    register: RegisterColumns
    title: str
    sent: list[SentLine]
    records: Mapping[str, Any]

    def rows(self, lines: list[ReturnedLine] | Any) -> Iterator[ReviewRow]:
        """Yield how each line stands."""
        known = {line.number: line for line in self.sent}
        times = Counter(line.number for line in lines)
        for line in lines:
            sent = None if line.number is None else known.get(line.number)
            if sent is None:
                yield from self._added(line)
            elif times[line.number] > 1:
                words = spoken(
                    "number {number} stands on more than one line. Leave it on one.",
                    number=line.number,
                )
                yield self.about(Standing.NOT_UNDERSTOOD, self._called(sent), line.place, words)
            else:
                yield from self._known(sent, line)
        for sent in self.sent:
            if sent.number not in times:
                words = spoken("its line is gone from the file; it stays in the project as it is.")
                yield self.about(Standing.LOST, self._called(sent), self.title, words)

    def _called(self, sent: SentLine) -> str:
        told = sent.held.get(self.register.needed, "")
        return f"{spoken(self.register.called)} {sent.number}: {str(told)[:60]}"

    def about(
        self, standing: Standing, label: str, place: str, sentence: str, **more: Any
    ) -> ReviewRow:
        """Return a row of the review about one value, or about a line as a whole."""
        kind = self.register.kind
        given = {"was": "", "now": "", "in_file": "", "unit_id": "", "tag": ""} | more
        name = f"{kind}_{given.get('attribute', 'line')}"
        return ReviewRow(
            standing=standing, place=place, name=name, key=Key(kind), what=kind, label=label,
            sentence=sentence, **given,
        )  # fmt: skip

    # -- a record that was sent out ------------------------------------------------------

    def _known(self, sent: SentLine, line: ReturnedLine) -> Iterator[ReviewRow]:
        record = self.records.get(sent.id)
        for attribute in self.register.columns.values():
            yield self._value(sent, line, attribute, record)

    def _value(self, sent: SentLine, line: ReturnedLine, attribute: str, record: Any) -> ReviewRow:
        label = f"{self._called(sent)} · {self._head(attribute)}"
        held, cell = sent.held.get(attribute), line.holds.get(attribute)
        more: dict[str, Any] = {"record": sent.id, "attribute": attribute}
        in_file = "" if cell is None else shown(cell)
        more |= {"was": _said(attribute, held), "in_file": _said(attribute, in_file)}
        try:
            given = self._given(attribute, cell)
        except CommissionError as fault:
            kind = Standing.FORMULA if isinstance(cell, Formula) else Standing.NOT_UNDERSTOOD
            return self.about(kind, label, line.place, str(fault), **more)
        if same(given, held) or (attribute in self.register.numbers and not given and not held):
            return self.about(Standing.UNCHANGED, label, line.place, "", **more)
        if record is None:
            words = spoken(
                "'{in_file}' was typed, but the project no longer has it.", in_file=more["in_file"]
            )
            return self.about(Standing.UNKNOWN, label, line.place, words, **more)
        now = attribute_of(record, attribute)
        more |= {"now": _said(attribute, now), "entry": given, "now_content": now}
        if same(given, now):
            words = spoken("the project holds it already.")
            return self.about(Standing.TAKEN, label, line.place, words, **more)
        words = spoken(
            "{was} at export, {in_file} in the file",
            was=more["was"] or spoken("empty"),
            in_file=more["in_file"] or spoken("empty"),
        )
        if same(held, now):
            return self.about(Standing.CHANGED, label, line.place, f"{words}.", **more)
        words = spoken(
            "{words}, but {now} in the project now.",
            words=words,
            now=more["now"] or spoken("empty"),
        )
        return self.about(Standing.CONFLICT, label, line.place, words, **more)

    def _head(self, attribute: str) -> str:
        return spoken(self.register.head_of(attribute))

    def _given(self, attribute: str, cell: CellValue | None) -> Content | None:
        """Return what a cell of a register means.

        Raises:
            ReadingError: It means nothing there.
        """
        head = self._head(attribute)
        if isinstance(cell, Formula):
            raise ReadingError(
                spoken("holds the formula ={cell}; type what it gives.", cell=cell[:80])
            )
        if isinstance(cell, Unread):
            raise ReadingError(
                spoken("holds {cell}, which is no '{head}'.", cell=cell[:80], head=head)
            )
        text = "" if cell is None else shown(cell)
        if attribute == self.register.needed and not text:
            raise ReadingError(
                spoken("'{head}' is empty. Say it, or put back what stood there.", head=head)
            )
        if attribute == "status" and text not in DEFICIENCY_STATUSES:
            words = ", ".join(map(spoken, DEFICIENCY_STATUSES))
            raise ReadingError(
                spoken("'{value}' is no status. Choose one of {words}.", value=text, words=words)
            )
        if attribute not in self.register.numbers:
            return text or None
        number = cell if isinstance(cell, float) else parse_number(text)[0] if text else None
        if number is not None and not 0.0 <= number < float("inf"):
            raise ReadingError(
                spoken("'{value}' is no accuracy. Type a number of 0 or above.", value=text)
            )
        return number

    # -- a line that was added -----------------------------------------------------------

    def _added(self, line: ReturnedLine) -> Iterator[ReviewRow]:
        if not line.holds:
            return
        register = self.register
        told = line.holds.get(register.needed)
        label = spoken(
            "{called}, added: {shown}",
            called=spoken(register.called),
            shown=shown(told)[:60] if told is not None else "",
        )
        values: dict[str, Content] = {}
        faults = []
        for attribute in register.columns.values():
            cell = line.holds.get(attribute)
            if cell is None and attribute != register.needed:
                continue
            try:
                given = self._given(attribute, cell)
            except CommissionError as fault:
                faults.append(str(fault))
                continue
            if given is not None:
                values[attribute] = given
        unit_id, tag = self._unit(line, faults)
        in_file = "; ".join(f"{self._head(n)}: {_said(n, value)}" for n, value in values.items())
        more: dict[str, Any] = {"in_file": in_file, "unit_id": unit_id, "tag": tag}
        if faults:
            yield self.about(Standing.NOT_UNDERSTOOD, label, line.place, " ".join(faults), **more)
        elif any(_holds(record, values) for record in self.records.values()):
            words = spoken("the project holds it already.")
            yield self.about(Standing.TAKEN, label, line.place, words, **more)
        else:
            words = spoken("a line that was added in the file.")
            more["values"] = tuple(values.items())
            yield self.about(Standing.CHANGED, label, line.place, words, **more)

    def _unit(self, line: ReturnedLine, faults: list[str]) -> tuple[str, str]:
        if self.register.kind != "deficiency" or line.unit in ("", _PROJECT):
            return "", ""
        for unit in self.project.units():
            if unit.tag.casefold() == line.unit.casefold():
                return unit.id, unit.tag
        faults.append(
            spoken(
                "'{unit}' is the tag of no unit. Correct it, or type {project}.",
                unit=line.unit,
                project=spoken(_PROJECT),
            )
        )
        return "", ""


def _shown(content: Content | None) -> str:
    if isinstance(content, float):
        return f"{content:.10g}"
    return str(content or "")


def _said(attribute: str, content: Content | None) -> str:
    """Return a value as it is shown: a status is kept in English, all else as it was typed."""
    text = _shown(content)
    return spoken(text) if attribute == "status" else text


def _holds(record: Any, values: Mapping[str, Content]) -> bool:
    return all(same(attribute_of(record, name), value) for name, value in values.items())


def enter_line(project: ProjectFile, row: ReviewRow) -> str:
    """Enter one value of a record, or a line that was added; return why not, "" if entered."""
    if not row.record:
        _add(project, row)
        return ""
    record = next((one for one in records_of(project, row.what) if one.id == row.record), None)
    if record is None or not same(attribute_of(record, row.attribute), row.now_content):
        return spoken(_MEANWHILE)
    update: dict[str, Callable[..., Any]] = {
        "deficiency": project.update_deficiency,
        "instrument": project.update_instrument,
        "person": project.update_person,
    }
    nothing: Content | None = "" if row.attribute not in _BY_KIND[row.what].numbers else 0.0
    if row.attribute == "span":
        nothing = None
    value = nothing if row.entry is None else row.entry
    update[row.what](row.record, **{row.attribute: value})
    return ""


def _add(project: ProjectFile, row: ReviewRow) -> None:
    values: dict[str, Any] = dict(row.values)
    if row.what == "deficiency":
        project.add_deficiency(row.unit_id, **values)
    elif row.what == "instrument":
        project.add_instrument(**values)
    else:
        project.add_person(**values)
