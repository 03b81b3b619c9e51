"""The turnover package's cost: `python tests/bench/measure_package.py [most units]`.

With `--shipped N ...` the sizes are those of sites of the shipped form: copies of the demo's
units with all their readings, limits and passes.

Nothing is asserted: times belong to a machine and a day. Two things are measured: the demo's
tables set by us (tagged, archival) beside the same tables set by the bare PDF library, and
what the packages of 10, 100 and 1,000 units of a small form (in volumes and an index, results
included) take in time and memory, each in a
process of its own. Processor time is told, since it does not count what others do meanwhile.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from unittest import mock

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from commission.definitions.load import load_form
from commission.package import archival, write_package, write_packages
from commission.package.archival import Description
from commission.package.document import TurnoverDocument
from commission.package.look import BOLD, INK, REGULAR, RULE, TABLE_LEADING, TABLE_SIZE
from commission.package.tables import Cell, Column, DataTable, Row
from commission.package.typesetting import width_of
from commission.project import Entered, ProjectFile, Unit
from commission.project.scenario import project_from_scenario
from commission.resources import demo_units_folder
from commission.validation.site import SiteResults, site_results
from package.invented_project import new_project, small_form_in

SIZES = (10, 100, 1000)
Recorded = tuple[Sequence[Column], Sequence[Row]]


def main() -> None:
    """Measure and print every row."""
    if sys.argv[1:2] == ["--one"]:
        print(*one_size(int(sys.argv[2]), shipped="--shipped" in sys.argv))
        return
    if sys.argv[1:2] == ["--shipped"]:
        for size in map(int, sys.argv[2:]):
            measured(size, "--shipped")
        return
    most = int(sys.argv[1]) if len(sys.argv) > 1 else SIZES[-1]
    with tempfile.TemporaryDirectory() as folder:
        print(*against_the_bare_library(Path(folder)), sep="\n", flush=True)
    for size in SIZES:
        if size <= most:
            measured(size)


def measured(size: int, *options: str) -> None:
    """Measure one size in a process of its own, and print its row."""
    words = [sys.executable, __file__, "--one", str(size), *options]
    done = subprocess.run(words, check=True, capture_output=True, text=True)
    seconds, pages, megabytes, before = map(float, done.stdout.split())
    print(
        f"{size:5} units: {pages:6.0f} pages, {seconds:7.1f} s, "
        f"{seconds / size * 1e3:5.0f} ms a unit, memory {megabytes:5.0f} MB, "
        f"of which {before:.0f} MB before writing",
        flush=True,
    )


def processor(work: Callable[[], object], times: int = 2) -> float:
    """Return the least processor time of a few runs."""
    taken = []
    for _ in range(times):
        began = time.process_time()
        work()
        taken.append(time.process_time() - began)
    return min(taken)


# -- against the bare library ------------------------------------------------------------


def against_the_bare_library(folder: Path) -> list[str]:
    """Return the rows on the demo site: its tables by us and by the library, the whole."""
    form = load_form()
    with project_from_scenario(demo_units_folder(), folder / "demo.rtuproject", form) as project:
        site = site_results(project, form)
        tables = recorded_tables(site, folder / "recorded.pdf")
        whole = processor(lambda: write_package(site, folder / "whole.pdf"))
    ours = processor(lambda: set_by_us(tables))
    bare = processor(lambda: set_by_the_library(tables))
    cells = sum(len(row.cells) for _, rows in tables for row in rows)
    return [
        f"the demo's {len(tables)} tables, {cells:,} cells: ours tagged and archival "
        f"{ours:.2f} s, bare library {bare:.2f} s = {ours / bare:.2f}  (within 1.5)",
        f"the whole package, with its shown work and figures: {whole:.2f} s = "
        f"{whole / bare:.2f} of the bare tables",
    ]


def recorded_tables(site: SiteResults, path: Path) -> list[Recorded]:
    """Return the columns and rows of every table of a package."""
    found: dict[int, Recorded] = {}
    real = DataTable._lay

    def lay(table: DataTable, width: float) -> None:
        # A table tried in half of the width has the same rows, and counts once.
        found.setdefault(id(table.rows), (table.columns, table.rows))
        real(table, width)

    with mock.patch.object(DataTable, "_lay", lay):
        write_package(site, path)
    return [(columns, rows) for columns, rows in found.values() if rows]


def set_by_us(tables: Sequence[Recorded]) -> bytes:
    """Set tables as the package does; links are left out, since their places are."""
    plain = [DataTable(columns, [_unlinked_row(row) for row in rows]) for columns, rows in tables]
    target = BytesIO()
    canvas = TurnoverDocument(target, "IP", "Bench", "bench").make(plain)
    about = Description("Bench", "", "", "bench", "en-US", "")
    return archival.archived(target, about, (), canvas.structure)


def _unlinked_row(row: Row) -> Row:
    return replace(row, key="", cells=[_unlinked(cell) for cell in row.cells])


def _unlinked(cell: Cell | str) -> Cell | str:
    return replace(cell, link="", goes_to="", page_of="") if isinstance(cell, Cell) else cell


def set_by_the_library(tables: Sequence[Recorded]) -> bytes:
    """Set the same tables by the library's own: strings, and paragraphs where text must wrap."""
    from reportlab.lib.styles import ParagraphStyle
    from reportlab.platypus import LongTable, SimpleDocTemplate

    style = ParagraphStyle("c", fontName=REGULAR, fontSize=TABLE_SIZE, leading=TABLE_LEADING)
    story = []
    for columns, rows in tables:
        share = sum(column.share for column in columns)
        # A column that only fills the width may have none; the library asks for its padding.
        widths = [max(516 * column.share / share, 13) for column in columns]
        spans: list[tuple[object, ...]] = []
        data: list[list[object]] = [[column.title for column in columns]]
        for number, row in enumerate(rows, 1):
            data.append(_plain_row(row, widths, number, spans, style))
        rules = [
            ("FONT", (0, 0), (-1, -1), REGULAR, TABLE_SIZE, TABLE_LEADING),
            ("FONT", (0, 0), (-1, 0), BOLD, TABLE_SIZE, TABLE_LEADING),
            ("TEXTCOLOR", (0, 0), (-1, -1), INK),
            ("LINEBELOW", (0, 0), (-1, -1), 0.3, RULE),
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("TOPPADDING", (0, 0), (-1, -1), 2),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
        ]
        story.append(LongTable(data, widths, repeatRows=1, style=[*rules, *spans]))
    target = BytesIO()
    document = SimpleDocTemplate(target, leftMargin=48, rightMargin=48, invariant=1)
    document.build(story)
    return target.getvalue()


