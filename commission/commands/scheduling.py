"""The command that takes an equipment schedule in: schedule."""

from __future__ import annotations

import argparse

from commission.commands import FINE, FOUND
from commission.definitions.load import load_form
from commission.definitions.translated import translated
from commission.errors import ProjectFileError
from commission.language import language, spoken, to_say
from commission.terminal import listed, table
from commission.validation.session import Session
from commission.workbook.addresses import column_letters
from commission.workbook.schedule_table import read_schedule
from commission.workbook.schedule_units import Schedule, add_units, understand_schedule

_HEADER = (to_say("Column"), to_say("Head"), to_say("Taken as"), to_say("In"))


def schedule(options: argparse.Namespace) -> int:
    """Show the units of a schedule and all that is not taken; with `options.yes` add them."""
    form = translated(load_form(), language())
    with Session.open(options.file, form) as session:
        if options.yes and session.project.read_only:
            raise ProjectFileError(
                spoken(
                    "{file}: nothing can be added: {read_only_reason}.",
                    file=options.file,
                    read_only_reason=session.project.read_only_reason,
                )
            )
        taken = [unit.tag for unit in session.units()]
        system = session.project.unit_system
        found = understand_schedule(read_schedule(options.schedule, form), form, taken, system)
        _print(found)
        if options.yes:
            added = add_units(session, found, found.units)
            print(spoken("{file}: {count} unit(s) added.", file=options.file, count=len(added)))
        else:
            print(spoken("Nothing is added yet: look it over, then say --yes."))
    return FOUND if found.faults or found.unmatched else FINE


def _print(found: Schedule) -> None:
    rows = [
        (
            column_letters(column.column - 1),
            column.head,
            column.field or spoken("not read"),
            column.unit,
        )
        for column in found.table.columns
        if column.head
    ]
    print(table([spoken(head) for head in _HEADER], rows, wide=1))
    for unit in found.units:
        lines = [(entry.place, str(entry.key), entry.text) for entry in unit.entries]
        print(listed("\n" + spoken("{tag} (row {row})", tag=unit.tag, row=unit.row), lines))
    if found.faults:
        print("\n" + spoken("Not taken, or to be looked at"))
        for fault in found.faults:
            print(f"  {fault}")
    for sentence in found.table.set_aside:
        print(sentence)
