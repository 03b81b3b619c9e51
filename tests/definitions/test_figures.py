"""[[figure]] in a form file: what loads, and every fault at once with its cure."""

from __future__ import annotations

import pytest

from builders import calculation_of, form_of
from commission.definitions.model import FigureKind
from commission.errors import FormError

REPEATS = """
[[repeat]]
name = "circuit"
label = "Circuit {n}"
count = "circuits"
maximum = 4
"""
FIELDS = """
[[field]]
name = "circuits"
label = "Circuits"
kind = "integer"
[[field]]
name = "barometer_psia"
label = "Barometer"
unit = "psia"
[[field]]
name = "dry_f"
label = "Dry bulb"
unit = "°F"
[[field]]
name = "wet_f"
label = "Wet bulb"
unit = "°F"
[[field]]
name = "circuit_f"
label = "Of a circuit"
unit = "°F"
repeat = "circuit"
[[field]]
name = "kind_of_air"
label = "Kind"
kind = "choice"
choices = ["moist", "dry"]
"""
CHART = """
[[figure]]
name = "chart"
label = "Chart"
kind = "psychrometric chart"
when = "kind_of_air == 'moist'"
source = "Handbook"
uses = {barometer = "barometer_psia"}
[[figure.point]]
name = "entering"
label = "Entering"
uses = {dry_bulb = "dry_f", wet_bulb = "wet_f"}
[[figure.point]]
name = "leaving"
label = "Leaving"
uses = {dry_bulb = "dry_f", wet_bulb = "wet_f"}
[[figure.process]]
label = "Cooling"
start = "entering"
end = "leaving"
"""


def _faults(figure: str) -> list[str]:
    with pytest.raises(FormError) as caught:
        form_of(FIELDS + figure, REPEATS)
    return list(caught.value.faults)


def test_a_figure_is_kept_as_declared() -> None:
    form = form_of(FIELDS + CHART, REPEATS)
    (figure,) = form.sections[0].figures
    assert figure.kind is FigureKind.PSYCHROMETRIC
    assert figure.uses == {"barometer": "barometer_psia"}
    assert [point.name for point in figure.points] == ["entering", "leaving"]
    assert figure.processes[0].end == "leaving"
    assert "chart" not in form.by_name, "a figure is no entry"


def test_when_decides_whether_there_is_a_figure() -> None:
    form = form_of(FIELDS + CHART, REPEATS)
    (figure,) = form.sections[0].figures
    moist = calculation_of(form, {"kind_of_air": "moist", "circuits": 1})
    dry = calculation_of(form, {"kind_of_air": "dry", "circuits": 1})
    assert moist.figure_members(figure) == ((),)
    assert dry.figure_members(figure) == ()


def test_a_repeated_figure_is_there_once_for_each_member() -> None:
    text = CHART.replace('source = "Handbook"', 'repeat = "circuit"').replace(
        'dry_bulb = "dry_f"', 'dry_bulb = "circuit_f"'
    )
    form = form_of(FIELDS + text, REPEATS)
    (figure,) = form.sections[0].figures
    calculation = calculation_of(form, {"kind_of_air": "moist", "circuits": 3})
    assert calculation.figure_members(figure) == ((1,), (2,), (3,))
    assert calculation.figure_scope(figure, (2,)).key("circuit_f").index == (2,)


FAULTS = [
    ('"psychrometric chart"', '"psychrometric char"', "kind"),
    ("barometer = ", "barometr = ", "'barometr' is no role"),
    ("{barometer = ", "{barometr = ", "Did you mean 'barometer'"),
    ('"barometer_psia"}', '"barometer_psi"}', "Did you mean 'barometer_psia'"),
    ('"barometer_psia"}', '"dry_f"}', "'dry_f' is in °F; psia is wanted"),
    ('"barometer_psia"}', '"kind_of_air"}', "is a text; a number is wanted"),
    ('dry_bulb = "dry_f", ', "", "'dry_bulb' is missing"),
    (', wet_bulb = "wet_f"', "", "uses 0 of wet_bulb"),
    ('wet_bulb = "wet_f"', 'wet_bulb = "wet_f", humidity_ratio = "dry_f"', "uses 2 of"),
    ('dry_bulb = "dry_f"', 'dry_bulb = "circuit_f"', "repeats over circuit"),
    ('end = "leaving"', 'end = "leavin"', "'leavin' is no point of it. Did you mean 'leaving'"),
    ('name = "leaving"', 'name = "entering"', "point 'entering' is declared 2 times"),
    ('label = "Leaving"', 'label = "Leaving"\nplace = "fan"', "has no places"),
    ('source = "Handbook"', 'repeat = "circui"', "'circui' is not a repeat"),
    ("kind_of_air == 'moist'", "kind_of_ai == 'moist'", "Did you mean 'kind_of_air'"),
    ("kind_of_air == 'moist'", "kind_of_air == ", "when"),
    ('source = "Handbook"', 'colour = "red"', "unknown key 'colour'"),
]


@pytest.mark.parametrize(("old", "new", "said"), FAULTS)
def test_each_fault_is_found_with_its_place(old: str, new: str, said: str) -> None:
    assert old in CHART
    faults = _faults(CHART.replace(old, new))
    assert any(said in fault for fault in faults), faults
    assert all("page.toml" in fault for fault in faults)


def test_all_faults_of_a_figure_come_at_once() -> None:
    wrong = (
        CHART.replace("barometer_psia", "nothing")
        .replace('end = "leaving"', 'end = "gone"')
        .replace('wet_bulb = "wet_f"', 'wet_bulb = "kind_of_air"')
    )
    assert len(_faults(wrong)) == 4


def test_a_figure_declared_twice_is_a_fault() -> None:
    assert any("declared 2 times" in fault for fault in _faults(CHART + CHART))


def test_points_and_processes_where_there_are_none() -> None:
    sketch = CHART.replace("psychrometric chart", "mixing diagram")
    faults = _faults(sketch)
    assert any("has no points" in fault for fault in faults)
    profile = CHART.replace("psychrometric chart", "pressure profile")
    assert any("has no processes" in fault for fault in _faults(profile))


def test_a_place_that_the_unit_diagram_has_not() -> None:
    plan = """
[[figure]]
name = "plan"
label = "Plan"
kind = "unit diagram"
[figure.uses]
circuits = "circuits"
cooling_stages = "circuits"
compressors = "circuits"
heat_type = "kind_of_air"
outdoor_damper = "kind_of_air"
[[figure.point]]
name = "one"
label = "One"
place = "suction lin"
uses = {value = "circuit_f"}
"""
    faults = _faults(plan)
    assert len(faults) == 1
    assert "Did you mean 'suction line'" in faults[0]
