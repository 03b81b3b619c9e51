"""Files from outside: every one is read rightly or refused in a sentence, before any parser."""

from __future__ import annotations

import random
import tracemalloc
import zipfile
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest

from commission.definitions.model import Form
from commission.errors import CommissionError, IncomingFileError
from commission.project import ProjectFile
from commission.validation.site import SiteResults
from commission.workbook import write_workbook
from commission.workbook.incoming import GateLimits, admit, tables
from commission.workbook.read_back_rows import Standing
from workbook.at_work import read_back

SHEET = "xl/worksheets/sheet5.xml"
ENTITIES = (
    b'<?xml version="1.0"?><!DOCTYPE w [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;">]>'
    b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
    b'<sheetData><row r="1"><c r="A1" t="str"><v>&b;</v></c></row></sheetData></worksheet>'
)


@pytest.fixture
def path(tmp_path: Path, site: Callable[[], SiteResults]) -> Path:
    return write_workbook(site(), tmp_path / "site.xlsx")


def changed(
    path: Path,
    parts: dict[str, bytes],
    more: dict[str, bytes] | None = None,
    drop: frozenset[str] = frozenset(),
) -> Path:
    """Return a copy of a zip file in which some parts are others, more are there, or fewer."""
    target = path.with_name("changed.xlsx")
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as new:
        for info in old.infolist():
            if info.filename not in drop:
                new.writestr(info.filename, parts.get(info.filename, old.read(info)))
        for name, content in (more or {}).items():
            new.writestr(name, content)
    return target


def part(path: Path, name: str) -> bytes:
    with zipfile.ZipFile(path) as archive:
        return archive.read(name)


def refused(path: Path, words: str, limits: GateLimits | None = None) -> None:
    with pytest.raises(IncomingFileError, match=words) as fault:
        admit(path, limits) if limits else admit(path)
    assert str(fault.value).startswith(f"{path}: ")


def test_our_own_workbook_passes(path: Path) -> None:
    incoming = admit(path)
    assert incoming.content == path.read_bytes()
    assert incoming.set_aside == ()
    assert "_meta" in [sheet.title for sheet in tables(incoming).sheets]


def test_the_parser_is_the_guarded_one() -> None:
    assert openpyxl.DEFUSEDXML is True


def test_a_zip_bomb_is_refused_long_before_it_is_inflated(path: Path) -> None:
    bomb = part(path, SHEET).replace(b"</sheetData>", b" " * 120_000_000 + b"</sheetData>")
    file = changed(path, {SHEET: bomb})
    del bomb
    assert file.stat().st_size < 1_000_000
    tracemalloc.start()
    refused(file, "inflates more than|holds one tag or text of more than")
    # It stops at 200 times the part's own size; the whole would be over 120 MB.
    assert tracemalloc.get_traced_memory()[1] < 40_000_000
    tracemalloc.stop()


def test_sizes_are_counted_not_believed(path: Path) -> None:
    refused(path, "inflates to more than", GateLimits(total_bytes=100_000))
    refused(path, "inflates to more than", GateLimits(part_bytes=2_000))
    refused(path, "more than 0.001 MB", GateLimits(file_bytes=1_000))
    refused(path, "at most 5 are read", GateLimits(parts=5))
    refused(path, "XML elements", GateLimits(elements=500))


def test_macros_are_refused(path: Path) -> None:
    refused(changed(path, {}, {"xl/vbaProject.bin": b"x"}), "holds macros")
    types = part(path, "[Content_Types].xml").replace(
        b"spreadsheetml.sheet.main+xml", b"x.macroEnabled.main+xml"
    )
    refused(changed(path, {"[Content_Types].xml": types}), "holds macros")


def test_links_and_embedded_files_are_named_and_not_read(path: Path) -> None:
    more = {"xl/externalLinks/externalLink1.xml": b"<x/>", "xl/embeddings/paper.bin": b"x"}
    incoming = admit(changed(path, {}, more))
    assert [sentence.split(",")[0] for sentence in incoming.set_aside] == [
        "The file holds links to other workbooks",
        "The file holds embedded files",
    ]


@pytest.mark.parametrize("name", ["/etc/x", "../x.xml", "xl\\..\\..\\x", "C:\\x"])
def test_names_that_point_out_of_the_file_are_refused(path: Path, name: str) -> None:
    refused(changed(path, {}, {name: b"<x/>"}), "points out of the file")


def test_a_part_twice_is_refused(path: Path) -> None:
    refused(changed(path, {}, {SHEET.replace("sheet5", "Sheet5"): b"<x/>"}), "twice")


def test_what_is_no_spreadsheet_says_what_it_is(path: Path, tmp_path: Path) -> None:
    def file(content: bytes) -> Path:
        made = tmp_path / "other.xlsx"
        made.write_bytes(content)
        return made

    refused(file(b"name,value\n"), "no .xlsx or .ods")
    refused(file(b""), "no .xlsx")
    refused(file(b"\xd0\xcf\x11\xe0 old"), "password")
    refused(file(path.read_bytes()[:-3_000]), "damaged or cut short")
    refused(tmp_path / "absent.xlsx", "cannot be read")
    refused(tmp_path, "cannot be read")
    for names, words in (
        (["content.xml", "mimetype"], "OpenDocument file, but no"),
        (["x"], "but no .xlsx or .ods"),
    ):
        with zipfile.ZipFile(tmp_path / "zip.xlsx", "w") as archive:
            for name in names:
                archive.writestr(name, b"x")
        refused(tmp_path / "zip.xlsx", words)


