"""A later archive record held against the baseline: what drifted, what changed, what was checked.

Both values of one field or quantity of one unit are compared; their difference is drift if it
is larger than its own expanded uncertainty. No form and no project file are needed: a record
tells all that a comparison asks for.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Any

from commission.archive.compare_units import UnitPair, paired_units
from commission.archive.rebuild import read_record
from commission.errors import UnitError
from commission.formula.figures import figure, uncertainty_figure, with_unit
from commission.units import UNITS, convert, difference_scale, shown_unit

Record = dict[str, Any]
Place = tuple[str, tuple[int, ...]]

_NUMBERS = ("number", "integer", "quantity")
_ANSWERS = ("choice", "yes_no", "item", "quantity")


class Finding(StrEnum):
    """What a comparison of two values comes to."""

    DRIFT = "drift"
    CHANGED = "changed"
    NOT_JUDGED = "not judged"
    OTHER_UNIT = "other unit"
    ONLY_BASELINE = "only in baseline"
    ONLY_LATER = "only in later"
    CONDITIONS = "conditions differ"
    WITHIN = "within uncertainty"
    UNCHANGED = "unchanged"


_ATTENTION = (Finding.DRIFT, Finding.CHANGED, Finding.NOT_JUDGED, Finding.OTHER_UNIT)


@dataclass(frozen=True, slots=True)
class Compared:
    """One field or quantity of one unit in both records, in the unit `unit`.

    `uncertainty` is the expanded uncertainty of the difference; None where either value has
    none, and then a difference is not judged. `corrected` tells that a quantity takes the
    conditions of the visit into account; `told_by` names such quantities that a raw reading
    goes into, which tell more than the reading itself.
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


@dataclass(frozen=True, slots=True)
class VerdictChange:
    """A check whose verdict is another one now."""

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
    unit_system: str
    coverage_factor: float
    pairs: tuple[UnitPair, ...]
    unmatched: tuple[str, ...]
    values: tuple[Compared, ...]
    verdict_changes: tuple[VerdictChange, ...]

    @property
    def counts(self) -> Counter[Finding]:
        """How many values came to each finding."""
        return Counter(value.finding for value in self.values)

    @property
    def sentence(self) -> str:
        """The outcome in one sentence."""
        told = ", ".join(f"{self.counts[f]} {f}" for f in Finding if self.counts[f]) or "no value"
        count = len(self.pairs)
        return (
            f"{count} unit{'s' * (count != 1)} compared: {told}; {len(self.verdict_changes)} "
            f"verdicts changed. Drift: beyond the expanded uncertainty of the difference "
            f"(k = {self.coverage_factor:g}; the two visits' instruments taken as independent)."
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
    values = [
        value
        for pair in (UnitPair("", "", "", "", "project"), *pairs)
        for value in _compared(pair, *sides, factor)
    ]
    changes = [c for pair in pairs for c in _verdict_changes(pair, first, second)]
    return Comparison(
        first["project"]["title"],
        second["project"]["title"],
        second["project"]["unit_system"],
        factor,
        tuple(pairs),
        tuple(unmatched),
        tuple(values),
        tuple(changes),
    )


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
        self.corrected = {name: self._corrected(name) for name in self.fields}

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

    def _corrected(self, name: str) -> bool:
        conditions = (
            self.fields.get(used, {}).get("condition", False) for used in self.inputs(name)
        )
        return any(conditions)


def _plain(value: float | str | bool) -> float | str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return value if isinstance(value, str) else float(value)


def _compared(pair: UnitPair, first: _Side, second: _Side, factor: float) -> Iterator[Compared]:
    ours, theirs = first.values(pair.baseline_id), second.values(pair.later_id)
    told_by = _told_by(second, {name for name, _ in ours.keys() & theirs.keys()})
    for name, entry in _by_page(first, second).items():
        places = sorted({place for place in (*ours, *theirs) if place[0] == name})
        for place in places:
            old, new = ours.get(place), theirs.get(place)
            if _is_compared(entry, old, new):
                yield _judged(pair.tag, place, entry, old, new, (first, second), factor, told_by)


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
        ", ".join(filter(None, (entry["label"], held.member))),
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


def _verdict_changes(pair: UnitPair, first: Record, second: Record) -> Iterator[VerdictChange]:
    old = {
        (row["check"], tuple(row["index"])): row["outcome"]
        for row in first["verdicts"]
        if row["unit_id"] == pair.baseline_id
    }
    for row in second["verdicts"]:
        before = old.get((row["check"], tuple(row["index"])))
        if row["unit_id"] == pair.later_id and before not in (None, row["outcome"]):
            label = ", ".join(filter(None, (row["label"], row["member"])))
            yield VerdictChange(pair.tag, label, str(before), row["outcome"], row["sentence"])


# --- rows for the terminal


def comparison_rows(
    comparison: Comparison, everything: bool = False
) -> tuple[Sequence[str], list[list[str]]]:
    """Return header and rows; without `everything` only drift, changes and what was not judged.

    A raw reading that goes into a quantity corrected to conditions is then left to that
    quantity. The last column is the widest.
    """
    header = ("Unit", "Finding", "Baseline", "Later", "Difference", "Uncertainty", "What")
    shown = [
        value
        for value in comparison.values
        if everything or (value.finding in _ATTENTION and not value.told_by)
    ]
    return header, [_row(value, comparison.unit_system) for value in shown]


def verdict_change_rows(comparison: Comparison) -> tuple[Sequence[str], list[list[str]]]:
    """Return header and one row for each verdict that is another one now."""
    rows = [[c.tag, c.baseline, c.later, c.label, c.sentence] for c in comparison.verdict_changes]
    return ("Unit", "Baseline", "Later", "Check", "Why"), rows


def _row(value: Compared, system: str) -> list[str]:
    uncertainty = ""
    if value.uncertainty is not None:
        uncertainty = (
            f"±{uncertainty_figure(abs(_as_difference(value.uncertainty, value, system)))}"
        )
    difference = ""
    if value.difference is not None:
        shown = figure(_as_difference(value.difference, value, system), _decimals(value, system))
        difference = shown if shown.startswith("−") else f"+{shown}"
    return [
        value.tag or "Project",
        str(value.finding),
        _shown(value.baseline, value, system),
        _shown(value.later, value, system),
        difference,
        uncertainty,
        value.label,
    ]


def _shown(content: float | str | None, value: Compared, system: str) -> str:
    if content is None or isinstance(content, str):
        return content or ""
    if value.unit not in UNITS:  # of a form with units that this program does not know
        return with_unit(content, value.unit, value.decimals)
    target = shown_unit(value.unit, system)
    return with_unit(convert(content, value.unit, target), target, _decimals(value, system))


def _as_difference(number: float, value: Compared, system: str) -> float:
    if value.unit not in UNITS:
        return number
    return number * difference_scale(value.unit, shown_unit(value.unit, system))


def _decimals(value: Compared, system: str) -> int | None:
    same = value.unit not in UNITS or shown_unit(value.unit, system) == value.unit
    return value.decimals if same else None
