"""Commands that make a file: new, demo, workbook, package, archive, handover, rebuild."""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from commission.commands import FINE
from commission.commands.opening import opened, site_of
from commission.definitions.load import load_form
from commission.errors import CommissionError
from commission.project import SUFFIX
from commission.project.scenario import project_from_scenario
from commission.resources import demo_units_folder
from commission.terminal import ProgressLine, table
from commission.validation.report import summary_rows
from commission.validation.session import Session
from commission.validation.site import SiteResults, site_results

if TYPE_CHECKING:
    from commission.package import Attachment

# The writers are imported when they are called: each brings a large library of its own.
DEMO_NAME = "demo_site"
WORKBOOK_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def new(options: argparse.Namespace) -> int:
    """Make a new project file with its first units."""
    path = options.file if options.file.suffix else options.file.with_suffix(SUFFIX)
    with Session.create(path, load_form(), options.title or path.stem) as session:
        for tag in options.unit:
            session.add_unit(tag)
        print(f"{path}: new project '{session.project.title}', {len(session.units())} unit(s).")
    return FINE


def demo(options: argparse.Namespace) -> int:
    """Make the demo site's project, workbook and package, and print the summary."""
    form = load_form()
    path: Path = options.folder / f"{DEMO_NAME}{SUFFIX}"
    if path.exists():
        print(f"{path} is there already and is kept; its workbook and package are made anew.")
    else:
        _make_folder(options.folder)
        project_from_scenario(demo_units_folder(), path, form).close()
        print(f"{path}: demo site written.")
    with opened(path) as project:
        site = site_results(project, form)
        _write_workbook(site, path.with_suffix(".xlsx"))
        _write_package(site, path.with_suffix(".pdf"))
        header, rows = summary_rows(site)
        print(table(header, rows, wide=len(header) - 1))
    return FINE


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise CommissionError(
            f"{folder}: the folder cannot be made ({error.strerror}). Choose another place."
        ) from None


def workbook(options: argparse.Namespace) -> int:
    """Write a project's workbook."""
    with opened(options.file) as project:
        _write_workbook(site_of(project), options.output or options.file.with_suffix(".xlsx"))
    return FINE


def package(options: argparse.Namespace) -> int:
    """Write a project's turnover package, with workbook and record inside it if asked."""
    path = options.output or options.file.with_suffix(".pdf")
    with opened(options.file) as project:
        site = site_of(project)
        attachments = _attachments(site, options.file.stem) if options.embed else ()
        _write_package(site, path, attachments)
    return FINE


def _attachments(site: SiteResults, stem: str) -> tuple[Attachment, ...]:
    """Return the workbook and the archive record of the same state of the project."""
    from commission.archive import write_record
    from commission.package import Attachment
    from commission.workbook import write_workbook

    with tempfile.TemporaryDirectory() as folder:
        workbook = write_workbook(site, Path(folder) / f"{stem}.xlsx")
        record = write_record(site, Path(folder) / f"{stem}.record.json")
        return (
            Attachment(
                workbook.name,
                WORKBOOK_TYPE,
                "Alternative",
                "The workbook, live formulas",
                workbook.read_bytes(),
            ),
            Attachment(
                record.name,
                "application/json",
                "Data",
                "The archive record: all readings with their history",
                record.read_bytes(),
            ),
        )


def _write_workbook(site: SiteResults, path: Path) -> None:
    from commission.workbook import write_workbook

    progress = ProgressLine("Workbook")
    write_workbook(site, path, progress)
    progress.finish(f"{path}: workbook written.")


def _write_package(site: SiteResults, path: Path, attachments: Sequence[Attachment] = ()) -> None:
    from commission.package import write_package

    progress = ProgressLine("Turnover package")
    write_package(site, path, progress, attachments=attachments)
    progress.finish(f"{path}: turnover package written.")


def archive(options: argparse.Namespace) -> int:
    """Write a project's archive record, as JSON or as comma-separated values."""
    from commission.archive import write_record, write_record_csv

    write = write_record_csv if options.csv else write_record
    suffix = ".record.csv" if options.csv else ".record.json"
    path = options.output or options.file.with_suffix(suffix)
    with opened(options.file) as project:
        progress = ProgressLine("Archive record")
        write(site_of(project), path, progress)
        progress.finish(f"{path}: archive record written.")
    return FINE


def handover(options: argparse.Namespace) -> int:
    """Write the handover sheets and say what a receiver would still ask for."""
    from commission.archive import handover_faults, handover_tables, write_handover_csv

    with opened(options.file) as project:
        site = site_of(project)
        files = write_handover_csv(site, options.folder)
        faults = handover_faults(handover_tables(site))
    print(f"{options.folder}: {len(files)} handover sheets written.")
    for fault in faults:
        print(f"  to complete: {fault}")
    return FINE


def rebuild(options: argparse.Namespace) -> int:
    """Make a project file from an archive record alone."""
    from commission.archive import project_from_record

    with project_from_record(options.record, options.file) as project:
        units = len(project.units())
        print(f"{options.file}: rebuilt, revision {project.revision}, {units} unit(s).")
    return FINE
