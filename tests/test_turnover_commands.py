"""The commands `package` and `sign` on the demo site, as a person would type them."""

from __future__ import annotations

import json
import re
import subprocess
from io import BytesIO
from pathlib import Path

import pikepdf
import pytest
from jsonschema import Draft202012Validator
from openpyxl import load_workbook
from PIL import Image

from commission.__main__ import main
from commission.archive import SCHEMA_PATH
from commission.archive.rows import LISTS
from commission.commands import BAD_INPUT, FINE
from commission.definitions.load import load_form
from commission.language import speaking, spoken
from commission.project import ProjectFile
from commission.project.scenario import project_from_scenario
from commission.resources import demo_units_folder


@pytest.fixture(scope="module")
def project(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the demo site with a photo of one unit and one of the site."""
    path = tmp_path_factory.mktemp("turnover") / "site.rtuproject"
    with project_from_scenario(demo_units_folder(), path, load_form()) as opened:
        units = {unit.tag: unit.id for unit in opened.units()}
        for owner, colour in (
            (units["RTU-3"], "#336699"),
            (units["RTU-4"], "#993333"),
            ("", "#fff"),
        ):
            picture = BytesIO()
            Image.new("RGB", (60, 40), colour).save(picture, "PNG")
            opened.add_photo(owner, picture.getvalue(), caption=f"Photo {colour}")
    return path


def tool(*words: str | Path) -> str:
    return subprocess.run(
        [str(w) for w in words], capture_output=True, text=True, check=True
    ).stdout


def test_a_choice_of_units_with_its_photos_inside(project: Path, tmp_path: Path) -> None:
    package = tmp_path / "two.pdf"
    words = ["package", str(project), "-o", str(package), "--embed", "--without-work"]
    assert main([*words, "--unit", "rtu-6", "--unit", "RTU-3"]) == FINE
    text = tool("pdftotext", "-layout", package, "-")
    assert re.search(r"2 units covered\s+RTU-3 +RTU-6", text)
    assert "RTU-4" not in text
    assert "Shown work: this edition leaves out" in text
    listed = tool("pdfdetach", "-list", package)
    assert "photo-001-RTU-3.jpg" in listed
    assert "RTU-4" not in listed
    tool("pdfdetach", "-saveall", "-o", tmp_path, package)
    with ProjectFile.open(project, read_only=True) as opened:
        of_unit, _, of_site = opened.photos()
        assert (tmp_path / "photo-001-RTU-3.jpg").read_bytes() == of_unit.data
        assert (tmp_path / "photo-003-Project.jpg").read_bytes() == of_site.data
    with Image.open(tmp_path / "photo-001-RTU-3.jpg") as picture:
        assert picture.size == (60, 40)
    assert "No syntax or stream encoding errors found" in tool("qpdf", "--check", package)
    fonts = tool("pdffonts", package).splitlines()[2:]
    assert fonts and all(row.split()[-5] == "yes" for row in fonts)


def test_what_is_inside_a_package_of_some_units_is_of_those_alone(
    project: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Workbook and record hold the project's own rows and those units, say so, and work."""
    package = tmp_path / "two.pdf"
    words = ["package", str(project), "-o", str(package), "--embed", "--without-work"]
    assert main([*words, "--unit", "RTU-3", "--unit", "RTU-4"]) == FINE
    tool("pdfdetach", "-saveall", "-o", tmp_path, package)
    record = json.loads((tmp_path / "site.record.json").read_bytes())
    schema = json.loads(SCHEMA_PATH.read_text(encoding="utf-8"))
    assert list(Draft202012Validator(schema).iter_errors(record)) == []
    assert record["covers"] == {"tags": ["RTU-3", "RTU-4"], "units_of_project": 6}
    assert [unit["tag"] for unit in record["units"]] == ["RTU-3", "RTU-4"]
    assert {row["tag"] for row in record["verdicts"]} == {"", "RTU-3", "RTU-4"}
    ids = {"", *(unit["id"] for unit in record["units"])}
    rows = [row for name in LISTS for row in record[name] if "unit_id" in row]
    assert {row["unit_id"] for row in rows} == ids
    with pikepdf.open(package) as pdf:
        about = {name: file.description for name, file in pdf.attachments.items()}
    assert "of RTU-3, RTU-4 alone" in about["site.record.json"]
    assert "of RTU-3, RTU-4 alone" in about["site.xlsx"]

    again = tmp_path / "again.rtuproject"
    assert main(["rebuild", str(tmp_path / "site.record.json"), str(again)]) == FINE
    with (
        ProjectFile.open(project, read_only=True) as whole,
        ProjectFile.open(again, read_only=True) as part,
    ):
        assert [unit.tag for unit in part.units()] == ["RTU-3", "RTU-4"]
        for unit in part.units():
            assert part.readings(unit.id) == whole.readings(unit.id)
            assert part.deficiencies(unit.id) == whole.deficiencies(unit.id)
            assert part.trend_logs(unit.id) == whole.trend_logs(unit.id)
        assert [photo.data for photo in part.photos()] == [p.data for p in whole.photos()]

    book = load_workbook(tmp_path / "site.xlsx", read_only=True)
    told = {str(cell) for row in book["Summary"].values for cell in row if cell}
    assert any(text.startswith("RTU-3, RTU-4 alone: 2 of the project's 6 units") for text in told)
    assert not any("RTU-1" in name for name in book.sheetnames)
    deficiencies = {str(row[1]) for row in book["Deficiencies"].values if row[0]}
    assert {tag for tag in deficiencies if tag.startswith("RTU")} == {"RTU-3", "RTU-4"}
    capsys.readouterr()
    assert main(["readback", str(project), str(tmp_path / "site.xlsx")]) == FINE
    assert "RTU-1" not in capsys.readouterr().out


def test_a_unit_that_is_not_there_is_told(
    project: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    package = tmp_path / "none.pdf"
    assert main(["package", str(project), "-o", str(package), "--unit", "RTU-77"]) == BAD_INPUT
    assert "no unit 'RTU-77' in this project; its units are RTU-1" in capsys.readouterr().err
    assert not package.exists()


def test_fields_are_listed_and_a_key_is_asked_for_its_passphrase(
    project: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    package = tmp_path / "one.pdf"
    assert main(["package", str(project), "-o", str(package), "--unit", "RTU-1"]) == FINE
    assert main(["sign", str(package)]) == FINE
    assert re.search(r"RTU-1 accepted +not signed", capsys.readouterr().out)
    key = tmp_path / "key.p12"
    assert main(["sign", str(package), str(key)]) == BAD_INPUT
    assert "which field?" in capsys.readouterr().err
    monkeypatch.delenv("COMMISSION_KEY_PASSPHRASE", raising=False)
    assert main(["sign", str(package), str(key), "--field", "RTU-1 accepted"]) == BAD_INPUT
    assert "Set COMMISSION_KEY_PASSPHRASE" in capsys.readouterr().err
    assert main(["sign", str(project)]) == BAD_INPUT
    assert "cannot be read as a turnover package" in capsys.readouterr().err


def test_units_of_measurement_may_differ_from_the_projects(project: Path, tmp_path: Path) -> None:
    """°C = (°F − 32) / 1.8, exact by definition (NIST SP 811, B.8); work stays in IP units."""
    texts = {}
    for system in ("IP", "SI"):
        package = tmp_path / f"{system}.pdf"
        words = ["package", str(project), "-o", str(package), "--unit", "RTU-1"]
        assert main([*words, "--units", system]) == FINE
        texts[system] = tool("pdftotext", "-layout", package, "-")
    with ProjectFile.open(project, read_only=True) as opened:
        assert opened.unit_system == "IP"
        unit = opened.units()[0]
        value = opened.readings(unit.id)["visit_outdoor_f", ()].value
    assert isinstance(value, float)
    assert re.search(rf"Outdoor dry bulb +°F +{value:.1f} ", texts["IP"])
    assert re.search(rf"Outdoor dry bulb +°C +{(value - 32) / 1.8:.2f} ", texts["SI"])
    assert "Units of measurement" not in texts["IP"]
    assert "converted for this package; the project was entered in IP" in texts["SI"]
    assert "Shown work, in IP units" in texts["SI"]
    sizes = {s: tool("pdfinfo", tmp_path / f"{s}.pdf") for s in texts}
    assert "612 x 792" in sizes["IP"] and "595.276 x 841.89" in sizes["SI"]


@pytest.mark.parametrize(("code", "system"), [("es", "IP"), ("es", "SI")])
def test_the_summary_for_the_owner_is_one_page_in_any_language_and_units(
    project: Path, tmp_path: Path, code: str, system: str
) -> None:
    """Six units, three of them with much to tell: cover, summary, contents, a page each."""
    package = tmp_path / "short.pdf"
    words = ["package", str(project), "-o", str(package), "--without-work"]
    assert main([*words, "--language", code, "--units", system]) == FINE
    texts = tool("pdftotext", "-layout", "-l", "3", package, "-").split("\f")
    with speaking(code):
        assert spoken("Summary for the owner") in texts[1]
        assert re.search(rf"^ *{spoken('Contents')}$", texts[2], re.MULTILINE)
    assert "RTU-6" in texts[1]
