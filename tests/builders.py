"""Tiny forms written inline in a test, and calculations from plain dicts."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from commission.definitions.load import load_form
from commission.definitions.model import Form, Key
from commission.formula.uncertainty import Instrument
from commission.validation.calculation import (
    Calculation,
    Decision,
    Given,
    GivenLimit,
    MeasuringInstrument,
)
from commission.validation.plan import Plan

TOP = """
id = "test_form"
version = "1"
title = "Test form"
"""


@dataclass(frozen=True)
class NotApplicable:
    """A reading marked as not applicable."""

    reason: str


@dataclass(frozen=True)
class By:
    """A reading taken by an instrument."""

    instrument: str
    value: float


def write_form(
    folder: Path, sections: Mapping[str, str], repeats: str = "", top: str = TOP
) -> Path:
    """Write form files into `folder`; `sections` is file name -> text."""
    folder.mkdir(parents=True, exist_ok=True)
    listed = ", ".join(f'"{name}"' for name in sections)
    text = f"{top}\nsections = [{listed}]\n{repeats}\n"
    (folder / "rooftop_unit.toml").write_text(text, encoding="utf-8")
    for name, section in sections.items():
        (folder / name).write_text(section, encoding="utf-8")
    return folder


def form_of(page: str, repeats: str = "", **others: str) -> Form:
    """Return a form with the page `page` (its [section] added if absent) and `others`."""
    head = "" if "[section]" in page else '[section]\nname = "page"\ntitle = "Page"\n'
    sections = {"page.toml": head + page} | {f"{name}.toml": text for name, text in others.items()}
    with tempfile.TemporaryDirectory() as folder:
        return load_form(write_form(Path(folder), sections, repeats))


def readings_of(values: Mapping[str, Any]) -> dict[Key, Given]:
    """Return readings from name -> value; a list gives members 1, 2 ... and None none."""
    found: dict[Key, Given] = {}
    for name, value in values.items():
        _spread(name, (), value, found)
    return found


def _spread(name: str, index: tuple[int, ...], value: Any, found: dict[Key, Given]) -> None:
    if isinstance(value, list):
        for number, part in enumerate(value, start=1):
            _spread(name, (*index, number), part, found)
    elif isinstance(value, NotApplicable):
        found[Key(name, index)] = Given(not_applicable=value.reason)
    elif isinstance(value, By):
        found[Key(name, index)] = Given(float(value.value), instrument=value.instrument)
    elif value is not None:
        content = float(value) if isinstance(value, int | float) else value
        found[Key(name, index)] = Given(content)


def calculation_of(
    form: Form,
    values: Mapping[str, Any],
    *,
    limits: Mapping[str, Mapping[str, float]] | None = None,
    instruments: Mapping[str, tuple[Instrument, str]] | None = None,
    decision: Decision | None = None,
) -> Calculation:
    """Return the calculation of one unit; `limits` is check -> parts, for all members."""
    return Calculation(
        Plan(form),
        given=readings_of(values),
        limits={
            Key(check): GivenLimit(parts, "unit's literature, page 4")
            for check, parts in (limits or {}).items()
        },
        instruments={
            name: MeasuringInstrument(accuracy, unit)
            for name, (accuracy, unit) in (instruments or {}).items()
        },
        decision=decision or Decision(),
    )
