"""The packages of a site: one, or with many units a set of volumes and an index of them.

With the shipped form a unit takes about thirty pages and, while they are set, 3 MB of memory.
Nobody reads a file of nine thousand pages; fifty units are a volume that still opens at once.
Each volume is computed, set and let go before the next: memory is that of one volume.
"""

from __future__ import annotations

import gc
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from commission.definitions.model import Form
from commission.errors import OutputError
from commission.language import spoken
from commission.package.archival import Attachment
from commission.package.cautions import DEFERRAL
from commission.package.report import Report, ReportTable, write_report
from commission.package.summary import standing
from commission.package.turnover import Turnover
from commission.package.write import (
    ProgressCallback,
    not_written,
    silent,
    write_matter,
    write_package,
)
from commission.project import ProjectFile, Unit
from commission.validation.results import UnitResults
from commission.validation.site import site_results
from commission.validation.verdict import Outcome
from commission.validation.volumes import VolumeSteps, Written, left_over, split, volume_names

UNITS_PER_VOLUME = 50

AttachmentsOf = Callable[[Sequence[Unit]], Sequence[Attachment]]
_COUNTED = (Outcome.PASS, Outcome.FAIL, Outcome.INCONCLUSIVE, Outcome.MISSING)


def write_packages(
    project: ProjectFile,
    form: Form,
    path: Path,
    progress: ProgressCallback | None = None,
    *,
    chosen: Sequence[Unit] | None = None,
    unit_system: str = "",
    per_volume: int = UNITS_PER_VOLUME,
    attachments_of: AttachmentsOf | None = None,
    with_work: bool = True,
) -> Written:
    """Write a project's turnover package, or its volumes and an index; results are computed here.

    Args:
        path: The package or the index; volumes stand beside it as `NAME.volume-1.pdf`.
        progress: As for `write_package`. What it raises leaves all files as they were.
        chosen: The units to cover, in the project's order; None for all.
        unit_system: "IP" or "SI"; "" for the project's own.
        per_volume: The most units of one file, 1 or more.
        attachments_of: Returns the files to embed beside given units.
        with_work: As for `write_package`.
    Raises:
        OutputError: No such number of units, or nothing can be written there.
        ProjectFileError: The project was made with another kind of form.
    """
    path = Path(path)
    if per_volume < 1:
        raise OutputError(
            spoken(
                "{per_volume} units in one package: at least 1. Give a larger number.",
                per_volume=per_volume,
            )
        )
    units = project.units() if chosen is None else chosen
    if len(units) <= per_volume:
        write_package(
            site_results(project, form, unit_system=unit_system),
            path,
            progress,
            units=None if chosen is None else [unit.tag for unit in chosen],
            attachments=attachments_of(units) if attachments_of else (),
            with_work=with_work,
        )
        return Written(path, (), left_over(path, ()))
    writing = _Volumes(project, form, path, split(units, per_volume), unit_system, with_work)
    volumes = writing.write(progress, attachments_of)
    return Written(path, volumes, left_over(path, volumes))


@dataclass(frozen=True, slots=True)
class _UnitFact:
    """What the index says of a unit, in plain values that keep no results alive."""

    tag: str
    standing: str
    counts: tuple[int, ...]
    volume: str


@dataclass
class _Volumes:
    """One set of volumes being written: all beside their place, then each moved into it."""

    project: ProjectFile
    form: Form
    path: Path
    parts: list[Sequence[Unit]]
    unit_system: str
    with_work: bool
    names: list[str] = field(init=False)
    facts: list[_UnitFact] = field(default_factory=list)
    last_change: str = ""

    def __post_init__(self) -> None:
        self.names = volume_names(self.path, len(self.parts))

    def write(
        self, progress: ProgressCallback | None, attachments_of: AttachmentsOf | None
    ) -> tuple[Path, ...]:
        """Write all volumes and the index; return the volumes."""
        steps = VolumeSteps(progress or silent, len(self.parts))
        volumes = tuple(self.path.with_name(name) for name in self.names)
        try:
            with tempfile.TemporaryDirectory(prefix=".", dir=self.path.parent) as folder:
                for number, part in enumerate(self.parts):
                    embedded = attachments_of(part) if attachments_of else ()
                    self._volume(number, Path(folder) / self.names[number], steps, embedded)
                    steps.go_on()
                index = write_report(self._index(), Path(folder) / self.path.name)
                for volume in volumes:
                    (Path(folder) / volume.name).replace(volume)
                index.replace(self.path)
        except OSError as fault:
            raise not_written(self.path, fault) from fault
        return volumes

    def _volume(
        self,
        number: int,
        path: Path,
        progress: ProgressCallback,
        attachments: Sequence[Attachment],
    ) -> None:
        site = site_results(self.project, self.form, self.parts[number], self.unit_system)
        matter = Turnover(
            site, site.units, len(attachments), self.with_work, volume=self._words(number)
        )
        write_matter(matter, path, progress, attachments)
        self.last_change = matter.last_change
        self.facts += [_fact(matter, unit, self.names[number]) for unit in site.units]
        del site, matter
        if gc.isenabled():  # the window does it itself: a widget belongs to its thread
            gc.collect()  # results are rings of references

    def _words(self, number: int) -> str:
        tags = [unit.tag for unit in self.parts[number]]
        named = tags[0] if len(tags) == 1 else f"{tags[0]} – {tags[-1]}"
        return spoken(
            "Volume {number} of {count}: {named}, {here} of {total} units. All units: {name}. The "
            "project's own pages and registers stand in every volume.",
            number=number + 1,
            count=len(self.parts),
            named=named,
            here=len(tags),
            total=sum(map(len, self.parts)),
            name=self.path.name,
        )

    def _index(self) -> Report:
        title = self.project.title or self.project.path.stem
        moment = datetime.fromisoformat(self.last_change) if self.last_change else None
        return Report(
            title=title,
            subject=spoken("Turnover package: the index of its volumes"),
            facts=[
                (spoken("Form"), f"{self.form.id} {self.form.version}"),
                (spoken("Form content"), self.form.content_hash),
                (
                    spoken("Project file"),
                    spoken(
                        "{file}, revision {number}",
                        file=self.project.uuid,
                        number=self.project.revision,
                    ),
                ),
            ],
            summary=(
                spoken(
                    "Turnover package in {count} volumes: {total} units. Keep the volumes in one "
                    "folder with this index.",
                    count=len(self.parts),
                    total=len(self.facts),
                ),
            ),
            parts=(self._table(),),
            notes=(spoken(DEFERRAL),),
            program=Turnover.program_name(),
            unit_system=self.unit_system or self.project.unit_system,
            moment=moment,
        )

    def _table(self) -> ReportTable:
        header = (
            spoken("Volume"),
            spoken("Unit"),
            spoken("Standing"),
            *(spoken(outcome) for outcome in _COUNTED),
            spoken("Stops"),
        )
        rows = [
            [fact.volume, fact.tag, fact.standing, *map(str, fact.counts)] for fact in self.facts
        ]
        shares = (0, 90, 176, 44, 44, 68, 50, 44)
        return ReportTable(spoken("Units and their volumes"), header, shares, rows, grouped=True)


def _fact(matter: Turnover, unit: UnitResults, volume: str) -> _UnitFact:
    outcomes = unit.progress().outcomes
    counts = [outcomes.get(outcome, 0) for outcome in _COUNTED]
    words, _ = standing(matter, unit)
    return _UnitFact(unit.tag, words, (*counts, len(unit.stops())), volume)
