"""The package's list of functional tests: steps, marks, verdicts, runs, and what was not tested."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from commission.definitions.load import load_form
from commission.package import write_package
from commission.package.figures_part import LAID_FOR
from commission.package.functional_part import functional_flowables, runs, step_words
from commission.package.tables import DataTable
from commission.package.turnover import Part, Turnover, turnover
from commission.project import ProjectFile
from commission.sequence.functional_record import TestState, standing
from commission.sequence.functional_tests import functional_tests
from commission.sequence.functional_timeline import least_width, timeline
from commission.validation.session import Session
from commission.validation.site import site_results
from package.reading_pdf import run_together, told_by
from package.set_flowables import drawings_of
from sequence.configured_units import answers

ENTERED = {
    "inducer_start_s": "1.8", "vent_switch_close_s": "6.2", "prepurge_s": "31",
    "ignition_trial_s": "2.4", "heating_fan_on_delay_s": "44", "gas_off_s": "1.1",
    "failure_to_light_locks_out": "no", "disconnect_and_emergency_stop": "n/a in May",
}  # fmt: skip


@pytest.fixture(scope="module")
def project(tmp_path_factory: pytest.TempPathFactory) -> Iterator[ProjectFile]:
    path = tmp_path_factory.mktemp("tests") / "gas.rtuproject"
    with Session.create(path, load_form(), "Depot") as session:
        unit = session.add_unit("RTU-1")
        given = answers(heat_type="gas", vent_pressure_switch_fitted="yes")
        asked = session.results(unit.id)
        for name, content in given.items():
            if asked.asked_members(name):
                session.enter(unit.id, name, (), str(content))
        for name, text in ENTERED.items():
            session.enter(unit.id, name, (), text)
        session.pass_name = "retest 1"
        session.enter(unit.id, "inducer_start_s", (), "2.6")
    with ProjectFile.open(path, read_only=True) as opened:
        yield opened


@pytest.fixture(scope="module")
def made(project: ProjectFile) -> tuple[Turnover, Part]:
    whole = turnover(site_results(project, load_form()), None)
    return whole, whole.part_with_passes(whole.units[0])


@pytest.fixture(scope="module")
def printed(project: ProjectFile, tmp_path_factory: pytest.TempPathFactory) -> str:
    path = tmp_path_factory.mktemp("package") / "gas.pdf"
    write_package(site_results(project, load_form()), path)
    return "".join(told_by(path))


def test_every_test_is_printed_with_its_steps_and_signals(
    printed: str, made: tuple[Turnover, Part]
) -> None:
    for test in functional_tests(made[1].results.calculation):
        assert run_together(test.title) in printed, test.title
    assert run_together("What it energises") in printed
    assert run_together("Call: Heating stage 1 (R to W1).") in printed
    assert run_together("Must run in this order: draft inducer, vent pressure switch") in printed


def test_a_failed_protection_stands_as_a_stop_with_what_to_do(printed: str) -> None:
    assert run_together("STOP, Failure to light and lockout:") in printed
    assert (
        run_together("Keep the gas shut and remove the call: the control does not end its trials.")
        in printed
    )


def test_what_was_not_tested_says_why(printed: str) -> None:
    assert run_together("Not yet done:") in printed
    assert (
        run_together("Deferred or not applicable: Disconnect and emergency stop: in May.")
        in printed
    )
    assert run_together("Not of this unit, not fitted:") in printed
    assert run_together("Begun, not all marked:") in printed


def test_both_runs_of_a_mark_are_there(made: tuple[Turnover, Part]) -> None:
    test = next(
        one for one in functional_tests(made[1].results.calculation) if one.name == "gas_chain"
    )
    keys = {key.name: key for key in test.keys}
    assert runs(made[1], keys["inducer_start_s"]) == "as found 1.8 s; retest 1 2.6 s"
    assert runs(made[1], keys["prepurge_s"]) == "31.0 s"
    assert runs(made[1], keys["post_purge_s"]) == "–"


def test_the_timeline_is_the_same_as_in_the_window(made: tuple[Turnover, Part]) -> None:
    whole, part = made
    test = next(
        one for one in functional_tests(part.results.calculation) if one.name == "gas_chain"
    )
    drawn = drawings_of(functional_flowables(whole, part))
    width = max(LAID_FOR, least_width(test))
    assert [one.drawing for one in drawn] == [timeline(part.results, test, width)]


def test_a_test_that_nobody_ran_is_in_the_list_alone(made: tuple[Turnover, Part]) -> None:
    """Its steps are no record of anything; `commission tests` and the window have them."""
    whole, part = made
    tests = functional_tests(part.results.calculation)
    tables = [f for f in functional_flowables(whole, part) if isinstance(f, DataTable)]
    titled = {row.cells[0].text for row in tables[-1].rows if row.group}  # type: ignore[union-attr]
    undone = {one.title for one in tests if standing(part.results, one).state is TestState.NOT_DONE}
    assert undone and titled
    assert not undone & titled
    assert {one.title for one in tests if standing(part.results, one).marked} - titled == {
        "Disconnect and emergency stop"  # deferred: its reason stands in the list
    }


def test_a_step_is_told_once_for_its_members(made: tuple[Turnover, Part]) -> None:
    step = functional_tests(made[1].results.calculation)[1].steps[0]
    assert step_words(step).startswith(step.do)
    assert step_words(step, step.do) == "As before. Call: Fan (R to G)."


def test_a_form_without_tests_prints_nothing(small_site: object) -> None:
    whole = turnover(small_site, None)  # type: ignore[arg-type]
    for results in whole.units:
        assert functional_flowables(whole, whole.part(results)) == []
    assert functional_flowables(whole, whole.part(whole.site.pages)) == []
