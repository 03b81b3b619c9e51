"""A witness's reading beside the recorded one: the difference against both uncertainties.

The bounds are computed here by hand from JCGM 100:2008, 4.3.7 (a half-width a of equal
likelihood has u = a / sqrt 3), F.2.2.1 (a step d shown has u = d / sqrt 12), 6.2.1 (U = k u),
and the E_n number of ISO 13528, |x - X| / sqrt(U_x^2 + U_X^2).
"""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from commission.definitions.model import Form, Key
from commission.errors import ReadingError
from commission.validation.session import Session
from commission.validation.witness_entry import draw_for, enter_witnessed
from commission.validation.witnessing import Agreement, population_of
from witnessed_site import L1, WitnessedSite, witnessed_form


@pytest.fixture(scope="module")
def form(tmp_path_factory: pytest.TempPathFactory) -> Form:
    return witnessed_form(tmp_path_factory.mktemp("witness_form"))


@pytest.fixture
def site(tmp_path: Path, form: Form):
    with Session.create(tmp_path / "site.rtuproject", form, "Site") as session:
        yield WitnessedSite(session)


def bound_by_hand(first: float, second: float) -> float:
    """Return sqrt(U1^2 + U2^2) at k = 2 of the two meters."""
    u_first = math.hypot((0.01 * first + 0.5) / math.sqrt(3), 0.1 / math.sqrt(12))
    u_second = (0.005 * second + 0.2) / math.sqrt(3)
    return math.hypot(2 * u_first, 2 * u_second)


def test_two_instruments_are_held_to_both_uncertainties(site: WitnessedSite) -> None:
    site.read("460")
    site.witness_reads("464", site.other)
    [line] = site.lines()
    assert line.difference == pytest.approx(4.0)
    assert line.bound == pytest.approx(bound_by_hand(460, 464), rel=1e-12)
    assert line.e_number == pytest.approx(4.0 / bound_by_hand(460, 464))
    assert line.agreement is Agreement.AGREES


@pytest.mark.parametrize("way", [-1, 1])
def test_the_verdict_turns_at_the_bound(site: WitnessedSite, way: int) -> None:
    site.read("460")
    low, high = 0.0, 50.0
    for _ in range(60):  # where difference and bound are equal, the bound moving with the reading
        middle = (low + high) / 2
        inside = middle <= bound_by_hand(460, 460 + way * middle)
        low, high = (middle, high) if inside else (low, middle)
    for apart, expected in ((low - 1e-6, Agreement.AGREES), (low + 1e-6, Agreement.DIFFERS)):
        site.witness_reads(repr(460 + way * apart), site.other)
        assert site.lines()[0].agreement is expected


def test_one_instrument_used_for_both_is_held_to_its_own_scatter(site: WitnessedSite) -> None:
    site.read("460")
    site.witness_reads("460.1", site.meter)
    [line] = site.lines()
    # Two u of both roundings are 0.0816 V, but rounding alone parts two readings by one step.
    assert 2 * math.hypot(0.1 / math.sqrt(12), 0.1 / math.sqrt(12)) < 0.1
    assert line.bound == pytest.approx(0.1)
    assert line.agreement is Agreement.AGREES
    assert "cancels" in line.why
    site.witness_reads("460.2", site.meter)
    assert site.lines()[0].agreement is Agreement.DIFFERS


def test_repeatability_of_one_instrument_counts_twice(site: WitnessedSite) -> None:
    meter = site.session.project.add_instrument("multimeter", unit="V", repeatability=0.6).id
    site.session.refresh()
    site.read("460", meter)
    site.witness_reads("460.5", meter)
    assert site.lines()[0].bound == pytest.approx(2 * math.sqrt(2) * 0.6 / math.sqrt(3))


@pytest.mark.parametrize("named", ["neither", "recorded", "witnessed"])
def test_without_both_instruments_it_is_undecided(site: WitnessedSite, named: str) -> None:
    site.read("460", site.meter if named == "recorded" else "")
    site.witness_reads("500", site.other if named == "witnessed" else "")
    [line] = site.lines()
    assert (line.agreement, line.difference, line.bound) == (Agreement.UNDECIDED, 40.0, None)


