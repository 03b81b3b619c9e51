"""Commands of the turnover package: package, sign."""

from __future__ import annotations

import argparse
import getpass
import os
import re
import sys
import tempfile
from collections.abc import Iterator, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from commission.commands import FINE
from commission.commands.opening import opened
from commission.definitions.load import load_form
from commission.definitions.model import Form
from commission.definitions.translated import translated
from commission.errors import CommissionError
from commission.language import ENGLISH, language, speaking, spoken, to_say
from commission.project import Photo, ProjectFile, Unit
from commission.terminal import ProgressLine, table
from commission.validation.site import site_results
from commission.validation.volumes import Written

if TYPE_CHECKING:
    from commission.package import Attachment

# The writers are imported when they are called: each brings a large library of its own.
WORKBOOK_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
PASSPHRASE = "COMMISSION_KEY_PASSPHRASE"
_NOT_IN_NAMES = re.compile(r"[^\w.-]+")


def package(options: argparse.Namespace) -> int:
    """Write a project's turnover package, with workbook, record and photos inside it if asked."""
    from commission.package import write_packages
    from commission.package.volumes import UNITS_PER_VOLUME

    path = options.output or options.file.with_suffix(".pdf")
    most = UNITS_PER_VOLUME if options.per_volume is None else options.per_volume
    progress = ProgressLine(spoken("Turnover package"))
    with opened(options.file) as project:
        form = load_form()
        embedding = partial(attachments, project, form, options.file.stem)
        written = write_packages(
            project,
            translated(form, language()),
            path,
            progress,
            chosen=_chosen(project, options.unit),
            unit_system=options.units,
            per_volume=most,
            attachments_of=embedding if options.embed else None,
            with_work=not options.without_work,
        )
    finish(progress, written, to_say("turnover package"))
    return FINE


def finish(progress: ProgressLine, written: Written, what: str) -> None:
    """End a line of progress with what was written, and name volumes that are no part of it.

    Args:
        what: What it is, in English: "workbook" or the like.
    """
    if not written.volumes:
        sentence = spoken("{file}: {what} written.", file=written.path, what=spoken(what))
    else:
        sentence = spoken(
            "{file}: {what} written, the index of {count} volumes beside it ({first} to {last}).",
            file=written.path,
            what=spoken(what),
            count=len(written.volumes),
            first=written.volumes[0].name,
            last=written.volumes[-1].name,
        )
    progress.finish(sentence)
    for file in written.left_over:
        print(spoken("{file}: a volume of an earlier export, no part of this one.", file=file))


def _chosen(project: ProjectFile, tags: Sequence[str] | None) -> list[Unit] | None:
    """Return the units of these tags in the project's order; None where none is named.

    Raises:
        OutputError: The project has no unit of such a tag.
    """
    if not tags:
        return None
    from commission.package.turnover import no_such_unit

    by_tag = {unit.tag.casefold(): unit for unit in project.units()}
    unknown = [tag for tag in tags if tag.casefold() not in by_tag]
    if unknown:
        raise no_such_unit(project.path, unknown[0], [unit.tag for unit in by_tag.values()])
    wanted = {tag.casefold() for tag in tags}
    return [unit for folded, unit in by_tag.items() if folded in wanted]


def attachments(
    project: ProjectFile, form: Form, stem: str, chosen: Sequence[Unit]
) -> tuple[Attachment, ...]:
    """Return workbook, archive record and photos: of the whole project, or of units.

    The project's own pages, registers and photos are there in either case. Workbook and record
    are English; what they are is said in the package's language.
    """
    return tuple(_attachments(project, form, stem, chosen))


def _attachments(
    project: ProjectFile, form: Form, stem: str, chosen: Sequence[Unit]
) -> Iterator[Attachment]:
    from commission.archive import write_record
    from commission.package import Attachment
    from commission.workbook import write_workbooks

    of_some = len(chosen) < len(project.units())
    tags = ", ".join(unit.tag for unit in chosen)
    alone = spoken(" (of {tags} alone)", tags=tags) if of_some else ""
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        with speaking(ENGLISH):
            written = write_workbooks(project, form, place / f"{stem}.xlsx", chosen=chosen)
            part = site_results(project, form, chosen if of_some else None)
        for file, what in _workbooks(written):
            yield Attachment(
                file.name, WORKBOOK_TYPE, "Alternative", what + alone, file.read_bytes()
            )
        record = write_record(part, place / f"{stem}.record.json")
        yield Attachment(
            record.name,
            "application/json",
            "Data",
            spoken("The archive record: all readings with their history") + alone,
            record.read_bytes(),
        )
        yield from _photos(project, chosen)


def _workbooks(written: Written) -> Iterator[tuple[Path, str]]:
    """Yield each file of the workbook with what it is."""
    if not written.volumes:
        yield written.path, spoken("The workbook, live formulas")
        return
    yield written.path, spoken("The index of the workbook's volumes")
    for number, volume in enumerate(written.volumes, start=1):
        yield volume, spoken("The workbook, volume {number}, live formulas", number=number)


def _photos(project: ProjectFile, chosen: Sequence[Unit]) -> Iterator[Attachment]:
    """Yield the photos as the project holds them; a number keeps their names apart."""
    from commission.package import Attachment

    tags = {"": "Project"} | {unit.id: unit.tag for unit in chosen}
    for number, photo in enumerate(project.photos(), 1):
        if photo.unit_id not in tags:
            continue
        tag = tags[photo.unit_id]
        told = tag if photo.unit_id else spoken("Project")
        about = ", ".join(filter(None, (told, photo.caption, photo.at)))
        name = _photo_name(number, tag, photo)
        what = spoken("Photo: {about}", about=about)
        yield Attachment(name, photo.media_type, "Supplement", what, photo.data)


def _photo_name(number: int, tag: str, photo: Photo) -> str:
    suffix = {"image/jpeg": "jpg"}.get(photo.media_type, photo.media_type.rpartition("/")[2])
    words = _NOT_IN_NAMES.sub("_", "-".join(filter(None, (tag, photo.name))))
    return f"photo-{number:03}-{words}.{suffix}"


def sign(options: argparse.Namespace) -> int:
    """Sign a package with a person's key, or say which fields it has and who signed."""
    from commission.package.signing import sign_package, signature_fields

    if options.key is None:
        rows = [
            (field.name, field.signer or spoken("not signed"))
            for field in signature_fields(options.file)
        ]
        print(table((spoken("Field"), spoken("Signed by")), rows, wide=1))
        return FINE
    if not options.field:
        raise CommissionError(
            spoken(
                "{file}: which field? Name it with --field; without a key the command lists the "
                "fields.",
                file=options.file,
            )
        )
    name = sign_package(options.file, options.key, _passphrase(options.key), options.field)
    print(
        spoken(
            "{file}: '{field}' signed by {name}.",
            file=options.file,
            field=options.field,
            name=name,
        )
    )
    return FINE


def _passphrase(key: Path) -> str:
    """Return the key's passphrase: from the environment, or typed unseen at a terminal."""
    given = os.environ.get(PASSPHRASE)
    if given is not None:
        return given
    if not sys.stdin.isatty():
        raise CommissionError(
            spoken(
                "{key}: the passphrase is asked at a terminal, and this is none. Set {passphrase}.",
                key=key,
                passphrase=PASSPHRASE,
            )
        )
    return getpass.getpass(spoken("Passphrase of {key}: ", key=key))
