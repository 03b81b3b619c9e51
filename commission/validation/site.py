"""Project file + form -> results of every unit."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from commission.definitions.model import Form, Key
from commission.errors import ProjectFileError
from commission.formula.uncertainty import Instrument as Accuracy
from commission.language import spoken
from commission.project import Instrument, Limit, ProjectFile, Reading, Unit
from commission.validation.calculation import (
    Calculation,
    Decision,
    Given,
    GivenLimit,
    MeasuringInstrument,
)
from commission.validation.plan import Plan
from commission.validation.results import UnitResults
from commission.validation.verdict import DecisionRule, Verdict

PROJECT = ""


def given_from(reading: Reading) -> Given:
    """Return what a stored reading means to the calculation."""
    return Given(reading.value, reading.not_applicable, reading.instrument_id)


def limit_from(limit: Limit) -> GivenLimit:
    """Return what a stored limit means to the calculation."""
    return GivenLimit(limit.parts, limit.origin, limit.confirmed)


def measuring_from(instrument: Instrument) -> MeasuringInstrument:
    """Return an instrument's accuracy terms for the calculation."""
    accuracy = Accuracy(
        percent_of_reading=instrument.percent_of_reading or 0.0,
        percent_of_span=instrument.percent_of_span or 0.0,
        span=instrument.span or 0.0,
        plus_minus=instrument.plus_minus or 0.0,
        repeatability=instrument.repeatability,
        resolution=instrument.resolution,
    )
    return MeasuringInstrument(accuracy, instrument.unit)


def decision_of(project: ProjectFile, unit_system: str = "") -> Decision:
    """Return the project's decision rule and coverage factor; sentences in a system of units."""
    rule = DecisionRule(project.decision_rule)
    return Decision(rule, project.coverage_factor, unit_system or project.unit_system)


def unit_results(
    project: ProjectFile,
    plan: Plan,
    unit: Unit | None,
    up_to_pass: str | None = None,
    unit_system: str = "",
    *,
    at_once: bool = True,
) -> UnitResults:
    """Return one unit's results, or the project pages' (`unit` None).

    With `up_to_pass` only readings of that pass and earlier count ("as found", say). They are
    shown in `unit_system`, "IP" or "SI"; in the project's own where that is "". With `at_once`
    false their calculation is still to be run through (`Calculation.computing`).
    """
    unit_id = unit.id if unit is not None else PROJECT
    readings = project.readings(PROJECT, up_to_pass)
    if unit is not None:
        readings = {**readings, **project.readings(unit_id, up_to_pass)}
    keyed = {Key(name, tuple(index)): reading for (name, index), reading in readings.items()}
    keyed = {key: reading for key, reading in keyed.items() if key.name in plan.entries}
    limits: dict[Key, GivenLimit] = {}
    for owner in dict.fromkeys((PROJECT, unit_id)):
        for limit in project.limits(owner).values():
            if limit.check in plan.entries:
                limits[Key(limit.check, tuple(limit.index))] = limit_from(limit)
    calculation = Calculation(
        plan,
        given={key: given_from(reading) for key, reading in keyed.items()},
        limits=limits,
        instruments={item.id: measuring_from(item) for item in project.instruments()},
        decision=decision_of(project, unit_system),
        at_once=at_once,
    )
    overrides = [override for override in project.overrides() if override.unit_id == unit_id]
    return UnitResults(
        calculation,
        tag=unit.tag if unit is not None else "",
        unit_id=unit_id,
        readings=keyed,
        overrides=overrides,
        unit_system=unit_system or project.unit_system,
        pass_name=up_to_pass or "",
    )


@dataclass(frozen=True)
class SiteResults:
    """The whole project: its own pages and each unit's."""

    project: ProjectFile
    form: Form
    pages: UnitResults
    units: tuple[UnitResults, ...]

    @property
    def unit_system(self) -> str:
        """ "IP" or "SI": in what the results are shown, which may not be the project's own."""
        return self.pages.unit_system

    def everything(self) -> Iterator[UnitResults]:
        """Yield the project pages, then each unit."""
        yield self.pages
        yield from self.units

    def stops(self) -> Iterator[tuple[UnitResults, Verdict]]:
        """Yield every stop with the unit it stands on."""
        for results in self.everything():
            for verdict in results.stops():
                yield results, verdict

    def as_found(self, results: UnitResults) -> UnitResults:
        """Return the same unit computed from its as-found readings alone."""
        units: Mapping[str, Unit] = {unit.id: unit for unit in self.project.units()}
        plan = results.calculation.plan
        unit = units.get(results.unit_id)
        return unit_results(self.project, plan, unit, "as found", self.unit_system)


def refuse_other_form(project: ProjectFile, form: Form) -> None:
    """Raise ProjectFileError if a project was made with another kind of form."""
    if project.form_id and project.form_id != form.id:
        raise ProjectFileError(
            spoken(
                "{path}: made with the form '{form_id}', this is '{id}'. Open it with the form "
                "files it was made with.",
                path=project.path,
                form_id=project.form_id,
                id=form.id,
            )
        )


def site_results(
    project: ProjectFile,
    form: Form,
    chosen: Sequence[Unit] | None = None,
    unit_system: str = "",
) -> SiteResults:
    """Return the results of a project under its form, of the `chosen` units or of all.

    They are shown in `unit_system`, "IP" or "SI"; in the project's own where that is "".

    Raises:
        ProjectFileError: The project was made with another kind of form.
    """
    refuse_other_form(project, form)
    plan = Plan(form)
    wanted = project.units() if chosen is None else chosen

    def shown(unit: Unit | None) -> UnitResults:
        return unit_results(project, plan, unit, unit_system=unit_system)

    return SiteResults(project, form, shown(None), tuple(map(shown, wanted)))
