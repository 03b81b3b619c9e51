"""Files from many loggers: found, confirmed, read; every oddity remarked and none filled in."""

from __future__ import annotations

import csv
import json
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.errors import ReadingError
from commission.sequence.simulated_faults import ECONOMIZER_GAS, UNIT_LIMITS
from commission.sequence.simulated_unit import simulate_one
from commission.sequence.trend_columns import number_in
from commission.sequence.trend_import import find_reading, read_trend
from commission.sequence.trend_judge import judge_trend
from commission.sequence.trend_log import OFF, ON, UNKNOWN, TrendLog
from commission.sequence.trend_reading import (
    mapping_of,
    reading_from_plain,
    reading_rows,
    reading_to_plain,
    with_mapping,
)
from commission.sequence.trend_signals import SIGNALS, suggested_signals

BEGINS = datetime(2026, 6, 15, 8)


def write(folder: Path, text: str, encoding: str = "utf-8", name: str = "log.csv") -> Path:
    path = folder / name
    path.write_bytes(text.encode(encoding))
    return path


def lines_of(stamp: str, rows: int, cells: str, step_s: int = 60, first: datetime = BEGINS) -> str:
    made = []
    for row in range(rows):
        moment = first + timedelta(seconds=row * step_s)
        made.append(moment.strftime(stamp) + cells.replace("#", str(row % 2)))
    return "\n".join(made) + "\n"


def kinds(log: TrendLog) -> set[str]:
    return {remark.kind for remark in log.remarks}


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize(
    ("delimiter", "decimal"), [(",", "."), (";", ","), (";", "."), ("\t", ","), ("|", ".")]
)
def test_delimiter_decimal_mark_and_encoding(
    tmp_path: Path, encoding: str, delimiter: str, decimal: str
) -> None:
    head = delimiter.join(["Date Time", "OAT (°F)", "Y1"])
    body = lines_of("%Y-%m-%d %H:%M", 30, f"{delimiter}71{decimal}5{delimiter}#")
    path = write(tmp_path, f"{head}\n{body}", encoding)
    reading = find_reading(path)
    assert (reading.delimiter, reading.decimal_mark) == (delimiter, decimal)
    log = read_trend(path, reading)
    assert log.columns["outdoor_f"].tolist() == [71.5] * 30
    assert log.columns["call_cool_1"].tolist() == [OFF, ON] * 15


@pytest.mark.parametrize(
    ("stamp", "first", "order", "asked"),
    [
        ("%m/%d/%Y %H:%M", datetime(2026, 6, 15), "mdy", False),
        ("%d/%m/%Y %H:%M", datetime(2026, 6, 15), "dmy", False),
        ("%d/%m/%Y %H:%M", datetime(2026, 4, 3), "dmy", False),  # told by the pace of days
        ("%m/%d/%Y %H:%M", datetime(2026, 4, 3), "mdy", False),
        ("%d-%b-%y %H:%M", datetime(2026, 4, 3), "dmy", False),
    ],
)
def test_date_order_is_found(
    tmp_path: Path, stamp: str, first: datetime, order: str, asked: bool
) -> None:
    text = "Time,Y1\n" + lines_of(stamp, 200, ",#", 1_800, first)
    reading = find_reading(write(tmp_path, text))
    assert reading.stamp_order == order
    assert any("Day or month first" in q for q in reading.questions) is asked


def test_an_ambiguous_date_is_said_and_can_be_changed(tmp_path: Path) -> None:
    text = "Time,Y1\n" + lines_of("%d/%m/%Y %H:%M", 60, ",#", 60, datetime(2026, 4, 3))
    path = write(tmp_path, text)
    reading = find_reading(path)
    assert any("Day or month first cannot be told" in q for q in reading.questions)
    log = read_trend(path, replace(reading, stamp_order="dmy"))
    assert log.clock(0) == "2026-04-03 00:00:00"


def test_title_lines_units_row_and_split_stamps(tmp_path: Path) -> None:
    text = (
        "Roof unit 3\nExported by nobody\n\nDate,Time,Room Temp,Supply Air Temp,Comp 1\n"
        ",,deg C,deg C,\n" + lines_of("%d.%m.%Y,%H:%M:%S", 40, ",21.5,12.5,Run")
    )
    reading = find_reading(write(tmp_path, text))
    assert (reading.heading_line, reading.first_line, reading.stamp_places) == (4, 6, (0, 1))
    log = read_trend(write(tmp_path, text), reading)
    assert log.columns["room_f"][0] == pytest.approx(70.7, abs=1e-4)
    assert log.lines[0] == 6


