"""Form files -> Form. Strict, and all faults of all files at once."""

from __future__ import annotations

import hashlib
import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

from pydantic import BaseModel, ValidationError

from commission.definitions import schema
from commission.definitions.build import Faults, build_repeat, build_section, inherited
from commission.definitions.figures import build_figure
from commission.definitions.meaning import check_across, check_meaning
from commission.definitions.model import Form, Section
from commission.definitions.shape_faults import broken_rule, unreadable
from commission.errors import FormError
from commission.language import near_miss, spoken
from commission.resources import forms_folder

FORM_FILE = "rooftop_unit.toml"
_LARGEST_BYTES = 2_000_000
Model = TypeVar("Model", bound=BaseModel)


def load_form(folder: Path | None = None, form_file: str = FORM_FILE) -> Form:
    """Return the form whose files lie in `folder` (the shipped forms by default).

    A name that is unknown only because its own entry or file cannot be read is no further
    fault.

    Raises:
        FormError: Its `faults` are all that is wrong, each with file, entry, rule and cure.
    """
    folder = folder or forms_folder()
    faults = Faults()
    digest = hashlib.sha256()
    top = _read(folder / form_file, schema.FormTable, faults, digest)
    if top is None:
        raise FormError(faults.sentences)
    sections = [
        section
        for name in _plain_names(top.sections, form_file, faults)
        if (section := _section(folder / name, faults, digest)) is not None
    ]
    repeats = {table.name: build_repeat(form_file, table, faults) for table in top.repeat}
    known_repeats = {name: repeat for name, repeat in repeats.items() if repeat is not None}
    form = Form(
        id=top.id,
        version=top.version,
        title=top.title,
        content_hash=digest.hexdigest(),
        repeats=known_repeats,
        sections=inherited(sections),
        across=top.across,
    )
    check_across(form, form_file, faults)
    check_meaning(form, faults)
    if faults.sentences:
        raise FormError(faults.sentences)
    return form


def _plain_names(names: Sequence[str], form_file: str, faults: Faults) -> Iterator[str]:
    """Yield the section files' names; a form does not reach out of its own folder."""
    for name in names:
        if name == Path(name).name and "\\" not in name:
            yield name
        else:
            rule = spoken("section file '{name}' must be a plain file name, no path.", name=name)
            faults.add(form_file, rule)
            faults.file_lost = True


def _section(path: Path, faults: Faults, digest: hashlib._Hash) -> Section | None:
    table = _read(path, schema.SectionFile, faults, digest)
    if table is None:
        faults.lost |= _names_in(path)
        faults.file_lost |= not path.is_file()
        return None
    order = _order_of_entries(path.read_text(encoding="utf-8"))
    section = build_section(path.name, table, order, faults)
    figures = tuple(build_figure(path.name, table.section, one, faults) for one in table.figure)
    return replace(section, figures=figures) if figures else section


def _names_in(path: Path) -> set[str]:
    """Return the names declared in a file that cannot be used as it is."""
    try:
        return set(_order_of_entries(path.read_text(encoding="utf-8", errors="replace")))
    except OSError:
        return set()


def _order_of_entries(text: str) -> dict[str, int]:
    """Return where each `name = "x"` stands, so that kinds of entry can be mixed on a page."""
    pattern = re.compile(r"""^\s*name\s*=\s*["']([^"']+)["']""", re.MULTILINE)
    return {match[1]: match.start() for match in reversed(list(pattern.finditer(text)))}


def _read(path: Path, model: type[Model], faults: Faults, digest: hashlib._Hash) -> Model | None:
    try:
        if path.stat().st_size > _LARGEST_BYTES:
            rule = spoken("larger than {most:,} bytes; is it a form file?", most=_LARGEST_BYTES)
            faults.add(path.name, rule)
            return None
        data = path.read_bytes()
        digest.update(path.name.encode() + b"\0" + data + b"\0")
        table = tomllib.loads(data.decode("utf-8"))
    except FileNotFoundError:
        known = [other.name for other in path.parent.glob("*.toml")]
        hint = near_miss(path.name, known)
        rule = spoken("no such file in {folder}.{hint}", folder=path.parent, hint=hint)
        faults.add(path.name, rule)
        return None
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError) as error:
        faults.add(path.name, unreadable(error))
        return None
    try:
        return model.model_validate(table)
    except ValidationError as error:
        for sentence in _sentences(path.name, table, model, error):
            faults.sentences.append(sentence)
        return None


def _sentences(
    file: str, table: Mapping[str, object], model: type[BaseModel], error: ValidationError
) -> Iterator[str]:
    for fault in error.errors(include_url=False):
        place, keys = _place(table, fault["loc"])
        if fault["type"] == "extra_forbidden":
            known = _known_keys(model, fault["loc"][:-1])
            key = str(fault["loc"][-1])
            rule = spoken("unknown key '{key}'.{hint}", key=key, hint=near_miss(key, known))
        elif fault["type"] == "missing" and isinstance(fault["loc"][-1], int):
            rule = f"{keys.rpartition('.')[0]}: {spoken('needs two numbers, low and high.')}"
        elif fault["type"] == "missing":
            rule = spoken("'{key}' is missing; add it.", key=fault["loc"][-1])
        else:
            rule = f"{keys}: {broken_rule(fault)}"
        yield f"{file}{place}: {rule}"


def _place(table: Mapping[str, object], location: tuple[int | str, ...]) -> tuple[str, str]:
    """Return ", field superheat_f" for a location such as ("field", 7, "unit"), and its key."""
    if len(location) >= 2 and isinstance(location[1], int):
        kind = str(location[0])
        rows = table.get(kind)
        row = rows[location[1]] if isinstance(rows, list) and location[1] < len(rows) else {}
        number = spoken("number {number}", number=location[1] + 1)
        name = row.get("name", number) if isinstance(row, dict) else ""
        return f", {kind} {name}", ".".join(str(part) for part in location[2:]) or kind
    if len(location) >= 2:
        return f", {location[0]}", ".".join(str(part) for part in location[1:])
    return "", str(location[0]) if location else "file"


def _known_keys(model: type[BaseModel], location: tuple[int | str, ...]) -> list[str]:
    for part in location:
        if isinstance(part, str) and part in model.model_fields:
            inner = model.model_fields[part].annotation
            for candidate in (inner, *getattr(inner, "__args__", ())):
                if isinstance(candidate, type) and issubclass(candidate, BaseModel):
                    model = candidate
    return list(model.model_fields)
