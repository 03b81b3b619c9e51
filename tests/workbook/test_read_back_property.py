"""Whatever is done to the sheets, what was typed comes home: nothing lost, nothing invented.

The edits are those that spreadsheet programs make: contents typed, rows and columns inserted
(names and references follow), rows sorted (they do not), sheets renamed and copied, the file
saved by LibreOffice as .xlsx or .ods. `COMMISSION_EDITS` raises the number of examples.
"""

from __future__ import annotations

import os
import random
import re
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from openpyxl import load_workbook
from openpyxl.utils import get_column_letter

from commission.definitions.model import Form
from commission.project import ProjectFile
from commission.validation.site import SiteResults
from commission.workbook import write_workbook
from commission.workbook.read_back_rows import Standing
from workbook.at_work import read_back

EXAMPLES = int(os.environ.get("COMMISSION_EDITS", "6"))
BY_OFFICE = int(os.environ.get("COMMISSION_EDITS_BY_OFFICE", "1"))
STANDS_ON = ("u1_suction_psig_1", "u1_refrigerant", "p_elevation_ft")  # on three sheets
_REFERENCE = re.compile(r"('(?:[^']|'')+')!\$([A-Z]+)\$(\d+)(?::\$([A-Z]+)\$(\d+))?")

numbers = st.floats(1, 400, allow_nan=False).map(lambda number: round(number, 3))
readings = st.dictionaries(
    st.sampled_from(
        ("u1_suction_psig_1", "u1_suction_psig_2", "u1_leg_amps_a_1", "u1_leg_amps_a_2",
         "u1_leg_amps_a_3", "u1_point_velocity_fpm_1_1", "u1_point_velocity_fpm_2_3")
    ),
    numbers,
)  # fmt: skip
texts = st.text(
    st.characters(codec="utf-8", exclude_categories=("Cc", "Cs", "Cn", "Co", "Zl", "Zp", "Zs")),
    min_size=1, max_size=30,
).filter(lambda text: text.casefold() not in ("n/a", "na"))  # fmt: skip
moves = st.lists(
    st.one_of(
        st.tuples(st.just("row"), st.integers(0, 2), st.integers(1, 12)),
        st.tuples(st.just("column"), st.integers(0, 2), st.integers(1, 4)),
        st.tuples(st.just("rename"), st.integers(0, 2), st.integers(0, 99)),
        st.tuples(st.just("copy"), st.integers(0, 2), st.just(0)),
    ),
    max_size=3,
)


def shift_names(book: Any, change: Callable[[str, str, int], tuple[str, str, int]]) -> None:
    """Let names and formulas follow: `change` gives sheet, column and row anew."""

    def moved(found: re.Match[str]) -> str:
        sheet, column, row = change(found[1], found[2], int(found[3]))
        text = f"{sheet}!${column}${row}"
        if found[4]:
            _, column, row = change(found[1], found[4], int(found[5]))
            text += f":${column}${row}"
        return text

    for defined in book.defined_names.values():
        defined.attr_text = _REFERENCE.sub(moved, defined.attr_text)
    for cell in (cell for sheet in book.worksheets for row in sheet for cell in row):
        if cell.data_type == "f":
            cell.value = _REFERENCE.sub(moved, cell.value)


def make(book: Any, move: tuple[str, int, int]) -> None:
    """Insert a row or column, rename or copy a sheet, as a spreadsheet program does."""
    kind, which, at = move
    sheets = [book.worksheets[number] for number in book.places]
    sheet = sheets[which]
    title = f"'{sheet.title.replace(chr(39), chr(39) * 2)}'"
    if kind == "copy":
        book.copy_worksheet(sheet)
    elif kind == "rename":
        sheet.title = f"It's {at} - {which}"
        other = f"'It''s {at} - {which}'"
        shift_names(book, lambda s, c, r: (other if s == title else s, c, r))
    elif kind == "row":
        unmerge(sheet)
        sheet.insert_rows(at)
        shift_names(book, lambda s, c, r: (s, c, r + (s == title and r >= at)))
    else:
        unmerge(sheet)
        sheet.insert_cols(at)

        def beside(s: str, c: str, r: int) -> tuple[str, str, int]:
            from openpyxl.utils import column_index_from_string

            number = column_index_from_string(c)
            return s, get_column_letter(number + (s == title and number >= at)), r

        shift_names(book, beside)


def unmerge(sheet: Any) -> None:
    for merged in list(sheet.merged_cells.ranges):
        sheet.unmerge_cells(str(merged))


def put(book: Any, name: str, value: object) -> None:
    sheet, cell = book.defined_names[name].attr_text.rsplit("!", 1)
    place = book[sheet[1:-1].replace("''", "'")][cell.replace("$", "")]
    place.value = value
    if isinstance(value, str):
        place.data_type = "s"  # a text that begins with "=" stays one


