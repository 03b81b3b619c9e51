"""What a package is made of: the results in each pass, and the registers looked up by id."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from commission import __version__
from commission.definitions.model import Section
from commission.errors import OutputError
from commission.language import near_miss, spoken, to_say
from commission.package.look import content_width
from commission.package.trend_facts import TrendFact, trend_facts
from commission.project import (
    AS_FOUND,
    Deficiency,
    Instrument,
    Override,
    Person,
    ProjectFile,
    pass_rank,
)
from commission.project.schema import TABLES
from commission.sequence.functional_tests import functional_tests
from commission.validation.results import SectionState, UnitResults
from commission.validation.site import SiteResults, unit_results
from commission.validation.verdict import Verdict

PROJECT_TITLE = to_say("Project and site")


@dataclass(frozen=True)
class Part:
    """One unit (or the project's own pages) with its results as each pass left them.

    `passes` are in order of time; the last holds the same results as `results`.
    """

    number: int
    title: str
    results: UnitResults
    passes: tuple[tuple[str, UnitResults], ...]

    @property
    def key(self) -> str:
        """Where the part begins, as a place to link to."""
        return f"part-{self.number}"

    def page_key(self, section: Section) -> str:
        """Return the place of one page of this part."""
        return f"{self.key}-{section.name}"

    @property
    def trend_key(self) -> str:
        """The place of this part's trend logs."""
        return f"{self.key}-trend-logs"

    @property
    def tests_key(self) -> str:
        """The place of this part's functional tests."""
        return f"{self.key}-functional"

    def verdict_key(self, verdict: Verdict) -> str:
        """Return the place where a verdict's sentence stands."""
        index = "-".join(str(number) for number in verdict.index)
        return f"{self.key}-check-{verdict.check.name}-{index}"


@dataclass(frozen=True)
class Turnover:
    """The site's results, the units chosen, and the registers.

    `embedded` is how many files the package carries; `with_work` whether the computations are
    shown; `volume` says which volume of a set this is, "" for a package by itself.
    """

    site: SiteResults
    units: tuple[UnitResults, ...]
    embedded: int = 0
    with_work: bool = True
    volume: str = ""

    @property
    def project(self) -> ProjectFile:
        """The project file."""
        return self.site.project

    @property
    def title(self) -> str:
        """What the project is called; the file's name if it has no title."""
        return self.project.title or self.project.path.stem

    @property
    def unit_system(self) -> str:
        """ "IP" or "SI": in what everything is shown; the paper is that of the place."""
        return self.site.unit_system

    @property
    def width(self) -> float:
        """The width between the margins, in points."""
        return content_width(self.unit_system)

    @cached_property
    def everything(self) -> tuple[UnitResults, ...]:
        """The project pages, then the units chosen."""
        return (self.site.pages, *self.units)

    @cached_property
    def _numbers(self) -> dict[str, int]:
        return {results.unit_id: number for number, results in enumerate(self.everything)}

    def part(self, results: UnitResults) -> Part:
        """Return a unit's part without its earlier passes, enough to link to its pages."""
        title = results.tag or spoken(PROJECT_TITLE)
        return Part(self._numbers[results.unit_id], title, results, ((AS_FOUND, results),))

    def part_with_passes(self, results: UnitResults) -> Part:
        """Return a unit's part with its results as each pass left them."""
        names = sorted(self.project.passes(results.unit_id), key=pass_rank) or [AS_FOUND]
        unit = self.project.unit(results.unit_id) if results.unit_id else None
        plan = results.calculation.plan
        earlier = [
            (name, unit_results(self.project, plan, unit, name, self.unit_system))
            for name in names[:-1]
        ]
        passes = (*earlier, (names[-1], results))
        return replace(self.part(results), passes=passes)

    @cached_property
    def verdicts(self) -> list[tuple[Part, Verdict]]:
        """The verdicts of all parts in order of pages."""
        return [
            (part, verdict)
            for part in (self.part(results) for results in self.everything)
            for verdict in self.verdicts_of(part.results)
        ]

    def verdicts_of(self, results: UnitResults) -> list[Verdict]:
        """Return the verdicts of one part in order of pages; found once."""
        if results.unit_id not in self._verdicts:
            pages = self.sections_of(results)
            found = [verdict for page in pages for verdict in results.verdicts(page)]
            self._verdicts[results.unit_id] = found
        return self._verdicts[results.unit_id]

    def sections_of(self, results: UnitResults) -> tuple[Section, ...]:
        """Return the pages of a part; found once, since many tables ask."""
        if results.unit_id not in self._sections:
            self._sections[results.unit_id] = results.sections()
        return self._sections[results.unit_id]

    def state_of(self, results: UnitResults, section: Section) -> SectionState:
        """Return how a page stands; found once, since many tables ask."""
        place = (results.unit_id, section.name)
        if place not in self._states:
            self._states[place] = results.state(section)
        return self._states[place]

    def trend_facts(self, results: UnitResults) -> list[TrendFact]:
        """Return what a unit's trend logs show that needs attention; judged once."""
        if results.unit_id not in self._trend_facts:
            self._trend_facts[results.unit_id] = list(trend_facts(self.project, results))
        return self._trend_facts[results.unit_id]

    @cached_property
    def trends(self) -> list[tuple[Part, TrendFact]]:
        """What the trend logs of all units show that needs attention."""
        return [
            (self.part(results), fact)
            for results in self.units
            for fact in self.trend_facts(results)
        ]

    def has_tests(self, results: UnitResults) -> bool:
        """Return whether a unit has functional tests."""
        return bool(results.unit_id and functional_tests(results.calculation))

    @cached_property
    def with_logs(self) -> frozenset[str]:
        """The units that have a trend log, by id."""
        return frozenset(record.unit_id for record in self.project.trend_logs())

    @cached_property
    def _trend_facts(self) -> dict[str, list[TrendFact]]:
        return {}

    @cached_property
    def _sections(self) -> dict[str, tuple[Section, ...]]:
        return {}

    @cached_property
    def _verdicts(self) -> dict[str, list[Verdict]]:
        return {}

    @cached_property
    def _states(self) -> dict[tuple[str, str], SectionState]:
        return {}

    def overrides(self) -> list[tuple[Part, Override]]:
        """Return the decisions to go on past a stop, of the parts chosen."""
        return [
            (self.part(results), override)
            for results in self.everything
            for override in results.overrides
        ]

    def deficiency_key(self, deficiency: Deficiency) -> str:
        """Return the place of a deficiency in the log."""
        return f"deficiency-{deficiency.number}"

    def tag_of(self, unit_id: str) -> str:
        """Return a unit's tag, or the project's word for its own pages."""
        tags = {results.unit_id: results.tag for results in self.units}
        return tags.get(unit_id, "") or spoken("Project")

    def covers(self, unit_id: str) -> bool:
        """Return whether a record of this unit belongs into this package."""
        return not unit_id or unit_id in {results.unit_id for results in self.units}

    # -- registers -----------------------------------------------------------------

    @cached_property
    def instruments(self) -> Sequence[Instrument]:
        """The instruments in the order added."""
        return self.project.instruments()

    @cached_property
    def instrument_tags(self) -> dict[str, str]:
        """How each instrument is called in the tables: I-1, I-2 ..."""
        return {item.id: f"I-{number}" for number, item in enumerate(self.instruments, 1)}

    @cached_property
    def people(self) -> dict[str, Person]:
        """The people by id."""
        return {person.id: person for person in self.project.people()}

    def past_due(self, instrument: Instrument) -> list[str]:
        """Return the days of readings that this instrument took after its calibration ran out."""
        due = instrument.calibration_due
        days = self._days_of_use.get(instrument.id, set())
        return sorted(day for day in days if due and day > due)

    @cached_property
    def _days_of_use(self) -> dict[str, set[str]]:
        days: dict[str, set[str]] = {}
        for results in self.everything:
            for reading in (results.readings or {}).values():
                if reading.instrument_id:
                    days.setdefault(reading.instrument_id, set()).add(reading.at[:10])
        return days

    def unused(self, instrument: Instrument) -> bool:
        """Return whether no reading in the package names this instrument."""
        return instrument.id not in self._days_of_use

    # -- identity ------------------------------------------------------------------

    @cached_property
    def last_change(self) -> str:
        """When the project last changed, ISO 8601; "" for an empty one."""
        since = self.project.revision - 1
        rows = [row for kind in TABLES for row in self.project.rows(kind, since)]
        return max((str(row["at"]) for row in rows), default="")

    def program(self) -> str:
        """Return the program's name and version."""
        return self.program_name()

    @staticmethod
    def program_name() -> str:
        """Return the program's name and version, whatever the matter."""
        return f"commission {__version__}"

    def property_source(self) -> str:
        """Return what gives refrigerant properties, with its version."""
        try:
            return f"CoolProp {version('CoolProp')}"
        except PackageNotFoundError:
            return spoken("CoolProp (not installed)")


def no_such_unit(path: Path, unknown: str, tags: Sequence[str]) -> OutputError:
    """Return the fault that a project has no unit of a tag, with its near miss."""
    return OutputError(
        spoken(
            "{path}: no unit '{unknown}' in this project; its units are {tags}.{hint}",
            path=path,
            unknown=unknown,
            tags=", ".join(tags) or spoken("none"),
            hint=near_miss(unknown, tags),
        )
    )


def turnover(site: SiteResults, units: Sequence[str] | None) -> Turnover:
    """Return the material of a package for some units by tag, or for all.

    Raises:
        OutputError: the project has no unit of such a tag.
    """
    if units is None:
        return Turnover(site, site.units)
    by_tag = {results.tag.casefold(): results for results in site.units}
    unknown = [tag for tag in units if tag.casefold() not in by_tag]
    if unknown:
        raise no_such_unit(site.project.path, unknown[0], [unit.tag for unit in site.units])
    wanted = {tag.casefold() for tag in units}
    return Turnover(site, tuple(r for r in site.units if r.tag.casefold() in wanted))
