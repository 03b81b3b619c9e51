"""Handover sheets: columns of COBie 2.4, rows from the demo site, and each shape of rule."""

from __future__ import annotations

import copy
import csv
from collections.abc import Callable
from pathlib import Path

import pytest

from commission.archive import handover_faults, handover_tables, write_handover_csv
from commission.archive.handover import HandoverFile
from commission.archive.handover_rules import picks, sheets
from commission.errors import OutputError
from commission.validation.site import SiteResults

Tables = dict[str, list[list[str]]]

# COBie 2.4 (NBIMS-US V3, 4.2 and annex A): sheets in order with their number of columns, as
# counted in row 1 of the public construction template.
COLUMN_COUNTS = {
    "Contact": 19, "Facility": 22, "Floor": 10, "Space": 13, "Zone": 9, "Type": 35,
    "Component": 15, "System": 9, "Assembly": 11, "Connection": 14, "Spare": 12, "Resource": 8,
    "Job": 19, "Impact": 16, "Document": 15, "Attribute": 13, "Coordinate": 15, "Issue": 17,
}  # fmt: skip
EMAILS = {f"Example make {letter}": f"make-{letter}@example.org" for letter in "ABCDEF"}


@pytest.fixture(scope="module")
def made(demo_site: SiteResults) -> Tables:
    package = HandoverFile("Turnover package", "demo.pdf")
    return handover_tables(demo_site, make_emails=EMAILS, files=[package])


@pytest.fixture
def tables(made: Tables) -> Tables:
    few = {"Attribute": made["Attribute"][:8]}  # the rest would only take time
    return copy.deepcopy(made | few)


def test_sheets_and_columns_are_the_standard_s(made: Tables) -> None:
    assert {name: len(rows[0]) for name, rows in made.items()} == COLUMN_COUNTS
    assert list(made) == list(COLUMN_COUNTS)
    assert made["Contact"][0][:2] == ["Email", "CreatedBy"]
    assert made["Attribute"][0][-1] == "AllowedValues"


def test_rules_name_real_lists_sheets_and_columns() -> None:
    for sheet in sheets().values():
        assert set(sheet.key) <= set(sheet.headings)
        for column in sheet.columns:
            for rule in column.rules:
                kind, _, target = rule.partition("=")
                if kind == "pick":
                    assert picks()[target]
                elif kind in ("in", "list"):
                    other, _, heading = target.partition(".")
                    assert heading in sheets()[other].headings
                else:
                    assert rule in ("required", "email", "datetime", "number", "sheet", "row")


def test_demo_site_has_no_fault(made: Tables) -> None:
    assert handover_faults(made) == []


def test_what_the_project_does_not_know_is_told(demo_site: SiteResults) -> None:
    faults = handover_faults(handover_tables(demo_site))
    assert len(faults) == 6
    assert all("Manufacturer: is 'n/a', but must be known" in fault for fault in faults)


def test_units_and_their_types(made: Tables, demo_site: SiteResults) -> None:
    assert [row[0] for row in made["Component"][1:]] == [r.tag for r in demo_site.units]
    assert len(made["Type"]) - 1 == 6
    by_name = {row[0]: row[3] for row in made["Type"][1:]}
    components = {row[0]: row[3] for row in made["Component"][1:]}
    for results in demo_site.units:
        heat_pump = str(results.value("heat_type").content).startswith("heat pump")
        category = by_name[components[results.tag]]
        assert category.endswith("Rooftop Heat Pumps" if heat_pump else "Air Conditioners")


def test_attributes_hold_readings_as_shown(made: Tables, demo_site: SiteResults) -> None:
    headings = made["Attribute"][0]
    rows = [dict(zip(headings, row, strict=True)) for row in made["Attribute"][1:]]
    row = next(
        r
        for r in rows
        if r["RowName"] == "RTU-1" and r["Name"] == "Suction pressure, Circuit 1, as found"
    )
    results = demo_site.units[0]
    reading = results.reading("suction_psig", (1,))
    assert reading is not None and float(row["Value"]) == pytest.approx(reading.value, abs=0.05)
    assert (row["Unit"], row["CreatedOn"]) == ("psig", reading.at)
    assert "±" in row["Description"] and row["ExtIdentifier"] == reading.id
    design = next(r for r in rows if r["Name"] == "Design supply airflow, as found")
    assert design["Category"] == "Requirement" and "," not in design["Value"]


