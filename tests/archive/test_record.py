"""The archive record: as its published schema says, canonical, and a whole project again."""

from __future__ import annotations

import csv
import json
import re
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from commission.archive import (
    SCHEMA_PATH,
    project_from_record,
    read_record,
    write_record,
    write_record_csv,
)
from commission.archive.files import plain_text
from commission.archive.record_csv import COLUMNS
from commission.archive.results import reading_uncertainty
from commission.archive.rows import LISTS
from commission.definitions.model import Form, Key
from commission.errors import OutputError, ProjectFileError
from commission.project import ProjectFile
from commission.project.merge import merge_projects, stored_photos, stored_rows
from commission.project.schema import TABLES
from commission.validation.site import SiteResults, site_results

SCHEMA: dict[str, Any] = json.loads(SCHEMA_PATH.read_text(encoding="utf-8"))


def faults(record: object) -> list[str]:
    """Return what the jsonschema library finds against the published schema."""
    found = Draft202012Validator(SCHEMA).iter_errors(record)
    return [f"{[*fault.path]}: {fault.message[:200]}" for fault in found]


# --- the schema


def test_schema_is_one() -> None:
    Draft202012Validator.check_schema(SCHEMA)


def test_demo_record_is_as_the_schema_says(demo_record: Path) -> None:
    assert faults(json.loads(demo_record.read_bytes())) == []


def test_small_record_is_as_the_schema_says(small_site: SiteResults, tmp_path: Path) -> None:
    record = json.loads(write_record(small_site, tmp_path / "r.json").read_bytes())
    assert faults(record) == []
    assert len(record["photo_data"]) == 2  # of the photo that was removed too


@pytest.mark.parametrize("name", ["readings", "quantities", "verdicts", "fields", "instruments"])
def test_schema_refuses_a_column_more_or_less(demo_record: Path, name: str) -> None:
    record = json.loads(demo_record.read_bytes())
    record |= {key: part[:1] for key, part in record.items() if isinstance(part, list)}
    column = next(iter(record[name][0]))
    kept = record[name][0].pop(column)
    assert any(column in fault for fault in faults(record))
    record[name][0] |= {column: kept, "colour": "red"}
    assert any("colour" in fault for fault in faults(record))


def test_schema_describes_every_column() -> None:
    for name, kind in LISTS.items():
        columns = SCHEMA["properties"][name]["items"]["properties"]
        assert set(TABLES[kind].all_columns) <= set(columns), name
    for name, part in SCHEMA["properties"].items():
        row = part.get("items", part).get("properties", {})
        for column, rule in row.items():
            assert rule, f"{name}.{column}"


# --- canonical


def test_the_same_project_gives_the_same_bytes(
    demo_file: Path, demo_record: Path, shipped_form: Form, tmp_path: Path
) -> None:
    with ProjectFile.open(demo_file, read_only=True) as project:
        again = write_record(site_results(project, shipped_form), tmp_path / "again.json")
    assert again.read_bytes() == demo_record.read_bytes()


