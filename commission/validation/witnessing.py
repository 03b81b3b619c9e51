"""What a witness read beside what was recorded, and whether the two agree.

Rule of agreement: the difference is held to the root of the sum of squares of both expanded
uncertainties, |d| <= sqrt(U1^2 + U2^2): an E_n number (ISO 13528) of at most 1.
The uncertainties are those of JCGM 100:2008 with the project's coverage factor. Of one
instrument used twice only what is drawn anew for every reading counts (repeatability,
resolution), since its calibration error is in both readings and cancels in the difference.
Rounding alone can part two readings by one whole step shown, so the bound is never below it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from commission.definitions.model import Check, Field, Key, Kind
from commission.formula.figures import with_unit
from commission.language import spoken, to_say
from commission.project import ProjectFile, Reading, WitnessDraw, WitnessReading
from commission.units import convert, difference_scale, shown_unit
from commission.validation.calculation import accuracy_scale
from commission.validation.results import UnitResults
from commission.validation.site import measuring_from

RULE = to_say(
    "A difference agrees if it is at most the root of the sum of squares of both expanded "
    "uncertainties (E_n of at most 1, ISO 13528; JCGM 100:2008). Of one instrument used "
    "for both, its calibration error cancels and only repeatability and resolution count. Two "
    "readings one step of the display apart are never said to differ."
)
USUAL_SHARE = 0.2
"""One reading in five: common practice."""

_READ = (Kind.NUMBER, Kind.INTEGER)


class Agreement(StrEnum):
    """What comes of comparing a witnessed reading with the recorded one."""

    AGREES = to_say("agrees")
    DIFFERS = to_say("differs")
    UNDECIDED = to_say("undecided")
    AWAITED = to_say("to be witnessed")
    GONE = to_say("no recorded reading any more")


@dataclass(frozen=True, slots=True)
class Witnessed:
    """One reading of the sample, or one witnessed besides.

    `difference` is witnessed less recorded and `bound` the root of the sum of squares of both
    expanded uncertainties, both in the field's own unit; None where there is none.
    """

    key: Key
    recorded: Reading | None
    witnessed: WitnessReading | None
    in_sample: bool
    agreement: Agreement
    difference: float | None = None
    bound: float | None = None
    why: str = ""

    @property
    def e_number(self) -> float | None:
        """The E_n number: difference over bound, without sign; None where there is no bound."""
        if self.difference is None or not self.bound:
            return None
        return abs(self.difference) / self.bound


@dataclass(frozen=True, slots=True)
class Verification:
    """A unit's sample and what the witness found."""

    draw: WitnessDraw | None
    lines: tuple[Witnessed, ...]

    def count(self, agreement: Agreement) -> int:
        """Return how many lines came out so."""
        return sum(line.agreement is agreement for line in self.lines)

    @property
    def sentence(self) -> str:
        """The outcome in one sentence."""
        if self.draw is None and not self.lines:
            return spoken("No sample has been drawn for a witness.")
        done = [line for line in self.lines if line.witnessed is not None]
        told = spoken(
            "{done} of {all} witnessed: {agree} agree, {differ} differ, {undecided} undecided.",
            done=len(done),
            all=len(self.lines),
            agree=self.count(Agreement.AGREES),
            differ=self.count(Agreement.DIFFERS),
            undecided=self.count(Agreement.UNDECIDED),
        )
        if self.draw is None:
            return told
        drawn = spoken(
            "Sample {number}: {percent:.4g} % of {population} readings, drawn {day}.",
            number=self.draw.number,
            percent=100 * self.draw.share,
            population=len(self.draw.population),
            day=self.draw.at[:10],
        )
        return f"{drawn} {told}"


def population_of(results: UnitResults) -> list[Key]:
    """Return the readings of which a sample is drawn: what was read or found, not described.

    These are the unit's own readings with a value whose field is read with an instrument, is
    judged by a check or enters a formula that a check judges, is a number or an item done.
    """
    unit_id = results.unit_id
    entries = results.calculation.plan.entries
    return [
        key
        for key, reading in (results.readings or {}).items()
        if reading.unit_id == unit_id
        and reading.value is not None
        and _is_read(entries[key.name])
        and key.index in results.members(key.name)
        and results.relevant(*key)
    ]


def _is_read(entry: object) -> bool:
    if not isinstance(entry, Field):
        return False
    return bool(entry.instrument) or entry.kind is Kind.ITEM


def verification(project: ProjectFile, results: UnitResults) -> Verification:
    """Return a unit's sample, what the witness read, and what comes of each."""
    draw = project.witness_draw(results.unit_id)
    readings = project.witness_readings(results.unit_id)
    newest: dict[Key, WitnessReading] = {}
    for one in readings.values():
        key = Key(one.name, one.index)
        if key.name in results.calculation.plan.entries:
            newest[key] = max(newest.get(key, one), one, key=lambda found: found.at)
    sample = {Key(*place) for place in draw.members()} if draw is not None else set()
    order = {name: place for place, name in enumerate(results.calculation.plan.entries)}
    keys = sorted(
        (key for key in {*sample, *newest} if key.name in order),
        key=lambda key: (order[key.name], key.index),
    )
    lines = tuple(_line(project, results, key, newest.get(key), key in sample) for key in keys)
    return Verification(draw, lines)