def test_open_deficiencies_are_issues(made: Tables, demo_site: SiteResults) -> None:
    still = [d for d in demo_site.project.deficiencies() if d.status in ("open", "deferred")]
    assert len(made["Issue"]) - 1 == len(still)


def test_no_cell_is_empty_or_of_several_lines(made: Tables) -> None:
    cells = [cell for rows in made.values() for row in rows for cell in row]
    assert all(cell and "\n" not in cell for cell in cells)


def put(sheet: str, column: str, value: str, row: int = 1) -> Callable[[Tables], None]:
    def change(tables: Tables) -> None:
        tables[sheet][row][tables[sheet][0].index(column)] = value

    return change


def test_cut_tables_have_no_fault_but_of_what_was_cut(tables: Tables) -> None:
    assert handover_faults(tables) == []


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (put("Type", "ModelNumber", "n/a"), "Type row 2, ModelNumber: is 'n/a', but must be"),
        (put("Component", "BarCode", " "), "Component row 2, BarCode: is empty; enter it or n/a"),
        (put("Component", "Name", "  rtu-2 "), "stands in row 2 already"),
        (put("Component", "TypeName", "Other"), "'Other' stands nowhere in Type.Name"),
        (put("System", "ComponentNames", "RTU-1, RTU-77"), "'RTU-77' stands nowhere in Component"),
        (put("Floor", "Category", "Terrace"), "'Terrace' is none of Site, Floor, Roof"),
        (put("Space", "NetArea", "-1"), "'-1' is no number from 0 up"),
        (put("Space", "NetArea", "nan"), "'nan' is no number from 0 up"),
        (put("Component", "CreatedOn", "14.9.2026"), "is no ISO 8601 date"),
        (put("Contact", "Email", "somebody"), "'somebody' is no e-mail address"),
        (put("Attribute", "RowName", "RTU-77"), "'RTU-77' is no row of the sheet"),
        (put("Attribute", "SheetName", "Unit"), "'Unit' is no sheet"),
        (put("Issue", "RowName1", "RTU-77"), "'RTU-77' is no row of the sheet Component"),
        (put("Facility", "Description", "x" * 32_768), "has 32,768 characters"),
        (lambda t: t["Component"].pop(1), "Type row 2: no component is of this type"),
        (lambda t: t.update(Floor=t["Floor"][:1]), "Floor: has 0 rows; there must be at least 1"),
        (lambda t: t.pop("Zone"), "Zone: the sheet is missing"),
        (lambda t: t["Zone"][0].reverse(), "Zone: the headings are not those"),
        (lambda t: t["Space"][1].pop(), "Space row 2: has 12 cells, the sheet 13 columns"),
        (lambda t: t.update(Colour=[]), "Colour: is no sheet of the standard"),
    ],
)
def test_each_shape_of_rule(tables: Tables, change: Callable[[Tables], None], said: str) -> None:
    change(tables)
    faults = handover_faults(tables)
    assert any(said in fault for fault in faults), faults


def test_all_faults_are_listed(tables: Tables) -> None:
    put("Type", "ModelNumber", "n/a")(tables)
    put("Floor", "Category", "Terrace")(tables)
    put("Space", "NetArea", "-1")(tables)
    assert len(handover_faults(tables)) == 3


def test_csv_files(small_site: SiteResults, tmp_path: Path) -> None:
    paths = write_handover_csv(small_site, tmp_path / "handover")
    assert [path.stem.split("_")[1] for path in paths] == list(COLUMN_COUNTS)
    assert paths[0].name == "01_Contact.csv"
    with paths[15].open(encoding="utf-8-sig", newline="") as stream:
        rows = list(csv.reader(stream))
    assert any("'=1+1 second line, “quoted”" in row for row in rows)  # no formula
    with paths[14].open(encoding="utf-8-sig", newline="") as stream:
        (photo,) = csv.DictReader(stream)
    picture = tmp_path / "handover" / photo["Directory"] / photo["File"]
    assert picture.read_bytes().startswith(b"\xff\xd8")


def test_a_place_that_cannot_be_written_to(small_site: SiteResults, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(OutputError, match="Choose another folder"):
        write_handover_csv(small_site, tmp_path / "file")
