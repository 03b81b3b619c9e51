"""Units, limits, people, instruments, deficiencies, overrides, signatures, settings."""

from __future__ import annotations

import pytest

from commission.errors import ProjectFileError, ReadingError
from commission.project import ProjectFile

# --- units


def test_units_keep_their_order_and_their_id(project):
    one, two, three = (project.add_unit(f"RTU-{n}") for n in (1, 2, 3))
    assert [unit.order for unit in (one, two, three)] == [1, 2, 3]
    assert project.rename_unit(one.id, "AHU-1").id == one.id
    assert [unit.tag for unit in project.units()] == ["AHU-1", "RTU-2", "RTU-3"]
    project.reorder_units([three.id, one.id, two.id])
    assert [unit.tag for unit in project.units()] == ["RTU-3", "AHU-1", "RTU-2"]
    with pytest.raises(ProjectFileError, match="each unit once"):
        project.reorder_units([three.id])


def test_a_removed_unit_keeps_its_readings_and_can_come_back(project, unit_id):
    project.record(unit_id, "a", (), 1.0)
    project.remove_unit(unit_id)
    assert project.units() == []
    assert [unit.tag for unit in project.units(removed=True)] == ["RTU-1"]
    with pytest.raises(ProjectFileError, match="Add the unit first"):
        project.record(unit_id, "a", (), 2.0)
    assert project.restore_unit(unit_id).tag == "RTU-1"
    assert project.readings(unit_id)[("a", ())].value == 1.0


def test_a_tag_is_given_once(project, unit_id):
    for tag in ("RTU-1", " rtu-1 "):
        with pytest.raises(ProjectFileError, match="has a unit RTU-1 already"):
            project.add_unit(tag)
    with pytest.raises(ProjectFileError, match="enter one"):
        project.add_unit(" ")
    project.remove_unit(unit_id)
    project.add_unit("RTU-1")
    with pytest.raises(ProjectFileError, match="already"):
        project.restore_unit(unit_id)


# --- limits


def test_limits_are_kept_with_their_origin_and_superseded(project, unit_id):
    first = project.set_limit(unit_id, "rise", parts={"low": 30, "high": 60}, origin="p. 4")
    second = project.set_limit(unit_id, "rise", parts={"low": 35, "high": 65}, origin="p. 5")
    member = project.set_limit(unit_id, "rise", (2,), {"low": 40.0}, origin="p. 6")
    assert project.limits(unit_id) == {("rise", ()): second, ("rise", (2,)): member}
    assert project.limit_history(unit_id, "rise") == [first, second]
    assert (second.parts["low"], second.supersedes, second.origin) == (35.0, first.id, "p. 5")


def test_a_default_can_be_confirmed_and_a_limit_taken_back(project, unit_id):
    project.set_limit(unit_id, "imbalance", confirmed=True)
    limit = project.limits(unit_id)[("imbalance", ())]
    assert limit.confirmed
    assert not limit.parts
    project.clear_limit(unit_id, "imbalance")
    assert project.limits(unit_id) == {}
    assert project.set_limit(unit_id, "imbalance", parts={"high": 2.0}).supersedes


@pytest.mark.parametrize(
    ("parts", "message"),
    [
        ({"low": 60.0, "high": 30.0}, "low 60 is above high 30"),
        ({"tolerance": -1.0}, "without a sign"),
        ({"hihg": 1.0}, "Did you mean 'high'"),
        ({"low": float("nan")}, "not a number"),
    ],
)
def test_impossible_limits_are_refused(project, unit_id, parts, message):
    with pytest.raises(ReadingError, match=message):
        project.set_limit(unit_id, "rise", parts=parts)
    assert project.limits(unit_id) == {}


# --- people and instruments


def test_a_person_keeps_the_id_through_changes(project):
    person = project.add_person("Ada Rowan", company="Example Balancing", role="agent")
    changed = project.update_person(person.id, email="ada@example.org")
    assert changed.id == person.id
    assert project.people() == [changed]
    assert (changed.company, changed.email) == ("Example Balancing", "ada@example.org")
    assert len(project.rows("person")) == 2
    project.remove_person(person.id)
    assert project.people() == []
    with pytest.raises(ReadingError, match="empty"):
        project.add_person(" ")
    with pytest.raises(ProjectFileError, match="Did you mean 'email'"):
        project.update_person(person.id, emial="x")
    with pytest.raises(ProjectFileError, match="no person with id 'x'"):
        project.update_person("x", email="x")


