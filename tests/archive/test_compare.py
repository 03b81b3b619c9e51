"""A later record against the baseline; the `uncertainties` library is the oracle."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat

from commission.archive import (
    compare_records,
    comparison_rows,
    verdict_change_rows,
    write_record,
)
from commission.archive.compare import Compared, Comparison, Finding, _finding, _Held, _Side
from commission.archive.rebuild import read_record
from commission.archive.vocabulary import _fields
from commission.definitions.model import Form
from commission.errors import ProjectFileError
from commission.project import ProjectFile
from commission.validation.site import site_results


def later_record(copy: Path, form: Form, changes: dict[tuple[str, tuple[int, ...]], Any]) -> Path:
    """Return the record of the copy with RTU-1's readings moved (numbers) or replaced (texts)."""
    with ProjectFile.open(copy) as project:
        unit = project.units()[0].id
        old = project.readings(unit)
        for (name, index), change in changes.items():
            before = old[name, index]
            value = before.value + change if isinstance(change, float) else change
            instrument = before.instrument_id
            project.record(unit, name, index, value, pass_name="retest 1", instrument_id=instrument)
        return write_record(site_results(project, form), copy.with_suffix(".json"))


def value_of(comparison: Comparison, name: str, index: tuple[int, ...] = (), tag: str = "RTU-1"):
    return next(v for v in comparison.values if (v.tag, v.name, v.index) == (tag, name, index))


def test_a_record_has_not_drifted_from_itself(demo_record: Path) -> None:
    comparison = compare_records(demo_record, demo_record)
    assert set(comparison.counts) == {Finding.UNCHANGED}
    assert len(comparison.pairs) == 6 and len(comparison.values) > 2000
    assert comparison_rows(comparison)[1] == []
    assert not comparison.verdict_changes and not comparison.unmatched
    assert {pair.matched_by for pair in comparison.pairs} == {"serial number"}


@pytest.fixture
def compared(demo_record: Path, later_copy: Path, shipped_form: Form) -> Comparison:
    later = later_record(
        later_copy,
        shipped_form,
        {
            ("suction_psig", (1,)): -6.0,
            ("liquid_line_f", (1,)): 0.3,
            ("supply_volts_loaded_v", (1,)): 0.1,
            ("visit_outdoor_f", ()): 9.0,
            ("economizer", ()): "none",
            ("nameplate_mca_a", ()): 5.0,
        },
    )
    return compare_records(demo_record, later)


def test_drift_is_judged_against_the_uncertainty_of_the_difference(compared: Comparison) -> None:
    suction = value_of(compared, "suction_psig", (1,))
    assert suction.finding is Finding.DRIFT and suction.difference == pytest.approx(-6.0)
    old = ufloat(suction.baseline, suction.baseline_expanded / 2)
    new = ufloat(suction.later, suction.later_expanded / 2)
    shown = ufloat(0.0, 10.0**-suction.decimals / 12**0.5)
    also_shown = ufloat(0.0, 10.0**-suction.decimals / 12**0.5)
    assert suction.uncertainty == pytest.approx(2 * (new + shown - old - also_shown).std_dev)
    line = value_of(compared, "liquid_line_f", (1,))
    assert line.finding is Finding.WITHIN and abs(line.difference) < line.uncertainty
    superheat = value_of(compared, "superheat_f", (1,))
    assert superheat.finding is Finding.DRIFT and superheat.corrected
    assert value_of(compared, "superheat_f", (2,)).finding is Finding.UNCHANGED


def test_conditions_are_no_drift(compared: Comparison) -> None:
    outdoor = value_of(compared, "visit_outdoor_f")
    assert outdoor.finding is Finding.CONDITIONS and outdoor.difference == pytest.approx(9.0)


def test_answers_and_nameplate_change_plainly(compared: Comparison) -> None:
    economizer = value_of(compared, "economizer")
    assert (economizer.finding, economizer.later) == (Finding.CHANGED, "none")
    assert value_of(compared, "nameplate_mca_a").finding is Finding.CHANGED
    assert compared.counts[Finding.ONLY_BASELINE] > 0  # what only an economizer has


def test_quantities_corrected_to_conditions_are_shown_for_raw_readings(
    compared: Comparison,
) -> None:
    suction = value_of(compared, "suction_psig", (1,))
    assert "superheat_f" in suction.told_by  # by the barometer
    assert not value_of(compared, "supply_volts_loaded_v", (1,)).told_by
    header, rows = comparison_rows(compared)
    labels = [row[-1] for row in rows]
    assert any(label.startswith("Suction superheat, Circuit 1") for label in labels)
    assert not any(label.startswith("Suction pressure, Circuit 1") for label in labels)
    assert all(len(row) == len(header) for row in rows)
    everything = comparison_rows(compared, everything=True)[1]
    assert len(everything) == len(compared.values) > len(rows)


