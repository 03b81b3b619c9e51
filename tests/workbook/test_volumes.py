"""A site of many units: volumes that each come home by themselves, and an index of values."""

from __future__ import annotations

import gc
import re
import shutil
import zipfile
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import unquote
from xml.etree import ElementTree

import pytest
from openpyxl import Workbook, load_workbook

from commission.definitions.load import load_form
from commission.definitions.model import Form
from commission.definitions.translated import translated
from commission.errors import IncomingFileError, OutputError
from commission.language import speaking
from commission.project import ProjectFile
from commission.project.scenario import project_from_scenario
from commission.resources import demo_units_folder
from commission.validation.results import UnitResults
from commission.validation.session import Session
from commission.validation.site import site_results
from commission.validation.volumes import Written, split
from commission.workbook import write_workbooks
from commission.workbook.book import Book, plan_book
from commission.workbook.incoming import LIMITS
from commission.workbook.read_back_accept import accept
from commission.workbook.volumes import MOST_PER_VOLUME, UNITS_PER_VOLUME
from recalculation import recalculate
from workbook.at_work import read_back
from workbook.sample_site import fill, new_project
from workbook.small_form import ANSWERS

PER_VOLUME = 2
TAGS = [f"RTU-{number}" for number in range(1, 6)]


@pytest.fixture(scope="module")
def as_made(tmp_path_factory: pytest.TempPathFactory, form: Form) -> Iterator[ProjectFile]:
    """Five units, of which the last has nothing answered, and three deficiencies."""
    with new_project(tmp_path_factory.mktemp("many") / "many.rtuproject", form) as made:
        fill(made, form, "", ANSWERS)
        units = [made.add_unit(tag) for tag in TAGS]
        for seed, unit in enumerate(units[:-1]):
            fill(made, form, unit.id, ANSWERS, seed)
        made.add_deficiency(units[0].id, description="Panel not labelled")
        made.add_deficiency("", description="Roof ladder loose")
        made.add_deficiency(units[3].id, description="Filter missing")
        yield made


@pytest.fixture(scope="module")
def written_once(
    as_made: ProjectFile, form: Form, tmp_path_factory: pytest.TempPathFactory
) -> Written:
    path = tmp_path_factory.mktemp("once") / "site.xlsx"
    return write_workbooks(as_made, form, path, per_volume=PER_VOLUME)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "out").mkdir()
    return tmp_path / "out"


@pytest.fixture
def project(as_made: ProjectFile, tmp_path: Path) -> Iterator[ProjectFile]:
    """A copy of it that a test may change."""
    as_made.save_copy(tmp_path / "many.rtuproject")
    with ProjectFile.open(tmp_path / "many.rtuproject") as copy:
        yield copy


@pytest.fixture
def written(written_once: Written, folder: Path) -> Written:
    """A copy of its three volumes and their index."""
    for file in (written_once.path, *written_once.volumes):
        shutil.copy(file, folder)
    volumes = tuple(folder / file.name for file in written_once.volumes)
    return Written(folder / written_once.path.name, volumes)


