"""The workbook of many units: `python tests/bench/measure_workbook.py [UNITS ...]`.

Nothing is asserted. Units are the demo's over and over, with their readings and limits. Each
size is written in a process of its own, so that the peak of memory is its own; seconds are of
the processor, which a busy machine disturbs least. 1,000 units take about half an hour and are
written only if asked for: `measure_workbook.py 10 100 1000`. With `--small` before the sizes
the units are those of the tests' small form (a handful of sheets each): minutes, not hours.
"""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import count, cycle
from pathlib import Path

sys.path.insert(1, str(Path(__file__).resolve().parent.parent))  # the tests' own modules

from measure import _entered, recorded_calls, replay

from commission.definitions.load import load_form
from commission.definitions.model import Form
from commission.project import Entered, ProjectFile
from commission.project.scenario import project_from_scenario
from commission.resources import demo_units_folder
from commission.validation.site import site_results
from workbook.sample_site import fill, new_project
from workbook.small_form import ANSWERS, small_form

SIZES = (10, 100)
READ_BACK_UNITS = 100
Row = tuple[str, str, str]


def main(sizes: tuple[int, ...]) -> None:
    """Measure and print every row of the shipped form."""
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        form = load_form()
        with project_from_scenario(demo_units_folder(), place / "demo.rtuproject", form) as demo:
            for rows in (
                bare_row(place, form, demo),
                growth_rows(place, demo, sizes),
                read_back_rows(place, form, demo),
            ):
                for name, value, aim in rows:
                    print(f"{name:58} {value:>34}   {aim}", flush=True)


def main_small(sizes: tuple[int, ...]) -> None:
    """Measure and print growth under the tests' small form."""
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        form = small_form(place / "form")
        with new_project(place / "small.rtuproject", form) as project:
            fill(project, form, "", ANSWERS)
            fill(project, form, project.add_unit("RTU-1").id, ANSWERS)
            for name, value, aim in growth_rows(place, project, sizes, place / "form"):
                print(f"{name:58} {value:>34}   {aim}", flush=True)


def processor_seconds(work: Callable[[], object], times: int) -> float:
    """Return the least of a few runs, in seconds of this process."""
    taken = []
    for _ in range(times):
        began = time.process_time()
        work()
        taken.append(time.process_time() - began)
    return min(taken)


def bare_row(place: Path, form: Form, project: ProjectFile) -> Iterator[Row]:
    """The demo's workbook against the bare writer writing the same cells."""
    from commission.workbook import write_workbook

    site = site_results(project, form)
    calls = recorded_calls(lambda: write_workbook(site, place / "recorded.xlsx"))
    ours = processor_seconds(lambda: write_workbook(site, place / "ours.xlsx"), 3)
    bare = processor_seconds(lambda: replay(calls, place / "bare.xlsx"), 3)
    shown = f"{ours:.2f}/{bare:.2f} s = {ours / bare:.2f}"
    yield f"workbook / bare writer, the same {len(calls):,} calls", shown, "within 1.5"


def growth_rows(
    place: Path, demo: ProjectFile, sizes: tuple[int, ...], form: Path | None = None
) -> Iterator[Row]:
    """What a unit costs, and the most memory, at each size."""
    first = 0.0
    for size in sizes:
        path = place / f"{size}.rtuproject"
        populated(demo, path, size).close()
        command = [sys.executable, __file__, "--child", str(path), *([str(form)] if form else [])]
        done = subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True)
        said = json.loads(done.stdout)
        each = said["seconds"] / size
        first = first or each
        shown = f"{said['seconds']:.1f} s, a unit {each:.2f} s = {each / first:.2f}"
        yield f"workbook: {size:,} units, {said['volumes'] or 1} file(s)", shown, "flat"
        shown = f"{said['peak'] / 1e6:.0f} MB, on the disk {said['bytes'] / 1e6:.0f} MB"
        yield f"workbook: {size:,} units, peak memory", shown, "that of one volume"


def child(path: Path, form_folder: Path | None = None) -> None:
    """Write the workbook of a project and print what it took (a process of its own)."""
    from commission.workbook import write_workbooks

    form = load_form(form_folder)
    with ProjectFile.open(path, read_only=True) as project:
        began = time.process_time()
        written = write_workbooks(project, form, path.with_suffix(".xlsx"))
        taken = time.process_time() - began
    size = sum(file.stat().st_size for file in (written.path, *written.volumes))
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    said = {"seconds": taken, "peak": peak, "volumes": len(written.volumes), "bytes": size}
    print(json.dumps(said))


def read_back_rows(place: Path, form: Form, demo: ProjectFile) -> Iterator[Row]:
    """Reading all volumes back, compared with the project, against openpyxl's own read of them."""
    import openpyxl

    from commission.workbook import write_workbooks
    from commission.workbook.incoming_worker import IncomingWorker
    from commission.workbook.read_back import read_back

    path = place / "back.rtuproject"
    with populated(demo, path, READ_BACK_UNITS) as project:
        written = write_workbooks(project, form, path.with_suffix(".xlsx"))
        bare = ours = 0.0
        peak = 0
        with IncomingWorker() as worker:
            for file in written.volumes:
                began = time.perf_counter()
                openpyxl.load_workbook(file)
                between = time.perf_counter()
                review = read_back(project, form, file, worker=worker)
                ours += time.perf_counter() - between
                bare += between - began
                assert review.rows and not review.foreign
            peak = worker.peak_bytes
    shown = f"{ours:.1f}/{bare:.1f} s = {ours / bare:.2f}"
    yield f"read-back / openpyxl's own read, {READ_BACK_UNITS} units", shown, "within 3"
    yield "read-back: peak memory of the reading process", f"{peak / 1e6:.0f} MB", "under 600 MB"


def populated(demo: ProjectFile, path: Path, units: int) -> ProjectFile:
    """Return a copy of a project with its units over and over, until there are so many."""
    demo.save_copy(path)
    made = ProjectFile.open(path)
    sources = made.units()
    kept = {
        unit.id: (
            [Entered(**_entered(reading)) for reading in made.readings(unit.id).values()],
            list(made.limits(unit.id).values()),
        )
        for unit in sources
    }
    for unit, number in zip(cycle(sources), count(1), strict=False):
        if len(sources) + number > units:
            return made
        readings, limits = kept[unit.id]
        copy = made.add_unit(f"{unit.tag}-{number}")
        made.record_many(replace(reading, unit_id=copy.id) for reading in readings)
        with made.transaction("limits"):
            for limit in limits:
                made.set_limit(copy.id, limit.check, limit.index, limit.parts, origin=limit.origin)
    return made


if __name__ == "__main__":
    if sys.argv[1:2] == ["--child"]:
        child(*map(Path, sys.argv[2:]))
    elif sys.argv[1:2] == ["--small"]:
        main_small(tuple(map(int, sys.argv[2:])) or SIZES)
    else:
        main(tuple(map(int, sys.argv[1:])) or SIZES)
