"""A workbook that comes home, compared three ways with its project.

Three values are set side by side for each cell that a hand may type in: the one that was
exported (kept in the workbook), the one in the file, and the one in the project now. Computed
cells are never read, only looked at for formulas that were typed over.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from contextlib import nullcontext
from dataclasses import dataclass, field, replace
from pathlib import Path

from commission.definitions.model import Check, Field, Form, Key, Kind
from commission.language import spoken
from commission.project import ProjectFile
from commission.validation.plan import Plan
from commission.validation.results import UnitResults
from commission.validation.site import PROJECT, unit_results
from commission.validation.verdict import DecisionRule
from commission.workbook.incoming_worker import IncomingWorker
from commission.workbook.read_back_cells import Holds, ReturnedBook, ReturnedCell
from commission.workbook.read_back_exported import READING, SETTING, TABLE, ExportedCell
from commission.workbook.read_back_finding import returned_book
from commission.workbook.read_back_limits import compare_limit
from commission.workbook.read_back_lines import compare_registers
from commission.workbook.read_back_readings import Target, compare_reading, label_of, same
from commission.workbook.read_back_rows import NOTE, Review, ReviewRow, Standing
from commission.workbook.read_back_settings import compare_setting
from commission.workbook.read_back_tables import compare_table
from commission.workbook.typed_tables import TYPED
from commission.workbook.words import meant_by

_OURS = re.compile(r"^(?:u(\d{1,6})|p)_(.+?)(?:__\d+)?$")
_NUMBER = re.compile(r"^\d{1,15}$", re.ASCII)
_PARTS = ("low", "high", "target", "tolerance", "tolerance_percent")
_RANGES = ("body", "columns", "rows")
_TABLE = (*_RANGES, *(f"{part}_{TYPED}" for part in _RANGES))
_FURTHER = ("uncertainty", "shown", *_TABLE, *(f"{part}_shown" for part in _PARTS), *_PARTS)


def read_back(
    project: ProjectFile,
    form: Form,
    path: Path,
    *,
    cancelled: Callable[[], bool] | None = None,
    worker: IncomingWorker | None = None,
) -> Review:
    """Return how a returned workbook stands to its project; nothing is entered.

    Args:
        project: The project now; may be open for reading only.
        form: The form it is answered under.
        path: The workbook (.xlsx or .ods) as it came back.
        cancelled: Asked about 20 times a second while the file is read.
        worker: The process to read it in; without one, one is started for it.
    Raises:
        IncomingFileError: The file is hostile, damaged, too large, or no workbook of a project.
        IncomingCancelled: `cancelled` said so.
    """
    with nullcontext(worker) if worker is not None else IncomingWorker() as at_work:
        book = at_work.run(Path(path), returned_book, cancelled=cancelled)
    return compared(project, form, path, book)


def compared(project: ProjectFile, form: Form, path: Path, book: ReturnedBook) -> Review:
    """Return how a workbook that was read stands to its project."""
    remarks, foreign = _remarks(project, form, book)
    remarks += tuple(book.set_aside)
    if foreign:
        return Review(str(path), (), remarks, foreign=True)
    comparing = _Comparing(project, Plan(form), book)
    rows = (*comparing.rows(), *compare_registers(project, book))
    return Review(str(path), rows, remarks)


def _remarks(project: ProjectFile, form: Form, book: ReturnedBook) -> tuple[tuple[str, ...], bool]:
    """Return what holds for the whole file, and whether it is another project's."""
    said = book.meta
    if said.get("project_uuid") != project.uuid:
        title = said.get("project_title") or spoken("without a title")
        return (
            spoken(
                "The workbook belongs to another project ('{title}'), not to '{here}'. Read "
                "it back into that one.",
                title=title,
                here=project.title,
            ),
        ), True
    remarks = []
    revision = int(said["revision"]) if _NUMBER.match(said.get("revision", "")) else None
    if revision is not None and revision < project.revision:
        remarks.append(
            spoken(
                "The workbook was written at revision {revision}; the project has gone on to "
                "{now}. Only what was changed on both sides needs a decision.",
                revision=revision,
                now=project.revision,
            )
        )
    if revision is None or revision > project.revision:
        remarks.append(
            spoken(
                "The workbook says it was written at revision {said}, but this project file "
                "stands at {revision}: it is an older copy. Open the newest project file before "
                "anything is accepted.",
                said=said.get("revision", spoken("unknown")),
                revision=project.revision,
            )
        )
    if said.get("form_hash") != form.content_hash:
        remarks.append(
            spoken(
                "The workbook was written with form {said} as it was then; the form is {version} "
                "now and not the same. What is no longer asked is listed.",
                said=said.get("form_version", spoken("unknown")),
                version=form.version,
            )
        )
    if book.strange:
        remarks.append(
            spoken(
                "Sheets that were not sent out are not read: {strange}. What was typed "
                "there has to be typed into the sheets of the workbook.",
                strange=", ".join([*book.strange[:10], *["..."] * (len(book.strange) > 10)]),
            )
        )
    return tuple(remarks), False


