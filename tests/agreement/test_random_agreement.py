"""Random units, edited in the sheet: LibreOffice's recalculation = the engine, cell by cell.

Each batch is one site of randomly drawn units (`random_units`), every third in SI. Its
workbook is edited by openpyxl (readings moved, cleared, marked n/a, other choices, limits
moved), recalculated hard by LibreOffice, read back, accepted into the project, and then
every value, verdict and uncertainty of the engine is held against the recalculated cells.

COMMISSION_RANDOM_UNITS sets how many units are drawn (500 for the full proof, which takes
about an hour of one core), COMMISSION_RANDOM_BATCH how many share a workbook, and
COMMISSION_RANDOM_SEED the first batch's seed.
"""

from __future__ import annotations

import os
import random
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook

from agreement.random_units import Drawing, asked, random_site
from agreement.test_workbook_agreement import Recalculated, differences, same
from commission.definitions.load import load_form
from commission.definitions.model import Check, Field, Form, Key, Kind
from commission.project import ProjectFile
from commission.units import convert
from commission.validation.results import UnitResults
from commission.validation.session import Session
from commission.validation.site import SiteResults, site_results
from commission.workbook import write_workbook
from commission.workbook.addresses import readable_name
from commission.workbook.layout import Column
from commission.workbook.limit_units import form_unit_of, limit_in_unit, shown_unit_of
from commission.workbook.read_back import read_back
from commission.workbook.read_back_accept import accept
from commission.workbook.relevance import fixed_names

pytestmark = [pytest.mark.recalculation, pytest.mark.slow]

