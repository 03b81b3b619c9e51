"""The command that reads a workbook back: readback."""

from __future__ import annotations

import argparse
from collections import defaultdict
from collections.abc import Iterable

from commission.commands import FINE, FOUND
from commission.commands.opening import opened
from commission.definitions.load import load_form
from commission.definitions.translated import translated
from commission.errors import ProjectFileError
from commission.language import language, spoken
from commission.terminal import listed
from commission.validation.session import Session
from commission.workbook.read_back import read_back
from commission.workbook.read_back_accept import accept
from commission.workbook.read_back_rows import Review, ReviewRow, Standing


def readback(options: argparse.Namespace) -> int:
    """Compare a returned workbook with its project; 1 if there is something to settle.

    With `options.accept` what only the file has changed is entered; conflicts never are.
    """
    form = translated(load_form(), language())
    if not options.accept:
        with opened(options.file) as project:
            review = read_back(project, form, options.workbook)
        _print(review, review.rows)
        return FOUND if review.foreign or review.to_settle else FINE
    with Session.open(options.file, form) as session:
        if session.project.read_only:
            raise ProjectFileError(
                spoken(
                    "{file}: nothing can be entered: {read_only_reason}.",
                    file=options.file,
                    read_only_reason=session.project.read_only_reason,
                )
            )
        review = read_back(session.project, form, options.workbook)
        left = list(review.to_settle)
        if not review.foreign:
            taken = accept(session, review, review.changed)
            entered = {id(row) for row in taken.entered}
            left = [row for row in left if id(row) not in entered]
            print(spoken("{count} entered from the workbook.", count=len(taken.entered)))
            for row, reason in taken.refused:
                refused = spoken("not entered: {what}: {reason}", what=_label(row), reason=reason)
                print(f"  {refused}")
        notes = [row for row in review.rows if row.standing is Standing.NOTE]
        _print(review, [*left, *notes])
    return FOUND if review.foreign or left else FINE


def _print(review: Review, rows: Iterable[ReviewRow]) -> None:
    for remark in review.remarks:
        print(remark)
    by_unit: dict[str, list[tuple[str, str, str]]] = defaultdict(list)
    count = 0
    for row in rows:
        count += row.to_settle
        if row.to_settle or row.standing is Standing.NOTE:
            heading = row.tag or spoken("Project")
            by_unit[heading].append(
                (spoken(row.standing), row.label, f"{row.place}: {row.sentence}")
            )
    for heading, lines in by_unit.items():
        print(listed(heading, lines))
    if review.foreign:
        return
    compared = len(review.rows)
    print(
        spoken(
            "{compared} cells compared, {count} to settle.",
            compared=compared,
            count=count or spoken("nothing"),
        )
    )


def _label(row: ReviewRow) -> str:
    return f"{row.tag} {row.label}".strip()
