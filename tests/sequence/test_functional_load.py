"""The sequence file is read strictly: all faults at once, each with place, rule and near miss."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from commission.definitions.load import load_form
from commission.definitions.model import Form
from commission.errors import FormError
from commission.resources import forms_folder
from commission.sequence.functional_load import (
    SEQUENCE_FILE,
    has_tests,
    load_sequence,
    read_sequence,
)

TEST = """
form = "packaged_rooftop_unit"
version = "1"
[[part]]
name = "indoor_fan"
label = "indoor fan"
[[protection]]
name = "smoke_detector"
label = "smoke detector"
when = "smoke_detector_fitted == 'yes'"
[[terminal]]
name = "G"
title = "Fan"
energises = ["indoor_fan"]
[[test]]
name = "smoke"
title = "Smoke"
section = "protections_unit"
proves = ["smoke_detector"]
when = "smoke_detector_fitted == 'yes'"
[[test.step]]
name = "tripped"
do = "Trip it."
call = "Fan"
signals = ["G"]
rest = ["indoor_fan"]
danger = "Stop the unit."
marks = ["smoke_detector_stops_unit"]
[[test.step]]
name = "timed"
do = "Time it."
marks = [{ field = "fan_start_delay_s", event = "Fan turns" }]
"""

# What is put wrong, and what the fault must say.
FAULTS = [
    ('label = "indoor fan"', 'labell = "indoor fan"', "part indoor_fan: unknown key 'labell'"),
    ('label = "indoor fan"', 'labell = "indoor fan"', "Did you mean 'label'?"),
    ('do = "Trip it."\n', "", "step tripped: 'do' is missing; add it."),
    ("== 'yes'\"\n[[test", "== 'yes\"\n[[test", "test smoke: when:"),
    ('"smoke_detector_stops_unit"', '"smoke_detector_stop_unit"',
     "marks 'smoke_detector_stop_unit', which is no field. Did you mean 'smoke_detector_stops"),
    ('section = "protections_unit"', 'section = "protection_unit"',
     "'protection_unit' is no page of the form. Did you mean 'protections_unit'?"),
    ('rest = ["indoor_fan"]', 'rest = ["indor_fan"]',
     "'indor_fan' is no part or protection. Did you mean 'indoor_fan'?"),
    ('signals = ["G"]', 'signals = ["Q"]', "'Q' is no terminal."),
    ('signals = ["G"]', 'signals = ["G1..{n}"]', "needs a test that repeats"),
    ('danger = "Stop the unit."\n', "", "smoke_detector_stops_unit_proved stops the work; say in"),
    ('do = "Time it."', 'do = "Time it."\ndanger = "x"', "no mark of it is judged by a stop"),
    (', event = "Fan turns"', "", "fan_start_delay_s is a time; say in 'event' what ends it."),
    ('"smoke_detector_stops_unit"]', '{ field = "smoke_detector_stops_unit", event = "e" }]',
     "is no stopwatch time"),
    ('event = "Fan turns"', 'event = "Fan turns", after = ["flame"]',
     "after 'flame' is no earlier event of the step."),
    ('{ field = "fan_start_delay_s"', '{ field = "x", moment = "y"', "either a field or a moment"),
    ('name = "timed"', 'name = "tripped"', "step tripped: declared 2 times"),
    ('proves = ["smoke_detector"]', 'proves = ["indoor_fan"]',
     "protection smoke_detector: no test proves it"),
    ('title = "Smoke"', 'title = "Smoke"\nrepeat = "circuits"',
     "'circuits' is not a repeat of this form. Did you mean 'circuit'?"),
    ('title = "Smoke"', 'title = "Smoke"\nrepeat = "phase"', "'phase' is not a repeat"),
    ("detector_fitted == 'yes'\"\n[[terminal", "detector_fited == 'yes'\"\n[[terminal",
     "Did you mean 'smoke_detector_fitted'?"),
    ("detector_fitted == 'yes'\"\n[[terminal", "detector_fitted == 'yess'\"\n[[terminal",
     "'yess' is no choice of smoke_detector_fitted. Did you mean 'yes'?"),
    ("detector_fitted == 'yes'\"\n[[terminal", "detector_fitted\"\n[[terminal",
     "is not a condition"),
    ("when = \"smoke_detector_fitted == 'yes'\"\n[[terminal",
     "when = \"compressor_kind == 'fixed'\"\n[[terminal", "is not asked once of each unit"),
    ('rest = ["indoor_fan"]', 'rest = ["indoor_fan"]\nrun = ["indoor_fan"]',
     "must both run and not run"),
    ('call = "Fan"\n', "", "has signals but no call"),
    ('name = "G"', 'name = "G{n}"', "goes with a repeat"),
    ("[[test.step]]\nname = \"timed\"",
     "[[test.lane]]\nname = \"Fan\"\nspans = [{ on = \"fan\", off = \"timed\" }]\n"
     "[[test.step]]\nname = \"timed\"", "lane Fan: 'fan' is no event or step of it."),
]  # fmt: skip


@pytest.fixture(scope="module")
def form() -> Form:
    return load_form()


def faults_of(form: Form, text: str) -> tuple[str, ...]:
    with pytest.raises(FormError) as caught:
        read_sequence(form, tomllib.loads(text))
    return caught.value.faults


def test_the_plain_file_has_no_fault(form: Form) -> None:
    book = read_sequence(form, tomllib.loads(TEST))
    assert [test.name for test in book.tests] == ["smoke"]


@pytest.mark.parametrize(("right", "wrong", "told"), FAULTS)
def test_a_fault_is_told_with_its_place(form: Form, right: str, wrong: str, told: str) -> None:
    assert TEST.count(right) >= 1
    faults = faults_of(form, TEST.replace(right, wrong))
    assert any(told in fault for fault in faults), faults
    assert all(fault.startswith(SEQUENCE_FILE) for fault in faults)


def test_all_faults_come_at_once(form: Form) -> None:
    text = TEST.replace('section = "protections_unit"', 'section = "x"')
    text = text.replace('rest = ["indoor_fan"]', 'rest = ["x"]').replace('"G"]', '"Q"]')
    assert len(faults_of(form, text)) == 3


def test_a_form_without_the_file_or_of_another_kind_has_no_tests(
    form: Form, tmp_path: Path
) -> None:
    assert load_sequence(form, tmp_path).tests == ()
    (tmp_path / SEQUENCE_FILE).write_text(TEST.replace("packaged_rooftop", "another"), "utf-8")
    assert load_sequence(form, tmp_path).tests == ()
    (tmp_path / SEQUENCE_FILE).write_text("form = ", "utf-8")
    with pytest.raises(FormError, match="cannot be read as TOML"):
        load_sequence(form, tmp_path)


def test_the_shipped_file_is_read_with_its_hash(form: Form) -> None:
    book = load_sequence(form)
    data: dict[str, Any] = tomllib.loads((forms_folder() / SEQUENCE_FILE).read_text("utf-8"))
    assert len(book.tests) == len(data["test"]) > 50
    assert len(book.content_hash) == 64
    assert has_tests(form, form.section_by_name["protections_gas"])
    assert not has_tests(form, form.section_by_name["nameplate"])