UNITS = int(os.environ.get("COMMISSION_RANDOM_UNITS", "4"))
FIRST_SEED = int(os.environ.get("COMMISSION_RANDOM_SEED", "2"))
IN_A_BATCH = int(os.environ.get("COMMISSION_RANDOM_BATCH", "2"))
EDITED, EDITED_LIMITS = 0.12, 0.2
BATCHES = range(FIRST_SEED, FIRST_SEED + (UNITS + IN_A_BATCH - 1) // IN_A_BATCH)


@pytest.fixture(scope="module")
def form() -> Form:
    return load_form()


@dataclass
class Editing:
    """Types into a returned workbook what a person in the field might."""

    book: Any
    drawing: Drawing
    source: random.Random
    typed: set[str] = field(default_factory=set)

    def cell(self, name: str) -> Any:
        sheet, place = self.book.defined_names[name].attr_text.rsplit("!", 1)
        return self.book[sheet.strip("'")][place.replace("$", "")]

    def readings(self, owner: int, results: UnitResults) -> None:
        """Edit some of the readings of one unit."""
        fixed = fixed_names(results.calculation.plan)
        for key in asked(results):
            name = readable_name(owner, key)
            name = f"{name}_shown" if f"{name}_shown" in self.book.defined_names else name
            if key.name in fixed or self.source.random() > EDITED:
                continue
            self._reading(results, key, name)

    def _reading(self, results: UnitResults, key: Key, name: str) -> None:
        asked_for = results.calculation.plan.entries[key.name]
        assert isinstance(asked_for, Field)
        if asked_for.kind not in (Kind.NUMBER, Kind.INTEGER) and not asked_for.choices:
            return
        cell = self.cell(name)
        was = cell.value
        kind = self.source.choice(["other"] * 5 + ["clear", "n/a"])
        content: Any = None
        if kind == "other":
            content = self.drawing.content(asked_for)
            shown = results.shown_unit(key.name)
            if isinstance(content, float):
                content = convert(content, asked_for.unit, shown)
        elif kind == "n/a":
            if not self._give_reason(cell):
                return
            content = "n/a"
        cell.value = content
        if was != content:
            self.typed.add(name)

    def _give_reason(self, cell: Any) -> bool:
        """Write why it does not apply in the last column; a grid has no room for reasons."""
        heads = {head.value: head.column for head in cell.parent[3] if head.value}
        if cell.column != heads[str(Column.VALUE)] or cell.value == "n/a":
            return False
        cell.parent.cell(cell.row, heads[str(Column.HOW)]).value = "could not be reached"
        return True

    def limits(self, owner: int, results: UnitResults) -> None:
        """Move some entered limits, and type over some defaults with their origin."""
        for check in results.form.entries():
            if not isinstance(check, Check) or not check.parts:
                continue
            for index in results.asked_members(check.name):
                value = results.value(check.judges, index).number
                if value is not None and self.source.random() < EDITED_LIMITS:
                    self._limit(owner, results, check, index, value)

    def _limit(
        self, owner: int, results: UnitResults, check: Check, index: tuple[int, ...], value: float
    ) -> None:
        # A project-level limit is not drawn; each unit's own cell is typed in.
        for part, number in self.drawing.parts(check, value).items():
            name = f"{readable_name(owner, Key(check.name, index))}_{part}"
            name = f"{name}_shown" if f"{name}_shown" in self.book.defined_names else name
            if name not in self.book.defined_names:
                return
            cell = self.cell(name)
            units = form_unit_of(check, part), shown_unit_of(check, part, results.unit_system)
            cell.value = limit_in_unit(part, number, *units)
            heads = {head.value: head.column for head in cell.parent[3] if head.value}
            origin = cell.parent.cell(cell.row, heads[str(Column.ORIGIN)])
            origin.value = "typed in the field"
            self.typed.add(name)


def edited(book: Any, project: ProjectFile, form: Form, seed: int) -> set[str]:
    """Edit a workbook; return the names of the cells typed in."""
    editing = Editing(
        book, Drawing(project, form, random.Random(seed)), random.Random(seed + 1_000_000)
    )
    site = site_results(project, form)
    for owner, results in enumerate(site.everything()):
        editing.readings(owner, results)
        editing.limits(owner, results)
    return editing.typed


def uncertainties(site: SiteResults, sheets: Recalculated) -> Iterator[tuple[str, Any, Any]]:
    """Yield name, engine's and sheet's ± U of every reading: those are live whatever is edited."""
    for owner, results in enumerate(site.everything()):
        for key, given in results.calculation.given.items():
            name = f"{readable_name(owner, key)}_uncertainty"
            if given.instrument and name in sheets.live.defined_names:
                yield name, results.expanded(*key) or "", sheets.named(name) or ""


@pytest.mark.parametrize("seed", BATCHES)
def test_random_units_edited_in_the_sheet(seed: int, form: Form, tmp_path: Path) -> None:
    system = "SI" if seed % 3 == 0 else "IP"
    path = tmp_path / "site.rtuproject"
    with random_site(path, form, seed, min(IN_A_BATCH, UNITS), system) as project:
        # ± U of results rest on the sensitivities of the export, so an edit may move a
        # guarded verdict; readings' own stay live. Judged simply, all verdicts are exact.
        project.set_setting("decision_rule", "simple acceptance")
        written = write_workbook(site_results(project, form), tmp_path / "site.xlsx")
        book = load_workbook(written)
        typed = edited(book, project, form, seed)
        book.save(written)
    sheets = Recalculated(written, tmp_path)
    with Session.open(path, form) as session:
        returned = tmp_path / "recalculated" / "site.xlsx"
        review = read_back(session.project, form, returned)
        unsettled = [row for row in review.to_settle if not row.acceptable]
        assert not unsettled, [(row.name, row.sentence) for row in unsettled[:5]]
        found = {row.name for row in review.changed if row.what != "origin"}
        assert found <= typed, sorted(found - typed)[:5]
        taken = accept(session, review, review.changed)
        assert not taken.refused, [(row.name, why) for row, why in taken.refused[:5]]
    with ProjectFile.open(path) as project:
        site = site_results(project, form)
        count, wrong = differences(site, sheets)
        wrong += [
            f"{name}: {ours!r}, sheet {theirs!r}"
            for name, ours, theirs in uncertainties(site, sheets)
            if not same(ours, theirs)
        ]
    print(f"seed {seed} {system}: {len(typed)} cells typed in, {len(found)} of them changed, "
          f"{count} values and verdicts compared, {len(wrong)} differ")  # fmt: skip
    assert not wrong, "\n".join(wrong[:20])
    assert len(found) > 20
    assert count > 1_000
