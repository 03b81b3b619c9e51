"""Equipment schedules in: columns in any order, by words and units, faults told by cell."""

from __future__ import annotations

from pathlib import Path

import pytest
from openpyxl import Workbook

from commission.__main__ import main
from commission.definitions.load import load_form
from commission.definitions.model import Form, Key
from commission.errors import IncomingFileError
from commission.validation.session import Session
from commission.workbook.schedule_match import match_heads, schedule_words
from commission.workbook.schedule_table import read_schedule
from commission.workbook.schedule_units import add_units, understand_schedule

# A made-up schedule as drawings have them: a title, heads, units below, notes at the end.
CSV = """ROOFTOP UNIT SCHEDULE,,,,,,,,,
MCA,Mark,Supply air,ESP,Total cooling,V/PH/HZ,Heat,Compressors,RLA 2,Colour
(A),,(CFM),(IN WC),(MBH),,,,(A),
41.2,RTU-1,"4,000",0.75,120,460/3/60,Gas,2,8.2,grey
x12,RTU-2,3500,0.6 ,10 tons,208/230-3-60,Elec,1,9,grey
50,RTU-1,1,1,1,460/3/60,Gas,1,1,red
,,,,,,,,,
NOTES: 1. Curb by others.,,,,,,,,,
"""


@pytest.fixture(scope="module")
def form() -> Form:
    return load_form()


@pytest.fixture
def path(tmp_path: Path) -> Path:
    made = tmp_path / "schedule.csv"
    made.write_text(CSV, encoding="utf-8")
    return made


def test_every_field_that_the_words_name_is_in_the_form(form: Form) -> None:
    named = [column["field"] for column in schedule_words()["column"]]
    named += list(schedule_words()["meanings"])
    assert len(named) > 30
    assert [name for name in named if name not in form.by_name] == []
    for name, meanings in schedule_words()["meanings"].items():
        assert set(meanings) <= set(form.by_name[name].choices), name  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("head", "field", "unit", "member"),
    [
        ("CFM", "design_airflow_cfm", "cfm", 0),
        ("Supply air (cfm)", "design_airflow_cfm", "cfm", 0),
        ("SUPPLY CFM", "design_airflow_cfm", "cfm", 0),
        ("Supply air\n(L/s)", "design_airflow_cfm", "L/s", 0),
        ("Design supply airflow", "design_airflow_cfm", "cfm", 0),
        ("M.C.A.", "nameplate_mca_a", "A", 0),
        ("MCA", "nameplate_mca_a", "A", 0),
        ("MCA (AMPS)", "nameplate_mca_a", "A", 0),
        ("MIN. O.A.", "design_outdoor_airflow_cfm", "cfm", 0),
        ("OA CFM", "design_outdoor_airflow_cfm", "cfm", 0),
        ("E.S.P. (IN. W.C.)", "design_external_static_inwc", "in. w.c.", 0),
        ("ESP (Pa)", "design_external_static_inwc", "Pa", 0),
        ("Total cooling (MBH)", "rated_cooling_btuh", "MBH", 0),
        ("Nominal tons", "rated_cooling_btuh", "tons", 0),
        ("Cooling capacity (kW)", "rated_cooling_btuh", "kW", 0),
        ("RLA 2", "compressor_rla_a", "A", 2),
        ("Gas input (MBH)", "gas_input_btuh", "MBH", 0),
        ("design_outdoor_f", "design_outdoor_f", "°F", 0),
        ("Colour", "", "", 0),
    ],
)
def test_heads(head: str, field: str, unit: str, member: int, form: Form) -> None:
    (found,) = match_heads([head], form)
    assert (found.field, found.unit if field else "", found.member) == (field, unit, member)


def test_a_schedule_is_shown_with_all_its_faults(path: Path, form: Form) -> None:
    table = read_schedule(path, form)
    found = understand_schedule(table, form)
    assert [unit.tag for unit in found.units] == ["RTU-1", "RTU-2"]
    first = {entry.key: entry.understood.content for entry in found.units[0].entries}
    assert first[Key("design_airflow_cfm")] == 4000
    assert first[Key("rated_cooling_btuh")] == pytest.approx(120_000)  # 1 MBH is 1,000 Btu/h
    assert first[Key("rated_volts")] == 460
    assert first[Key("phases")] == "3"
    assert first[Key("heat_type")] == "gas"
    assert first[Key("compressor_rla_a", (2,))] == 8.2
    second = {entry.key: entry.understood.content for entry in found.units[1].entries}
    assert second[Key("rated_cooling_btuh")] == pytest.approx(120_000)  # 12,000 Btu/h a ton
    assert [column.head for column in found.unmatched] == ["Colour"]
    told = {fault.place: fault.sentence for fault in found.faults}
    assert "not a number" in told["A5"]
    assert "460/3/60" in told["F5"]  # 208/230: which of the two only the person knows
    assert "no number 2" in told["I5"]
    assert "already" in told["B6"]
    assert "without a tag" in told["A8"]
    assert len(told) == 5