@pytest.mark.parametrize("count", [0, 1, 2, 24, 25, 26, 50, 51, 333, 1000])
@pytest.mark.parametrize("most", [1, 2, 7, 25])
def test_units_are_split_evenly_in_the_fewest_volumes(count: int, most: int) -> None:
    parts = split(range(count), most)  # type: ignore[arg-type]
    sizes = [len(part) for part in parts]
    assert [unit for part in parts for unit in part] == list(range(count))
    assert len(parts) == max(-(-count // most), 1)
    assert max(sizes) <= most and max(sizes) - min(sizes) <= 1


def test_few_units_are_one_workbook(project: ProjectFile, form: Form, folder: Path) -> None:
    written = write_workbooks(project, form, folder / "site.xlsx", per_volume=len(TAGS))
    assert written == Written(folder / "site.xlsx")
    assert [file.name for file in folder.iterdir()] == ["site.xlsx"]
    assert "volume" not in meta(written.path)


def meta(path: Path) -> dict[str, str]:
    sheet = load_workbook(path)["_meta"]
    rows = sheet.iter_rows(max_col=2, values_only=True)
    return {str(label): str(text) for label, text in rows if label}


def test_each_volume_holds_its_units_and_the_projects_pages(written: Written) -> None:
    assert [file.name for file in written.volumes] == [
        f"site.volume-{number}.xlsx" for number in (1, 2, 3)
    ]
    units = []
    for number, file in enumerate(written.volumes, start=1):
        said = meta(file)
        assert said["volume"].startswith(f"{number} of 3: RTU-")
        units.append([text.split(" ")[0] for label, text in said.items() if label[1:].isdigit()])
        assert "p_elevation_ft" in load_workbook(file).defined_names
    assert units == [TAGS[:1], TAGS[1:3], TAGS[3:]]


def test_each_volume_reads_back_by_itself(
    written: Written, project: ProjectFile, form: Form
) -> None:
    seen: list[str] = []
    for file in written.volumes:
        review = read_back(project, form, file)
        assert not review.remarks and not review.to_settle
        seen += sorted({row.tag for row in review.rows if row.what == "reading" and row.tag})
    assert seen == TAGS


def test_reading_typed_in_a_volume_is_entered_for_its_unit(
    written: Written, project: ProjectFile, form: Form
) -> None:
    book = load_workbook(written.volumes[1])
    sheet, cell = book.defined_names["u2_suction_psig_1"].attr_text.rsplit("!", 1)
    book[sheet.strip("'")][cell.replace("$", "")] = 121.25
    log = book["Deficiencies"]
    assert [log.cell(5, column).value for column in (1, 2)] == [2, "Project"]
    log.cell(5, 8).value = "Ladder fixed"
    log.cell(6, 2).value, log.cell(6, 5).value = TAGS[4], "Belt worn"
    edited = written.path.with_name("edited.xlsx")
    book.save(edited)
    session = Session(project, form)
    review = read_back(project, form, edited)
    assert not accept(session, review, review.changed).refused
    third = project.units()[2]
    assert third.tag == "RTU-3"
    assert project.readings(third.id)["suction_psig", (1,)].value == 121.25
    found = {item.description: item for item in project.deficiencies()}
    assert found["Roof ladder loose"].correction == "Ladder fixed"
    assert found["Belt worn"].unit_id == project.units()[4].id
    assert found["Filter missing"].correction == ""
    assert not read_back(project, form, written.volumes[2]).changed


def held(book: Workbook, name: str) -> object:
    sheet, cell = book.defined_names[name].attr_text.rsplit("!", 1)
    return book[sheet.strip("'")][cell.replace("$", "")].value


def test_volume_holds_the_deficiencies_of_its_units_and_the_projects(written: Written) -> None:
    lists = []
    for file in written.volumes:
        log = load_workbook(file)["Deficiencies"]
        lists.append([row[0] for row in log.iter_rows(min_row=5, values_only=True) if row[0]])
    assert lists == [[1, 2], [2], [2, 3]]


# -- the index ---------------------------------------------------------------------------


def test_index_holds_values_alone(written: Written) -> None:
    with zipfile.ZipFile(written.path) as archive:
        assert not [name for name in archive.namelist() if "externalLink" in name]
        sheets = [name for name in archive.namelist() if name.startswith("xl/worksheets/sheet")]
        assert not any(b"<f>" in archive.read(name) for name in sheets)


def links(path: Path) -> list[tuple[str, str]]:
    """Return file and place of every link of a workbook, as another library reads them."""
    found = []
    for sheet in load_workbook(path):
        for row in sheet.iter_rows():
            for cell in row:
                if cell.hyperlink is not None:
                    found.append((unquote(cell.hyperlink.target), cell.hyperlink.location or ""))
    return found


@pytest.mark.parametrize("name", ["site.xlsx", "a #1 [50%25] é.xlsx", "it's.xlsx"])
def test_links_of_the_index_lead_to_sheets_of_its_volumes(
    name: str, project: ProjectFile, form: Form, folder: Path
) -> None:
    written = write_workbooks(project, form, folder / name, per_volume=PER_VOLUME)
    sheets = {file.name: load_workbook(file).sheetnames for file in written.volumes}
    found = links(written.path)
    assert len(found) >= len(sheets) + len(TAGS)
    for target, place in found:
        assert target in sheets
        sheet = re.fullmatch(r"'([^']+)'!A1|", place)
        assert sheet is not None
        assert sheet[1] is None or sheet[1] in sheets[target]


def test_an_index_in_another_language_leads_to_the_sheets_as_they_are_called_there(
    project: ProjectFile, form: Form, folder: Path
) -> None:
    with speaking("es"):
        written = write_workbooks(
            project, translated(form, "es"), folder / "sitio.xlsx", per_volume=PER_VOLUME
        )
        with pytest.raises(IncomingFileError, match="es el índice de un juego de volúmenes"):
            read_back(project, form, written.path)
    names = load_workbook(written.path, read_only=True).sheetnames
    assert names == ["Resumen", "Unidades", "Paros", "Deficiencias", "_meta"]
    tabs = {volume.name: load_workbook(volume).sheetnames for volume in written.volumes}
    found = links(written.path)
    assert any(place.startswith("'Deficiencias'!") for _, place in found)
    for file, place in found:
        if place:
            assert place.rpartition("!")[0].strip("'") in tabs[file]


def test_links_are_kept_outside_by_name_alone(written: Written) -> None:
    with zipfile.ZipFile(written.path) as archive:
        rels = [name for name in archive.namelist() if name.startswith("xl/worksheets/_rels/")]
        targets = [
            element.attrib["Target"]
            for name in rels
            for element in ElementTree.fromstring(archive.read(name))
        ]
    assert {*targets} == {file.name for file in written.volumes}


@pytest.mark.recalculation
def test_counts_of_the_index_are_those_that_the_volumes_recalculate(
    written: Written, tmp_path: Path
) -> None:
    """LibreOffice counts each volume's verdicts anew; the index says the same."""
    index = load_workbook(written.path)["Units"]
    rows = list(index.iter_rows(min_row=5, values_only=True))
    assert [row[0] for row in rows] == TAGS
    counted = {}
    for file in written.volumes[1:]:
        again = load_workbook(recalculate(file, tmp_path / "again"), data_only=True)
        pages = again["Pages"]
        for unit, _, *counts in pages.iter_rows(min_row=5, max_col=8, values_only=True):
            if unit != "Project":
                old = counted.get(unit, [0] * 6)
                counted[unit] = [a + int(b) for a, b in zip(old, counts, strict=True)]
    assert counted == {row[0]: list(row[2:8]) for row in rows[1:]}
    assert sum(map(sum, counted.values())) > 30


def test_index_adds_up(written: Written) -> None:
    book = load_workbook(written.path)
    units = [row[2:8] for row in book["Units"].iter_rows(min_row=5, values_only=True)]
    lines = {row[0]: row[4:10] for row in book["Summary"].iter_rows(values_only=True)}
    own = lines["The project's own pages"]
    assert list(lines["All"]) == [sum(column) for column in zip(own, *units, strict=True)]
    stops = [row for row in book["Stops"].iter_rows(min_row=5, values_only=True) if row[2]]
    assert len(stops) == lines["All"][4]
    log = [row[:3] for row in book["Deficiencies"].iter_rows(min_row=5, values_only=True)]
    assert log == [(1, "RTU-1", "volume-1"), (2, "Project", "volume-1"), (3, "RTU-4", "volume-3")]


def test_index_is_refused_on_the_way_back_with_what_to_do(
    written: Written, project: ProjectFile, form: Form
) -> None:
    with pytest.raises(IncomingFileError, match=r"site\.xlsx: .*index.*each volume back"):
        read_back(project, form, written.path)


# -- files -------------------------------------------------------------------------------


class Stop(Exception):  # noqa: N818  # what a person does, no fault
    pass


def test_cancelled_export_leaves_every_file_as_it_was(
    written: Written, project: ProjectFile, form: Form, folder: Path
) -> None:
    before = {file.name: file.read_bytes() for file in folder.iterdir()}
    assert len(before) == 4
    steps: list[tuple[int, int, str]] = []

    def progress(done: int, total: int, what: str) -> None:
        steps.append((done, total, what))
        if what.startswith("Volume 3") and "Saving" in what:
            raise Stop

    project.add_deficiency("", description="Another")
    with pytest.raises(Stop):
        write_workbooks(project, form, written.path, progress, per_volume=PER_VOLUME)
    assert {file.name: file.read_bytes() for file in folder.iterdir()} == before
    done = [step[0] for step in steps]
    assert done == sorted(done) and all(step[0] <= step[1] for step in steps)


def test_volumes_of_an_earlier_export_are_named_and_kept(
    written: Written, project: ProjectFile, form: Form, folder: Path
) -> None:
    (folder / "other.volume-9.xlsx").touch()
    again = write_workbooks(project, form, written.path, per_volume=3)
    assert len(again.volumes) == 2
    assert again.left_over == (folder / "site.volume-3.xlsx",)
    whole = write_workbooks(project, form, written.path)
    assert [file.name for file in whole.left_over] == [f"site.volume-{n}.xlsx" for n in (1, 2, 3)]


def test_one_state_gives_the_same_files(written: Written, project: ProjectFile, form: Form) -> None:
    before = [file.read_bytes() for file in (written.path, *written.volumes)]
    again = write_workbooks(project, form, written.path, per_volume=PER_VOLUME)
    assert [file.read_bytes() for file in (again.path, *again.volumes)] == before


@pytest.mark.parametrize("number", [0, -3, MOST_PER_VOLUME + 1])
def test_number_that_could_not_come_home_is_refused(
    number: int, project: ProjectFile, form: Form, folder: Path
) -> None:
    with pytest.raises(OutputError, match=f"^{number} units in one workbook: from 1 to"):
        write_workbooks(project, form, folder / "site.xlsx", per_volume=number)
    assert list(folder.iterdir()) == []


def test_folder_that_cannot_be_written_to_is_named(project: ProjectFile, form: Form) -> None:
    with pytest.raises(OutputError, match=r"nowhere/site\.xlsx: the workbook cannot be written"):
        write_workbooks(project, form, Path("/nowhere/site.xlsx"), per_volume=PER_VOLUME)


def test_only_one_volume_is_held_at_a_time(project: ProjectFile, form: Form, folder: Path) -> None:
    """Plans and results of a volume are gone when the next is laid out."""
    held: list[tuple[int, int]] = []

    def progress(_done: int, _total: int, what: str) -> None:
        if what.endswith(": Summary"):
            alive = [type(item) for item in gc.get_objects()]
            held.append((alive.count(Book), alive.count(UnitResults)))

    gc.collect()
    others = sum(isinstance(item, UnitResults) for item in gc.get_objects())
    write_workbooks(project, form, folder / "site.xlsx", progress, per_volume=PER_VOLUME)
    assert [books for books, _ in held] == [1, 1, 1]
    assert max(results for _, results in held) - others <= PER_VOLUME + 1


def test_a_full_volume_stays_within_what_is_let_in(tmp_path: Path) -> None:
    """With as many of the demo's largest unit, tables and all, as a volume may hold."""
    form = load_form()
    with project_from_scenario(demo_units_folder(), tmp_path / "demo.rtuproject", form) as project:
        book = plan_book(site_results(project, form))
    sheets = [len(book.places_of(owner)) for owner in range(1, 1 + len(book.site.units))]
    for owner, _ in book.typed_tables:
        sheets[owner - 1] += 1
    assert UNITS_PER_VOLUME <= MOST_PER_VOLUME
    assert LIMITS.sheets > MOST_PER_VOLUME * max(sheets) > MOST_PER_VOLUME * 30


def test_command_says_what_it_wrote_and_takes_a_volume_back(
    tmp_path: Path, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from commission.__main__ import main

    path = tmp_path / "site.rtuproject"
    with Session.create(path, load_form(), "Site") as session:
        for tag in TAGS[:3]:
            unit = session.add_unit(tag)
            session.project.record(unit.id, "supply_static_inwc", (), 0.8)
            session.project.record(unit.id, "design_airflow_cfm", (), 2000.0)
    target = folder / "site.xlsx"
    asked = ["workbook", str(path), "-o", str(target), "--per-volume", "2", "--blank"]
    assert main(asked) == 0
    told = capsys.readouterr()
    assert "the index of 2 volumes beside it (site.volume-1.xlsx to site.volume-2.xlsx)" in (
        told.out + told.err
    )
    second = folder / "site.volume-2.xlsx"
    book = load_workbook(second)
    assert [held(book, f"u{n}_supply_static_inwc") for n in (1, 2)] == [None, None]
    assert [held(book, f"u{n}_design_airflow_cfm") for n in (1, 2)] == [2000, 2000]
    assert main(["readback", str(path), str(second)]) == 0
    assert "nothing to settle" in capsys.readouterr().out
    assert main(["readback", str(path), str(target)]) == 2
    assert "index of a set of volumes" in capsys.readouterr().err
