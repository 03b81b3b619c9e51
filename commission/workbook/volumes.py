"""The workbooks of a site: one, or with many units a set of volumes and an index of them.

A unit brings about 40 sheets, 0.35 MB in the file, 2.6 MB inflated and, while it is written,
9 MB of memory. Nobody finds a sheet among thousands, and a file of a hundred units would not
pass the gate of `incoming` on its way home, least of all as .ods with three times the bytes.
25 units are about a thousand sheets and pass it, as .xlsx and as .ods, with room for edits.
Each volume is laid out, written and let go before the next: memory is that of one volume.
"""

from __future__ import annotations

import gc
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from commission.definitions.model import Form
from commission.errors import OutputError
from commission.language import spoken
from commission.project import ProjectFile, Unit
from commission.validation.blank import blank_site
from commission.validation.site import site_results
from commission.validation.volumes import VolumeSteps, Written, left_over, split, volume_names
from commission.workbook.book import Book, plan_book
from commission.workbook.index_sheets import COUNTED, counts_of, stop_lines
from commission.workbook.paper import paper_of
from commission.workbook.volume_index import StopFact, UnitFact, VolumeFact, write_index
from commission.workbook.write import (
    Progress,
    changed_at,
    folder_beside,
    silent,
    write_book,
    write_workbook,
)

UNITS_PER_VOLUME = 25
MOST_PER_VOLUME = 35
"""More could not come home as .ods: `incoming` holds its one part to 280 MB."""


def write_workbooks(
    project: ProjectFile,
    form: Form,
    path: Path,
    progress: Progress | None = None,
    *,
    blank: bool = False,
    paper: str = "",
    per_volume: int = UNITS_PER_VOLUME,
    chosen: Sequence[Unit] | None = None,
) -> Written:
    """Write a project's workbook, or its volumes and their index; results are computed here.

    Args:
        path: The workbook or the index; volumes stand beside it as `NAME.volume-1.xlsx`.
        progress: As for `write_workbook`. What it raises leaves all files as they were.
        blank: As for `write_workbook`.
        paper: As for `write_workbook`.
        per_volume: The most units of one workbook, from 1 to `MOST_PER_VOLUME`.
        chosen: The units to write, in the project's order; None for all. A workbook of some of
            them says so, and holds no deficiency or signature of the others.
    Raises:
        OutputError: No such paper or number of units, or nothing can be written there.
        ProjectFileError: The project was made with another kind of form.
    """
    path = Path(path)
    if not 1 <= per_volume <= MOST_PER_VOLUME:
        raise OutputError(
            spoken(
                "{per_volume} units in one workbook: from 1 to {most_per_volume}, since a "
                "larger one could not be read back. Give a number in that range.",
                per_volume=per_volume,
                most_per_volume=MOST_PER_VOLUME,
            )
        )
    everything = project.units()
    units = everything if chosen is None else chosen
    if len(units) <= per_volume:
        site = site_results(project, form, units)
        part = _part_words(units, everything)
        write_workbook(site, path, progress, blank=blank, paper=paper, volume=part)
        return Written(path, (), left_over(path, ()))
    writing = _Volumes(project, form, path, split(units, per_volume), blank, paper)
    volumes = writing.write(progress or silent)
    return Written(path, volumes, left_over(path, volumes))


def _part_words(units: Sequence[Unit], everything: Sequence[Unit]) -> str:
    """Return what a workbook of some units says of itself; "" for one of all."""
    if len(units) == len(everything):
        return ""
    tags = ", ".join(unit.tag for unit in units)
    return spoken(
        "{tags} alone: {count} of the project's {total} units. The project's own "
        "pages stand here too.",
        tags=tags,
        count=len(units),
        total=len(everything),
    )


@dataclass
class _Volumes:
    """One set of volumes being written: all beside their place, then each moved into it."""

    project: ProjectFile
    form: Form
    path: Path
    parts: list[Sequence[Unit]]
    blank: bool
    paper: str
    names: list[str] = field(init=False)
    facts: list[VolumeFact] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.names = volume_names(self.path, len(self.parts))

    def write(self, progress: Progress) -> tuple[Path, ...]:
        """Write all volumes and the index; return the volumes."""
        paper = paper_of(self.paper, self.project.unit_system)
        steps = VolumeSteps(progress, len(self.parts))
        with folder_beside(self.path) as folder:
            for number, name in enumerate(self.names):
                book = self._book(number)
                write_book(book, paper, folder, steps).replace(folder / name)
                steps.go_on()
                del book
                if gc.isenabled():  # the window does it itself: a widget belongs to its thread
                    gc.collect()  # the plan and the library's sheets are rings of references
            index = folder / "index.xlsx"
            write_index(self.project, self.form, self.facts, paper, index)
            for name in self.names:
                (folder / name).replace(self.path.with_name(name))
            index.replace(self.path)
        return tuple(self.path.with_name(name) for name in self.names)

    def _book(self, number: int) -> Book:
        site = site_results(self.project, self.form, self.parts[number])
        site = blank_site(site) if self.blank else site
        book = plan_book(site, blank=self.blank, volume=self._words(number))
        self.facts.append(_facts(book, self.names[number]))
        return book

    def _words(self, number: int) -> str:
        tags = [unit.tag for unit in self.parts[number]]
        named = tags[0] if len(tags) == 1 else f"{tags[0]} to {tags[-1]}"
        return spoken(
            "{number} of {count}: {named} ({here} of {total} units). All units: "
            "{name}. The project's own pages and registers stand in every volume: change "
            "them in one only.",
            number=number + 1,
            count=len(self.parts),
            named=named,
            here=len(tags),
            total=sum(map(len, self.parts)),
            name=self.path.name,
        )


def _facts(book: Book, name: str) -> VolumeFact:
    """Return what the index says of a volume, in plain values that keep no plan alive."""
    counts = [counts_of(page) for page in book.pages]
    units = []
    for owner, results in enumerate(book.site.everything()):
        places = book.places_of(owner)
        mine = [counts[place] for place in places]
        totals = [sum(count.outcomes[outcome] for count in mine) for outcome in COUNTED]
        totals += [sum(count.stops for count in mine), sum(count.unread for count in mine)]
        sheet = book.pages[places[0]].sheet if places else ""
        units.append(UnitFact(results.tag, results.unit_id, sheet, tuple(totals)))
    return VolumeFact(name, tuple(units), tuple(_stops(book)), changed_at(book.site))


def _stops(book: Book) -> Iterator[StopFact]:
    for line in stop_lines(book):
        if line.verdict.stops:
            results = line.page.results
            override = results.override_of(line.verdict)
            passed = f"{override.person_name}: {override.reason}" if override else ""
            yield StopFact(results.tag, line.page.sheet, results.label(line.key), passed)
