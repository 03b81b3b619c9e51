"""Commands of the turnover package: package, sign."""

from __future__ import annotations

import argparse
import getpass
import os
import re
import sys
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from commission.commands import FINE
from commission.commands.opening import opened, site_of
from commission.definitions.translated import translated
from commission.errors import CommissionError
from commission.language import ENGLISH, speaking, spoken
from commission.project import Photo, ProjectFile, Unit
from commission.terminal import ProgressLine, table
from commission.validation.site import SiteResults, site_results

if TYPE_CHECKING:
    from commission.package import Attachment
    from commission.workbook import Written

# The writers are imported when they are called: each brings a large library of its own.
WORKBOOK_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
PASSPHRASE = "COMMISSION_KEY_PASSPHRASE"
_NOT_IN_NAMES = re.compile(r"[^\w.-]+")


def package(options: argparse.Namespace) -> int:
    """Write a project's turnover package, with workbook, record and photos inside it if asked."""
    path = options.output or options.file.with_suffix(".pdf")
    with opened(options.file) as project:
        site = site_of(project)
        embedded = attachments(site, options.file.stem, options.unit) if options.embed else ()
        with speaking(options.language):
            if options.language != ENGLISH or options.units:
                form = translated(site.form, options.language)
                site = site_results(project, form, unit_system=options.units)
            write_turnover_package(
                site,
                path,
                units=options.unit,
                embedded=embedded,
                with_work=not options.without_work,
            )
    return FINE


def write_turnover_package(
    site: SiteResults,
    path: Path,
    *,
    units: Sequence[str] | None = None,
    embedded: Sequence[Attachment] = (),
    with_work: bool = True,
) -> None:
    """Write a package with a line of progress; `units` are tags, none for all units."""
    from commission.package import write_package

    progress = ProgressLine("Turnover package")
    write_package(
        site, path, progress, units=units or None, attachments=embedded, with_work=with_work
    )
    progress.finish(f"{path}: turnover package written.")


def attachments(
    site: SiteResults, stem: str, units: Sequence[str] | None = None
) -> tuple[Attachment, ...]:
    """Return workbook, archive record and photos: of the whole project, or of units by tag.

    The project's own pages, registers and photos are there in either case.
    """
    from commission.archive import write_record
    from commission.package import Attachment
    from commission.workbook import write_workbooks

    project, form = site.project, site.form
    wanted = {tag.casefold() for tag in units or ()}
    chosen = [unit for unit in project.units() if not wanted or unit.tag.casefold() in wanted]
    part = site_results(project, form, chosen) if wanted else site
    of_some = len(chosen) < len(project.units())
    alone = f" of {', '.join(unit.tag for unit in chosen)} alone" if of_some else ""
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        written = write_workbooks(project, form, place / f"{stem}.xlsx", chosen=chosen)
        record = write_record(part, place / f"{stem}.record.json")
        return (
            *(
                Attachment(file.name, WORKBOOK_TYPE, "Alternative", what + alone, file.read_bytes())
                for file, what in _workbooks(written)
            ),
            Attachment(
                record.name,
                "application/json",
                "Data",
                f"The archive record{alone}: all readings with their history",
                record.read_bytes(),
            ),
            *_photos(project, chosen),
        )


def _workbooks(written: Written) -> Iterator[tuple[Path, str]]:
    """Yield each file of the workbook with what it is."""
    if not written.volumes:
        yield written.path, "The workbook, live formulas"
        return
    yield written.path, "The index of the workbook's volumes"
    for number, volume in enumerate(written.volumes, start=1):
        yield volume, f"The workbook, volume {number}, live formulas"


def _photos(project: ProjectFile, chosen: Sequence[Unit]) -> Iterator[Attachment]:
    """Yield the photos as the project holds them; a number keeps their names apart."""
    from commission.package import Attachment

    tags = {"": "Project"} | {unit.id: unit.tag for unit in chosen}
    for number, photo in enumerate(project.photos(), 1):
        if photo.unit_id not in tags:
            continue
        tag = tags[photo.unit_id]
        about = ", ".join(filter(None, (tag, photo.caption, photo.at)))
        name = _photo_name(number, tag, photo)
        yield Attachment(name, photo.media_type, "Supplement", f"Photo: {about}", photo.data)


def _photo_name(number: int, tag: str, photo: Photo) -> str:
    suffix = {"image/jpeg": "jpg"}.get(photo.media_type, photo.media_type.rpartition("/")[2])
    words = _NOT_IN_NAMES.sub("_", "-".join(filter(None, (tag, photo.name))))
    return f"photo-{number:03}-{words}.{suffix}"


def sign(options: argparse.Namespace) -> int:
    """Sign a package with a person's key, or say which fields it has and who signed."""
    from commission.package.signing import sign_package, signature_fields

    if options.key is None:
        rows = [
            (field.name, field.signer or "not signed") for field in signature_fields(options.file)
        ]
        print(table(("Field", "Signed by"), rows, wide=1))
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
    print(f"{options.file}: '{options.field}' signed by {name}.")
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
    return getpass.getpass(f"Passphrase of {key}: ")