def test_canonical_form(demo_record: Path) -> None:
    text = demo_record.read_text(encoding="utf-8")
    record = json.loads(text)
    compact = json.dumps(record, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    assert text.replace("\n", "") == compact
    assert text.endswith("\n}\n")
    assert "\\u00" not in text  # letters stand as they are


def test_numbers_read_back_the_same(demo_record: Path, demo_site: SiteResults) -> None:
    record = json.loads(demo_record.read_bytes())
    by_id = {row["id"]: row["value"] for row in record["readings"]}
    stored = {row["id"]: row["value"] for row in demo_site.project.rows("reading")}
    assert by_id == stored
    assert len(stored) > 1000


# --- what stands in it


def test_every_row_of_every_table_is_there(small_site: SiteResults, tmp_path: Path) -> None:
    record = read_record(write_record(small_site, tmp_path / "r.json"))
    for name, kind in LISTS.items():
        ids = [row["id"] for row in small_site.project.rows(kind)]
        assert [row["id"] for row in record[name]] == ids and ids, name


def test_readings_say_unit_uncertainty_and_meaning(small_site: SiteResults, tmp_path: Path) -> None:
    record = read_record(write_record(small_site, tmp_path / "r.json"))
    rows = [row for row in record["readings"] if row["name"] == "suction_psig"]
    first, second, third = rows
    assert [row["in_force"] for row in rows] == [False, True, True]
    assert second["supersedes"] == first["id"]
    assert (second["unit"], second["unit_ucum"], second["tag"]) == ("psig", "[psi]", "RTU-1A")
    assert second["unit_qudt"] == "http://qudt.org/vocab/unit/PSI"
    # 1 % of a span of 500 psi as a half-width: u = 5 / sqrt 3 (JCGM 100:2008 4.3.7)
    assert second["u"] == pytest.approx(2.886751)
    assert second["member"] == "Circuit 1"
    assert (third["value"], third["not_applicable"]) == (None, "circuit not charged")
    assert second["haystack_tags"] == "refrig pressure sensor point"
    older = next(row for row in record["readings"] if row["name"] == "of_an_older_form")
    assert (older["label"], older["member"], older["unit"]) == ("of_an_older_form", "3 · 1", "")


def test_uncertainty_is_the_calculation_s_own(demo_site: SiteResults, demo_record: Path) -> None:
    by_id = {row["id"]: row for row in read_record(demo_record)["readings"]}
    compared = 0
    for results in demo_site.units:
        for key, reading in (results.readings or {}).items():
            expected = results.calculation.reading_uncertainty(Key(*key))
            if reading.instrument_id and results.value(*key).number is not None:
                assert by_id[reading.id]["u"] == pytest.approx(expected, rel=1e-12)
                compared += 1
    assert compared > 500
    assert reading_uncertainty(None, 1.0, None) is None


def test_quantities_and_verdicts_are_the_results(demo_site: SiteResults, demo_record: Path) -> None:
    record = read_record(demo_record)
    results = demo_site.units[0]
    superheat = next(
        row
        for row in record["quantities"]
        if (row["tag"], row["name"], row["index"]) == ("RTU-1", "superheat_f", [1])
    )
    assert superheat["value"] == results.value("superheat_f", (1,)).number
    assert superheat["expanded_uncertainty"] == results.expanded("superheat_f", (1,))
    assert superheat["u"] * 2.0 == superheat["expanded_uncertainty"]
    outcomes = [row["outcome"] for row in record["verdicts"] if row["tag"] == "RTU-1"]
    assert outcomes == [str(verdict.outcome) for verdict in results.verdicts()]


def test_identities_come_from_the_form_s_fields(demo_record: Path) -> None:
    serials = [row["serial"] for row in read_record(demo_record)["identities"]]
    assert len(set(serials)) == 6 and all(serials)


# --- rebuilt


def test_rebuilt_demo_gives_the_same_record(
    demo_record: Path, shipped_form: Form, tmp_path: Path
) -> None:
    with project_from_record(demo_record, tmp_path / "again.rtuproject") as project:
        site = site_results(project, shipped_form)
        again = write_record(site, tmp_path / "again.json")
    assert again.read_bytes() == demo_record.read_bytes()


def test_rebuilt_project_has_the_same_rows_and_results(
    small_file: Path, small_form: Form, tmp_path: Path
) -> None:
    with ProjectFile.open(small_file) as project:
        site = site_results(project, small_form)
        record = write_record(site, tmp_path / "r.json")
        rows, photos = stored_rows(project), dict(stored_photos(project))
        values = [results.calculation.values for results in site.everything()]
        verdicts = [[*results.verdicts()] for results in site.everything()]
    with project_from_record(record, tmp_path / "again.rtuproject") as again:
        rebuilt = site_results(again, small_form)
        found = stored_rows(again)
        for row in (*rows["limit_entry"], *found["limit_entry"]):
            row["parts"] = json.loads(row["parts"])
        assert found == rows
        assert dict(stored_photos(again)) == photos
        assert [results.calculation.values for results in rebuilt.everything()] == values
        assert [[*results.verdicts()] for results in rebuilt.everything()] == verdicts
        assert write_record(rebuilt, tmp_path / "r2.json").read_bytes() == record.read_bytes()
        assert not again.read_only


def test_rebuilt_project_is_the_same_to_a_merge(
    small_site: SiteResults, small_file: Path, tmp_path: Path
) -> None:
    record = write_record(small_site, tmp_path / "r.json")
    project_from_record(record, tmp_path / "again.rtuproject").close()
    report = merge_projects(small_file, tmp_path / "again.rtuproject", tmp_path / "m.rtuproject")
    assert (report.only_ours, report.only_theirs, report.conflicts) == (0, 0, ())


def test_record_without_photos_lacks_only_the_pictures(
    small_site: SiteResults, small_form: Form, tmp_path: Path
) -> None:
    record = write_record(small_site, tmp_path / "r.json", with_photos=False)
    with project_from_record(record, tmp_path / "again.rtuproject") as again:
        (photo,) = again.photos()
        assert photo.caption == "Plate"
        with pytest.raises(ProjectFileError, match="bytes of photo"):
            _ = photo.data
        site = site_results(again, small_form)
        assert write_record(site, tmp_path / "r2.json", with_photos=False).read_bytes() == (
            record.read_bytes()
        )


def test_a_program_that_writes_5_for_5_0_does_no_harm(
    small_site: SiteResults, tmp_path: Path
) -> None:
    path = write_record(small_site, tmp_path / "r.json")
    text = re.sub(r"(\d)\.0\b", r"\1", path.read_text(encoding="utf-8"))
    path.write_text(text, encoding="utf-8")
    with project_from_record(path, tmp_path / "again.rtuproject") as again:
        assert stored_rows(again)["reading"] == stored_rows(small_site.project)["reading"]


def damaged(path: Path, change: Any) -> Path:
    record = json.loads(path.read_bytes())
    change(record)
    path.write_text(json.dumps(record), encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda r: r.update(record="other"), "is not an archive record"),
        (lambda r: r.update(record_version=3), "Install the newer program"),
        (lambda r: r.pop("readings"), "readings cannot be read"),
        (lambda r: r.update(verdicts=[1]), "verdicts cannot be read"),
        (lambda r: r["readings"][3].pop("value"), "readings, row 4: 'value' is missing"),
        (lambda r: r["readings"][0].update(index=["1"]), "readings, row 1"),
        (lambda r: r["readings"][0].update(index=7), "readings, row 1"),
        (lambda r: r["readings"][0].update(removed=0), "must be true or false"),
        (lambda r: r["readings"][0].update(value=[1]), "value cannot be"),
        (lambda r: r["limits"][0]["parts"].update(lowest=1), "no part of a limit"),
        (lambda r: r["limits"][0].update(parts=None), "limits, row 1"),
        (lambda r: r["units"][0].update(id=r["units"][1]["id"]), "used twice"),
        (lambda r: r["photo_data"][0].update(base64="AAAA"), "not those of its SHA-256"),
        (lambda r: r["photo_data"][0].update(base64="?"), "no bytes in base64"),
        (lambda r: r["project"].update(made_at="then"), "is no time"),
    ],
)
def test_damaged_records_are_refused(
    small_site: SiteResults, tmp_path: Path, change: Any, said: str
) -> None:
    path = damaged(write_record(small_site, tmp_path / "r.json"), change)
    with pytest.raises(ProjectFileError, match=said):
        project_from_record(path, tmp_path / "again.rtuproject")
    assert not (tmp_path / "again.rtuproject").exists()


