"""The command that prints the functional tests of a unit, and its signals table."""

from __future__ import annotations

import argparse

from commission.commands import FINE, FOUND
from commission.commands.opening import chosen_units, opened, site_of
from commission.language import spoken, to_say
from commission.sequence.functional_model import FunctionalStep, FunctionalTest
from commission.sequence.functional_record import TestState, dangers, standing
from commission.sequence.functional_tests import functional_tests, left_out, signals
from commission.terminal import table
from commission.validation.results import UnitResults

_FAILED = (TestState.STOP, TestState.FAIL)
_SIGNALS = (to_say("Terminal"), to_say("Call"), to_say("Energises"), to_say("Note"))
_TESTS = (to_say("State"), to_say("Test"), to_say("Proves"))


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
    lines = [spoken("{tag}: signals", tag=results.tag), ""]
    rows = [
        (one.terminal, one.title, one.energises or "-", one.note)
        for one in signals(results.calculation)
    ]
    lines += [table([spoken(head) for head in _SIGNALS], rows, 3), ""]
    lines += [
        spoken("{tag}: {count} functional tests", tag=results.tag, count=len(found)),
        "",
    ]
    listed = [(_state(results, test), test.title, _proves(test)) for test in found]
    lines.append(table([spoken(head) for head in _TESTS], listed, 2))
    for test in found:
        lines += _told(results, test, steps)
    out = left_out(results.calculation)
    if out:
        lines += ["", spoken("Not of this unit:"), *(f"  {one.title}: {one.why}" for one in out)]
    return [*lines, ""]


def _state(results: UnitResults, test: FunctionalTest) -> str:
    held = standing(results, test)
    if held.state is not TestState.BEGUN:
        return spoken(held.state)
    counted = spoken("{marked} of {asked} marked", marked=held.marked, asked=held.asked)
    return f"{spoken(held.state)} ({counted})"


def _proves(test: FunctionalTest) -> str:
    return ", ".join(part.label for part in test.proves)


def _told(results: UnitResults, test: FunctionalTest, steps: bool) -> list[str]:
    lines = [
        f"  {spoken('STOP')} {test.title}: {one.verdict.check.label}. {one.step.danger}"
        for one in dangers(results, test)
    ]
    if steps:
        lines += [
            "",
            test.title,
            *(f"  {spoken('Caution: {text}', text=caution)}" for caution in test.cautions),
        ]
        for step in test.steps:
            lines += _step(results, step)
    return lines


def _step(results: UnitResults, step: FunctionalStep) -> list[str]:
    lines = [f"  - {step.do}"]
    if step.call:
        terminals = spoken(" (R to {terminals})", terminals=", ".join(step.signals))
        call = spoken("Call: {call}", call=step.call)
        lines.append(f"    {call}{terminals if step.signals else ''}")
    must_run = spoken("Must run, in this order") if step.ordered else spoken("Must run")
    for words, parts in ((must_run, step.run), (spoken("Must not run"), step.rest)):
        if parts:
            lines.append(f"    {words}: {', '.join(part.label for part in parts)}")
    for mark in step.marks:
        if mark.key is not None:
            shown = results.shown(*mark.key) or spoken("not marked")
            event = f"{mark.event}: " if mark.event else ""
            marked = f"{event}{results.label(mark.key)}: {shown}"
            lines.append(f"    {spoken('Mark: {mark}', mark=marked)}")
    if step.reset:
        lines.append(f"    {spoken('Reset: {text}', text=step.reset)}")
    return lines
