"""Speed as ratios measured in one run: `python tests/bench/measure.py`.

Nothing here is asserted: times belong to a machine and a day. Each row sets what the
program does beside the bare library doing the same, or beside itself on a larger job.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import fields, replace
from pathlib import Path
from typing import Any
from unittest import mock

from commission.definitions.load import load_form
from commission.definitions.model import Form, Key, Kind
from commission.project import Entered, ProjectFile, Reading
from commission.project.scenario import project_from_scenario
from commission.resources import demo_units_folder
from commission.validation.session import Session
from commission.validation.site import SiteResults, site_results

BARE_WINDOW = """
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication, QMainWindow
app = QApplication([])
window = QMainWindow()
window.resize(1200, 800)
window.show()
QTimer.singleShot(0, app.quit)
app.exec()
"""
UNITS_OPEN = 60
GROWTH = 8


def main() -> None:
    """Measure and print every row."""
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        form = load_form()
        project = project_from_scenario(demo_units_folder(), place / "demo.rtuproject", form)
        with project:
            for measure in (window_rows, keystroke_rows, output_rows):
                for name, value, aim in measure(place, form, project):
                    print(f"{name:58} {value:>22}   {aim}", flush=True)


def seconds(work: Callable[[], object], times: int = 3) -> float:
    """Return the least of a few runs: the one the machine disturbed least."""
    taken = []
    for _ in range(times):
        began = time.perf_counter()
        work()
        taken.append(time.perf_counter() - began)
    return min(taken)


Row = tuple[str, str, str]


def window_rows(place: Path, _form: Form, _project: ProjectFile) -> Iterator[Row]:
    """The window shown against a bare Qt window shown, each in a new process."""
    env = {**os.environ, "QT_QPA_PLATFORM": os.environ.get("QT_QPA_PLATFORM", "offscreen")}
    env["PYTHONPYCACHEPREFIX"] = str(place / "compiled")
    env.pop("PYTHONDONTWRITEBYTECODE", None)  # a program that is installed has been compiled
    bare_command = [sys.executable, "-c", BARE_WINDOW]
    ours_command = [sys.executable, "-m", "commission", "window", "--exit-when-shown"]
    bare = seconds(lambda: subprocess.run(bare_command, env=env, check=True), 5)
    ours = seconds(lambda: subprocess.run(ours_command, env=env, check=True), 5)
    shown = f"{ours * 1e3:.0f}/{bare * 1e3:.0f} ms = {ours / bare:.2f}"
    yield "window shown / bare window shown", shown, "within 2"


def keystroke_rows(place: Path, form: Form, project: ProjectFile) -> Iterator[Row]:
    """An entry to its verdict, committed to the file, with many units open."""
    copy = place / "many.rtuproject"
    project.save_copy(copy)
    with Session.open(copy, form) as session:
        sister = session.units()[0]
        for number in range(UNITS_OPEN - len(session.units())):
            unit = session.add_unit(f"BENCH-{number + 1}")
            session.copy_configuration(sister.id, unit.id, ("configuration", "nameplate"))
        for unit in session.units():
            session.results(unit.id)
        yield from _keystrokes(session, sister.id)


def _keystrokes(session: Session, unit_id: str) -> Iterator[Row]:
    results = session.results(unit_id)
    structural = session.plan.structural
    keys = [
        Key(field.name, index)
        for section in results.sections()
        for field in section.fields
        if field.kind is Kind.NUMBER and field.name not in structural
        for index in results.asked_members(field.name)
        if results.value(field.name, index).number is not None
    ]
    whole, computed = [], []
    for key in keys:
        text = repr(results.value(key.name, key.index).number)
        began = time.perf_counter()
        session.enter(unit_id, key.name, key.index, text)
        whole.append(time.perf_counter() - began)
        given = results.calculation.given[key]
        began = time.perf_counter()
        results.calculation.give(key, given)
        computed.append(time.perf_counter() - began)
    for name, taken in (("computed", computed), ("computed and on the disk", whole)):
        cuts = statistics.quantiles(taken, n=100)
        shown = f"p50 {cuts[49] * 1e3:.2f} p99 {cuts[98] * 1e3:.2f} ms"
        yield f"entry to verdict, {name}, {UNITS_OPEN} units", shown, "p99 under 8 ms"


def output_rows(place: Path, form: Form, project: ProjectFile) -> Iterator[Row]:
    """Workbook against the bare writer writing the same cells; both outputs by unit."""
    site = site_results(project, form)
    yield from _workbook_row(place, site)
    yield from _growth_rows(place, form, project, site)


def _workbook_row(place: Path, site: SiteResults) -> Iterator[Row]:
    from commission.workbook import write_workbook

    calls = recorded_calls(lambda: write_workbook(site, place / "recorded.xlsx"))
    ours = seconds(lambda: write_workbook(site, place / "ours.xlsx"))
    bare = seconds(lambda: replay(calls, place / "bare.xlsx"))
    shown = f"{ours:.2f}/{bare:.2f} s = {ours / bare:.2f}"
    yield f"workbook / bare writer, the same {len(calls):,} calls", shown, "within 1.5"


def recorded_calls(write: Callable[[], object]) -> list[tuple[str, str, tuple[Any, ...]]]:
    """Return every cell the workbook writer writes: sheet, method, arguments less formats."""
    import xlsxwriter.worksheet

    sheet_class = xlsxwriter.worksheet.Worksheet
    calls: list[tuple[str, str, tuple[Any, ...]]] = []
    names = ("write_string", "write_number", "write_formula", "write_blank")

    def spied(name: str) -> Callable[..., Any]:
        real = getattr(sheet_class, name)

        def call(sheet: Any, *arguments: Any, **named: Any) -> Any:
            value = (named["value"],) if "value" in named else ()
            calls.append((sheet.name, name, (*arguments[:3], *value)))
            return real(sheet, *arguments, **named)

        return call

    with mock.patch.multiple(sheet_class, **{name: spied(name) for name in names}):
        write()
    return calls


def replay(calls: list[tuple[str, str, tuple[Any, ...]]], path: Path) -> None:
    """Write the same cells by the bare library, one format for all."""
    import xlsxwriter

    book = xlsxwriter.Workbook(path)
    border = book.add_format({"border": 1})
    sheets: dict[str, Any] = {}
    for name, method, arguments in calls:
        sheet = sheets.get(name) or sheets.setdefault(name, book.add_worksheet(name))
        if method == "write_formula":
            sheet.write_formula(*arguments[:3], border, *arguments[3:])
        else:
            getattr(sheet, method)(*arguments, border)
    book.close()


def _growth_rows(place: Path, form: Form, project: ProjectFile, site: SiteResults) -> Iterator[Row]:
    from commission.package import write_package
    from commission.workbook import write_workbook

    with grown(project, place / "grown.rtuproject", GROWTH) as larger:
        many = site_results(larger, form)
        for name, write, suffix in (
            ("workbook", write_workbook, ".xlsx"),
            ("package", write_package, ".pdf"),
        ):
            short = seconds(lambda w=write, s=suffix: w(site, place / f"few{s}"))
            long = seconds(lambda w=write, s=suffix: w(many, place / f"many{s}"), 1)
            growth = (long / len(many.units)) / (short / len(site.units))
            shown = f"{short:.1f} s, {long:.1f} s = {growth:.2f}"
            yield (
                f"{name}: cost per unit, {len(many.units)} / {len(site.units)} units",
                shown,
                "flat",
            )


def grown(project: ProjectFile, path: Path, factor: int) -> ProjectFile:
    """Return a copy of a project with every unit several times over, readings and limits."""
    project.save_copy(path)
    larger = ProjectFile.open(path)
    for unit in larger.units():
        readings = [Entered(**_entered(reading)) for reading in larger.readings(unit.id).values()]
        limits = larger.limits(unit.id).values()
        for number in range(1, factor):
            copy = larger.add_unit(f"{unit.tag}-{number}")
            larger.record_many(replace(reading, unit_id=copy.id) for reading in readings)
            with larger.transaction("limits"):
                for limit in limits:
                    larger.set_limit(
                        copy.id, limit.check, limit.index, limit.parts, origin=limit.origin
                    )
    return larger


def _entered(reading: Reading) -> dict[str, Any]:
    return {field.name: getattr(reading, field.name) for field in fields(Entered)}


if __name__ == "__main__":
    main()
