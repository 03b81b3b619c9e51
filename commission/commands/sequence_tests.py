"""The command that prints the functional tests of a unit, and its signals table."""

from __future__ import annotations

import argparse

from commission.commands import FINE, FOUND
from commission.commands.opening import chosen_units, opened, site_of
from commission.sequence.functional_model import FunctionalStep, FunctionalTest
from commission.sequence.functional_record import TestState, dangers, standing
from commission.sequence.functional_tests import functional_tests, left_out, signals
from commission.terminal import table
from commission.validation.results import UnitResults

_FAILED = (TestState.STOP, TestState.FAIL)


def tests(options: argparse.Namespace) -> int:
    """Print each unit's signals and tests with how they stand; 1 if one fails or stops."""
    failed = False
    with opened(options.file) as project:
        for results in chosen_units(site_of(project), options.unit):
            if not results.unit_id:
                continue
            found = functional_tests(results.calculation)
            print("\n".join(_printed(results, found, options.steps)))
            failed |= any(standing(results, test).state in _FAILED for test in found)
    return FOUND if failed else FINE


def _printed(results: UnitResults, found: tuple[FunctionalTest, ...], steps: bool) -> list[str]:
    lines = [f"{results.tag}: signals", ""]
    rows = [
        (one.terminal, one.title, one.energises or "-", one.note)
        for one in signals(results.calculation)
    ]
    lines += [table(("Terminal", "Call", "Energises", "Note"), rows, 3), ""]
    lines += [f"{results.tag}: {len(found)} functional tests", ""]
    listed = [(_state(results, test), test.title, _proves(test)) for test in found]
    lines.append(table(("State", "Test", "Proves"), listed, 2))
    for test in found:
        lines += _told(results, test, steps)
    out = left_out(results.calculation)
    if out:
        lines += ["", "Not of this unit:", *(f"  {one.title}: {one.why}" for one in out)]
    return [*lines, ""]


def _state(results: UnitResults, test: FunctionalTest) -> str:
    held = standing(results, test)
    counted = f" ({held.marked} of {held.asked} marked)" if held.state is TestState.BEGUN else ""
    return f"{held.state}{counted}"


def _proves(test: FunctionalTest) -> str:
    return ", ".join(part.label for part in test.proves)


def _told(results: UnitResults, test: FunctionalTest, steps: bool) -> list[str]:
    lines = [
        f"  STOP {test.title}: {one.verdict.check.label}. {one.step.danger}"
        for one in dangers(results, test)
    ]
    if steps:
        lines += ["", test.title, *(f"  Caution: {caution}" for caution in test.cautions)]
        for step in test.steps:
            lines += _step(results, step)
    return lines


def _step(results: UnitResults, step: FunctionalStep) -> list[str]:
    lines = [f"  - {step.do}"]
    if step.call:
        terminals = f" (R to {', '.join(step.signals)})" if step.signals else ""
        lines.append(f"    Call: {step.call}{terminals}")
    for words, parts in (("Must run", step.run), ("Must not run", step.rest)):
        if parts:
            order = ", in this order" if step.ordered and words == "Must run" else ""
            lines.append(f"    {words}{order}: {', '.join(part.label for part in parts)}")
    for mark in step.marks:
        if mark.key is not None:
            shown = results.shown(*mark.key) or "not marked"
            event = f"{mark.event}: " if mark.event else ""
            lines.append(f"    Mark: {event}{results.label(mark.key)}: {shown}")
    if step.reset:
        lines.append(f"    Reset: {step.reset}")
    return lines
