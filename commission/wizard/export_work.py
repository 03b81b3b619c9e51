"""What can be written, and how; without anything of the window's, for a process of its own."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

from commission.definitions.model import Form
from commission.language import speaking, to_say
from commission.wizard.apart import Told

if TYPE_CHECKING:
    from commission.validation.volumes import Written


@dataclass(frozen=True, slots=True)
class Writer:
    """A function that writes; its module is imported when it is first needed, and not before."""

    module: str
    function: str

    def load(self) -> Callable[..., Any]:
        """Return the function."""
        found: Callable[..., Any] = getattr(import_module(self.module), self.function)
        return found


@dataclass(frozen=True, slots=True)
class Output:
    """One thing that can be written.

    `writer` takes the results of the site, the path and what is told of progress. With many
    units an output may be a set of files: `in_volumes` then writes it from the project and the
    form instead, so that no more is held in memory than one of them needs.
    """

    name: str
    suffix: str
    kinds: str
    writer: Writer
    in_volumes: Writer | None = None


WORKBOOK = Output(
    "workbook",
    ".xlsx",
    to_say("Spreadsheet (*.xlsx)"),
    Writer("commission.workbook", "write_workbook"),
    Writer("commission.workbook", "write_workbooks"),
)
PACKAGE = Output(
    "turnover package",
    ".pdf",
    to_say("PDF (*.pdf)"),
    Writer("commission.package", "write_package"),
    Writer("commission.package", "write_packages"),
)


@dataclass(frozen=True, slots=True)
class Order:
    """What is to be written of which project, and where to.

    `form` is in English, `language` what the output speaks, `unit_system` the units that it
    shows ("" for the project's own).
    """

    project: Path
    form: Form
    output: Output
    target: Path
    language: str
    unit_system: str = ""


def written(order: Order, tell: Told) -> Written | None:
    """Open, compute, write; return which files a set of volumes has."""
    from commission.definitions.translated import translated
    from commission.project import ProjectFile
    from commission.validation.site import site_results

    output = order.output
    opened = ProjectFile.open(order.project, read_only=True)
    with opened as project, speaking(order.language):
        form = translated(order.form, order.language)
        if output.in_volumes is not None:
            shown = {"unit_system": order.unit_system} if order.unit_system else {}
            volumes: Written = output.in_volumes.load()(project, form, order.target, tell, **shown)
            return volumes
        site = site_results(project, form, unit_system=order.unit_system)
        output.writer.load()(site, order.target, tell)
        return None