def _line(
    project: ProjectFile,
    results: UnitResults,
    key: Key,
    witnessed: WitnessReading | None,
    in_sample: bool,
) -> Witnessed:
    recorded = results.reading(*key)
    if witnessed is not None:
        # The reading of the same pass: an "as left" reading taken since is another one.
        found = project.readings_of_pass(results.unit_id, witnessed.pass_name)
        recorded = found.get((key.name, key.index))
    if recorded is None or recorded.value is None:
        return Witnessed(key, None, witnessed, in_sample, Agreement.GONE)
    if witnessed is None:
        return Witnessed(key, recorded, None, in_sample, Agreement.AWAITED)
    return _compared(project, results, key, recorded, witnessed, in_sample)


def _compared(
    project: ProjectFile,
    results: UnitResults,
    key: Key,
    recorded: Reading,
    witnessed: WitnessReading,
    in_sample: bool,
) -> Witnessed:
    def outcome(agreement: Agreement, *rest: object) -> Witnessed:
        return Witnessed(key, recorded, witnessed, in_sample, agreement, *rest)  # type: ignore[arg-type]

    if isinstance(recorded.value, str) or isinstance(witnessed.value, str):
        same = recorded.value == witnessed.value
        return outcome(Agreement.AGREES if same else Agreement.DIFFERS)
    assert recorded.value is not None
    assert witnessed.value is not None
    difference = witnessed.value - recorded.value
    bound = _bound(project, results, key, recorded, witnessed)
    if bound is None:
        why = spoken("no accuracy is known of one of the two; name the instruments")
        return outcome(Agreement.UNDECIDED, difference, None, why)
    agrees = abs(difference) <= bound or math.isclose(abs(difference), bound, rel_tol=1e-9)
    same = recorded.instrument_id == witnessed.instrument_id
    why = spoken("both by one instrument, whose calibration error cancels") if same else ""
    return outcome(Agreement.AGREES if agrees else Agreement.DIFFERS, difference, bound, why)


def _bound(
    project: ProjectFile,
    results: UnitResults,
    key: Key,
    recorded: Reading,
    witnessed: WitnessReading,
) -> float | None:
    """Return the root of the sum of squares of both expanded uncertainties, or None."""
    asked = results.calculation.plan.entries[key.name]
    assert isinstance(asked, Field)
    known = {item.id: measuring_from(item) for item in project.instruments()}
    parts, steps = [], []
    for value, instrument in (
        (recorded.value, recorded.instrument_id),
        (witnessed.value, witnessed.instrument_id),
    ):
        if instrument not in known or not isinstance(value, float | int):
            return None
        measuring = known[instrument]
        scale = accuracy_scale(measuring.unit, asked.unit)
        shared = measuring.accuracy.shared_uncertainty(float(value), scale)
        if not math.hypot(shared, measuring.accuracy.own_uncertainty(scale)):
            return None
        both_by_it = recorded.instrument_id == witnessed.instrument_id
        parts += [measuring.accuracy.own_uncertainty(scale), 0.0 if both_by_it else shared]
        steps.append(abs(scale) * measuring.accuracy.resolution)
    return max(project.coverage_factor * math.hypot(*parts), *steps) or None


def shown_value(results: UnitResults, key: Key, value: float | str | None) -> str:
    """Return a reading's value with its unit, as the project shows it; "" for none."""
    if value is None or isinstance(value, str):
        return value or ""
    return _figure(results, key, float(value), difference=False)


def shown_difference(results: UnitResults, key: Key, value: float | None) -> str:
    """Return a difference or bound with its unit, as the project shows it; "" for none."""
    return "" if value is None else _figure(results, key, value, difference=True)


def _figure(results: UnitResults, key: Key, value: float, *, difference: bool) -> str:
    asked = results.calculation.plan.entries[key.name]
    assert not isinstance(asked, Check)
    unit = shown_unit(asked.unit, results.unit_system)
    decimals = asked.decimals if unit == asked.unit else None
    if difference:
        value *= difference_scale(asked.unit, unit) if asked.unit else 1.0
        return f"{value:.3g} {unit.removeprefix('Δ')}".strip().replace("-", "−")
    return with_unit(convert(value, asked.unit, unit) if asked.unit else value, unit, decimals)


def everything(
    project: ProjectFile, units: Iterator[UnitResults]
) -> Iterator[tuple[UnitResults, Verification]]:
    """Yield each unit of which a sample was drawn or anything was witnessed."""
    for results in units:
        found = verification(project, results)
        if found.draw is not None or found.lines:
            yield results, found
