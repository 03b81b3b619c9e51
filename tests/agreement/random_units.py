"""Random units: any configuration the form allows, readings near those of the demo site.

Readings drawn one by one from what is plausible would seldom fit together (a wet bulb above
its dry bulb, a flow without a rise), and most results would be "out of range". So a number
is drawn near one that some demo unit has for the same field, and only where none has one
from the middle of what is plausible. All of it follows from the seed.
"""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from commission.definitions.model import Check, Field, Form, Key, Kind, Level, LimitKind
from commission.project import Entered, ProjectFile
from commission.project.scenario_reading import read_scenario
from commission.resources import demo_units_folder
from commission.validation.plan import Plan
from commission.validation.results import UnitResults
from commission.validation.site import unit_results
from workbook.sample_site import new_project, small_table

MOST_MEMBERS = 3  # of a repeat whose count is drawn
UNREAD, NOT_APPLICABLE, WITH_INSTRUMENT, WITH_LIMIT, GOOD = 0.05, 0.03, 0.6, 0.5, 0.85
_ROUNDS = 15


def demo_values(form: Form) -> Mapping[str, list[float | str]]:
    """Return every value that the demo units have for a field."""
    scenario = read_scenario(demo_units_folder(), form)
    found: dict[str, list[float | str]] = {}
    for part in (scenario.site, *scenario.units):
        for reading in part.readings:
            if reading.value is not None:
                found.setdefault(reading.name, []).append(reading.value)
    return found