def test_rows_say_difference_and_uncertainty(compared: Comparison) -> None:
    rows = comparison_rows(compared, everything=True)[1]
    row = next(row for row in rows if row[-1] == "Suction pressure, Circuit 1")
    assert row[:2] == ["RTU-1", "drift"]
    assert row[2].endswith(" psig") and row[4] == "−6.0" and row[5].startswith("±")
    assert "drift" in compared.sentence and "k = 2" in compared.sentence


def test_si_rows_convert_value_difference_and_uncertainty(
    demo_record: Path, later_copy: Path, shipped_form: Form
) -> None:
    with ProjectFile.open(later_copy) as project:
        project.set_setting("unit_system", "SI")
    later = later_record(later_copy, shipped_form, {("suction_line_f", (1,)): 9.0})
    rows = comparison_rows(compare_records(demo_record, later), everything=True)[1]
    row = next(row for row in rows if row[-1] == "Suction-line temperature, Circuit 1")
    assert row[2].endswith(" °C") and row[4] == "+5"  # 9 Δ°F are 5 K exactly


def test_changed_verdicts_are_told(demo_record: Path, later_copy: Path, shipped_form: Form) -> None:
    later = later_record(later_copy, shipped_form, {("suction_psig", (1,)): -40.0})
    comparison = compare_records(demo_record, later)
    change = next(c for c in comparison.verdict_changes if "uperheat" in c.label)
    assert (change.tag, change.baseline, change.later) == ("RTU-1", "pass", "fail")
    header, rows = verdict_change_rows(comparison)
    assert len(rows) == len(comparison.verdict_changes) and len(rows[0]) == len(header)


# --- which unit is which


def edited(path: Path, into: Path, change: Any) -> Path:
    record = json.loads(path.read_bytes())
    change(record)
    into.write_text(json.dumps(record), encoding="utf-8")
    return into


def test_a_renamed_unit_is_known_by_its_serial_number(demo_record: Path, tmp_path: Path) -> None:
    later = edited(
        demo_record, tmp_path / "l.json", lambda r: r["identities"][0].update(tag="RTU-9")
    )
    comparison = compare_records(demo_record, later)
    pair = next(p for p in comparison.pairs if p.baseline_tag == "RTU-1")
    assert (pair.matched_by, pair.tag) == ("serial number", "RTU-9 (was RTU-1)")


def test_a_unit_without_serial_number_is_known_by_its_tag(
    demo_record: Path, tmp_path: Path
) -> None:
    later = edited(
        demo_record, tmp_path / "l.json", lambda r: r["identities"][0].update(serial=" ")
    )
    pairs = compare_records(demo_record, later).pairs
    assert next(p for p in pairs if p.later_tag == "RTU-1").matched_by == "tag"


def test_a_replaced_unit_is_not_compared(demo_record: Path, tmp_path: Path) -> None:
    later = edited(
        demo_record, tmp_path / "l.json", lambda r: r["identities"][0].update(serial="NEW-1")
    )
    comparison = compare_records(demo_record, later)
    assert len(comparison.pairs) == 5
    assert len(comparison.unmatched) == 1 and "Another unit stands there" in comparison.unmatched[0]
    assert not any(value.tag == "RTU-1" for value in comparison.values)


def test_units_of_one_record_only_are_named(demo_record: Path, tmp_path: Path) -> None:
    later = edited(demo_record, tmp_path / "l.json", lambda r: r["identities"].pop())
    assert compare_records(demo_record, later).unmatched == (
        "RTU-6: in the baseline only; not compared.",
    )
    assert compare_records(later, demo_record).unmatched == (
        "RTU-6: in the later record only; not compared.",
    )


def test_two_units_of_one_serial_number_are_told_apart_by_tag(
    demo_record: Path, tmp_path: Path
) -> None:
    def twins(record: Any) -> None:
        record["identities"][1]["serial"] = record["identities"][0]["serial"]

    both = edited(demo_record, tmp_path / "l.json", twins)
    pairs = compare_records(both, both).pairs
    assert len(pairs) == 6 and all(p.baseline_id == p.later_id for p in pairs)


def test_a_field_that_changed_its_unit(demo_record: Path, tmp_path: Path) -> None:
    def in_kpa(record: Any) -> None:
        for row in record["fields"]:
            if row["name"] in ("suction_psig", "liquid_psig"):
                row["unit"] = "kPa" if row["name"] == "suction_psig" else "V"
        for row in record["readings"]:
            if row["name"] == "suction_psig" and row["value"] is not None:
                row["value"] *= 6.894757293168361  # NIST SP 811, B.8: psi to kPa
                row["u"] = row["u"] and row["u"] * 6.894757293168361

    later = edited(demo_record, tmp_path / "l.json", in_kpa)
    comparison = compare_records(demo_record, later)
    suction = value_of(comparison, "suction_psig", (1,))
    assert suction.unit == "kPa" and suction.finding is Finding.UNCHANGED
    assert value_of(comparison, "liquid_psig", (1,)).finding is Finding.OTHER_UNIT


def test_what_is_no_record_is_refused(demo_record: Path, demo_file: Path) -> None:
    with pytest.raises(ProjectFileError, match=r"demo\.rtuproject"):
        compare_records(demo_record, demo_file)


