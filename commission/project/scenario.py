"""A scenario folder (an invented site, as in demo_units/) -> a new project file.

The same folder always gives the same rows: times run from the scenario's own start, and ids
follow from its title.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import datetime, timedelta
from itertools import count
from pathlib import Path

from commission.definitions.model import Form
from commission.errors import CommissionError
from commission.project.file import ProjectFile
from commission.project.journal import Clock
from commission.project.records import PROJECT_LEVEL, Entered, pass_rank
from commission.project.scenario_reading import Part, Scenario, read_scenario
from commission.project.signatures import signed_names

_STEP = timedelta(seconds=6)
_BETWEEN_PASSES = timedelta(minutes=30)
_IDS = uuid.uuid5(uuid.NAMESPACE_URL, "scenario")


class ScenarioClock:
    """A clock that moves on by a few seconds whenever it is asked."""

    def __init__(self, began: datetime) -> None:
        self._now = began

    def __call__(self) -> datetime:
        """Return the time, a few seconds after the last."""
        self._now += _STEP
        return self._now

    def move_to(self, moment: datetime | None) -> None:
        """Go to a later moment; an earlier one leaves the clock as it is."""
        if moment is not None:
            self._now = max(self._now, moment)

    def wait(self, duration: timedelta) -> None:
        """Let time pass."""
        self._now += duration


def project_from_scenario(
    folder: Path, path: Path, form: Form, *, clock: Clock | None = None
) -> ProjectFile:
    """Make the project file `path` from a scenario folder and open it.

    Args:
        clock: the opened project's clock (default: the computer's).
    Raises:
        FormError: all faults of the folder's files; no project file is made then.
        ProjectFileError: the file exists, or cannot be written.
    """
    scenario = read_scenario(folder, form)
    ticking = ScenarioClock(scenario.began)
    project = ProjectFile.create(
        path,
        form_id=form.id,
        form_version=form.version,
        form_hash=form.content_hash,
        title=scenario.title,
        clock=ticking,
        new_id=numbered_ids(scenario.title),
    )
    try:
        with project.transaction("The scenario"):
            _Writer(project, scenario, form, ticking).write()
    except CommissionError:
        project.close()
        path.unlink(missing_ok=True)
        raise
    project.close()
    return ProjectFile.open(path) if clock is None else ProjectFile.open(path, clock=clock)


def numbered_ids(title: str) -> Callable[[], str]:
    """Return a source of ids that follow from a title and a count."""
    numbers = count(1)
    return lambda: str(uuid.uuid5(_IDS, f"{title} {next(numbers)}"))


class _Writer:
    """Writes a scenario, row after row, as a person would have entered it."""

    def __init__(
        self, project: ProjectFile, scenario: Scenario, form: Form, clock: ScenarioClock
    ) -> None:
        self._project = project
        self._scenario = scenario
        self._form = form
        self._clock = clock
        self._people: dict[str, str] = {"": ""}
        self._instruments: dict[str, str] = {"": ""}

    def write(self) -> None:
        """Write everything, in the transaction that the caller has begun."""
        for name, value in self._scenario.settings.items():
            self._project.set_setting(name, value)
        for key, person in self._scenario.people.items():
            self._people[key] = self._project.add_person(**person).id
        for key, instrument in self._scenario.instruments.items():
            self._instruments[key] = self._project.add_instrument(**instrument).id
        self._project.person_id = self._people[self._scenario.default_person]
        self._write_part(PROJECT_LEVEL, self._scenario.site)
        for part in self._scenario.units:
            self._clock.move_to(part.began)
            self._write_part(self._project.add_unit(part.tag).id, part)

    def _write_part(self, unit_id: str, part: Part) -> None:
        for limit in part.limits:
            self._project.set_limit(
                unit_id,
                limit.check,
                limit.index,
                limit.parts,
                origin=limit.origin,
                confirmed=limit.confirmed,
            )
        self._write_readings(unit_id, part)
        for deficiency in part.deficiencies:
            self._project.add_deficiency(unit_id, **deficiency)
        for override in part.overrides:
            self._project.add_override(unit_id, **override)
        for signature in part.signatures:
            self._write_signature(unit_id, **signature)

    def _write_readings(self, unit_id: str, part: Part) -> None:
        passes = sorted({r.pass_name for r in part.readings}, key=pass_rank)
        for number, pass_name in enumerate(passes):
            if number:
                self._clock.wait(_BETWEEN_PASSES)
            self._project.record_many(
                Entered(
                    unit_id,
                    r.name,
                    r.index,
                    r.value,
                    r.not_applicable,
                    r.pass_name,
                    r.entered,
                    r.note,
                    self._instruments[r.instrument],
                    self._people[r.person],
                    "demo",
                )
                for r in part.readings
                if r.pass_name == pass_name
            )

    def _write_signature(
        self, unit_id: str, role: str, person: str, statement: str, section: str = ""
    ) -> None:
        names, checks = signed_names(self._form, section)
        self._project.add_signature(
            unit_id,
            section,
            role,
            person_id=self._people[person],
            printed_name=self._scenario.people[person]["name"],
            statement=statement,
            names=names,
            checks=checks,
        )