@dataclass
class Drawing:
    """Draws one site: answers, instruments, limits."""

    project: ProjectFile
    form: Form
    source: random.Random
    plan: Plan = field(init=False)
    demo: Mapping[str, Sequence[float | str]] = field(init=False)
    instruments: dict[tuple[str, str], str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.plan = Plan(self.form)
        self.demo = demo_values(self.form)

    def pages(self) -> None:
        """Answer the project's own pages, and choose how verdicts are taken."""
        rule = self.source.choice(["simple acceptance", "guarded acceptance"])
        self.project.set_setting("decision_rule", rule)
        self.project.set_setting("coverage_factor", self.source.choice([2.0, 2.0, 3.0]))
        self._answer("")
        self._limits("")

    def unit(self, tag: str) -> None:
        """Add a unit and answer all that it is asked, but for what is left unread."""
        unit_id = self.project.add_unit(tag).id
        self._answer(unit_id)
        self._limits(unit_id)

    def _results(self, unit_id: str) -> UnitResults:
        unit = next((unit for unit in self.project.units() if unit.id == unit_id), None)
        return unit_results(self.project, self.plan, unit)

    def _answer(self, unit_id: str) -> None:
        skipped: set[Key] = set()
        for _ in range(_ROUNDS):
            waiting = [
                key for key in asked(self._results(unit_id), unread=True) if key not in skipped
            ]
            if not waiting:
                return
            skipped |= {key for key in waiting if self._is_left_unread(key)}
            entries = [self._entered(unit_id, key) for key in waiting if key not in skipped]
            self.project.record_many(entries)

    def _is_left_unread(self, key: Key) -> bool:
        return key.name not in self.plan.structural and self.source.random() < UNREAD

    def _entered(self, unit_id: str, key: Key) -> Entered:
        asked_for = self.plan.entries[key.name]
        assert isinstance(asked_for, Field)
        structural = key.name in self.plan.structural
        if not structural and self.source.random() < NOT_APPLICABLE:
            return Entered(unit_id, *key, None, not_applicable="left out by the drawing")
        instrument = ""
        if asked_for.instrument and self.source.random() < WITH_INSTRUMENT:
            instrument = self._instrument(asked_for)
        return Entered(unit_id, *key, self.content(asked_for), instrument_id=instrument)

    def content(self, asked_for: Field) -> float | str:
        """Return a possible answer."""
        like = list(self.demo.get(asked_for.name, ()))
        if asked_for.choices:
            if asked_for.kind is Kind.ITEM:
                return asked_for.choices[self.source.random() > GOOD]
            structural = asked_for.name in self.plan.structural
            return self.source.choice(asked_for.choices if structural or not like else like)
        if asked_for.kind is Kind.INTEGER:
            return self._integer(asked_for, like)
        if asked_for.kind is Kind.NUMBER:
            return self._number(asked_for, like)
        if asked_for.kind is Kind.TABLE:
            return like[0] if like else small_table(asked_for)
        words = {Kind.DATE: "2026-09-14", Kind.TIME: "10:15"}
        return words.get(asked_for.kind, f"{asked_for.label}, as seen")

    def _integer(self, asked_for: Field, like: Sequence[float | str]) -> float:
        low, high = asked_for.possible or (1, MOST_MEMBERS)
        if asked_for.name in self.plan.structural or not like:
            return float(self.source.randint(int(low), int(min(high, low + MOST_MEMBERS - 1))))
        return float(self.source.choice(like))

    def _number(self, asked_for: Field, like: Sequence[float | str]) -> float:
        if like:
            number = float(self.source.choice(like)) * self.source.uniform(0.97, 1.03)
        else:
            low, high = asked_for.plausible or asked_for.possible or (1.0, 10.0)
            number = low + (high - low) * self.source.uniform(0.3, 0.6)
        low, high = asked_for.possible or (number, number)
        return float(f"{min(max(number, low), high):.6g}")

    def _instrument(self, asked_for: Field) -> str:
        place = (asked_for.instrument, asked_for.unit)
        if place not in self.instruments:
            made = self.project.add_instrument(
                asked_for.instrument,
                serial=f"S-{len(self.instruments) + 1}",
                percent_of_reading=self.source.choice([0.0, 0.5, 1.5]),
                percent_of_span=self.source.choice([0.0, 0.25]),
                span=100.0,
                plus_minus=self.source.choice([0.0, 0.1, 1.0]),
                unit=asked_for.unit,
            )
            self.instruments[place] = made.id
        return self.instruments[place]

    def _limits(self, unit_id: str) -> None:
        """Enter limits near the values, so that verdicts of all kinds come out."""
        results = self._results(unit_id)
        for check in results.form.entries():
            if not isinstance(check, Check) or not check.parts:
                continue
            for index in results.asked_members(check.name):
                value = results.value(check.judges, index).number
                if value is None or self.source.random() > WITH_LIMIT:
                    continue
                parts = self.parts(check, value)
                self.project.set_limit(unit_id, check.name, index, parts, origin="drawn")

    def parts(self, check: Check, value: float) -> dict[str, float]:
        """Return a limit near a value, so that some pass and some fail."""
        size = abs(value) + 0.1
        low = value + size * self.source.uniform(-0.2, 0.04)
        high = value + size * self.source.uniform(-0.04, 0.2)
        if check.limit is LimitKind.RANGE:
            low, high = sorted((low, high))
        amounts = {
            "low": low,
            "high": high,
            "target": value + size * self.source.uniform(-0.1, 0.1),
            "tolerance": size * self.source.uniform(0.0, 0.15),
            "tolerance_percent": self.source.uniform(1.0, 15.0),
        }
        return {part: float(f"{amounts[part]:.6g}") for part in check.parts}


def asked(results: UnitResults, *, unread: bool = False) -> list[Key]:
    """Return the fields asked now, of them only those without a reading if `unread`."""
    level = Level.UNIT if results.unit_id else Level.PROJECT
    return [
        Key(asked_for.name, index)
        for section in results.form.sections
        if section.level is level
        for asked_for in section.fields
        for index in results.asked_members(asked_for.name)
        if not unread or results.reading(asked_for.name, index) is None
    ]


def random_site(
    path: Path, form: Form, seed: int, units: int, unit_system: str = "IP"
) -> ProjectFile:
    """Return a new project of randomly drawn units."""
    project = new_project(path, form, f"Drawn site {seed}")
    project.set_setting("unit_system", unit_system)
    drawing = Drawing(project, form, random.Random(seed))
    with project.transaction("drawn"):
        drawing.pages()
        for number in range(1, units + 1):
            drawing.unit(f"RTU-{number}")
    return project
