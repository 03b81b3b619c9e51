"""The configuration takes the form's own answers and refuses others, all at once."""

from __future__ import annotations

from dataclasses import fields

import pytest

from commission.definitions.load import load_form
from commission.definitions.model import Field
from commission.errors import ReadingError
from commission.sequence.configuration import (
    CHOICES,
    RANGES,
    Configuration,
    configuration_from_answers,
)

FORM = load_form()
SECTION = next(section for section in FORM.sections if section.name == "configuration")
ASKED = {entry.name: entry for entry in SECTION.entries if isinstance(entry, Field)}


@pytest.mark.parametrize("name", sorted(CHOICES))
def test_choices_are_the_forms(name: str) -> None:
    assert tuple(ASKED[name].choices) == CHOICES[name]


@pytest.mark.parametrize("name", sorted(RANGES))
def test_ranges_are_the_forms(name: str) -> None:
    assert tuple(ASKED[name].possible or ()) == RANGES[name]


def test_every_part_is_asked_by_the_form() -> None:
    names = {field.name for field in fields(Configuration)} - {"unanswered"}
    assert names <= set(ASKED)


def test_answers_are_understood_as_typed() -> None:
    made = configuration_from_answers(
        {"cooling_stages": "2", "compressors": 2.0, "heat_type": "gas", "gas_valve": "two stage",
         "smoke_detector_fitted": "yes", "rollout_switch_fitted": False, "area_served": "x"}
    )  # fmt: skip
    assert (made.cooling_stages, made.compressors, made.gas_stages) == (2, 2, 2)
    assert made.smoke_detector_fitted and not made.rollout_switch_fitted
    assert "economizer" in made.unanswered and "heat_type" not in made.unanswered


def test_all_faults_come_at_once() -> None:
    with pytest.raises(ReadingError) as caught:
        configuration_from_answers(
            {"cooling_stages": "9", "heat_type": "gass", "relief": "powered",
             "smoke_detector_fitted": "perhaps", "compressors": "two"}
        )  # fmt: skip
    text = str(caught.value)
    assert "cooling_stages: 9 must be a whole number from 1 to 6" in text
    assert "Did you mean 'gas'?" in text
    assert "smoke_detector_fitted" in text and "compressors" in text


def test_members_follow_the_heat() -> None:
    pump = Configuration(
        cooling_stages=2, compressors=2, heat_type="heat pump with auxiliary electric",
        electric_heat_stages=3,
    )  # fmt: skip
    assert pump.members["call_heat"] == 5
    assert pump.members["gas_valve"] == 0
    assert Configuration().members["call_heat"] == 0
