"""Checked tables -> frozen declarations, their formulas parsed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from commission.definitions import schema
from commission.definitions.model import (
    ITEM_CHOICES,
    YES_NO_CHOICES,
    Axis,
    Check,
    Entry,
    Field,
    Kind,
    LimitKind,
    Quantity,
    Repeat,
    Section,
    Severity,
)
from commission.errors import FormulaError
from commission.formula.parse import parse
from commission.formula.tree import Node
from commission.language import listed, spoken


@dataclass
class Faults:
    """Sentences on what is wrong, gathered while going on."""

    sentences: list[str] = field(default_factory=list)
    lost: set[str] = field(default_factory=set)
    """Names that stand in a file or entry which could not be read."""
    file_lost: bool = False
    """A whole file could not be read, so that any name may be lost."""

    def is_lost(self, name: str) -> bool:
        """Return whether an unknown name may be unknown only because of another fault."""
        return self.file_lost or name in self.lost or name.removesuffix("_done") in self.lost

    def add(self, place: str, rule: str) -> None:
        """Add one fault: where, and what is wrong with its cure."""
        self.sentences.append(f"{place}: {rule}")

    def formula(self, place: str, key: str, text: str | None) -> Node | None:
        """Return the tree of a formula text; a fault is added if it cannot be read."""
        if text is None:
            return None
        try:
            return parse(text)
        except FormulaError as error:
            self.add(place, f"{key}: {error}")
            return None


def build_repeat(file: str, table: schema.RepeatTable, faults: Faults) -> Repeat | None:
    """Return a repeat, or None with a fault added."""
    place = f"{file}, repeat {table.name}"
    try:
        table.label.format(n=1, member="x")
    except (KeyError, IndexError, ValueError):
        rule = spoken("label '{label}' may hold only {{n}} and {{member}}.", label=table.label)
        faults.add(place, rule)
        faults.lost.add(table.name)
        return None
    count = faults.formula(place, "count", table.count)
    if count is None:
        faults.lost.add(table.name)
        return None
    return Repeat(table.name, table.label, count, table.maximum, table.members)


def build_section(
    file: str, table: schema.SectionFile, order: Mapping[str, int], faults: Faults
) -> Section:
    """Return a section with its entries in the order in which the file has them."""
    head = table.section
    placed: list[tuple[int, Entry]] = []
    for asked in table.field:
        entries = _field(file, head, asked, faults)
        placed += [(order.get(asked.name, 0), entry) for entry in entries]
    for computed in table.quantity:
        quantity = _quantity(file, head, computed, faults)
        if quantity is not None:
            placed.append((order.get(computed.name, 0), quantity))
    for judged in table.check:
        placed.append((order.get(judged.name, 0), _check(file, head, judged, faults)))
    placed.sort(key=lambda pair: pair[0])
    place = f"{file}, section {head.name}"
    return Section(
        name=head.name,
        title=head.title,
        level=head.level,
        entries=tuple(entry for _, entry in placed),
        stage=head.stage,
        intro=head.intro,
        cautions=head.cautions,
        guarded_by=head.guarded_by,
        when=faults.formula(place, "when", head.when),
        file=file,
    )


def _field(
    file: str, head: schema.SectionTable, table: schema.FieldTable, faults: Faults
) -> list[Entry]:
    place = f"{file}, field {table.name}"
    choices = {Kind.ITEM: ITEM_CHOICES, Kind.YES_NO: YES_NO_CHOICES}.get(table.kind, table.choices)
    if table.kind is Kind.CHOICE and not table.choices:
        faults.add(place, spoken("a choice needs 'choices'."))
    if table.choices and table.kind is not Kind.CHOICE:
        rule = spoken("'choices' belong to kind 'choice', not '{kind}'.", kind=table.kind)
        faults.add(place, rule)
    if (table.severity or table.cure) and table.kind is not Kind.ITEM:
        rule = spoken("'severity' and 'cure' belong to items; write a [[check]] for it.")
        faults.add(place, rule)
    _unit_faults(place, table, faults)
    _table_faults(place, table, faults)
    _bounds_faults(place, table, faults)
    when = faults.formula(place, "when", table.when)
    asked = Field(
        **table.model_dump(exclude=_BUILT),
        rows=_axis(table.rows),
        columns=_axis(table.columns),
        body=_axis(table.body),
        section=head.name,
        repeat=head.repeat if table.repeat is None else table.repeat,
        when=when,
        choices=choices,
    )
    if asked.kind is Kind.TABLE and asked.repeat:
        faults.add(place, spoken("a table is asked once; give it repeat = []."))
    return [asked, _item_check(asked, table)] if table.kind is Kind.ITEM else [asked]


def _unit_faults(place: str, table: schema.FieldTable, faults: Faults) -> None:
    if table.unit and table.kind is Kind.TABLE:
        faults.add(place, spoken("a table has no unit. Give it in 'body'."))
    elif table.unit and table.kind not in (Kind.NUMBER, Kind.INTEGER):
        faults.add(place, spoken("a field of kind '{kind}' has no unit.", kind=table.kind))


def _bounds_faults(place: str, table: schema.FieldTable, faults: Faults) -> None:
    for key, bounds in (("possible", table.possible), ("plausible", table.plausible)):
        if bounds and bounds[0] >= bounds[1]:
            rule = spoken(
                "{key}: {low:g} is not below {high:g}.", key=key, low=bounds[0], high=bounds[1]
            )
            faults.add(place, rule)


_AXES = ("rows", "columns", "body")
_BUILT = {"repeat", "when", "severity", "cure", "choices", *_AXES}


def _axis(table: schema.AxisTable | None) -> Axis | None:
    return None if table is None else Axis(table.label, table.unit, table.decimals)


def _table_faults(place: str, table: schema.FieldTable, faults: Faults) -> None:
    given = [axis for axis in _AXES if getattr(table, axis) is not None]
    if table.kind is not Kind.TABLE:
        for axis in given:
            rule = spoken(
                "'{axis}' belongs to kind 'table', not '{kind}'.", axis=axis, kind=table.kind
            )
            faults.add(place, rule)
        return
    for axis in ("rows", "body"):
        if axis not in given:
            rule = spoken("a table needs '{axis}' = {{label = ..., unit = ...}}.", axis=axis)
            faults.add(place, rule)
    if table.decimals is not None:
        rule = spoken("the decimals of a table belong to 'rows', 'columns' and 'body'.")
        faults.add(place, rule)
    if table.instrument or table.plausible:
        rule = spoken("a table comes from the literature: no 'instrument' and no 'plausible'.")
        faults.add(place, rule)


def _item_check(item: Field, table: schema.FieldTable) -> Check:
    return Check(
        name=f"{item.name}_done",
        label=item.label,
        section=item.section,
        judges=item.name,
        limit=LimitKind.IS,
        severity=table.severity or Severity.FAIL,
        repeat=item.repeat,
        expected=ITEM_CHOICES[0],
        when=item.when,
        cure=table.cure,
    )


def _quantity(
    file: str, head: schema.SectionTable, table: schema.QuantityTable, faults: Faults
) -> Quantity | None:
    place = f"{file}, quantity {table.name}"
    formula = faults.formula(place, "formula", table.formula)
    when = faults.formula(place, "when", table.when)
    if formula is None:
        faults.lost.add(table.name)
        return None
    return Quantity(
        **table.model_dump(exclude={"repeat", "formula", "when"}),
        section=head.name,
        repeat=head.repeat if table.repeat is None else table.repeat,
        formula=formula,
        when=when,
    )


_PARTS = ("low", "high", "target", "tolerance", "tolerance_percent")


def _check(file: str, head: schema.SectionTable, table: schema.CheckTable, faults: Faults) -> Check:
    place = f"{file}, check {table.name}"
    check = Check(
        **table.model_dump(exclude={"when", *_PARTS}),
        section=head.name,
        when=faults.formula(place, "when", table.when),
        low=faults.formula(place, "low", table.low),
        high=faults.formula(place, "high", table.high),
        target=faults.formula(place, "target", table.target),
        tolerance=faults.formula(place, "tolerance", table.tolerance),
        tolerance_percent=faults.formula(place, "tolerance_percent", table.tolerance_percent),
    )
    _limit_faults(place, check, table, faults)
    return check


def _limit_faults(place: str, check: Check, table: schema.CheckTable, faults: Faults) -> None:
    given = [part for part in _PARTS if getattr(table, part) is not None]
    for part in given:
        if part not in check.parts:
            rule = spoken(
                "'{part}' has no meaning for limit '{limit}'; use {used}.",
                part=part,
                limit=check.limit,
                used=listed(check.parts) or "expected",
            )
            faults.add(place, rule)
    if check.limit is LimitKind.IS and not check.expected:
        faults.add(place, spoken("limit 'is' needs 'expected'."))
    if check.expected and check.limit is not LimitKind.IS:
        faults.add(place, spoken("'expected' belongs to limit 'is'."))
    if given and check.basis is None:
        rule = spoken(
            "a default limit needs 'basis': 'common practice', 'published' or 'nameplate'."
        )
        faults.add(place, rule)
    if check.basis in ("published", "nameplate") and not check.source:
        rule = spoken(
            "basis '{basis}' needs 'source': which document or readings.", basis=check.basis
        )
        faults.add(place, rule)


def inherited(sections: Iterable[Section]) -> tuple[Section, ...]:
    """Return the sections with each check repeating, and measured, as what it judges."""
    sections = tuple(sections)
    judged = {entry.name: entry for section in sections for entry in section.entries}

    def complete(entry: Entry) -> Entry:
        if not isinstance(entry, Check):
            return entry
        other = judged.get(entry.judges)
        if other is None or isinstance(other, Check):
            return entry
        return replace(entry, repeat=other.repeat, unit=other.unit, decimals=other.decimals)

    return tuple(
        replace(section, entries=tuple(complete(entry) for entry in section.entries))
        for section in sections
    )
