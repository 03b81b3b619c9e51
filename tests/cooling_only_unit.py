"""The plainest rooftop unit of the shipped forms, to which a test adds what it is about."""

from __future__ import annotations

from typing import Any

from builders import calculation_of
from commission.definitions.model import Form
from commission.validation.results import UnitResults

COOLING_ONLY = {
    "site_elevation_ft": 0, "phases": "3", "cooling_stages": 2, "circuits": 2, "compressors": 2,
    "refrigerant": "R-410A", "metering": "thermostatic valve", "indoor_fans": 1,
    "indoor_fan_drive": "direct", "fan_speed_control": "one speed", "fan_speeds": 1,
    "condenser_fans": 2, "heat_type": "none", "economizer": "none", "outdoor_damper": "none",
    "relief": "none", "control_kind": "thermostat",
}  # fmt: skip


def results(form: Form, **values: Any) -> UnitResults:
    """Return the results of a cooling-only unit with these answers and readings added."""
    return UnitResults(calculation_of(form, COOLING_ONLY | values), unit_id="unit")


def of_kind(form: Form, kind: type) -> list[Any]:
    """Return all fields, quantities or checks of a form, in page order."""
    return [entry for entry in form.entries() if isinstance(entry, kind)]
