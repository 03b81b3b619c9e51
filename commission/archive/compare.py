"""A later archive record held against the baseline: what drifted, what changed, what was checked.

Both values of one field or quantity of one unit are compared; their difference is drift if it
is larger than its own expanded uncertainty. No form and no project file are needed: a record
tells all that a comparison asks for.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum
from pathlib import Path
from typing import Any

from commission.archive.compare_units import UnitPair, paired_units
from commission.archive.labels import said_label
from commission.archive.reasons import reason_of
from commission.archive.rebuild import read_record
from commission.archive.vocabulary import is_corrected
from commission.errors import UnitError
from commission.language import spoken, spoken_count, to_say
from commission.units import convert, difference_scale

Record = dict[str, Any]
Place = tuple[str, tuple[int, ...]]

_NUMBERS = ("number", "integer", "quantity")
_ANSWERS = ("choice", "yes_no", "item", "quantity")


class Finding(StrEnum):
    """What a comparison of two values comes to."""

    DRIFT = to_say("drift")
    CHANGED = to_say("changed")
    NOT_JUDGED = to_say("not judged")
    OTHER_UNIT = to_say("other unit")
    ONLY_BASELINE = to_say("only in baseline")
    ONLY_LATER = to_say("only in later")
    CONDITIONS = to_say("conditions differ")
    WITHIN = to_say("within uncertainty")
    UNCHANGED = to_say("unchanged")


ATTENTION = (Finding.DRIFT, Finding.CHANGED, Finding.NOT_JUDGED, Finding.OTHER_UNIT)
"""What a person should look at."""


@dataclass(frozen=True, slots=True)
class Compared:
    """One field or quantity of one unit in both records, in the unit `unit`.

    `uncertainty` is the expanded uncertainty of the difference; None where either value has
    none, and then a difference is not judged. `corrected` tells that a quantity's formula takes
    the conditions of the visit out again (a table in `field_tags.toml`); `told_by` names such
    quantities that a raw reading goes into, which tell more than the reading itself.
    `conditions` are those that differ between the visits and that a value not corrected rests
    on: its difference is then no drift.
    """

    tag: str
    name: str
    index: tuple[int, ...]
    label: str
    kind: str
    unit: str
    decimals: int | None
    baseline: float | str | None
    later: float | str | None
    baseline_expanded: float | None
    later_expanded: float | None
    difference: float | None
    uncertainty: float | None
    finding: Finding
    corrected: bool = False
    told_by: tuple[str, ...] = ()
    conditions: tuple[str, ...] = ()

    @property
    def ratio(self) -> float | None:
        """The difference over its expanded uncertainty, the E_n number of ISO 13528, or None."""
        if self.difference is None or not self.uncertainty:
            return None
        return self.difference / self.uncertainty


@dataclass(frozen=True, slots=True)
class VerdictChange:
    """A check whose verdict is another one now, and why (see `reason_of`)."""

    tag: str
    label: str
    baseline: str
    later: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two records compared; `unmatched` says in sentences which units could not be."""

    baseline_title: str
    later_title: str
    baseline_day: str
    later_moment: datetime | None
    unit_system: str
    coverage_factor: float
    pairs: tuple[UnitPair, ...]
    unmatched: tuple[str, ...]
    values: tuple[Compared, ...]
    verdict_changes: tuple[VerdictChange, ...]

    @property
    def later_day(self) -> str:
        """The day of the last reading of the later record, or "not known"."""
        return _day(self.later_moment)

    @property
    def counts(self) -> Counter[Finding]:
        """How many values came to each finding."""
        return Counter(value.finding for value in self.values)

    @property
    def sentence(self) -> str:
        """The outcome in one sentence."""
        found = [f"{self.counts[f]} {spoken(f)}" for f in Finding if self.counts[f]]
        told = ", ".join(found) or spoken("no value")
        count = len(self.pairs)
        return spoken_count(
            "{count} unit compared: {told}; {changed} verdicts changed. Drift: beyond the expanded "
            "uncertainty of the difference (k = {factor:g}; the two visits' instruments taken as "
            "independent).",
            "{count} units compared: {told}; {changed} verdicts changed. Drift: beyond the "
            "expanded uncertainty of the difference (k = {factor:g}; the two visits' instruments "
            "taken as independent).",
            count,
            told=told,
            changed=len(self.verdict_changes),
            factor=self.coverage_factor,
        )


