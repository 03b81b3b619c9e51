"""A unit's readings and quantities as attributes of the handover sheets."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from commission.archive.vocabulary import is_requirement
from commission.definitions.model import Field, Key, Quantity, Section
from commission.formula.evaluate import State
from commission.formula.figures import uncertainty_figure
from commission.project import Instrument
from commission.units import UNITS, shown_unit
from commission.validation.results import UnitResults


def attribute_rows(
    results: UnitResults, instruments: Mapping[str, Instrument]
) -> Iterator[dict[str, str]]:
    """Yield one attribute a known value, in page order, in the units that the project shows.

    Names are made different by their page where two pages use one label. `person_id` is for
    the caller to turn into an e-mail address.
    """
    taken: set[str] = set()
    for section in results.sections():
        entries: tuple[Field | Quantity, ...] = (*section.fields, *section.quantities)
        for entry in entries:
            for index in results.asked_members(entry.name):
                if results.value(entry.name, index).state is State.KNOWN:
                    row = _attribute(results, section, entry, index, instruments)
                    row["Name"] = _free_name(row["Name"], section, taken)
                    yield row


def _free_name(name: str, section: Section, taken: set[str]) -> str:
    candidates = (name, f"{name} ({section.title})", *(f"{name} ({n})" for n in range(2, 10_000)))
    free = next(one for one in candidates if one.casefold() not in taken)
    taken.add(free.casefold())
    return free


def _attribute(
    results: UnitResults,
    section: Section,
    entry: Field | Quantity,
    index: tuple[int, ...],
    instruments: Mapping[str, Instrument],
) -> dict[str, str]:
    reading = results.reading(entry.name, index) if isinstance(entry, Field) else None
    label = results.label(Key(entry.name, index))
    value, unit = _shown(results, entry, index)
    row = {
        "Name": f"{label}, {reading.pass_name}" if reading is not None else label,
        "Category": "Requirement" if is_requirement(section.name) else "As Built",
        "Value": value,
        "Unit": unit,
        "ExtObject": "Reading" if reading is not None else "Quantity",
        "ExtIdentifier": reading.id if reading is not None else str(Key(entry.name, index)),
        "Description": _description(results, entry, index, instruments),
        "AllowedValues": ", ".join(entry.choices) if isinstance(entry, Field) else "",
        "person_id": reading.person_id if reading is not None else "",
    }
    return row | ({"CreatedOn": reading.at} if reading is not None else {})


def _shown(
    results: UnitResults, entry: Field | Quantity, index: tuple[int, ...]
) -> tuple[str, str]:
    """Return a value and its unit in two cells; a number with a full stop and no separators."""
    number = results.value(entry.name, index).number
    if number is None:
        return results.shown(entry.name, index), ""
    unit = shown_unit(entry.unit, results.unit_system)
    text = results.shown(entry.name, index).removesuffix(unit).strip()
    return text.replace(",", "").replace("−", "-"), unit


def _description(
    results: UnitResults,
    entry: Field | Quantity,
    index: tuple[int, ...],
    instruments: Mapping[str, Instrument],
) -> str:
    parts = []
    expanded = results.expanded(entry.name, index)
    unit = shown_unit(entry.unit, results.unit_system)
    if expanded:
        shown = expanded * UNITS[entry.unit].scale / UNITS[unit].scale
        factor = results.calculation.decision.coverage_factor
        parts.append(" ".join(f"±{uncertainty_figure(shown)} {unit} (k = {factor:g})".split()))
    if isinstance(entry, Quantity):
        parts.append(f"computed: {entry.source}")
        return "; ".join(parts)
    reading = results.reading(entry.name, index)
    instrument = instruments.get(reading.instrument_id) if reading is not None else None
    if instrument is not None:
        parts.append(f"by {instrument.kind} {instrument.serial}".strip())
    if reading is not None and reading.note:
        parts.append(reading.note)
    return "; ".join(parts)