@pytest.mark.parametrize(
    ("words", "states"),
    [
        ("on off ON Off", [ON, OFF, ON, OFF]), ("true false TRUE false", [ON, OFF, ON, OFF]),
        ("1 0 1.0 0.0", [ON, OFF, ON, OFF]), ("Active Inactive Run Stop", [ON, OFF, ON, OFF]),
        ("yes no wobbly on", [ON, OFF, UNKNOWN, ON]),
    ],
)  # fmt: skip
def test_states_in_words(tmp_path: Path, words: str, states: list[int]) -> None:
    rows = "".join(f"2026-06-15 08:0{k}:00,{w}\n" for k, w in enumerate(words.split()))
    log = read_trend(write(tmp_path, "Time,Inducer\n" + rows))
    assert log.columns["inducer"].tolist() == states
    assert ("cells" in kinds(log)) == (UNKNOWN in states)


@pytest.mark.parametrize(
    ("cell", "decimal", "number"),
    [
        ("1,234.5", ".", 1_234.5), ("1.234,5", ",", 1_234.5), ("12'345'678", ".", 12_345_678),
        ("72.3 °F", ".", 72.3), ("−4", ".", -4), (".5", ".", 0.5), ("-1e3", ".", -1_000),
        # Refused rather than guessed:
        ("71,5", ".", None), ("1,23,4", ".", None), ("10.06.2026", ".", None), ("--", ".", None),
        ("abc", ".", None), ("", ".", None), ("12 of 40", ".", None),
    ],
)  # fmt: skip
def test_numbers_in_cells(cell: str, decimal: str, number: float | None) -> None:
    assert number_in(cell, decimal) == number


def test_a_comma_file_with_quoted_decimal_commas(tmp_path: Path) -> None:
    text = "Time,OAT (°C),RAT (°C)\n" + lines_of("%Y-%m-%d %H:%M:%S", 20, ',"20,5","1.020,5"')
    path = write(tmp_path, text)
    assert find_reading(path).decimal_mark == ","
    log = read_trend(path)
    assert log.columns["outdoor_f"][0] == pytest.approx(68.9, abs=1e-3)
    assert log.columns["return_f"][0] == pytest.approx(1_868.9, abs=1e-3)


def test_commas_that_may_set_thousands_apart_are_asked(tmp_path: Path) -> None:
    text = "Time;Supply Airflow (cfm)\n" + lines_of("%Y-%m-%d %H:%M:%S", 20, ";4,012")
    path = write(tmp_path, text)
    reading = find_reading(path)
    assert any("may be a decimal or thousands" in question for question in reading.questions)
    corrected = read_trend(path, replace(reading, decimal_mark="."))
    assert corrected.columns["supply_airflow_cfm"][0] == 4_012


def test_closed_means_what_the_switch_means(tmp_path: Path) -> None:
    text = "Time,Vent Pressure Switch,High Limit\n2026-06-15 08:00:00,closed,closed\n"
    log = read_trend(write(tmp_path, text + "2026-06-15 08:01:00,open,open\n"))
    assert log.columns["vent_switch"].tolist() == [ON, OFF]
    assert log.columns["high_limit_open"].tolist() == [OFF, ON]


def test_amps_against_a_threshold(tmp_path: Path) -> None:
    rows = "".join(
        f"2026-06-15 08:{k:02d}:00,{a}\n" for k, a in enumerate([0.1, 0.2, 8.4, 8.0, 0.1])
    )
    path = write(tmp_path, "Time,Supply Fan Status\n" + rows)
    reading = find_reading(path)
    assert reading.columns[0].threshold == pytest.approx(2.1)
    assert any("taken as on from 2.1" in question for question in reading.questions)
    assert read_trend(path, reading).columns["indoor_fan"].tolist() == [OFF, OFF, ON, ON, OFF]
    turned = replace(reading, columns=(replace(reading.columns[0], inverted=True),))
    assert read_trend(path, turned).columns["indoor_fan"].tolist() == [ON, ON, OFF, OFF, ON]


def test_gaps_duplicates_steps_and_lost_lines_are_remarked_not_mended(tmp_path: Path) -> None:
    quiet = list(range(-2_400, 0, 60))
    seconds = [*quiet, 0, 60, 120, 120, 180, 240, 3_000, 3_060, 2_000, 2_060, 2_120, 2_120]
    flags = [0] * 40 + [0, 0, 1, 1, 1, 0, 0, 1, 0, 0, 0, 1]
    rows = [
        f"{(BEGINS + timedelta(seconds=s)).isoformat(sep=' ')},{flag}"
        for s, flag in zip(seconds, flags, strict=True)
    ]
    rows[45:45] = ["Time,Y1", "2026-06-15 08:03:30", "Logger restarted,"]
    log = read_trend(write(tmp_path, "Time,Y1\n" + "\n".join(rows) + "\n"))
    assert kinds(log) >= {"duplicates", "gap", "clock step", "same moment", "lines", "stamps"}
    assert len(log.moments) == 51  # one true duplicate left out, nothing added
    broken = np.flatnonzero(~log.joined).tolist()
    assert broken == [0, 45, 47]
    gap = next(remark for remark in log.remarks if remark.kind == "gap")
    assert "46 min" in gap.sentence and gap.lines == (51,)