def compare_records(baseline: Path, later: Path) -> Comparison:
    """Compare two archive records of one site, unit by unit.

    Units are matched by serial number, else by tag (see `paired_units`). The readings and
    quantities in force are compared: numbers by difference, answers (choices, yes and no,
    done) as equal or changed; free texts, dates and times are left out. u of the
    difference is the root of the sum of squares, as for independent instruments
    (JCGM 100:2008 5.1.2), with the resolution of both as shown (F.2.2.1: a step of the last
    decimal over the root of 12). An instrument used both times makes that too large, never
    too small, for the errors it keeps.

    Raises:
        ProjectFileError: a file is not an archive record that can be read.
    """
    first, second = read_record(Path(baseline)), read_record(Path(later))
    pairs, unmatched = paired_units(first, second)
    factor = max(float(r["project"]["coverage_factor"]) for r in (first, second))
    sides = _Side(first), _Side(second)
    of_site = list(_compared(UnitPair("", "", "", "", "project"), *sides, factor))
    values = _under_conditions(of_site, of_site, sides[1])
    for pair in pairs:
        of_unit = list(_compared(pair, *sides, factor))
        values += _under_conditions(of_unit, [*of_site, *of_unit], sides[1])
    changes = [c for pair in pairs for c in _verdict_changes(pair, first, second, sides[1])]
    return Comparison(
        first["project"]["title"],
        second["project"]["title"],
        _day(_last_reading(first)),
        _last_reading(second),
        second["project"]["unit_system"],
        factor,
        tuple(pairs),
        tuple(unmatched),
        tuple(values),
        tuple(changes),
    )


def _last_reading(record: Record) -> datetime | None:
    times = [datetime.fromisoformat(row["at"]) for row in record["readings"] if row["in_force"]]
    return max(times, key=lambda time: time.timestamp(), default=None)


def _day(moment: datetime | None) -> str:
    return moment.date().isoformat() if moment else spoken("not known")


@dataclass(frozen=True, slots=True)
class _Held:
    """A value of a record with its standard uncertainty."""

    value: float | str
    u: float | None
    member: str


class _Side:
    """One record, looked up by unit and place."""

    def __init__(self, record: Record) -> None:
        self.fields: dict[str, Record] = {row["name"]: row for row in record["fields"]}
        self.factor = float(record["project"]["coverage_factor"])
        self._values: dict[str, dict[Place, _Held]] = {}
        read = [row for row in record["readings"] if row["in_force"]]
        for row in (*read, *record["quantities"]):
            if row["value"] is not None and row["name"] in self.fields:
                held = _Held(_plain(row["value"]), row["u"], row["member"])
                owner = self._values.setdefault(row["unit_id"], {})
                owner[row["name"], tuple(row["index"])] = held
        self._measured = {row["name"] for row in read if row["u"] is not None}
        self.corrected = {name: is_corrected(name) for name in self.fields}

    def values(self, unit_id: str) -> dict[Place, _Held]:
        """Return the values of one unit, or of the project ("")."""
        return self._values.get(unit_id, {})

    def inputs(self, name: str) -> frozenset[str]:
        """Return all fields and quantities that a quantity rests on, directly or not."""
        found: set[str] = set()
        waiting = [name]
        while waiting:
            for used in self.fields.get(waiting.pop(), {}).get("inputs", ()):
                if used not in found:
                    found.add(used)
                    waiting.append(used)
        return frozenset(found)

    def conditions(self, name: str) -> frozenset[str]:
        """Return the conditions of the visit that a quantity rests on."""
        return frozenset(used for used in self.inputs(name) if self._is_named_condition(used))

    def is_condition(self, name: str) -> bool:
        """Return whether a value tells of the visit alone: all that is measured of it does."""
        if self._is_named_condition(name) or is_corrected(name):
            return self._is_named_condition(name)
        roots = {used for used in self.inputs(name) if used in self._measured}
        return bool(roots) and all(map(self._is_named_condition, roots))

    def _is_named_condition(self, name: str) -> bool:
        return bool(self.fields.get(name, {}).get("condition", False))


def _plain(value: float | str | bool) -> float | str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return value if isinstance(value, str) else float(value)


def _compared(pair: UnitPair, first: _Side, second: _Side, factor: float) -> Iterator[Compared]:
    ours, theirs = first.values(pair.baseline_id), second.values(pair.later_id)
    told_by = _told_by(second, {name for name, _ in ours.keys() & theirs.keys()})
    for name, entry in _by_page(first, second).items():
        entry = {**entry, "condition": second.is_condition(name)}
        places = sorted({place for place in (*ours, *theirs) if place[0] == name})
        for place in places:
            old, new = ours.get(place), theirs.get(place)
            if _is_compared(entry, old, new):
                yield _judged(pair.tag, place, entry, old, new, (first, second), factor, told_by)


def _under_conditions(
    values: Sequence[Compared], visit: Sequence[Compared], side: _Side
) -> list[Compared]:
    """Return values with no drift called where the conditions among `visit` may account for it."""
    unlike = {value.name: value.label for value in visit if _is_unlike(value)}
    return [_under_its_conditions(value, side, unlike) for value in values]


def _is_unlike(value: Compared) -> bool:
    """Return whether a condition differs by more than its uncertainty, or by all if it has none."""
    if value.finding is not Finding.CONDITIONS or value.difference is None:
        return False
    return value.uncertainty is None or abs(value.difference) > value.uncertainty


def _under_its_conditions(value: Compared, side: _Side, unlike: Mapping[str, str]) -> Compared:
    if value.finding is not Finding.DRIFT or value.kind != "quantity" or value.corrected:
        return value
    rests_on = side.conditions(value.name)
    found = tuple(label for name, label in unlike.items() if name in rests_on)
    return replace(value, finding=Finding.CONDITIONS, conditions=found) if found else value


