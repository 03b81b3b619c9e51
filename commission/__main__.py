"""The command line. Each command is a few lines: it reads, calls, and prints."""

from __future__ import annotations

import argparse
import csv
import json
import sys
from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from commission import __version__
from commission.errors import CommissionError
from commission.terminal import ProgressLine, listed, table

if TYPE_CHECKING:
    from commission.project import ProjectFile
    from commission.validation.results import UnitResults
    from commission.validation.site import SiteResults

# Each command imports what it needs when it runs: the window must not wait for the PDF
# library, nor a verdict table for the window.

PROJECT_SUFFIX = ".rtuproject"
DEMO_NAME = "demo_site"
FINE, FOUND, BAD_INPUT = 0, 1, 2


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; return 0, 1 (a failure or stop was found) or 2 (bad input)."""
    options = _parser().parse_args(arguments)
    try:
        command: Callable[[argparse.Namespace], int] = options.command
        return command(options)
    except CommissionError as error:
        print(f"commission: {error}", file=sys.stderr)
        return BAD_INPUT
    except BrokenPipeError:
        sys.stderr.close()
        return FINE
    except KeyboardInterrupt:
        print("commission: stopped; what was entered is in the project file.", file=sys.stderr)
        return BAD_INPUT


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="commission",
        description="Start a packaged rooftop unit up, prove that it does what it should, and "
        "hand over a record that can be trusted.",
    )
    parser.add_argument("--version", action="version", version=f"commission {__version__}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    window = _command(commands, "window", _window, "open the window, on a project if one is named")
    window.add_argument("file", nargs="?", type=Path, help=f"project file (*{PROJECT_SUFFIX})")
    window.add_argument(
        "--exit-when-shown", action="store_true", help="leave once the first window is painted"
    )
    new = _command(commands, "new", _new, "make a new project file")
    new.add_argument("file", type=Path)
    new.add_argument("--title", default="", help="name of the job (the file's name if left out)")
    new.add_argument("--unit", action="append", default=[], metavar="TAG", help="add a unit")
    check = _command(commands, "check", _check, "judge a project and print the verdicts")
    check.add_argument("file", type=Path)
    check.add_argument("--unit", metavar="TAG", help="one unit only")
    check.add_argument("--all", action="store_true", help="passes and what is missing as well")
    check.add_argument("--json", action="store_true", help="print all verdicts as JSON")
    for name, run, text in (
        ("workbook", _workbook, "write the spreadsheet (.xlsx)"),
        ("package", _package, "write the turnover package (.pdf)"),
    ):
        output = _command(commands, name, run, text)
        output.add_argument("file", type=Path)
        output.add_argument("-o", "--output", type=Path, help="where to write it")
    sources = _command(
        commands, "sources", _sources, "print where every formula and default limit comes from"
    )
    sources.add_argument("--csv", action="store_true", help="as comma-separated values")
    demo = _command(commands, "demo", _demo, "make the demo site's project, workbook and package")
    demo.add_argument("folder", type=Path)
    return parser


def _command(
    commands: argparse._SubParsersAction[argparse.ArgumentParser],
    name: str,
    run: Callable[[argparse.Namespace], int],
    text: str,
) -> argparse.ArgumentParser:
    parser = commands.add_parser(name, help=text, description=text[0].upper() + text[1:] + ".")
    parser.set_defaults(command=run)
    return parser


def _window(options: argparse.Namespace) -> int:
    from commission.wizard.application import run

    return run(options.file, exit_when_shown=options.exit_when_shown)


def _new(options: argparse.Namespace) -> int:
    from commission.definitions.load import load_form
    from commission.validation.session import Session

    path = options.file if options.file.suffix else options.file.with_suffix(PROJECT_SUFFIX)
    with Session.create(path, load_form(), options.title or path.stem) as session:
        for tag in options.unit:
            session.add_unit(tag)
        print(f"{path}: new project '{session.project.title}', {len(session.units())} unit(s).")
    return FINE


def _check(options: argparse.Namespace) -> int:
    from commission.validation.report import findings, site_record

    with _open(options.file) as project:
        site = _site(project)
        units = _chosen_units(site, options.unit)
        record = site_record(site, units)
        counts = Counter(row["outcome"] for unit in record["units"] for row in unit["verdicts"])
        if options.json:
            print(json.dumps(record, ensure_ascii=False, indent=1))
        else:
            for heading, rows in findings(units, everything=options.all):
                print(listed(heading, rows))
            print(_counted(counts, record["stops"]))
    failed = any(
        row["outcome"] == "fail" and row["severity"] != "note"
        for unit in record["units"]
        for row in unit["verdicts"]
    )
    return FOUND if failed else FINE


def _counted(counts: Counter[str], stops: int) -> str:
    words = ("pass", "fail", "inconclusive", "missing", "not applicable")
    found = ", ".join(f"{counts.get(word, 0)} {word}" for word in words)
    return f"{found}; {stops} stop{'s' * (stops != 1)}."


def _workbook(options: argparse.Namespace) -> int:
    with _open(options.file) as project:
        _write_workbook(_site(project), options.output or options.file.with_suffix(".xlsx"))
    return FINE


def _package(options: argparse.Namespace) -> int:
    with _open(options.file) as project:
        _write_package(_site(project), options.output or options.file.with_suffix(".pdf"))
    return FINE


def _demo(options: argparse.Namespace) -> int:
    from commission.definitions.load import load_form
    from commission.project.scenario import project_from_scenario
    from commission.resources import demo_units_folder
    from commission.validation.report import summary_rows
    from commission.validation.site import site_results

    form = load_form()
    path: Path = options.folder / f"{DEMO_NAME}{PROJECT_SUFFIX}"
    if path.exists():
        print(f"{path} is there already and is kept; its workbook and package are made anew.")
    else:
        _make_folder(options.folder)
        project_from_scenario(demo_units_folder(), path, form).close()
        print(f"{path}: demo site written.")
    with _open(path) as project:
        site = site_results(project, form)
        _write_workbook(site, path.with_suffix(".xlsx"))
        _write_package(site, path.with_suffix(".pdf"))
        header, rows = summary_rows(site)
        print(table(header, rows, wide=len(header) - 1))
    return FINE


def _sources(options: argparse.Namespace) -> int:
    from dataclasses import astuple

    from commission.definitions.load import load_form
    from commission.validation.sources import HEADER, source_rows

    rows = [astuple(row) for row in source_rows(load_form())]
    if options.csv:
        csv.writer(sys.stdout, lineterminator="\n").writerows([HEADER, *rows])
        return FINE
    for kind, name, rule, unit, source in rows:
        print(f"{kind}  {name}{f' [{unit}]' if unit else ''}\n    {rule}\n    {source}")
    print(f"{len(rows)} formulas, functions and default limits.")
    return FINE


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise CommissionError(
            f"{folder}: the folder cannot be made ({error.strerror}). Choose another place."
        ) from None


def _write_workbook(site: SiteResults, path: Path) -> None:
    from commission.workbook import write_workbook

    progress = ProgressLine("Workbook")
    write_workbook(site, path, progress)
    progress.finish(f"{path}: workbook written.")


def _write_package(site: SiteResults, path: Path) -> None:
    from commission.package import write_package

    progress = ProgressLine("Turnover package")
    write_package(site, path, progress)
    progress.finish(f"{path}: turnover package written.")


def _open(path: Path) -> ProjectFile:
    from commission.project import ProjectFile

    return ProjectFile.open(path, read_only=True)


def _site(project: ProjectFile) -> SiteResults:
    from commission.definitions.load import load_form
    from commission.validation.site import site_results

    return site_results(project, load_form())


def _chosen_units(site: SiteResults, tag: str | None) -> list[UnitResults]:
    if tag is None:
        return list(site.everything())
    chosen = [results for results in site.units if results.tag.casefold() == tag.casefold()]
    if not chosen:
        tags = ", ".join(results.tag for results in site.units) or "none"
        raise CommissionError(f"{site.project.path}: no unit '{tag}'. Its units: {tags}.")
    return chosen


if __name__ == "__main__":
    sys.exit(main())
