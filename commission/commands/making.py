"""Commands that make a file: new, demo, workbook, archive, handover, rebuild."""

from __future__ import annotations

import argparse
from pathlib import Path

from commission.commands import FINE
from commission.commands.opening import opened, site_for_machines
from commission.commands.turnover import finish
from commission.definitions.load import load_form
from commission.definitions.model import Form
from commission.definitions.translated import translated
from commission.errors import CommissionError
from commission.language import ENGLISH, language, speaking, spoken, to_say
from commission.project import SUFFIX, ProjectFile
from commission.project.scenario import project_from_scenario
from commission.resources import demo_units_folder
from commission.sequence.trend_demo import add_demo_log
from commission.terminal import ProgressLine, table
from commission.validation.blank import unanswered_counts
from commission.validation.plan import Plan
from commission.validation.report import summary_rows
from commission.validation.session import Session
from commission.validation.site import site_results, unit_results

# The writers are imported when they are called: each brings a large library of its own.
DEMO_NAME = "demo_site"


def new(options: argparse.Namespace) -> int:
    """Make a new project file with its first units."""
    path = options.file if options.file.suffix else options.file.with_suffix(SUFFIX)
    with Session.create(path, load_form(), options.title or path.stem) as session:
        for tag in options.unit:
            session.add_unit(tag)
        print(
            spoken(
                "{file}: new project '{title}', {count} unit(s).",
                file=path,
                title=session.project.title,
                count=len(session.units()),
            )
        )
    return FINE


def demo(options: argparse.Namespace) -> int:
    """Make the demo site's project, workbook and package, and print the summary."""
    from commission.package import write_package

    form = translated(load_form(), language())
    path: Path = options.folder / f"{DEMO_NAME}{SUFFIX}"
    if path.exists():
        print(
            spoken(
                "{file} is there already and is kept; its workbook and package are made anew.",
                file=path,
            )
        )
    else:
        _make_folder(options.folder)
        _make_demo_project(path)
    with opened(path) as project:
        _write_workbook(project, form, path.with_suffix(".xlsx"))
        site = site_results(project, form)
        progress = ProgressLine(spoken("Turnover package"))
        package = write_package(site, path.with_suffix(".pdf"), progress)
        progress.finish(spoken("{file}: turnover package written.", file=package))
        header, rows = summary_rows(site)
        print(table(header, rows, wide=len(header) - 1))
    return FINE


def _make_demo_project(path: Path) -> None:
    """Make the demo site's project; what its people typed is English, whatever is spoken."""
    with speaking(ENGLISH):
        project_from_scenario(demo_units_folder(), path, load_form()).close()
        log = add_demo_log(path, load_form(), path.parent)
    print(spoken("{file}: demo site written.", file=path))
    if log is not None:
        print(spoken("{file}: an invented trend log, kept with its unit.", file=log))


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise CommissionError(
            spoken(
                "{folder}: the folder cannot be made ({strerror}). Choose another place.",
                folder=folder,
                strerror=error.strerror,
            )
        ) from None


def workbook(options: argparse.Namespace) -> int:
    """Write a project's workbook, or the blank one to do a start-up in without the program."""
    path: Path = options.output or options.file.with_suffix(".xlsx")
    if options.blank and options.output is None:
        path = path.with_name(f"{path.stem}.blank.xlsx")
    with opened(options.file) as project:
        form = translated(load_form(), language())
        _write_workbook(
            project,
            form,
            path,
            blank=options.blank,
            paper=options.paper,
            per_volume=options.per_volume,
        )
        if options.blank:
            _print_left_out(project, form)
    return FINE


def _print_left_out(project: ProjectFile, form: Form) -> None:
    """Say which unanswered questions keep rows out of a blank workbook."""
    plan = Plan(form)
    for unit in (None, *project.units()):
        results = unit_results(project, plan, unit)
        waiting = unanswered_counts(results)
        if waiting:
            sentence = spoken(
                "{tag}: rows are left out until these are answered in the program: {questions}.",
                tag=results.tag or spoken("Project"),
                questions="; ".join(waiting),
            )
            print(f"  {sentence}")


def _write_workbook(
    project: ProjectFile,
    form: Form,
    path: Path,
    *,
    blank: bool = False,
    paper: str = "",
    per_volume: int | None = None,
) -> None:
    from commission.workbook.volumes import UNITS_PER_VOLUME, write_workbooks

    progress = ProgressLine(spoken("Workbook"))
    most = UNITS_PER_VOLUME if per_volume is None else per_volume
    written = write_workbooks(
        project, form, path, progress, blank=blank, paper=paper, per_volume=most
    )
    finish(progress, written, to_say("blank workbook") if blank else to_say("workbook"))


def archive(options: argparse.Namespace) -> int:
    """Write a project's archive record, as JSON or as comma-separated values; both are English."""
    from commission.archive import write_record, write_record_csv

    write = write_record_csv if options.csv else write_record
    suffix = ".record.csv" if options.csv else ".record.json"
    path = options.output or options.file.with_suffix(suffix)
    with opened(options.file) as project:
        progress = ProgressLine(spoken("Archive record"))
        write(site_for_machines(project), path, progress)
        progress.finish(spoken("{file}: archive record written.", file=path))
    return FINE


def handover(options: argparse.Namespace) -> int:
    """Write the handover sheets, in English, and say what a receiver would still ask for."""
    from commission.archive import handover_faults, handover_tables, write_handover_csv

    with opened(options.file) as project:
        site = site_for_machines(project)
        tables = handover_tables(site)
        files = write_handover_csv(site, options.folder)
    written = spoken(
        "{folder}: {count} handover sheets written.", folder=options.folder, count=len(files)
    )
    print(written)
    for fault in handover_faults(tables):
        print(f"  {spoken('to complete: {fault}', fault=fault)}")
    return FINE


def rebuild(options: argparse.Namespace) -> int:
    """Make a project file from an archive record alone."""
    from commission.archive import project_from_record

    with project_from_record(options.record, options.file) as project:
        units = len(project.units())
        print(
            spoken(
                "{file}: rebuilt, revision {revision}, {count} unit(s).",
                file=options.file,
                revision=project.revision,
                count=units,
            )
        )
    return FINE