def _by_page(first: _Side, second: _Side) -> Mapping[str, Record]:
    return {**second.fields, **{k: v for k, v in first.fields.items() if k not in second.fields}}


def _told_by(side: _Side, compared: set[str]) -> Mapping[str, tuple[str, ...]]:
    """Return for each raw reading the corrected quantities of its own page and repeat.

    A quantity further off (an efficiency, say) rests on too much to speak for one reading.
    """
    found: dict[str, list[str]] = {}
    for name, entry in side.fields.items():
        if name in compared and side.corrected[name]:
            for used in side.inputs(name):
                raw = side.fields.get(used, {})
                if all(raw.get(part) == entry[part] for part in ("section", "repeat")):
                    found.setdefault(used, []).append(name)
    return {used: tuple(names) for used, names in found.items()}


def _is_compared(entry: Record, old: _Held | None, new: _Held | None) -> bool:
    numeric = any(isinstance(held.value, float) for held in (old, new) if held is not None)
    return entry["kind"] in (_NUMBERS if numeric else _ANSWERS)


def _judged(
    tag: str,
    place: Place,
    entry: Record,
    old: _Held | None,
    new: _Held | None,
    sides: tuple[_Side, _Side],
    factor: float,
    told_by: Mapping[str, tuple[str, ...]],
) -> Compared:
    name = entry["name"]
    held = new or old
    assert held is not None
    finding: Finding | None = None
    difference = uncertainty = None
    if old is None or new is None:
        finding = Finding.ONLY_LATER if old is None else Finding.ONLY_BASELINE
    else:
        old_unit = sides[0].fields[name]["unit"]
        converted = _in_unit(old, old_unit, entry["unit"])
        if converted is None:
            finding = Finding.OTHER_UNIT
        else:
            old = converted
            difference, uncertainty, finding = _difference(entry, old, new, factor)
    return Compared(
        tag,
        name,
        place[1],
        said_label(entry["label"], held.member),
        entry["kind"],
        entry["unit"],
        entry["decimals"],
        None if old is None else old.value,
        None if new is None else new.value,
        None if old is None or old.u is None else old.u * sides[0].factor,
        None if new is None or new.u is None else new.u * sides[1].factor,
        difference,
        uncertainty,
        finding,
        sides[1].corrected.get(name, False),
        () if entry["kind"] == "quantity" else told_by.get(name, ()),
    )


def _in_unit(held: _Held, given: str, wanted: str) -> _Held | None:
    """Return a value in another unit, or None if the two measure different things."""
    if given == wanted or not isinstance(held.value, float):
        return held
    try:
        value = convert(held.value, given, wanted)
    except UnitError:
        return None
    scale = difference_scale(given, wanted)
    return _Held(value, None if held.u is None else held.u * scale, held.member)


def _difference(
    entry: Record, old: _Held, new: _Held, factor: float
) -> tuple[float | None, float | None, Finding]:
    if not isinstance(old.value, float) or not isinstance(new.value, float):
        return None, None, Finding.UNCHANGED if old.value == new.value else Finding.CHANGED
    difference = new.value - old.value
    uncertainty = None
    if old.u is not None and new.u is not None:
        resolution = 0.0 if entry["decimals"] is None else 10.0 ** -entry["decimals"]
        u_shown = resolution / math.sqrt(12)
        uncertainty = factor * math.hypot(old.u, new.u, u_shown, u_shown)
    return difference, uncertainty, _finding(entry, old.value, difference, uncertainty, (old, new))


def _finding(
    entry: Record,
    old: float,
    difference: float,
    uncertainty: float | None,
    held: Sequence[_Held],
) -> Finding:
    if abs(difference) <= 1e-9 * max(abs(old), 1.0):
        return Finding.UNCHANGED
    if entry["condition"]:
        return Finding.CONDITIONS
    if uncertainty is not None:
        return Finding.DRIFT if abs(difference) > uncertainty else Finding.WITHIN
    typed = entry["kind"] != "quantity" and all(one.u is None for one in held)
    # A setting or a figure off the nameplate is not measured: it has changed, plainly.
    return Finding.CHANGED if typed else Finding.NOT_JUDGED


def _verdict_changes(
    pair: UnitPair, first: Record, second: Record, side: _Side
) -> Iterator[VerdictChange]:
    old = {
        (row["check"], tuple(row["index"])): row["outcome"]
        for row in first["verdicts"]
        if row["unit_id"] == pair.baseline_id
    }
    for row in second["verdicts"]:
        before = old.get((row["check"], tuple(row["index"])))
        if row["unit_id"] == pair.later_id and before not in (None, row["outcome"]):
            label = said_label(row["label"], row["member"])
            why = _why(row, side, second["project"])
            yield VerdictChange(pair.tag, label, str(before), row["outcome"], why)


def _why(row: Record, side: _Side, project: Record) -> str:
    held = side.values(row["unit_id"]).get((row["judges"], tuple(row["index"])))
    decimals = side.fields.get(row["judges"], {}).get("decimals")
    return reason_of(row, None if held is None else held.value, decimals, project)
