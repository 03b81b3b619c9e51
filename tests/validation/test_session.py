"""The open project without its window: entered, undone, limited, overridden, reopened."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from commission.definitions.model import Key
from commission.errors import CommissionError, ProjectFileError, ReadingError
from commission.formula.evaluate import State
from commission.validation.report import findings, site_record, summary_rows
from commission.validation.session import Session
from commission.validation.site import site_results
from commission.validation.verdict import DecisionRule, Outcome
from tests.validation.small_site import small_form


@pytest.fixture
def session(tmp_path: Path) -> Iterator[Session]:
    with Session.create(tmp_path / "site.rtuproject", small_form(), "Invented school") as opened:
        yield opened


def begun(session: Session) -> str:
    """Add a unit, answer its configuration, return its id."""
    unit_id = session.add_unit("RTU-1").id
    for name, text in (
        ("elevation_ft", "0"), ("circuits", "1"), ("compressors", "1"), ("phases", "3"),
        ("metering", "thermal"), ("rated_volts", "208"), ("lockout", "done"),
    ):  # fmt: skip
        session.enter(unit_id, name, (), text)
    return unit_id


def everything(session: Session) -> dict[str, object]:
    """Return all results of all units, to compare with the same after reopening."""
    found: dict[str, object] = {}
    for results in session.site().everything():
        calculation = results.calculation
        found[results.tag] = (
            calculation.values,
            calculation.verdicts,
            {key: results.expanded(*key) for key in calculation.values},
            list(results.overrides),
            {key: reading.value for key, reading in (results.readings or {}).items()},
        )
    return found


def reopened(session: Session) -> Session:
    path = session.project.path
    session.close()
    return Session.open(path, small_form())


def test_an_entry_is_computed_at_once_and_says_what_changed(session: Session) -> None:
    unit_id = begun(session)
    session.enter(unit_id, "suction_psig", (1,), "118")
    entered = session.enter(unit_id, "suction_line_f", (1,), "52,0")
    assert Key("superheat_f", (1,)) in entered.changed
    results = session.results(unit_id)
    assert results.shown("superheat_f", (1,)).endswith("Δ°F")
    assert results.verdict("superheat_in_range", (1,)).outcome is Outcome.MISSING
    session.set_limit(unit_id, "superheat_in_range", (), {"low": 8, "high": 14}, "literature, p. 4")
    assert results.verdict("superheat_in_range", (1,)).outcome is Outcome.PASS


def test_what_is_refused_is_not_stored(session: Session) -> None:
    unit_id = begun(session)
    session.enter(unit_id, "suction_psig", (1,), "118")
    revision = session.project.revision
    for text in ("abc", "9000", "118 V"):
        with pytest.raises(ReadingError):
            session.enter(unit_id, "suction_psig", (1,), text)
    assert session.project.revision == revision
    assert session.results(unit_id).value("suction_psig", (1,)).number == 118
    with pytest.raises(ReadingError, match="'superheat_f' is not something that is asked"):
        session.enter(unit_id, "superheat_f", (1,), "5")


@pytest.mark.parametrize("index", [(), (9,), (1, 1), (0,)])
def test_a_member_that_is_not_asked_is_refused(session: Session, index: tuple[int, ...]) -> None:
    unit_id = begun(session)
    with pytest.raises(ReadingError, match="Suction pressure: "):
        session.enter(unit_id, "suction_psig", index, "118")


def test_undo_and_redo_walk_back_and_forth(session: Session) -> None:
    unit_id = begun(session)
    value = lambda: session.results(unit_id).value("suction_psig", (1,))  # noqa: E731
    for text in ("100", "110", "n/a no port fitted"):
        session.enter(unit_id, "suction_psig", (1,), text)
    assert value().reason == "no port fitted"
    session.undo()
    assert value().number == 110
    session.undo()
    assert value().number == 100
    session.undo()
    assert value().state is State.MISSING
    for _ in range(3):
        session.redo()
    assert value().reason == "no port fitted"
    assert not session.can_redo()
    session.undo()
    session.enter(unit_id, "suction_psig", (1,), "120")
    assert not session.can_redo()  # a new entry ends what could be redone
    session.undo()
    assert value().number == 110
    history = session.project.history(unit_id, "suction_psig", (1,))
    assert [r.value for r in history][:3] == [100.0, 110.0, None]  # nothing was ever lost
    assert len(history) > 9


def test_undo_keeps_instrument_and_pass(session: Session) -> None:
    unit_id = begun(session)
    gauge = session.project.add_instrument(kind="gauge", plus_minus=1.0, unit="psig")
    session.enter(unit_id, "suction_psig", (1,), "100", instrument_id=gauge.id)
    session.enter(unit_id, "suction_psig", (1,), "110")
    session.undo()
    reading = session.results(unit_id).reading("suction_psig", (1,))
    assert reading is not None
    assert (reading.instrument_id, reading.pass_name) == (gauge.id, "as found")


def test_undo_of_a_later_pass_shows_the_earlier_one_again(session: Session) -> None:
    unit_id = begun(session)
    session.enter(unit_id, "suction_psig", (1,), "100")
    session.pass_name = "as left"
    session.enter(unit_id, "suction_psig", (1,), "118")
    session.undo()
    reading = session.results(unit_id).reading("suction_psig", (1,))
    assert reading is not None
    assert (reading.value, reading.pass_name) == (100.0, "as found")
    assert session.project.passes(unit_id) in (["as found"], ["as found", "as left"])
    assert ("suction_psig", (1,)) not in session.project.readings_of_pass(unit_id, "as left")
    session.redo()
    assert session.results(unit_id).value("suction_psig", (1,)).number == 118


def test_an_earlier_pass_entered_late_does_not_displace_the_later(session: Session) -> None:
    unit_id = begun(session)
    session.pass_name = "as left"
    session.enter(unit_id, "suction_psig", (1,), "118")
    session.pass_name = "as found"
    session.enter(unit_id, "suction_psig", (1,), "100")
    assert session.results(unit_id).value("suction_psig", (1,)).number == 118
    as_found = session.results_of_pass(unit_id, "as found")
    assert as_found.value("suction_psig", (1,)).number == 100
    session.undo()
    assert session.results(unit_id).value("suction_psig", (1,)).number == 118


def test_a_project_reading_reaches_every_unit(session: Session) -> None:
    first = begun(session)
    second = session.add_unit("RTU-2").id
    assert session.results(second).value("barometer_psia").number == pytest.approx(14.696)
    session.enter("", "elevation_ft", (), "5280")
    for unit_id in (first, second, ""):
        pressure = session.results(unit_id).value("barometer_psia").number
        assert pressure == pytest.approx(12.1, abs=0.02)
    session.undo()
    assert session.results(first).value("barometer_psia").number == pytest.approx(14.696)


@pytest.mark.parametrize(
    ("parts", "origin", "message"),
    [
        ({"low": 9, "high": 8}, "p. 4", "low 9 is above high 8. Are the two swapped?"),
        ({"target": 9}, "p. 4", "target does not belong to a limit 'range'"),
        ({"low": 9}, " ", "say where the limit comes from"),
    ],
)
def test_a_limit_that_cannot_be_is_refused(
    session: Session, parts: dict[str, float], origin: str, message: str
) -> None:
    unit_id = begun(session)
    with pytest.raises(ReadingError, match="Suction superheat: ") as caught:
        session.set_limit(unit_id, "superheat_in_range", (), parts, origin)
    assert message in str(caught.value)
    assert session.project.limits(unit_id) == {}


def test_a_limit_of_the_project_holds_for_every_unit_without_its_own(session: Session) -> None:
    unit_id = begun(session)
    for name, text in (("suction_psig", "118"), ("suction_line_f", "52")):
        session.enter(unit_id, name, (1,), text)
    assert session.results(unit_id).verdict("superheat_in_range", (1,)).outcome is Outcome.MISSING
    session.set_limit("", "superheat_in_range", (), {"low": 8, "high": 14}, "specification")
    assert session.results(unit_id).verdict("superheat_in_range", (1,)).outcome is Outcome.PASS
    session.set_limit(unit_id, "superheat_in_range", (), {"low": 20, "high": 30}, "p. 4")
    assert session.results(unit_id).verdict("superheat_in_range", (1,)).outcome is Outcome.FAIL


def test_a_negative_tolerance_is_refused(session: Session) -> None:
    unit_id = begun(session)
    with pytest.raises(ReadingError, match="a tolerance cannot be negative"):
        session.set_limit(unit_id, "superheat_target", (), {"target": 9, "tolerance": -1}, "p. 4")


def test_a_stop_is_passed_only_with_name_and_reason(session: Session) -> None:
    unit_id = begun(session)
    session.enter(unit_id, "lockout", (), "not done")
    electrical = session.form.section_by_name["electrical"]
    assert session.results(unit_id).blocking(electrical)
    for name, reason in (("", "why"), ("A. Person", "  ")):
        with pytest.raises(ReadingError, match="needs a name and a reason"):
            session.override_stop(unit_id, "lockout_done", (), name, reason)
    for name in ("guards_done", "lockout", "no_such_check"):
        with pytest.raises(ReadingError, match=f"'{name}' is no stop"):
            session.override_stop(unit_id, name, (), "A. Person", "temporary supply")
    session.override_stop(unit_id, "lockout_done", (), "A. Person", "temporary supply")
    assert session.results(unit_id).blocking(electrical) == []
    assert len(session.results(unit_id).stops()) == 1
    # what is entered afterwards still reaches the results
    session.enter(unit_id, "lockout", (), "done")
    assert session.results(unit_id).stops() == []


@pytest.mark.parametrize("tag", ["", "  ", "RTU-1", "rtu-1 "])
def test_a_unit_needs_a_tag_of_its_own(session: Session, tag: str) -> None:
    session.add_unit("RTU-1")
    with pytest.raises(CommissionError, match="tag"):
        session.add_unit(tag)


def test_a_sister_unit_takes_the_configuration_and_no_measured_reading(session: Session) -> None:
    first = begun(session)
    session.enter(first, "suction_psig", (1,), "118")
    second = session.add_unit("RTU-2").id
    copied = session.copy_configuration(first, second, ("configuration",))
    assert copied == 5
    results = session.results(second)
    assert results.value("rated_volts").number == 208
    assert results.value("suction_psig", (1,)).state is State.MISSING
    assert results.value("lockout").state is State.MISSING


def test_a_cleared_reading_is_missing_and_stays_in_the_history(session: Session) -> None:
    unit_id = begun(session)
    session.enter(unit_id, "suction_psig", (1,), "118")
    session.enter(unit_id, "suction_psig", (1,), "")
    assert session.results(unit_id).value("suction_psig", (1,)).state is State.MISSING
    assert len(session.project.history(unit_id, "suction_psig", (1,))) == 2


def test_settings_count_after_a_refresh(session: Session) -> None:
    unit_id = begun(session)
    session.project.set_setting("decision_rule", "guarded acceptance")
    session.refresh()
    assert session.results(unit_id).calculation.decision.rule is DecisionRule.GUARDED


NAMES = {
    "elevation_ft": ["0", "5280"], "circuits": ["1", "2", "0"], "compressors": ["1", "0"],
    "phases": ["1", "3"], "metering": ["thermal valve", "fixed orifice"],
    "rated_volts": ["208", "240"], "lockout": ["done", "not done", ""], "guards": ["done"],
}  # fmt: skip
ENTRIES = st.one_of(
    st.sampled_from(sorted(NAMES)).flatmap(
        lambda name: st.tuples(st.just(name), st.just(()), st.sampled_from(NAMES[name]))
    ),
    st.tuples(
        st.sampled_from(["suction_psig", "suction_line_f"]),
        st.tuples(st.integers(1, 2)),
        st.sampled_from(["118", "52", "n/a none", ""]),
    ),
    st.tuples(
        st.just("pair_volts"), st.tuples(st.integers(1, 3)), st.sampled_from(["208", "200", ""])
    ),
)
ACTIONS = st.one_of(
    ENTRIES,
    st.sampled_from(["undo", "redo", "as found", "as left", "retest 1"]),
    st.tuples(st.just("limit"), st.sampled_from([8.0, 60.0])),
)


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(ACTIONS, min_size=3, max_size=25))
def test_the_live_results_are_those_of_the_reopened_file(
    tmp_path_factory: pytest.TempPathFactory, actions: list
) -> None:
    path = tmp_path_factory.mktemp("session") / "site.rtuproject"
    session = Session.create(path, small_form(), "Invented school")
    unit_id = begun(session)
    session.results("")
    for action in actions:
        if action in ("undo", "redo"):
            getattr(session, action)()
        elif isinstance(action, str):
            session.pass_name = action
        elif action[0] == "limit":
            parts = {"low": action[1], "high": 70.0}
            session.set_limit(unit_id, "superheat_in_range", (), parts, "p. 4")
        else:
            try:
                session.enter(unit_id, *action)
            except ReadingError:
                continue  # a member that the configuration does not have now
    live = everything(session)
    again = reopened(session)
    assert everything(again) == live
    again.close()


def test_reopened_under_another_form_is_refused(session: Session) -> None:
    from dataclasses import replace

    path = session.project.path
    session.close()
    with pytest.raises(ProjectFileError, match="made with the form 'test_form'") as caught:
        Session.open(path, replace(small_form(), id="other_form"))
    assert "Open it with the form files it was made with" in str(caught.value)
    # and the file is not left held by the window that refused it
    with Session.open(path, small_form()) as again:
        assert not again.project.read_only


def test_the_report_tells_units_stops_and_overrides(session: Session) -> None:
    unit_id = begun(session)
    session.enter(unit_id, "lockout", (), "not done")
    session.override_stop(unit_id, "lockout_done", (), "A. Person", "temporary supply")
    site = session.site()
    found = dict(findings(site.everything()))
    (stop,) = found["RTU-1 · Power off"]
    assert stop[:2] == ("STOP", "Lockout applied")
    assert "Passed over by A. Person: temporary supply" in stop[2]
    # a default limit says so, and nothing plain is listed unless all is asked for
    listed = [row for _, rows in findings(site.everything(), everything=True) for row in rows]
    assert {word for word, _, _ in listed} >= {"STOP", "missing"}
    assert len(listed) > 1
    header, summary = summary_rows(site)
    unit = dict(zip(header, summary[1], strict=True))
    assert (unit["Unit"], unit["Stops"]) == ("RTU-1", "1")
    assert "Power off (stopped)" in unit["Pages that need attention"]
    record = site_record(site, site.everything())
    assert record["stops"] == 1
    assert record["form"]["hash"] == small_form().content_hash


def test_the_site_is_the_same_read_from_the_file(session: Session) -> None:
    unit_id = begun(session)
    session.enter(unit_id, "suction_psig", (1,), "118")
    live = session.site().units[0].calculation.values
    stored = site_results(session.project, session.form).units[0].calculation.values
    assert live == stored
    as_found = session.site().as_found(session.results(unit_id))
    assert as_found.calculation.values == live


def test_history_holds_every_pass_and_what_was_taken_back(session: Session) -> None:
    unit_id = begun(session)
    session.enter(unit_id, "suction_psig", (1,), "118")
    session.pass_name = "as left"
    session.enter(unit_id, "suction_psig", (1,), "121")
    session.undo()
    found = session.history(unit_id, "suction_psig", (1,))
    assert [(one.pass_name, one.value, one.withdrawn) for one in found] == [
        ("as found", 118, False),
        ("as left", 121, False),
        ("as left", None, True),
    ]


def test_limit_taken_back_leaves_the_projects_limit_or_none(session: Session) -> None:
    unit_id = begun(session)
    session.enter(unit_id, "suction_psig", (1,), "118")
    session.enter(unit_id, "suction_line_f", (1,), "52")
    check = "superheat_in_range"
    session.set_limit(unit_id, check, (), {"low": 8, "high": 14}, "literature, p. 4")
    session.project.set_limit("", check, (), {"low": 1, "high": 2}, origin="site rule")
    assert session.results(unit_id).verdict(check, (1,)).outcome is Outcome.PASS
    assert Key(check, (1,)) in session.clear_limit(unit_id, check)
    assert session.results(unit_id).verdict(check, (1,)).outcome is Outcome.FAIL
    before = everything(session)
    session.refresh()
    assert everything(session) == before
    session.clear_limit("", check)
    assert session.results(unit_id).verdict(check, (1,)).outcome is Outcome.MISSING
    with pytest.raises(ReadingError, match="no limit is entered here"):
        session.clear_limit(unit_id, check)
    with pytest.raises(ReadingError, match="no limit is entered here"):
        session.clear_limit(unit_id, "suction_psig", (1,))


def test_removed_unit_keeps_its_readings_and_is_passed_over_by_undo(session: Session) -> None:
    first = begun(session)
    second = session.add_unit("RTU-2").id
    session.enter(first, "rated_volts", (), "230")
    session.enter(second, "rated_volts", (), "460")
    session.remove_unit(second)
    assert [unit.tag for unit in session.units()] == ["RTU-1"]
    undone = session.undo()
    assert undone is not None
    assert undone.unit_id == first
    assert session.restore_unit(second).tag == "RTU-2"
    assert session.results(second).value("rated_volts").number == 460


def test_removed_unit_whose_tag_was_given_away_stays_removed(session: Session) -> None:
    first = session.add_unit("RTU-1").id
    session.remove_unit(first)
    session.add_unit("RTU-1")
    with pytest.raises(ProjectFileError, match="has a unit RTU-1 already"):
        session.restore_unit(first)