def test_daylight_saving_by_zone_and_without(tmp_path: Path) -> None:
    before = lines_of("%Y-%m-%d %H:%M:%S", 60, ",#", 60, datetime(2026, 11, 1, 1))
    after = lines_of("%Y-%m-%d %H:%M:%S", 60, ",#", 60, datetime(2026, 11, 1, 1))
    path = write(tmp_path, "Time,Y1\n" + before + after)
    plain = read_trend(path)
    step = next(remark for remark in plain.remarks if remark.kind == "clock step")
    assert "name the time zone" in step.sentence
    zoned = read_trend(path, replace(find_reading(path), zone="America/Denver"))
    assert np.diff(zoned.moments).tolist() == [60.0] * 119
    assert zoned.joined[1:].all() and "daylight saving" in kinds(zoned)


def test_zone_in_the_heading_or_in_the_stamps(tmp_path: Path) -> None:
    head = '"Date Time, GMT-06:00",Y1\n' + lines_of("%Y-%m-%d %H:%M:%S", 9, ",#")
    reading = find_reading(write(tmp_path, head))
    assert reading.zone == "UTC-06:00"
    stamped = "Time,Y1\n" + lines_of("%Y-%m-%dT%H:%M:%S-06:00", 9, ",#")
    log = read_trend(write(tmp_path, stamped, name="b.csv"))
    assert log.moments[0] == (BEGINS - datetime(1970, 1, 1)).total_seconds() + 21_600
    assert log.clock(0) == "2026-06-15 08:00:00"


def test_changes_only_are_held_only_where_a_person_says_so(tmp_path: Path) -> None:
    text = "Time,Y1,OAT\n2026-06-15 08:00:00,1,70\n2026-06-15 08:01:00,,\n"
    text += "2026-06-15 08:02:00,0,\n2026-06-15 08:03:00,,71\n"
    path = write(tmp_path, text)
    reading = find_reading(path)
    assert any("writes changes only" in question for question in reading.questions)
    assert read_trend(path, reading).columns["call_cool_1"].tolist() == [ON, UNKNOWN, OFF, UNKNOWN]
    held = read_trend(path, replace(reading, blanks="unchanged"))
    assert held.columns["call_cool_1"].tolist() == [ON, ON, OFF, OFF]
    assert held.columns["outdoor_f"].tolist() == [70, 70, 70, 71]


def test_irregular_sampling_is_said(tmp_path: Path) -> None:
    at = np.cumsum([1, 1, 60, 2, 300, 1, 45, 1, 600, 2] * 20)
    rows = "".join(
        f"{(BEGINS + timedelta(seconds=int(s))).isoformat(sep=' ')},{k % 2}\n"
        for k, s in enumerate(at)
    )
    assert "irregular" in kinds(read_trend(write(tmp_path, "Time,Y1\n" + rows)))


@pytest.mark.parametrize(
    ("heading", "signal"),
    [
        ("OAT", "outdoor_f"), ("RTU-1 OA Temp", "outdoor_f"), ("Ambient Temp", "outdoor_f"),
        ("Outside Air Temperature", "outdoor_f"), ("Heating Set Point", "heating_setpoint_f"),
        ("RAT (°F)", "return_f"), ("MixedAirTemp", "mixed_f"), ("SAT", "supply_f"),
        ("Discharge Air Temp", "supply_f"), ("Y2", "call_cool_2"), ("W1 call", "call_heat_1"),
        ("Compressor 2 Status", "compressor_2"), ("Comp1", "compressor_1"),
        ("Compressor 2 Amps", "compressor_2_a"), ("G", "call_fan"), ("Supply Fan", "indoor_fan"),
        ("Damper Position %", "damper_percent"), ("OA Damper Cmd", "damper_command_percent"),
        ("Gas Valve 2", "gas_valve_2"), ("Flame", "flame"), ("compressor_1", "compressor_1"),
        ("Cooling Setpoint", "cooling_setpoint_f"), ("Unit 2 Y1 State", "call_cool_1"),
        ("Chilled Water Temp", ""), ("Colour of the door", ""),
    ],
)  # fmt: skip
def test_headings_suggest_signals(heading: str, signal: str) -> None:
    assert suggested_signals(heading) == ((signal,) if signal else ())


