"""The index of a set of volumes: where each unit is and how it stood, as plain values.

It holds links to the volumes by their names alone, so the set may be moved together; it holds
no formula, and nothing of it is read back.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import xlsxwriter

from commission import __version__
from commission.definitions.model import Form
from commission.language import spoken, to_say
from commission.project import ProjectFile
from commission.workbook.appearance import FONT, Styles
from commission.workbook.book import DEFICIENCIES, META, STOPS, SUMMARY
from commission.workbook.index_sheets import COUNT_HEADS
from commission.workbook.paper import Paper
from commission.workbook.read_back_exported import INDEX_NAME
from commission.workbook.sheet import Sheet
from commission.workbook.summary_sheet import DEFERRAL
from commission.workbook.texts import cell_text, shortened
from commission.workbook.words import tab

UNITS = to_say("Units")
_VOLUME_HEADS = ("Volume", "From", "To", "Units", *COUNT_HEADS)
_UNIT_HEADS = ("Unit", "Volume", *COUNT_HEADS)
_STOP_HEADS = (to_say("Unit"), to_say("Volume"), to_say("Check"), to_say("Gone past by, and why"))
_DEFICIENCY_HEADS = (
    to_say("No."),
    to_say("Unit"),
    to_say("Volume"),
    to_say("Requirement"),
    to_say("What is wrong"),
    to_say("Owner"),
    to_say("Due"),
    to_say("Status"),
)
_NOTE = to_say(
    "Values as they were when the volumes were written; the volumes are live, this "
    "index is not. Keep it in one folder with them: its links go by their names. "
    "Read each volume back by itself."
)
_IN_LINKS = '%# "<>[]`^{}'
_PROJECT = "Project"


@dataclass(frozen=True, slots=True)
class UnitFact:
    """How one unit stood (`unit_id` "": the project's pages); `counts` as `COUNT_HEADS` says."""

    tag: str
    unit_id: str
    sheet: str
    counts: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class StopFact:
    """A stop that stood, on which sheet, and who has gone past it."""

    tag: str
    sheet: str
    label: str
    passed: str


@dataclass(frozen=True, slots=True)
class VolumeFact:
    """One volume: its file's name, the project's pages and its units, its stops, its state."""

    name: str
    owners: tuple[UnitFact, ...]
    stops: tuple[StopFact, ...]
    changed: datetime

    @property
    def units(self) -> tuple[UnitFact, ...]:
        """Its units, without the project's pages."""
        return tuple(owner for owner in self.owners if owner.unit_id)

    @property
    def short(self) -> str:
        """What the volume is called in a narrow column: "volume-02"."""
        return self.name.rsplit(".", 2)[-2]


def write_index(
    project: ProjectFile, form: Form, volumes: Sequence[VolumeFact], paper: Paper, path: Path
) -> Path:
    """Write the index of at least one volume and return its path.

    Raises:
        OSError: It cannot be written.
        XlsxWriterException: It cannot be written.
    """
    options = {
        "strings_to_formulas": False,
        "strings_to_urls": False,
        "strings_to_numbers": False,
        "default_format_properties": {"font_name": FONT, "font_size": 10},
    }
    workbook = xlsxwriter.Workbook(str(path), options)
    _Index(workbook, project, form, volumes, paper).write()
    workbook.close()
    return path


class _Index:
    """One index being written."""

    def __init__(
        self,
        workbook: xlsxwriter.Workbook,
        project: ProjectFile,
        form: Form,
        volumes: Sequence[VolumeFact],
        paper: Paper,
    ) -> None:
        self.workbook = workbook
        self.styles = Styles(workbook)
        self.project, self.form = project, form
        self.volumes = volumes
        self.paper = paper
        self.of_unit = {
            unit.unit_id: (volume, unit) for volume in reversed(volumes) for unit in volume.owners
        }

    def write(self) -> None:
        """Write all sheets."""
        self._summary(self._sheet(SUMMARY, (34, 16, 16, 9, 9, 9, 13, 10, 9, 10)))
        self._units(self._sheet(UNITS, (24, 34, 10, 10, 13, 10, 10, 10)))
        self._stops(self._sheet(STOPS, (18, 30, 62, 50)))
        self._deficiencies(self._sheet(DEFICIENCIES, (6, 14, 16, 28, 40, 18, 12, 12)))
        self._identity()

    def _sheet(self, name: str, widths: Sequence[float]) -> Sheet:
        worksheet = self.workbook.add_worksheet(tab(name))
        worksheet.hide_gridlines(2)
        sheet = Sheet(tab(name), worksheet, self.styles)
        sheet.paper = self.paper
        sheet.columns(widths)
        return sheet

    # -- sheets ------------------------------------------------------------------------

    def _summary(self, sheet: Sheet) -> None:
        last = len(_VOLUME_HEADS) - 1
        sheet.text(0, 0, self.project.title, "title")
        sheet.worksheet.set_row(0, 24)
        sheet.text(
            1,
            0,
            spoken(
                "{title}: index of {count} volumes", title=self.form.title, count=len(self.volumes)
            ),
            "subtitle",
        )
        sheet.across(2, 0, last, DEFERRAL, "intro")
        sheet.across(3, 0, last, _NOTE, "text")
        for row, (label, text) in enumerate(self._state().items(), start=4):
            sheet.text(row, 0, label, "label")
            sheet.across(row, 1, last, text, "cell")
        head = 5 + len(self._state())
        self._heads(sheet, head, _VOLUME_HEADS, 3)
        for row, volume in enumerate(self.volumes, start=head + 1):
            self._volume(sheet, row, volume)
        row = head + 1 + len(self.volumes)
        own = self.volumes[0].owners[0].counts
        self._numbers(sheet, row, (to_say("The project's own pages"), "", "", ""), own, "count")
        totals = [self._totals(volume) for volume in self.volumes]
        everything = [sum(column) for column in zip(own, *totals, strict=True)]
        units = str(sum(len(volume.units) for volume in self.volumes))
        self._numbers(sheet, row + 1, ("All", "", "", units), everything, "total")
        sheet.fit_rows(2, row + 1)
        self._finish(sheet, SUMMARY, None)

    def _state(self) -> dict[str, str]:
        return {
            to_say("Form"): spoken(
                "{id}, version {version}", id=self.form.id, version=self.form.version
            ),
            "Program": f"commission {__version__}",
            to_say("Project state"): spoken(
                "revision {revision}, id {uuid}",
                revision=self.project.revision,
                uuid=self.project.uuid,
            ),
        }

    def _volume(self, sheet: Sheet, row: int, volume: VolumeFact) -> None:
        self._link(sheet, row, 0, volume, "", volume.name)
        units = volume.units
        sheet.text(row, 1, units[0].tag, "label")
        sheet.text(row, 2, units[-1].tag, "label")
        for column, number in enumerate((len(units), *self._totals(volume)), start=3):
            sheet.number(row, column, number, "count")

    def _totals(self, volume: VolumeFact) -> list[int]:
        return [sum(column) for column in zip(*(u.counts for u in volume.units), strict=True)]

    def _units(self, sheet: Sheet) -> None:
        remark = to_say(
            "Every unit as it was when its volume was written; its tag leads to its pages."
        )
        self._title(sheet, UNITS, remark, _UNIT_HEADS, 2)
        row = 3
        for volume, unit in self._each_unit():
            row += 1
            self._link(sheet, row, 0, volume, unit.sheet, unit.tag)
            sheet.text(row, 1, volume.name, "cell")
            for column, number in enumerate(unit.counts, start=2):
                sheet.number(row, column, number, "count")
        sheet.worksheet.autofilter(3, 0, row, len(_UNIT_HEADS) - 1)
        sheet.fit_rows(3, row)
        self._finish(sheet, UNITS, (3, 3))

    def _each_unit(self) -> Iterator[tuple[VolumeFact, UnitFact]]:
        return ((volume, unit) for volume in self.volumes for unit in volume.units)

    def _stops(self, sheet: Sheet) -> None:
        remark = to_say("Every stop that stood when the volumes were written.")
        self._title(sheet, STOPS, remark, _STOP_HEADS, len(_STOP_HEADS))
        row = 3
        for volume, stop in self._each_stop():
            row += 1
            sheet.text(row, 0, stop.tag or _PROJECT, "label")
            self._link(sheet, row, 1, volume, stop.sheet, f"{volume.short}: {stop.sheet}")
            sheet.text(row, 2, stop.label, "cell")
            sheet.text(row, 3, stop.passed, "cell")
        if row == 3:
            row += 1
            sheet.across(row, 0, 3, to_say("No stop stands."), "cell")
        sheet.fit_rows(3, row)
        self._finish(sheet, STOPS, (3, 3))

    def _each_stop(self) -> Iterator[tuple[VolumeFact, StopFact]]:
        """Yield the project's own stops once: each volume has them."""
        for number, volume in enumerate(self.volumes):
            yield from ((volume, stop) for stop in volume.stops if stop.tag or number == 0)

    def _deficiencies(self, sheet: Sheet) -> None:
        remark = to_say(
            "The log is kept in the volumes: each holds that of its units and the project's."
        )
        self._title(sheet, DEFICIENCIES, remark, _DEFICIENCY_HEADS, len(_DEFICIENCY_HEADS))
        row = 3
        for row, item in enumerate(self.project.deficiencies(), start=4):
            volume, unit = self.of_unit.get(item.unit_id, (None, None))
            sheet.number(row, 0, item.number, "count")
            sheet.text(row, 1, (unit.tag or _PROJECT) if unit else "", "label")
            if volume is not None:
                self._link(sheet, row, 2, volume, tab(DEFICIENCIES), volume.short)
            what = (item.requirement, item.description, item.owner, item.due, item.status)
            for column, text in enumerate(what, start=3):
                sheet.text(row, column, text, "cell")
        if row == 3:
            row += 1
            sheet.across(
                row, 0, len(_DEFICIENCY_HEADS) - 1, to_say("No deficiency is noted."), "cell"
            )
        sheet.fit_rows(3, row)
        self._finish(sheet, DEFICIENCIES, (3, 3))

    def _identity(self) -> None:
        """Keep on a hidden sheet whose index this is, and a name by which it is known as one."""
        changed = max(volume.changed for volume in self.volumes)
        said = {
            "index_of": self.project.uuid,
            "revision": str(self.project.revision),
            "form_hash": self.form.content_hash,
            "generated_at": changed.isoformat(),
            **{f"volume_{n}": volume.name for n, volume in enumerate(self.volumes, start=1)},
        }
        sheet = self._sheet(META, (24, 70))
        for row, (label, text) in enumerate(said.items()):
            sheet.text(row, 0, label, "plain_text")
            sheet.text(row, 1, text, "plain_text")
        sheet.worksheet.hide()
        self.workbook.define_name(INDEX_NAME, f"='{META}'!$A$1")
        self.workbook.set_properties(
            {
                "title": shortened(self.project.title, 200),
                "subject": shortened(self.form.title, 200),
                "comments": f"Written by commission {__version__}",
                "created": changed.astimezone(UTC).replace(tzinfo=None),
            }
        )

    # -- parts of sheets ---------------------------------------------------------------

    def _title(
        self, sheet: Sheet, title: str, remark: str, heads: Sequence[str], first_count: int
    ) -> None:
        sheet.text(0, 0, title, "title")
        sheet.worksheet.set_row(0, 24)
        sheet.text(1, 0, remark, "subtitle")
        self._heads(sheet, 3, heads, first_count)
        sheet.worksheet.freeze_panes(4, 1)

    def _heads(self, sheet: Sheet, row: int, heads: Sequence[str], first_count: int) -> None:
        for column, text in enumerate(heads):
            sheet.text(row, column, text, "head" if column < first_count else "head_center")

    def _numbers(
        self, sheet: Sheet, row: int, texts: Sequence[str], counts: Sequence[int], style: str
    ) -> None:
        for column, text in enumerate(texts):
            sheet.text(row, column, text, "label" if column < 3 else style)
        for column, number in enumerate(counts, start=len(texts)):
            sheet.number(row, column, number, style)

    def _link(
        self, sheet: Sheet, row: int, column: int, volume: VolumeFact, there: str, text: str
    ) -> None:
        """Write a link to a sheet of a volume, or to the volume."""
        where = f"#'{there}'!A1" if there else ""
        made = self.styles("link_cell")
        link = f"external:{_quoted(volume.name)}{where}"
        sheet.worksheet.write_url(row, column, link, made, cell_text(text))

    def _finish(self, sheet: Sheet, title: str, repeat: tuple[int, int] | None) -> None:
        sheet.protect()
        footer = spoken(
            "{id} {version}, project revision {revision}",
            id=self.form.id,
            version=self.form.version,
            revision=self.project.revision,
        )
        sheet.printed(left=self.project.title, right=title, repeat=repeat, footer=footer)


def _quoted(name: str) -> str:
    """Return a file's name as a link names it; the library leaves alone what is quoted."""
    return "".join(f"%{ord(char):02X}" if char in _IN_LINKS else char for char in name)