ENTRY = {"condition": False, "kind": "quantity"}
small = st.floats(-1e3, 1e3)


@given(small, small, st.floats(0.01, 10.0))
def test_drift_is_symmetric(old: float, new: float, uncertainty: float) -> None:
    held = (_Held(old, 1.0, ""), _Held(new, 1.0, ""))
    there = _finding(ENTRY, old, new - old, uncertainty, held)
    back = _finding(ENTRY, new, old - new, uncertainty, held)
    assert (there is Finding.DRIFT) == (back is Finding.DRIFT) == (abs(new - old) > uncertainty)


def test_without_uncertainty_a_difference_is_not_judged() -> None:
    none, some = _Held(1.0, None, ""), _Held(2.0, 0.1, "")
    assert _finding(ENTRY, 1.0, 1.0, None, (none, some)) is Finding.NOT_JUDGED
    read = ENTRY | {"kind": "number"}
    assert _finding(read, 1.0, 1.0, None, (none, some)) is Finding.NOT_JUDGED
    assert _finding(read, 1.0, 1.0, None, (none, none)) is Finding.CHANGED


# --- like conditions


def moved(record: Path, into: Path, changes: dict[str, float], unit: str = "RTU-1") -> Path:
    """Return the record with numbers moved, those of the project's own pages too."""

    def change(content: dict[str, Any]) -> None:
        tags = {row["unit_id"]: row["tag"] for row in content["identities"]} | {"": unit}
        for row in (*content["readings"], *content["quantities"]):
            if row["name"] in changes and tags.get(row["unit_id"]) == unit and row["value"]:
                row["value"] += changes[row["name"]]

    return edited(record, into, change)


def test_what_tells_of_the_visit_alone_is_a_condition(demo_record: Path, tmp_path: Path) -> None:
    """Entering air's enthalpy is computed, but of nothing that the unit does."""
    later = moved(demo_record, tmp_path / "l.json", {"entering_enthalpy_btulb": 5.0})
    found = value_of(compare_records(demo_record, later), "entering_enthalpy_btulb")
    assert found.finding is Finding.CONDITIONS and not found.conditions


def test_a_capacity_under_other_conditions_is_not_called_drift(
    demo_record: Path, tmp_path: Path
) -> None:
    """At a wetter entering air a coil does more: no fault of the unit."""
    changes = {"total_cooling_btuh": 60_000.0, "entering_wet_bulb_f": 4.0}
    later = moved(demo_record, tmp_path / "l.json", changes)
    comparison = compare_records(demo_record, later)
    found = value_of(comparison, "total_cooling_btuh")
    assert found.finding is Finding.CONDITIONS
    assert any("wet bulb" in label.casefold() for label in found.conditions)
    labels = [row[-1] for row in comparison_rows(comparison)[1]]
    assert any("rests on" in label for label in labels)


def test_the_same_capacity_under_like_conditions_is(demo_record: Path, tmp_path: Path) -> None:
    changes = {"total_cooling_btuh": 60_000.0, "entering_wet_bulb_f": 0.1}
    later = moved(demo_record, tmp_path / "l.json", changes)
    assert value_of(compare_records(demo_record, later), "total_cooling_btuh").finding is (
        Finding.DRIFT
    )


def test_a_corrected_value_is_judged_whatever_the_weather(
    demo_record: Path, tmp_path: Path
) -> None:
    """Condensing over ambient has the outdoor air taken out: it may not hide behind it."""
    changes = {"condenser_entering_f": 15.0, "condensing_over_ambient_f": 12.0}
    later = moved(demo_record, tmp_path / "l.json", changes)
    found = value_of(compare_records(demo_record, later), "condensing_over_ambient_f", (1,))
    assert found.finding is Finding.DRIFT and found.corrected


def test_a_condition_of_the_site_counts_for_every_unit(demo_record: Path, tmp_path: Path) -> None:
    changes = {"barometer_psia": -0.5, "barometer_read_inhg": -1.0, "airflow_air_density_lbft3": 1}
    later = moved(demo_record, tmp_path / "l.json", changes)
    comparison = compare_records(demo_record, later)
    found = value_of(comparison, "barometer_psia", tag="")
    assert found.finding is Finding.CONDITIONS


def test_every_corrected_name_is_a_quantity_that_rests_on_a_condition(demo_record: Path) -> None:
    record = read_record(demo_record)
    side = _Side(record)
    names = _fields()["corrected"]["names"]
    assert names and len(names) == len(set(names))
    for name in names:
        assert side.fields[name]["kind"] == "quantity", name
        assert side.conditions(name), name
        assert not side.is_condition(name), name


def test_the_ratio_is_the_en_number() -> None:
    # ISO 13528 (from memory): E_n = (x - X) / sqrt(U_x^2 + U_X^2).
    value = Compared(
        "RTU-1", "a", (), "A", "number", "V", 1, 480.0, 474.0, 3.0, 4.0, -6.0, 5.0, Finding.DRIFT
    )
    assert value.ratio == pytest.approx(-1.2)