@pytest.mark.parametrize(
    "data", [b"", b"{", b"[" * 100_000, b"\xff", b'{"record": NaN}', b"[]", b"1", b'{"a":1}']
)
def test_what_is_no_record_is_refused(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "r.json"
    path.write_bytes(data)
    with pytest.raises(ProjectFileError, match=r"r\.json"):
        project_from_record(path, tmp_path / "again.rtuproject")
    with pytest.raises(ProjectFileError, match="cannot be read"):
        read_record(tmp_path / "absent.json")


def test_all_faults_at_once(small_site: SiteResults, tmp_path: Path) -> None:
    def change(record: Any) -> None:
        for row in record["readings"]:
            row.pop("value")
        record["people"][0].pop("name")

    path = damaged(write_record(small_site, tmp_path / "r.json"), change)
    with pytest.raises(ProjectFileError) as caught:
        project_from_record(path, tmp_path / "again.rtuproject")
    assert len(str(caught.value).splitlines()) == 14


def test_a_project_that_is_there_is_kept(demo_record: Path, tmp_path: Path) -> None:
    there = tmp_path / "there.rtuproject"
    there.write_bytes(b"mine")
    with pytest.raises(ProjectFileError, match="of this name already"):
        project_from_record(demo_record, there)
    assert there.read_bytes() == b"mine"


# --- writing


def test_progress_and_cancelling(small_site: SiteResults, tmp_path: Path) -> None:
    seen: list[tuple[int, int, str]] = []
    write_record(small_site, tmp_path / "r.json", lambda *told: seen.append(told))
    assert seen[0][0] == 0 and seen[-1][0] == seen[-1][1] == len(seen) - 1
    kept = (tmp_path / "r.json").read_bytes()

    def stop(done: int, total: int, what: str) -> None:
        if done == 5:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_record(small_site, tmp_path / "r.json", stop)
    assert (tmp_path / "r.json").read_bytes() == kept
    assert not [*tmp_path.glob("*.part"), *tmp_path.glob(".*.part")]


def test_a_place_that_cannot_be_written_to(small_site: SiteResults, tmp_path: Path) -> None:
    for write in (write_record, write_record_csv):
        with pytest.raises(OutputError, match="Choose another folder"):
            write(small_site, tmp_path / "absent" / "r")


# --- CSV


def test_csv_has_every_reading_and_quantity(small_site: SiteResults, tmp_path: Path) -> None:
    path = write_record_csv(small_site, tmp_path / "r.csv")
    assert path.read_bytes().startswith(b"\xef\xbb\xbfproject,")
    with path.open(encoding="utf-8-sig", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert tuple(rows[0]) == COLUMNS
    readings = [row for row in rows if row["row"] == "reading"]
    stored = small_site.project.rows("reading")
    assert [row["id"] for row in readings] == [row["id"] for row in stored]
    outdoor = next(row for row in readings if row["name"] == "outdoor_f")
    assert outdoor["value"] == "-4.0" and outdoor["person"] == "Ines Tallow"
    assert datetime.fromisoformat(outdoor["at"]).utcoffset() is not None
    assert [row["state"] for row in readings if row["name"] == "drive"] == [
        "known",
        "known",
        "withdrawn",
    ]
    assert next(row for row in rows if row["row"] == "quantity")["name"] == "half_volts_v"


def test_csv_holds_no_formula_and_loses_no_text(small_site: SiteResults, tmp_path: Path) -> None:
    path = write_record_csv(small_site, tmp_path / "r.csv")
    with path.open(encoding="utf-8-sig", newline="") as stream:
        cells = [cell for row in csv.reader(stream) for cell in row]
    for cell in cells:
        assert not cell.startswith(("=", "+", "@", "\t", "\r"))
        if cell.startswith("-"):
            float(cell)
    assert '\'=HYPERLINK("x")' in cells
    assert {"=1+1\nsecond line, “quoted”", "-20 °C"} <= {plain_text(cell) for cell in cells}
