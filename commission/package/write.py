"""Project results in, a PDF turnover package out."""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryFile
from typing import BinaryIO

from reportlab.platypus import Flowable

from commission.errors import OutputError
from commission.language import spoken
from commission.package import (
    archival,
    attention,
    cautions,
    contents,
    cover,
    decisions,
    handover_index,
    matrix,
    not_tested,
    registers,
    sign_off,
    summary,
    witness_part,
)
from commission.package.archival import Attachment, Description
from commission.package.document import TurnoverDocument, document_language
from commission.package.flowables import Then, kept, new_page
from commission.package.turnover import Turnover, turnover
from commission.package.unit_part import unit_part
from commission.validation.site import SiteResults

ProgressCallback = Callable[[int, int, str], None]
Maker = Callable[[Turnover], "list[Flowable] | Iterator[Flowable]"]

_BEFORE: Sequence[tuple[str, str, Maker]] = (
    (attention.KEY, attention.TITLE, attention.attention),
    (matrix.KEY, matrix.TITLE, matrix.matrix),
    (not_tested.KEY, not_tested.TITLE, not_tested.not_tested),
    (decisions.KEY, decisions.TITLE, decisions.decisions),
    (handover_index.KEY, handover_index.TITLE, handover_index.handover_index),
)
_AFTER: Sequence[tuple[str, str, Maker]] = (
    (*registers.DEFICIENCIES, registers.deficiency_log),
    (*registers.OVERRIDES, registers.override_list),
    (*decisions.DEFAULTS, decisions.defaults),
    (*registers.INSTRUMENTS, registers.instrument_list),
    (*registers.PEOPLE, registers.people_list),
    (*registers.PHOTOS, registers.photo_pages),
    (witness_part.KEY, witness_part.TITLE, witness_part.witnessed),
    (sign_off.KEY, sign_off.TITLE, sign_off.sign_off),
    (cautions.KEY, cautions.TITLE, cautions.cautions),
)

_CONTINUING = (
    decisions.decisions,
    registers.override_list,
    registers.instrument_list,
    registers.people_list,
)
"""Short parts: each goes on below the one before."""


def write_package(
    site: SiteResults,
    path: Path,
    progress: ProgressCallback | None = None,
    *,
    units: Sequence[str] | None = None,
    attachments: Sequence[Attachment] = (),
    with_work: bool = True,
) -> Path:
    """Write the turnover package of a site as PDF/A-3a and PDF/UA-1: for archives, read aloud.

    The same project gives the same bytes: no clock is read, dates are the project's own.

    Args:
        site: the results; the project file behind it gives the registers.
        path: the file to write; one of this name is replaced, once the new one is whole.
        progress: called with (done, total, what) for each page of the form; it may raise to
            cancel, and then nothing is left behind and an older file stays as it was.
        units: the tags of the units to cover; None for all.
        attachments: files to embed: the workbook, the archive record, photos as they were taken.
        with_work: whether to show how each quantity was computed; without it the package is
            about a third shorter, and says so.
    Returns:
        The path written.
    Raises:
        OutputError: the file cannot be written, there is no such unit, or an attachment's
            name, media type or relationship cannot be.
    """
    chosen = turnover(site, units)
    matter = replace(chosen, embedded=len(attachments), with_work=with_work)
    return write_matter(matter, path, progress or silent, attachments)


def write_matter(
    matter: Turnover,
    path: Path,
    progress: ProgressCallback,
    attachments: Sequence[Attachment] = (),
) -> Path:
    """Write one package from its matter; see `write_package`."""
    archival.check_attachments(attachments, str(path))
    beside = path.with_name(f".{path.name}.part")
    try:
        with beside.open("w+b") as stream:
            _write(matter, stream, progress, attachments)
        beside.replace(path)
    except OSError as fault:
        raise not_written(path, fault) from fault
    finally:
        _remove(beside)
    return path


def silent(done: int, total: int, what: str) -> None:
    """Take a progress report and do nothing."""


def not_written(path: Path, fault: OSError) -> OutputError:
    """Return the fault that a package cannot be written there."""
    return OutputError(
        spoken(
            "{path}: the turnover package cannot be written ({reason}). Choose another "
            "folder, close the file if it is open elsewhere, or make room on the disk.",
            path=path,
            reason=spoken(fault.strerror or str(fault)),
        )
    )


def _remove(beside: Path) -> None:
    try:
        beside.unlink(missing_ok=True)
    except OSError:
        return  # the folder is gone or was never there: then so is the file


def _write(
    matter: Turnover,
    target: BinaryIO,
    progress: ProgressCallback,
    attachments: Sequence[Attachment],
) -> None:
    revision = spoken("project revision {number}", number=matter.project.revision)
    footer = f"{matter.program()} · {revision}"
    with TemporaryFile() as pages:
        document = TurnoverDocument(pages, matter.unit_system, matter.title, footer)
        canvas = document.make(list(_story(matter, _Steps(matter, progress))))
        structure, fields = canvas.structure, canvas.signature_fields
        del document, canvas  # all pages and links as the library holds them
        if gc.isenabled():  # the window does it itself: a widget belongs to its thread
            gc.collect()
        archival.write_archived(pages, target, _description(matter), attachments, structure, fields)


def _description(matter: Turnover) -> Description:
    return Description(
        title=spoken("{title} – turnover package", title=matter.title),
        author=", ".join(person.name for person in matter.people.values()),
        subject=matter.site.form.title,
        program=matter.program(),
        language=document_language(),
        moment=matter.last_change,
    )


class _Steps:
    """Counts the pages of the form that have been set, for the progress callback."""

    def __init__(self, matter: Turnover, progress: ProgressCallback) -> None:
        self.progress = progress
        self.done = 0
        pages = sum(len(matter.sections_of(results)) for results in matter.everything)
        self.total = pages + len(_BEFORE) + len(_AFTER)

    def __call__(self, what: str) -> None:
        self.progress(self.done, self.total, what)
        self.done += 1


def _story(matter: Turnover, steps: _Steps) -> Iterator[Flowable]:
    """Yield the whole package; parts are made when their turn comes."""
    unneeded = set() if registers.photos_of(matter) else {registers.PHOTOS[0]}
    unneeded |= set() if witness_part.is_witnessed(matter) else {witness_part.KEY}
    after = [part for part in _AFTER if part[0] not in unneeded]
    yield from cover.cover(matter)
    yield from new_page(spoken(summary.TITLE))
    yield from summary.summary(matter)
    yield from new_page(spoken(contents.TITLE))
    yield from contents.contents(
        matter,
        [
            (summary.KEY, spoken(summary.TITLE)),
            *((key, spoken(title)) for key, title, _ in _BEFORE),
        ],
        [(key, spoken(title)) for key, title, _ in after],
    )
    for _, title, make in _BEFORE:
        yield Then(_made(matter, title, make, steps))
    for results in matter.everything:
        if matter.sections_of(results):
            yield Then(lambda results=results: unit_part(matter, results, steps))  # type: ignore[misc]
    for _, title, make in after:
        yield Then(_made(matter, title, make, steps))


def _made(matter: Turnover, title: str, make: Maker, steps: _Steps) -> Callable[[], list[Flowable]]:
    def made() -> list[Flowable]:
        steps(spoken(title))
        if make in _CONTINUING:
            return kept(matter.width, *make(matter))
        is_first = make is registers.deficiency_log
        running = spoken("Registers") if is_first else spoken(title)
        return [*new_page(running), *make(matter)]

    return made
