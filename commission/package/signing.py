"""A package signed in one of its fields with a person's own key (PAdES, ETSI EN 319 142-1).

The signature is added behind the file; not a byte before it changes. The library that makes it
is an extra of the installation.
"""

from __future__ import annotations

from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Any

import pikepdf

from commission.errors import OutputError
from commission.language import spoken

EXTRA = "rooftop-commission[sign]"


@dataclass(frozen=True, slots=True)
class FieldState:
    """A signature field of a package; `signer` is who signed as the key says, "" for nobody."""

    name: str
    told: str
    signer: str


def signature_fields(path: Path) -> list[FieldState]:
    """Return the signature fields of a package in the order of its pages.

    Raises:
        OutputError: the file cannot be read, or is no PDF.
    """
    try:
        with pikepdf.open(path) as pdf:
            form = pdf.Root.get("/AcroForm", pikepdf.Dictionary())
            found = list(form.get("/Fields", ()))
            return [_state(field) for field in found if field.get("/FT") == "/Sig"]
    except (OSError, pikepdf.PdfError) as fault:
        raise OutputError(
            spoken(
                "{path}: cannot be read as a turnover package ({fault}). Name a .pdf that "
                "`commission package` has written.",
                path=path,
                fault=fault,
            )
        ) from fault


def _state(field: pikepdf.Object) -> FieldState:
    value = field.get("/V")
    signer = "" if value is None else str(value.get("/Name", "")) or "signed"
    return FieldState(str(field.T), str(field.get("/TU", "")), signer)


def sign_package(path: Path, key: Path, passphrase: str, field: str, reason: str = "") -> str:
    """Sign a package in one field, in place; return the name that the key's certificate gives.

    Args:
        path: a package; it is replaced when the signed one is whole.
        key: a PKCS#12 file (.p12, .pfx): key and certificate of the person who signs.
        passphrase: opens the key; it is not kept.
        field: the name of an empty signature field.
        reason: what the person signs for, in words.
    Raises:
        OutputError: the extra is not installed, the key does not open, or there is no such
            empty field.
    """
    signers, writer_class = _library()
    _check_field(path, field)
    signer = signers.SimpleSigner.load_pkcs12(str(key), passphrase=passphrase.encode())
    if signer is None:
        raise OutputError(
            spoken(
                "{key}: the key does not open. It must be a PKCS#12 file (.p12 or .pfx), and "
                "the passphrase its own.",
                key=key,
            )
        )
    name = str(signer.signing_cert.subject.native.get("common_name", "")) or signer.subject_name
    about = signers.PdfSignatureMetadata(
        field_name=field,
        name=name,
        reason=reason or None,
        subfilter=_subfilter(),
    )
    signed = BytesIO()
    with path.open("rb") as source:
        signers.sign_pdf(writer_class(source), about, signer=signer, output=signed)
    _replace(path, signed.getvalue())
    return name


def _library() -> tuple[Any, Any]:
    try:
        from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
        from pyhanko.sign import signers
    except ImportError as fault:
        raise OutputError(
            spoken(
                "Signing needs a library that is not installed: pip install '{extra}'.", extra=EXTRA
            )
        ) from fault
    return signers, IncrementalPdfFileWriter


def _subfilter() -> Any:
    from pyhanko.sign.fields import SigSeedSubFilter

    return SigSeedSubFilter.PADES


def _check_field(path: Path, name: str) -> None:
    fields = signature_fields(path)
    empty = [field.name for field in fields if not field.signer]
    if name in empty:
        return
    taken = next((field for field in fields if field.name == name), None)
    what = (
        spoken("is signed already, by {signer}", signer=taken.signer)
        if taken
        else spoken("is not a field of this package")
    )
    raise OutputError(
        spoken(
            "{path}: '{name}' {what}. Empty fields: {empty}.",
            path=path,
            name=name,
            what=what,
            empty=", ".join(empty) or spoken("none"),
        )
    )


def _replace(path: Path, data: bytes) -> None:
    beside = path.with_name(f".{path.name}.part")
    try:
        beside.write_bytes(data)
        beside.replace(path)
    except OSError as fault:
        beside.unlink(missing_ok=True)
        raise OutputError(
            spoken(
                "{path}: the signed package cannot be written ({strerror}). Make room or choose "
                "another folder; the unsigned one is unchanged.",
                path=path,
                strerror=fault.strerror or fault,
            )
        ) from fault