def test_an_instrument_keeps_its_accuracy_terms(project):
    meter = project.add_instrument(
        "voltmeter",
        serial="0042",
        unit="V",
        span=600,
        percent_of_reading=0.5,
        percent_of_span=0.1,
        plus_minus=1,
        calibrated_on="2026-01-10",
        calibration_due="2027-01-10",
    )
    assert project.instruments() == [meter]
    assert (meter.span, meter.plus_minus) == (600.0, 1.0)
    assert project.update_instrument(meter.id, plus_minus=2).plus_minus == 2.0
    assert (meter.repeatability, meter.resolution) == (0.0, 0.0)
    changed = project.update_instrument(meter.id, repeatability=0.2, resolution=1)
    assert (changed.repeatability, changed.resolution) == (0.2, 1.0)
    with pytest.raises(ReadingError, match=r"resolution -1 is below 0"):
        project.update_instrument(meter.id, resolution=-1.0)
    assert project.add_instrument("thermometer").span is None


def test_impossible_accuracy_is_refused(project):
    with pytest.raises(ReadingError, match="below 0"):
        project.add_instrument("gauge", plus_minus=-1.0)
    with pytest.raises(ReadingError, match="no span is entered"):
        project.add_instrument("gauge", percent_of_span=1.0)
    gauge = project.add_instrument("gauge", percent_of_span=1.0, span=100.0)
    with pytest.raises(ReadingError, match="no span"):
        project.update_instrument(gauge.id, span=None)
    assert project.instruments() == [gauge]


# --- deficiencies, overrides, signatures


def test_deficiencies_are_numbered_through_the_project(project, unit_id):
    other = project.add_unit("RTU-2").id
    first = project.add_deficiency(unit_id, "damper stuck", check="damper_done", index=(1,))
    second = project.add_deficiency(other, "filter missing", owner="sheet metal")
    assert [d.number for d in project.deficiencies()] == [1, 2]
    assert project.deficiencies(other) == [second]
    corrected = project.update_deficiency(first.id, status="corrected", corrected_on="2026-09-15")
    assert (corrected.number, corrected.at, corrected.index) == (1, first.at, (1,))
    assert project.deficiencies(unit_id) == [corrected]
    with pytest.raises(ReadingError, match="Did you mean 'corrected'"):
        project.update_deficiency(first.id, status="correctd")
    with pytest.raises(ProjectFileError, match="keeps its number"):
        project.update_deficiency(first.id, number=7)
    with pytest.raises(ReadingError, match="empty"):
        project.add_deficiency(unit_id, "")


def test_an_override_needs_name_and_reason(project, unit_id):
    with pytest.raises(ReadingError, match="reason"):
        project.add_override(unit_id, "rotation_done", person_name="Ada Rowan", reason=" ")
    with pytest.raises(ReadingError, match="name"):
        project.add_override(unit_id, "rotation_done", person_name="", reason="why")
    override = project.add_override(
        unit_id, "rotation_done", (2,), person_name="Ada Rowan", reason="proved by the fan"
    )
    assert project.overrides(unit_id) == [override]
    project.remove_override(override.id)
    assert project.overrides() == []
    assert len(project.rows("override_entry")) == 2


def test_a_signature_stands_for_the_readings_of_its_section(project, unit_id):
    project.record(unit_id, "a", (), 1.0)
    signature = project.add_signature(
        unit_id,
        "electrical",
        "witnessed",
        person_id="p",
        printed_name="Ada Rowan",
        statement="seen",
        names=["a"],
    )
    assert signature.hash_kind == "readings, limits and overrides"
    assert project.is_signed_still(signature, ["a"])
    project.record(unit_id, "b", (), 1.0)
    assert project.is_signed_still(signature, ["a"])
    assert not project.is_signed_still(signature)
    project.record(unit_id, "a", (), 2.0)
    assert not project.is_signed_still(signature, ["a"])
    project.record(unit_id, "a", (), 1.0)
    assert project.is_signed_still(signature, ["a"])
    assert project.signatures(unit_id) == [signature]
    with pytest.raises(ReadingError, match="Role 'seen'"):
        project.add_signature(unit_id, "", "seen", person_id="p", printed_name="A", statement="s")