def test_units_are_added_with_their_cells_as_source(path: Path, form: Form, tmp_path: Path) -> None:
    with Session.create(tmp_path / "a.rtuproject", form, "Site") as session:
        found = understand_schedule(read_schedule(path, form), form)
        first, _ = add_units(session, found, found.units)
        results = session.results(first)
        assert results.value("design_airflow_cfm").number == 4000
        reading = results.reading("design_airflow_cfm")
        assert reading is not None
        assert (reading.source, reading.entered) == ("schedule", "4,000 cfm")
        assert session.source != "schedule"


def test_in_an_si_project_the_heads_still_say_the_unit(path: Path, form: Form) -> None:
    found = understand_schedule(read_schedule(path, form), form, unit_system="SI")
    first = {entry.key: entry.understood.content for entry in found.units[0].entries}
    assert first[Key("design_airflow_cfm")] == pytest.approx(4000)
    assert first[Key("design_external_static_inwc")] == pytest.approx(0.75)


def test_a_spreadsheet_gives_what_its_text_gives(path: Path, form: Form, tmp_path: Path) -> None:
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    for line in read_lines():
        sheet.append(line)
    book.save(tmp_path / "schedule.xlsx")
    ours = understand_schedule(read_schedule(tmp_path / "schedule.xlsx", form), form)
    theirs = understand_schedule(read_schedule(path, form), form)
    for one, other in zip(ours.units, theirs.units, strict=True):
        assert [(e.key, e.understood.content) for e in one.entries] == [
            (e.key, e.understood.content) for e in other.entries
        ]


def read_lines() -> list[list[str]]:
    import csv
    import io

    return list(csv.reader(io.StringIO(CSV)))


@pytest.mark.parametrize("content", [b"", b"\0\1\2", b"a,b\n1,2\n", b"Tag\nRTU-1\n"])
def test_what_is_no_schedule_says_so(content: bytes, form: Form, tmp_path: Path) -> None:
    path = tmp_path / "x.csv"
    path.write_bytes(content)
    with pytest.raises(IncomingFileError, match=r"no row of heads|is no text"):
        read_schedule(path, form)


@pytest.mark.parametrize(
    ("content", "fields"),
    [
        ("Where,MCA (A)\nRTU-1,20\n", ["", "nameplate_mca_a"]),
        ("SITE\n2026,1\nHeat it,Cool it\nRTU-1,20\n", ["", ""]),
        ("Tag\nRTU-1\n", ["tag"]),
    ],
)
def test_by_hand_heads_may_be_unknown(
    content: str, fields: list[str], form: Form, tmp_path: Path
) -> None:
    path = tmp_path / "x.csv"
    path.write_text(content, encoding="utf-8")
    with pytest.raises(IncomingFileError, match="no row of heads"):
        read_schedule(path, form)
    table = read_schedule(path, form, by_hand=True)
    assert [column.field for column in table.columns] == fields
    assert table.rows[-1][1][0] == "RTU-1" and len(table.rows) == 1
    found = understand_schedule(table, form)
    assert found.has_tags == ("tag" in fields) == bool(found.units) and not found.faults


@pytest.mark.parametrize("content", ["Dear all,\nplease find nothing.\n", "1,2\n3,4\n", "a,b\n"])
def test_by_hand_too_prose_and_bare_numbers_are_no_schedule(
    content: str, form: Form, tmp_path: Path
) -> None:
    path = tmp_path / "x.csv"
    path.write_text(content, encoding="utf-8")
    with pytest.raises(IncomingFileError, match="no row of heads"):
        read_schedule(path, form, by_hand=True)


def test_the_command_adds_only_when_told(
    path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    project = tmp_path / "job.rtuproject"
    assert main(["new", str(project)]) == 0
    assert main(["schedule", str(project), str(path)]) == 1
    said = capsys.readouterr().out
    assert "Nothing is added yet" in said
    assert "Colour" in said and "not read" in said
    assert main(["schedule", str(project), str(path), "--yes"]) == 1
    assert "2 unit(s) added" in capsys.readouterr().out
    assert main(["schedule", str(project), str(path), "--yes"]) == 1
    assert "0 unit(s) added" in capsys.readouterr().out