def test_a_temperature_in_another_unit_is_compared_as_a_difference(site: WitnessedSite) -> None:
    project = site.session.project
    thermometer = project.add_instrument("thermometer", unit="°C", plus_minus=0.5).id
    site.session.refresh()
    site.session.enter(site.unit, "air_f", (), "55", thermometer)
    key = Key("air_f")
    second = project.add_instrument("thermometer", unit="°C", plus_minus=0.5).id
    site.witness_reads("13 °C", second, key)
    [line] = site.lines()
    assert line.difference == pytest.approx(13 * 1.8 + 32 - 55)
    # 0.5 degrees Celsius are 0.9 degrees Fahrenheit apart.
    assert line.bound == pytest.approx(math.sqrt(2) * 2 * 0.9 / math.sqrt(3))


def test_what_is_found_done_agrees_or_differs(site: WitnessedSite) -> None:
    site.session.enter(site.unit, "guards", (), "done")
    site.witness_reads("done", key=Key("guards"))
    assert [line.agreement for line in site.lines()] == [Agreement.AGREES]


def test_a_witness_is_a_named_person_and_not_who_recorded(site: WitnessedSite) -> None:
    site.read()
    for person, words in (("", "Choose who witnesses"), (site.recorder, "same person")):
        with pytest.raises(ReadingError, match=words):
            enter_witnessed(site.session, site.unit, L1, "460", person_id=person)
    with pytest.raises(ReadingError, match="Nothing is recorded"):
        site.witness_reads("460", key=Key("supply_v", (2,)))
    with pytest.raises(ReadingError):
        site.witness_reads("many")
    with pytest.raises(ReadingError, match="reads a value"):
        site.witness_reads("n/a no ladder")
    assert site.session.project.rows("witness_reading") == []


def test_the_recorded_reading_stays_and_the_verdicts_with_it(site: WitnessedSite) -> None:
    site.read("460")
    site.witness_reads("500", site.other)
    results = site.session.results(site.unit)
    assert results.value(*L1).number == 460.0
    assert [one.value for one in site.session.history(site.unit, *L1)] == [460.0]


def test_a_later_reading_is_awaited_by_no_comparison_of_its_own(site: WitnessedSite) -> None:
    site.read("460")
    site.witness_reads("461", site.other)
    site.session.pass_name = "as left"
    site.read("480")
    [line] = site.lines()
    assert line.recorded is not None
    assert (line.recorded.value, line.difference) == (460.0, 1.0)


def test_the_sample_is_of_what_was_read_not_described(site: WitnessedSite) -> None:
    site.read()
    site.session.enter(site.unit, "tag", (), "RTU-1 east")
    site.session.enter(site.unit, "guards", (), "done")
    site.session.enter(site.unit, "air_f", (), "n/a no port")
    assert set(population_of(site.session.results(site.unit))) == {L1, Key("guards")}
    draw = draw_for(site.session, site.unit, 1.0)
    assert len(draw.members()) == 2
    assert {line.agreement for line in site.lines()} == {Agreement.AWAITED}


def test_a_draw_and_a_witnessed_reading_are_undone_by_rows(site: WitnessedSite) -> None:
    site.read()
    draw_for(site.session, site.unit)
    site.witness_reads("461", site.other)
    rows = len(site.session.project.rows("witness_reading"))
    assert site.session.undo() is not None
    assert site.lines()[0].agreement is Agreement.AWAITED
    assert len(site.session.project.rows("witness_reading")) == rows + 1
    site.session.undo()
    assert site.lines() == ()
    site.session.redo()
    site.session.redo()
    assert site.lines()[0].agreement is Agreement.AGREES


def test_a_reading_taken_back_leaves_the_witness_without_its_pair(site: WitnessedSite) -> None:
    site.read()
    site.witness_reads("461", site.other)
    site.session.enter(site.unit, *L1, "")
    assert [line.agreement for line in site.lines()] == [Agreement.GONE]