def sign(project, unit_id, checks=None):
    return project.add_signature(
        unit_id,
        "",
        "accepted",
        person_id="p",
        printed_name="Ada Rowan",
        statement="",
        checks=checks,
    )


def test_a_signature_stands_for_limits_overrides_and_the_decision_too(project, unit_id):
    changes = [
        lambda: project.set_limit(unit_id, "rise", (), {"high": 60.0}, origin="Sheet, page 4"),
        lambda: project.set_limit(unit_id, "rise", (), {"high": 65.0}, origin="Sheet, page 4"),
        lambda: project.set_limit(unit_id, "rise", (), {"high": 65.0}, origin="Sheet, page 5"),
        lambda: project.set_limit("", "split", (), {"low": 15.0}, origin="Owner"),
        lambda: project.add_override(unit_id, "phase", person_name="Ada", reason="seen"),
        lambda: project.set_setting("decision_rule", "guarded acceptance"),
        lambda: project.set_setting("coverage_factor", 3.0),
        lambda: project.remove_override(project.overrides(unit_id)[0].id),
        lambda: project.clear_limit(unit_id, "rise"),
    ]
    for change in changes:
        signature = sign(project, unit_id)
        assert project.is_signed_still(signature)
        change()
        assert not project.is_signed_still(signature)


def test_a_page_s_signature_stands_for_its_own_checks_only(project, unit_id):
    signature = sign(project, unit_id, checks=["rise"])
    project.set_limit(unit_id, "split", (), {"low": 15.0}, origin="Owner")
    assert project.is_signed_still(signature, checks=["rise"])
    project.set_limit("", "rise", (), {"low": 15.0}, origin="Owner")
    assert not project.is_signed_still(signature, checks=["rise"])


def test_the_project_s_limit_behind_a_unit_s_own_is_not_signed_for(project, unit_id):
    project.set_limit(unit_id, "rise", (), {"high": 60.0}, origin="Sheet")
    signature = sign(project, unit_id)
    project.set_limit("", "rise", (), {"high": 55.0}, origin="Owner")
    assert project.is_signed_still(signature)


# --- settings


def test_settings_have_defaults_and_are_checked(project, path):
    assert project.setting("decision_rule") == "simple acceptance"
    assert (project.unit_system, project.coverage_factor) == ("IP", 2.0)
    project.set_setting("decision_rule", "guarded acceptance")
    project.set_setting("coverage_factor", 3)
    project.set_setting("window.page", "electrical")
    assert project.setting("window.other") == ""
    project.close()
    with ProjectFile.open(path) as again:
        assert again.decision_rule == "guarded acceptance"
        assert again.coverage_factor == 3.0
        assert again.setting("window.page") == "electrical"
        assert (again.title, again.form_id, again.form_version) == (
            "Yard",
            "packaged_rooftop_unit",
            "0.1",
        )


@pytest.mark.parametrize(
    ("name", "value", "message"),
    [
        ("decision_rule", "guarded", "is none of"),
        ("unit_sistem", "SI", "Did you mean 'unit_system'"),
        ("coverage_factor", 0.5, "from 1 to 4"),
        ("coverage_factor", "2", "from 1 to 4"),
        ("title", 5.0, "enter a text"),
    ],
)
def test_impossible_settings_are_refused(project, name, value, message):
    before = project.revision
    with pytest.raises(ProjectFileError, match=message):
        project.set_setting(name, value)
    assert project.revision == before


def test_another_form_version_is_noted(project):
    project.adopt_form("packaged_rooftop_unit", "0.2", "def")
    assert (project.form_version, project.form_hash) == ("0.2", "def")
    assert [row["value"] for row in project.rows("setting") if row["name"] == "form_version"] == [
        "0.1",
        "0.2",
    ]