def by_office(path: Path, kind: str, folder: Path) -> Path:
    """Return a workbook as LibreOffice saves it."""
    command = [
        "soffice", f"-env:UserInstallation={(folder / 'profile').resolve().as_uri()}",
        "--headless", "--norestore", "--convert-to", kind, "--outdir", str(folder / "again"),
        str(path),
    ]  # fmt: skip
    subprocess.run(command, check=True, capture_output=True, timeout=300)
    return folder / "again" / f"{path.stem}.{kind}"


def edited(path: Path, values: dict[str, Any], steps: list[tuple[str, int, int]]) -> Path:
    book = load_workbook(path)
    titles = [book.defined_names[name].attr_text.split("!")[0].strip("'") for name in STANDS_ON]
    book.places = [book.sheetnames.index(title) for title in titles]
    for step in steps:
        make(book, step)
    for name, value in values.items():
        put(book, name, value)
    target = path.with_name("edited.xlsx")
    book.save(target)
    return target


def check(project: ProjectFile, form: Form, file: Path, values: dict[str, Any]) -> None:
    """What the review finds is what was typed, to the last digit and letter."""
    review = read_back(project, form, file)
    held = {row.name: row for row in review.rows if row.what == "reading"}
    changed = {row.name: row for row in review.to_settle}
    wanted = {}
    for name, value in values.items():
        same = isinstance(value, float) and held[name].was.split(" ")[0] == f"{value:g}"
        if not same and held[name].standing is not Standing.UNCHANGED:
            wanted[name] = value
    assert set(changed) == set(wanted)
    for name, value in wanted.items():
        assert changed[name].standing is Standing.CHANGED
        entry = str(changed[name].entry)
        assert (float(entry) if isinstance(value, float) else entry) == value
    for name in set(values) - set(wanted):
        assert held[name].was.split(" ")[0] in (f"{values[name]:g}", f"{values[name]:.4g}")


@pytest.fixture
def path(tmp_path: Path, site: Callable[[], SiteResults]) -> Path:
    return write_workbook(site(), tmp_path / "site.xlsx")


@settings(
    max_examples=EXAMPLES, deadline=None, derandomize=True, phases=[Phase.generate],
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)  # fmt: skip
@given(values=readings, remark=texts, steps=moves)
def test_nothing_lost_nothing_invented(
    path: Path, project: ProjectFile, form: Form, values: dict[str, float], remark: str,
    steps: list[tuple[str, int, int]],
) -> None:  # fmt: skip
    typed = values | {"u1_remark": remark}
    check(project, form, edited(path, typed, steps), typed)


def sort_rows(book: Any, source: random.Random) -> None:
    """Put the rows of asked cells in another order: contents move, names stay where they were."""
    for number in book.places:
        sheet = book.worksheets[number]
        title = f"'{sheet.title}'"
        spots = (one.attr_text.rsplit("!", 1) for one in book.defined_names.values())
        rows = {int(cell.rsplit("$", 1)[1]) for where, cell in spots if where == title}
        unmerge(sheet)
        some = sorted(source.sample(sorted(rows), source.randint(0, len(rows))))
        held = {row: [cell.value for cell in sheet[row]] for row in some}
        for row, origin in zip(some, source.sample(some, len(some)), strict=True):
            for cell, value in zip(sheet[row], held[origin], strict=True):
                cell.value = value


def test_sorting_gives_no_reading_to_another(
    path: Path, project: ProjectFile, form: Form, tmp_path: Path
) -> None:
    followed = 0

    @settings(
        max_examples=EXAMPLES, deadline=None, derandomize=True, phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    @given(values=readings, seed=st.integers(0, 2**32))
    def one(values: dict[str, float], seed: int) -> None:
        nonlocal followed
        book = load_workbook(path)
        titles = [book.defined_names[n].attr_text.split("!")[0].strip("'") for n in STANDS_ON]
        book.places = [book.sheetnames.index(title) for title in titles]
        for name, value in values.items():
            put(book, name, value)
        sort_rows(book, random.Random(seed))
        book.save(tmp_path / "sorted.xlsx")
        review = read_back(project, form, tmp_path / "sorted.xlsx")
        rows = {row.name: row for row in review.rows if row.what == "reading"}
        for name, row in rows.items():
            if row.acceptable:  # nothing invented
                assert float(str(row.entry)) == values[name]
                followed += 1
        for name, value in values.items():  # nothing lost without a word
            row = rows[name]
            if not row.acceptable and row.standing is not Standing.LOST:
                assert row.standing is Standing.UNCHANGED
                assert row.was.split(" ")[0] in (f"{value:g}", f"{value:.4g}")

    one()
    assert followed


@pytest.mark.parametrize("kind", ["xlsx", "ods"])
def test_nor_by_way_of_libreoffice(
    path: Path, project: ProjectFile, form: Form, tmp_path: Path, kind: str
) -> None:
    @settings(
        max_examples=BY_OFFICE, deadline=None, derandomize=True, phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    @given(values=readings, steps=moves)
    def one(values: dict[str, float], steps: list[tuple[str, int, int]]) -> None:
        typed = {**values, "u1_suction_psig_1": 121.25, "u1_remark": "=SUM(A1) is no formula"}
        check(project, form, by_office(edited(path, typed, steps), kind, tmp_path), typed)

    one()