@pytest.mark.parametrize("name", sorted(SIGNALS))
def test_every_signal_is_suggested_by_its_own_name_and_label(name: str) -> None:
    assert suggested_signals(name) == (name,)


def test_reading_and_mapping_are_plain_data(tmp_path: Path) -> None:
    text = "Time,OAT (°C),Thing,Comp 1\n" + lines_of("%Y-%m-%d %H:%M:%S", 9, ",20,5,#")
    reading = find_reading(write(tmp_path, text))
    kept = json.loads(json.dumps(reading_to_plain(reading)))
    assert reading_from_plain(kept) == reading
    mapping = json.loads(json.dumps(mapping_of(reading)))
    mapping["Thing"] |= {"signal": "damper_percent", "unit": "%"}
    mapped = with_mapping(reading, mapping)
    assert read_trend(tmp_path / "log.csv", mapped).columns["damper_percent"][0] == 5
    assert any(value.startswith("Outdoor damper position") for _, value in reading_rows(mapped))
    mapping["Thing"]["signal"] = "dampr_percent"
    with pytest.raises(ReadingError, match="Did you mean 'damper_percent'"):
        with_mapping(reading, mapping)
    with pytest.raises(ReadingError, match="no part of a file reading"):
        reading_from_plain(kept | {"colour": 1})


def test_two_columns_for_one_signal(tmp_path: Path) -> None:
    text = "Time,OAT,Outdoor Air Temp\n" + lines_of("%Y-%m-%d %H:%M:%S", 9, ",70,71")
    path = write(tmp_path, text)
    reading = find_reading(path)
    assert any("both look like outdoor air temperature" in q for q in reading.questions)
    both = replace(reading, columns=tuple(replace(c, signal="outdoor_f") for c in reading.columns))
    with pytest.raises(ReadingError, match="two columns are taken for outdoor_f"):
        read_trend(path, both)


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("", "empty"), ("a,b\n1,2\n3,4\n", "no column of dates and times"),
        ("Time,Door\n2026-06-15 08:00:00,1\n", "no column is taken for a signal"),
    ],
)  # fmt: skip
def test_files_that_cannot_be_read_say_why(tmp_path: Path, text: str, part: str) -> None:
    with pytest.raises(ReadingError, match=part):
        read_trend(write(tmp_path, text))


def test_a_unit_of_another_kind_is_refused(tmp_path: Path) -> None:
    text = "Time,OAT\n" + lines_of("%Y-%m-%d %H:%M:%S", 9, ",70")
    path = write(tmp_path, text)
    reading = find_reading(path)
    wrong = replace(reading, columns=(replace(reading.columns[0], unit="psig"),))
    with pytest.raises(ReadingError, match="measure different things"):
        read_trend(path, wrong)


@given(st.binary(max_size=400))
def test_no_file_brings_it_down(tmp_path_factory: pytest.TempPathFactory, raw: bytes) -> None:
    path = tmp_path_factory.mktemp("any") / "any.csv"
    path.write_bytes(raw)
    try:
        log = read_trend(path)
    except ReadingError:
        return
    assert len(log.moments) == len(log.joined) == len(log.lines)


@given(st.text('0123456789/:-+,;.\t\n TZaponf"', max_size=300))
def test_no_text_brings_it_down(tmp_path_factory: pytest.TempPathFactory, text: str) -> None:
    path = tmp_path_factory.mktemp("any") / "any.csv"
    path.write_text("Time,Y1,OAT\n2026-06-15 08:00:00,1,70\n" + text, encoding="utf-8")
    try:
        log = read_trend(path)
    except ReadingError:
        return
    assert np.isfinite(log.moments).all()
    assert (np.diff(log.moments)[log.joined[1:]] >= 0).all()
    judge_trend(log, ECONOMIZER_GAS)


def test_a_simulated_log_written_and_read_gives_the_same_findings(tmp_path: Path) -> None:
    log = simulate_one(ECONOMIZER_GAS, "swapped_gas_stages", hours=1.5)
    path = tmp_path / "trend.csv"
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(["stamp", *log.columns])
        for row, moment in enumerate(log.moments):
            cells = [int(column[row] == ON) if column.dtype == np.int8 else repr(float(column[row]))
                     for column in log.columns.values()]  # fmt: skip
            stamp = datetime(1970, 1, 1) + timedelta(seconds=float(moment))
            writer.writerow([stamp.isoformat(sep=" "), *cells])
    again = read_trend(path)
    assert set(again.columns) == set(log.columns)
    first = judge_trend(log, ECONOMIZER_GAS, UNIT_LIMITS)
    second = judge_trend(again, ECONOMIZER_GAS, UNIT_LIMITS)
    assert first == second