def _plain_row(
    row: Row, widths: Sequence[float], number: int, spans: list[tuple[object, ...]], style: object
) -> list[object]:
    from xml.sax.saxutils import escape

    from reportlab.platypus import Paragraph

    cells: list[object] = []
    for given in row.cells:
        cell = given if isinstance(given, Cell) else Cell(given)
        place = len(cells)
        room = sum(widths[place : place + cell.span]) - 12
        fits = "\n" not in cell.text and width_of(cell.text, REGULAR, TABLE_SIZE) <= room
        text = escape(cell.text).replace("\n", "<br/>")
        cells.append(cell.text if fits else Paragraph(text, style))
        cells += [""] * (cell.span - 1)
        if cell.span > 1:
            spans.append(("SPAN", (place, number), (place + cell.span - 1, number)))
    return cells + [""] * (len(widths) - len(cells))


# -- by the number of units --------------------------------------------------------------


def one_size(size: int, *, shipped: bool) -> tuple[float, int, float, float]:
    """Return processor time, pages, and the most memory at the end and before writing, in MB."""
    import pikepdf

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        with _shipped(folder, size) if shipped else _small(folder, size) as project:
            form = load_form() if shipped else small_form_in(folder)
            before = _most_memory()
            path = folder / "many.pdf"
            taken = processor(lambda: write_packages(project, form, path), 1)
        most = _most_memory()
        pages = 0
        for volume in (path, *folder.glob("many.volume-*.pdf")):
            with pikepdf.open(volume) as pdf:
                pages += len(pdf.pages)
        return taken, pages, most, before


def _small(folder: Path, size: int) -> ProjectFile:
    project = new_project(folder / "many.rtuproject", small_form_in(folder))
    _fill(project, size)
    return project


def _shipped(folder: Path, size: int) -> ProjectFile:
    """Return the demo site with copies of its units, `size` in all."""
    project = project_from_scenario(demo_units_folder(), folder / "many.rtuproject", load_form())
    models = project.units()
    for number in range(len(models) + 1, size + 1):
        _copy(project, models[number % len(models)], f"RTU-{number}")
    return project


def _copy(project: ProjectFile, model: Unit, tag: str) -> None:
    unit_id = project.add_unit(tag).id
    rows = [
        Entered(
            unit_id=unit_id,
            name=reading.name,
            index=reading.index,
            value=reading.value,
            not_applicable=reading.not_applicable,
            pass_name=name,
            instrument_id=reading.instrument_id,
            person_id=reading.person_id,
        )
        for name in project.passes(model.id)
        for reading in project.readings_of_pass(model.id, name).values()
        if not reading.is_unread
    ]
    project.record_many(rows)
    with project.transaction("bench"):
        for limit in project.limits(model.id).values():
            project.set_limit(
                unit_id, limit.check, limit.index, limit.parts, origin=limit.origin,
                confirmed=limit.confirmed,
            )  # fmt: skip


def _fill(project: ProjectFile, size: int) -> None:
    with project.transaction("bench"):
        units = [project.add_unit(f"RTU-{number}").id for number in range(1, size + 1)]
    readings = []
    for unit in units:
        asked = {("circuits", ()): 4.0, ("rated_v", ()): 460.0, ("supply_v", ()): 448.4}
        for circuit in range(1, 5):
            asked["suction_line_f", (circuit,)] = 58.2 + circuit
            asked["dew_point_f", (circuit,)] = 46.1
            asked |= {("amps_a", (circuit, leg)): 30.0 + leg for leg in (1, 2, 3)}
        readings += [
            Entered(unit_id=unit, name=name, index=index, value=value)
            for (name, index), value in asked.items()
        ]
    project.record_many(readings)


def _most_memory() -> float:
    """Return the most memory of this process; `getrusage` would tell its parent's, if more."""
    status = Path("/proc/self/status").read_text(encoding="utf-8")
    return float(status.split("VmHWM:")[1].split()[0]) / 1024


if __name__ == "__main__":
    main()