@dataclass
class _Comparing:
    project: ProjectFile
    plan: Plan
    book: ReturnedBook
    _results: dict[str, UnitResults] = field(default_factory=dict)

    def rows(self) -> Iterator[ReviewRow]:
        """Yield a row for each cell to be typed in, then those of computed cells typed over."""
        limits: dict[tuple[int, Key], list[ExportedCell]] = defaultdict(list)
        lines: dict[tuple[str, int], list[ReviewRow]] = defaultdict(list)
        for exported in self.book.exported:
            if exported.what in (READING, TABLE):
                lines[exported.sheet, exported.row].append(self._reading(exported))
            elif exported.what == SETTING:
                yield self._setting(exported)
            else:
                limits[exported.owner, exported.key].append(exported)
        for line in lines.values():
            yield from _one_note(line)
        for cells in limits.values():
            yield from self._limit(cells)
        yield from self._computed()

    def _reading(self, exported: ExportedCell) -> ReviewRow:
        cell = self.book.found[exported.name]
        target = self._target(exported)
        if target is None:
            return self._unknown(exported, cell)
        if isinstance(cell, str):
            return target.row(Standing.LOST, exported.name, cell)
        entry = self.plan.entries[exported.key.name]
        assert isinstance(entry, Field)
        if entry.choices:
            cell = replace(cell, text=meant_by(cell.text, entry.choices, self.book.language))
        compare = compare_table if exported.what == TABLE else compare_reading
        return compare(target, entry, cell)

    def _setting(self, exported: ExportedCell) -> ReviewRow:
        results = self._of(PROJECT)
        assert results is not None
        cell = self.book.found[exported.name]
        if not isinstance(cell, str):
            cell = replace(cell, text=meant_by(cell.text, DecisionRule, self.book.language))
        return compare_setting(Target(exported, results, exported.label), self.project, cell)

    def _limit(self, cells: Sequence[ExportedCell]) -> Iterator[ReviewRow]:
        found: list[tuple[Target, ReturnedCell]] = []
        for exported in cells:
            cell = self.book.found[exported.name]
            target = self._target(exported)
            if target is None:
                yield self._unknown(exported, cell)
            elif isinstance(cell, str):
                yield target.row(Standing.LOST, exported.name, cell)
            else:
                found.append((target, cell))
        if found:
            check = self.plan.entries[cells[0].key.name]
            assert isinstance(check, Check)
            yield from compare_limit(check, found)

    def _target(self, exported: ExportedCell) -> Target | None:
        """Return what an exported cell is about in the project now, or None."""
        entry = self.plan.entries.get(exported.key.name)
        _, unit_id = self.book.units.get(exported.owner, ("", None))
        results = self._of(unit_id)
        if entry is None or results is None:
            return None
        if exported.what in (READING, TABLE):
            is_table = isinstance(entry, Field) and entry.kind is Kind.TABLE
            fits = isinstance(entry, Field) and is_table is (exported.what == TABLE)
        else:
            fits = isinstance(entry, Check) and exported.what in entry.parts
        if not fits or exported.key.index not in results.members(exported.key.name):
            return None
        label = label_of(results, exported.key)
        if exported.what not in (READING, TABLE):
            label = spoken(
                "{label}, limit: {what}", label=label, what=exported.what.replace("_", " ")
            )
        return Target(exported, results, label)

    def _of(self, unit_id: str | None) -> UnitResults | None:
        if unit_id is None:
            return None
        if unit_id not in self._results:
            unit = next((unit for unit in self.project.units() if unit.id == unit_id), None)
            if unit is None and unit_id != PROJECT:
                return None
            self._results[unit_id] = unit_results(self.project, self.plan, unit)
        return self._results[unit_id]

    def _unknown(self, exported: ExportedCell, cell: ReturnedCell | str) -> ReviewRow:
        """What the project does not ask now: worth a word only if it was typed in."""
        tag, unit_id = self.book.units.get(exported.owner, ("", ""))
        changed = not isinstance(cell, str) and (
            cell.holds is not Holds.FORMULA
            if exported.is_formula
            else not same(cell.content, exported.held)
        )
        text = "" if isinstance(cell, str) else cell.text
        sentence = (
            spoken("'{value}' was typed, but the project no longer asks this.", value=text)
            if changed
            else ""
        )
        return ReviewRow(
            standing=Standing.UNKNOWN if changed else Standing.UNCHANGED,
            place=exported.name if isinstance(cell, str) else cell.place,
            name=exported.name,
            unit_id=unit_id or "",
            tag=tag,
            key=exported.key,
            what=exported.what,
            label=exported.label or exported.name,
            was=str(exported.held or ""),
            now="",
            in_file=text,
            sentence=sentence,
        )

    # -- computed cells ------------------------------------------------------------------

    def _computed(self) -> Iterator[ReviewRow]:
        """Yield computed cells with another formula or none, and names nobody knows."""
        typed_in = {exported.name for exported in self.book.exported}
        for name in self.book.names:
            found = _OURS.match(name)
            if found is None or name in typed_in:
                continue
            owner = int(found[1] or 0)
            key = self._key(found[2])
            if key is None or owner not in self.book.units:
                yield self._about_name(name, owner, Key(found[2]), None)
            elif name in self.book.computed:
                yield self._about_name(name, owner, key, self.book.computed[name])

    def _key(self, text: str) -> Key | None:
        """Return which entry and member a name is about: "superheat_f_2" -> superheat_f[2]."""
        for further in ("", *_FURTHER):
            if further and not text.endswith(f"_{further}"):
                continue
            base = text.removesuffix(f"_{further}") if further else text
            steps = base.split("_")
            for count in range(4):
                index, name = steps[len(steps) - count :], "_".join(steps[: len(steps) - count])
                fits = all(_NUMBER.match(step) for step in index)
                if fits and name in self.plan.entries and len(self.plan.repeats[name]) == count:
                    return Key(name, tuple(map(int, index)))
        return None

    def _about_name(self, name: str, owner: int, key: Key, cell: ReturnedCell | None) -> ReviewRow:
        tag, unit_id = self.book.units.get(owner, ("", ""))
        results = self._of(unit_id) if key.name in self.plan.entries else None
        label = label_of(results, key) if results is not None else name
        text, place, standing = "", name, Standing.UNKNOWN
        if cell is None:
            words = spoken(
                "the name {name} is none that this form gives; it is not read.", name=name
            )
        else:
            text, place, standing = cell.text, cell.place, Standing.OVERWRITTEN
            how = spoken("edited to") if cell.edited else spoken("typed over by")
            words = spoken(
                "its formula was {how} {value}; results are computed here, never read. Correct "
                "the readings it comes from.",
                how=how,
                value=text[:80] or spoken("nothing"),
            )
        return ReviewRow(
            standing, place, name, unit_id or "", tag, key, "", label, "", "", text, words
        )


def _one_note(line: Sequence[ReviewRow]) -> Iterator[ReviewRow]:
    """Yield the readings of one row of a sheet, which may be several of a grid.

    What is written beside them is about those that were typed, if any were.
    """
    typed = any(row.to_settle and not _is_of_words_alone(row) for row in line)
    for row in line:
        if typed and row.to_settle and _is_of_words_alone(row):
            yield replace(row, what=READING, standing=Standing.UNCHANGED, sentence="", entry=None)
        else:
            yield row


def _is_of_words_alone(row: ReviewRow) -> bool:
    """Return whether a cell is as it was, and only what stands beside it was written anew."""
    is_reason = row.standing is Standing.CHANGED and row.was == row.in_file
    return row.what == NOTE or (row.what == READING and is_reason)