def test_entities_and_other_encodings_are_refused(path: Path) -> None:
    refused(changed(path, {SHEET: ENTITIES}), "declares XML entities")
    wide = ENTITIES.decode().replace("?>", ' encoding="utf-16"?>', 1).encode("utf-16")
    refused(changed(path, {SHEET: wide}), "not UTF-8")
    cloaked = b'<?xml version="1.0" encoding="cp037"?>' + ENTITIES.decode().encode("cp037")
    refused(changed(path, {SHEET: cloaked}), "not UTF-8")


def test_huge_merged_ranges_are_refused(path: Path) -> None:
    sheet = part(path, SHEET)
    for ref in (b'ref="A1:XFD1048576"', b'ref="&#65;1:XFD9"', b'x=">" ref="A1:XFD1048576"'):
        merge = b"</sheetData><mergeCells><mergeCell " + ref + b"/></mergeCells>"
        refused(changed(path, {SHEET: sheet.replace(b"</sheetData>", merge)}), "merges more")


def test_a_cell_far_out_is_refused(path: Path, project: ProjectFile, form: Form) -> None:
    far = b'<row r="1048576"><c r="XFD1048576"><v>1</v></c></row></sheetData>'
    file = changed(path, {SHEET: part(path, SHEET).replace(b"</sheetData>", far)})
    with pytest.raises(IncomingFileError, match="reaches to row 1,048,576, column 16,384"):
        read_back(project, form, file)


def test_damage_inside_is_a_sentence(path: Path, project: ProjectFile, form: Form) -> None:
    for spoilt in (b"", b"<worksheet", b"\xff\xfe", part(path, SHEET)[:900]):
        with pytest.raises(IncomingFileError, match=r"changed\.xlsx"):
            read_back(project, form, changed(path, {SHEET: spoilt}))
    for name in ("xl/workbook.xml", "xl/_rels/workbook.xml.rels"):
        with pytest.raises(IncomingFileError, match=r"changed\.xlsx"):
            read_back(project, form, changed(path, {}, drop=frozenset({name})))


def test_a_sheet_that_is_gone_is_told_cell_by_cell(
    path: Path, project: ProjectFile, form: Form
) -> None:
    review = read_back(project, form, changed(path, {}, drop=frozenset({SHEET})))
    lost = [row for row in review.to_settle if row.standing is Standing.LOST]
    assert {"p_site_name", "p_elevation_ft"} <= {row.name for row in lost}
    assert all("deleted" in row.sentence for row in lost)


@pytest.mark.parametrize(("times", "words"), [(300, "named over and"), (5_000, "at most 4,000")])
def test_one_sheet_named_over_and_over_is_refused_before_it_is_read(
    path: Path, times: int, words: str
) -> None:
    name = "xl/workbook.xml"
    book = part(path, name)
    first = book[book.index(b"<sheet ") : book.index(b"/>", book.index(b"<sheet ")) + 2]
    refused(changed(path, {name: book.replace(first, first * times)}), words)


def test_a_number_without_end_is_not_understood(
    path: Path, project: ProjectFile, form: Form
) -> None:
    name = "xl/worksheets/sheet7.xml"
    sheet = part(path, name)
    assert sheet.count(b"<v>118.5</v>") == 2
    review = read_back(
        project, form, changed(path, {name: sheet.replace(b"<v>118.5</v>", b"<v>1.0E999</v>")})
    )
    assert {(row.name, row.standing) for row in review.to_settle} == {
        ("u1_suction_psig_1", Standing.NOT_UNDERSTOOD),
        ("u1_suction_psig_2", Standing.NOT_UNDERSTOOD),
    }


def mutated(path: Path, seed: int) -> Path:
    """Return a copy with bytes flipped in the file, or flipped or cut out within a part."""
    source = random.Random(seed)
    if seed % 3 == 0:
        content = bytearray(path.read_bytes())
        for _ in range(source.randint(1, 20)):
            content[source.randrange(len(content))] = source.randrange(256)
        file = path.with_name("changed.xlsx")
        file.write_bytes(content)
        return file
    with zipfile.ZipFile(path) as archive:
        names = [name for name in archive.namelist() if name.endswith((".xml", ".rels"))]
        sheets = [name for name in names if name.startswith("xl/worksheets/sheet")]
    name = source.choice([source.choice(names), "xl/workbook.xml", SHEET, source.choice(sheets)])
    content = bytearray(part(path, name))
    for _ in range(source.randint(1, 4)):
        start = source.randrange(len(content))
        if seed % 3 == 1:
            content[start] = source.choice(b"0123456789ABZ<>&\"'/ $!-")
        else:
            del content[start : start + source.randint(1, 40)]
    return changed(path, {name: bytes(content)})


def test_mutated_files_end_in_a_sentence_or_a_review(
    path: Path, project: ProjectFile, form: Form
) -> None:
    revision, outcomes = project.revision, set()
    for seed in range(30):
        outcomes.add(outcome(project, form, mutated(path, seed)))
    assert outcomes == {"refused", "read"}
    assert project.revision == revision


def outcome(project: ProjectFile, form: Form, file: Path) -> str:
    """Read a file back: a review whose rows all say something, or a sentence that names it."""
    try:
        review = read_back(project, form, file)
    except CommissionError as fault:
        return "refused" if str(fault).startswith(f"{file}: ") else f"no place: {fault}"
    return "read" if all(row.sentence for row in review.to_settle) else "a row without a word"
