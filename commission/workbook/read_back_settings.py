"""How verdicts are taken, as it came back on the summary: decision rule and coverage factor."""

from __future__ import annotations

from typing import Any

from commission.errors import CommissionError
from commission.formula.evaluate import Content
from commission.language import spoken, to_say
from commission.project import ProjectFile
from commission.project.settings import SETTINGS, SettingValue, checked_setting
from commission.validation.entry import parse_number
from commission.workbook.read_back_cells import Holds, ReturnedCell, one_line
from commission.workbook.read_back_readings import Target, same
from commission.workbook.read_back_rows import ReviewRow, Standing

_MEANWHILE = to_say("the project has changed since the file was compared. Read it back again.")


def compare_setting(target: Target, project: ProjectFile, cell: ReturnedCell | str) -> ReviewRow:
    """Return how a returned setting stands."""
    exported = target.exported
    if isinstance(cell, str):
        return target.row(Standing.LOST, exported.name, cell)
    now: Content = project.setting(exported.name)
    shown: dict[str, Any] = {
        "was": _shown(exported.held),
        "now": _shown(now),
        "in_file": cell.text,
        "now_content": now,
    }
    if cell.holds is Holds.FORMULA:
        words = spoken(
            "holds the formula {value}; type or choose what it gives.", value=cell.text[:80]
        )
        return target.row(Standing.FORMULA, cell.place, words, **shown)
    if same(cell.content, exported.held):
        return target.row(Standing.UNCHANGED, cell.place, "", **shown)
    try:
        given = checked_setting(exported.name, _meant(exported.name, cell))
    except CommissionError as fault:
        return target.row(Standing.NOT_UNDERSTOOD, cell.place, str(fault), **shown)
    if same(given, now):
        return target.row(
            Standing.TAKEN, cell.place, spoken("the project holds it already."), **shown
        )
    words = spoken("{was} at export, {shown} in the file", was=shown["was"], shown=_shown(given))
    conflict = not same(exported.held, now)
    words += spoken(", but {now} in the project now.", now=shown["now"]) if conflict else "."
    standing = Standing.CONFLICT if conflict else Standing.CHANGED
    sentence = spoken("{words} It judges every verdict anew.", words=words)
    return target.row(standing, cell.place, sentence, **shown, entry=given)


def _meant(name: str, cell: ReturnedCell) -> SettingValue:
    """Return what was typed: a number where the setting is one, else the text."""
    if SETTINGS[name].bounds is None:
        return one_line(cell.text).casefold()
    if cell.number is not None:
        return cell.number
    number, suffix, _ = parse_number(cell.text)
    return cell.text if suffix else number


def _shown(content: Content | None) -> str:
    return f"{content:.10g}" if isinstance(content, float) else str(content or "")


def enter_setting(project: ProjectFile, row: ReviewRow) -> str:
    """Enter a setting that was compared; return why not, "" if entered."""
    if row.entry is None or not same(project.setting(row.name), row.now_content):
        return spoken(_MEANWHILE)
    project.set_setting(row.name, row.entry)
    return ""
