"""The package as an archival file: PDF/A-3u (ISO 19005-3:2012), checked clause by clause."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from io import BytesIO
from pathlib import Path
from xml.etree import ElementTree

import pikepdf
import pytest
from PIL import Image, ImageChops, ImageCms

from commission.definitions.model import Form
from commission.errors import OutputError
from commission.package import archival, write_package
from commission.package.archival import Attachment, Description, archived, srgb_profile
from commission.package.tagging import TaggedCanvas
from commission.project import ProjectFile
from commission.validation.site import SiteResults, site_results
from package.invented_project import fill, new_project
from package.reading_pdf import link_targets, outline, page_texts, tool

ODD_TITLE = 'Yard & "Söhne" <b> 温度\u202e 😀\ttwo\nlines ﷐ \ufeff end'
RDF = "{http://www.w3.org/1999/02/22-rdf-syntax-ns#}"
DC = "{http://purl.org/dc/elements/1.1/}"
XMP = "{http://ns.adobe.com/xap/1.0/}"
PDF = "{http://ns.adobe.com/pdf/1.3/}"
PDFA_ID = "{http://www.aiim.org/pdfa/ns/id/}"

FILES = (
    Attachment("zone.json", "application/json", "Data", "The archive record", b'{"a": 1}\n' * 999),
    Attachment("Ärger & Co.xlsx", "application/vnd.ms-excel", "Alternative", "Wörk", b"PK\x03\x04"),
    Attachment("photo 1.jpg", "image/jpeg", "Supplement", "As taken", bytes(range(256)) * 40),
    Attachment("empty.csv", "text/csv", "Data", "", b""),
)


@pytest.fixture(scope="session")
def archive(small_form: Form, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a package with attachments of a project with hard texts, to be read only."""
    folder = tmp_path_factory.mktemp("archive")
    with new_project(folder / "odd.rtuproject", small_form, title=ODD_TITLE) as project:
        fill(project)
        project.add_person("Zoë 温 <&>", "Works")
        project.record(project.units()[0].id, "remark", (), f"{ODD_TITLE} 𝔸 remark ends")
        site = site_results(project, small_form)
        return write_package(site, folder / "odd.pdf", attachments=FILES)


@pytest.fixture
def pdf(archive: Path) -> Iterator[pikepdf.Pdf]:
    with pikepdf.open(archive) as opened:
        yield opened


def packet(pdf: pikepdf.Pdf) -> ElementTree.Element:
    description = ElementTree.fromstring(pdf.Root.Metadata.read_bytes()).find(
        f"{RDF}RDF/{RDF}Description"
    )
    assert description is not None
    return description


def items(place: ElementTree.Element, name: str) -> list[str | None]:
    return [item.text for item in place.iterfind(f"{name}/*/{RDF}li")]


def as_iso(pdf_date: str) -> str:
    """Return the moment of a PDF date as ISO 8601 (ISO 32000-1, 7.9.4)."""
    return re.sub(r"D:(....)(..)(..)(..)(..)(..)(...)'(..)'", r"\1-\2-\3T\4:\5:\6\7:\8", pdf_date)


# -- what the file says of itself (6.6) ------------------------------------------


def test_the_packet_says_what_the_information_dictionary_says(pdf: pikepdf.Pdf) -> None:
    told, info = packet(pdf), {key: str(value) for key, value in pdf.docinfo.items()}
    assert items(told, f"{DC}title") == [info.pop("/Title")]
    assert items(told, f"{DC}creator") == [info.pop("/Author")]
    assert items(told, f"{DC}description") == [info.pop("/Subject")]
    assert told.findtext(f"{XMP}CreatorTool") == info.pop("/Creator")
    assert told.findtext(f"{PDF}Producer") == info.pop("/Producer")
    assert told.findtext(f"{XMP}CreateDate") == as_iso(info.pop("/CreationDate"))
    assert told.findtext(f"{XMP}ModifyDate") == as_iso(info.pop("/ModDate"))
    assert info == {}


def test_odd_title_and_authors_are_told_whole_on_one_line(pdf: pikepdf.Pdf) -> None:
    title = str(pdf.docinfo["/Title"])
    assert title.startswith('Yard & "Söhne" <b> 温度\u202e 😀 two lines ')
    assert title.endswith("end – turnover package")
    assert str(pdf.docinfo["/Author"]) == "Ada Quill, Zoë 温 <&>"


def test_part_and_level_are_named_and_other_programs_read_them(
    pdf: pikepdf.Pdf, archive: Path
) -> None:
    told = packet(pdf)
    assert told.findtext(f"{PDFA_ID}part") == "3"
    assert told.findtext(f"{PDFA_ID}conformance") == "A"
    with pdf.open_metadata() as metadata:
        assert metadata.pdfa_status == "3A"
    assert pdf.Root.Metadata.get("/Filter") is None
    assert "<pdfaid:part>3</pdfaid:part>" in tool("pdfinfo", "-meta", archive)


def test_dates_are_those_of_the_last_change(
    small_project: ProjectFile, small_form: Form, tmp_path: Path
) -> None:
    unit = small_project.units()[0].id
    small_project.record(unit, "remark", (), "the last thing entered")
    last = max(reading.at for reading in small_project.readings(unit).values())
    path = write_package(site_results(small_project, small_form), tmp_path / "a.pdf")
    with pikepdf.open(path) as pdf:
        written = as_iso(str(pdf.docinfo["/ModDate"]))
    assert datetime.fromisoformat(written) == datetime.fromisoformat(last).replace(microsecond=0)


def test_what_is_not_known_is_left_out_and_control_characters_become_spaces(
    small_package: Path,
) -> None:
    told = Description("a\x0b\x00b\ufffe", "", "", "program 1", "fr", "")
    with pikepdf.open(BytesIO(archived(BytesIO(small_package.read_bytes()), told))) as pdf:
        assert set(pdf.docinfo.keys()) == {"/Title", "/Creator", "/Producer"}
        assert str(pdf.docinfo["/Title"]) == "a b"
        assert items(packet(pdf), f"{DC}title") == ["a b"]
        assert [element.tag for element in packet(pdf)] == [
            *(f"{DC}title", f"{DC}language", f"{DC}format", f"{XMP}CreatorTool"),
            *(f"{PDF}Producer", f"{PDFA_ID}part", f"{PDFA_ID}conformance"),
        ]


# -- colour (6.2.2 to 6.2.4) -----------------------------------------------------


def test_one_output_intent_with_an_srgb_profile(pdf: pikepdf.Pdf) -> None:
    (intent,) = pdf.Root.OutputIntents
    assert intent.S == "/GTS_PDFA1"
    assert str(intent.OutputConditionIdentifier)
    assert intent.DestOutputProfile.N == 3
    assert intent.DestOutputProfile.read_bytes() == srgb_profile()


def test_the_profile_is_whole_fixed_and_not_newer_than_the_standard_allows() -> None:
    profile = srgb_profile()
    assert int.from_bytes(profile[:4], "big") == len(profile)
    assert profile[36:40] == b"acsp"
    assert (profile[12:16], profile[16:20]) == (b"mntr", b"RGB ")
    assert profile[8:10] == b"\x04\x20"  # 4.2, ICC.1:2004-10: the last that ISO 32000-1 names
    assert [int.from_bytes(profile[at : at + 2], "big") for at in range(24, 36, 2)] == [
        *(1999, 1, 1),
        *(0, 0, 0),
    ]


def test_the_profile_changes_no_srgb_colour() -> None:
    ours = ImageCms.ImageCmsProfile(BytesIO(srgb_profile()))
    colours = Image.linear_gradient("L").convert("RGB")
    changed = ImageCms.profileToProfile(colours, ours, ImageCms.createProfile("sRGB"))
    assert max(high for _, high in ImageChops.difference(colours, changed).getextrema()) <= 1


def test_nothing_is_drawn_in_cmyk(pdf: pikepdf.Pdf) -> None:
    for thing in pdf.objects:
        if isinstance(thing, pikepdf.Stream) and thing.get("/Subtype") == "/Image":
            assert thing.ColorSpace in ("/DeviceRGB", "/DeviceGray")
            assert not thing.get("/Interpolate", False)
    operators = {str(step.operator) for stream in drawn(pdf) for step in stream[1]}
    assert operators.isdisjoint({"k", "K", "ri", "sh"})
    assert operators & {"rg", "RG"}


# -- fonts (6.2.11) --------------------------------------------------------------


def drawn(
    pdf: pikepdf.Pdf,
) -> Iterator[tuple[pikepdf.Dictionary, list[pikepdf.ContentStreamInstruction]]]:
    """Yield resources and steps of every page and every form object; empty ones need none."""
    no_resources = pikepdf.Dictionary()
    for page in pdf.pages:
        yield page.Resources, list(pikepdf.parse_content_stream(page))
    for thing in pdf.objects:
        if isinstance(thing, pikepdf.Stream) and thing.get("/Subtype") == "/Form":
            yield thing.get("/Resources", no_resources), list(pikepdf.parse_content_stream(thing))


def codes_shown(pdf: pikepdf.Pdf) -> dict[str, set[int]]:
    """Return the codes that text shows, by font."""
    shown: dict[str, set[int]] = {}
    for _, steps in drawn(pdf):
        font = ""
        for step in steps:
            if str(step.operator) == "Tf":
                font = str(step.operands[0])
            elif str(step.operator) == "Tj":
                shown.setdefault(font, set()).update(bytes(step.operands[0]))
            assert str(step.operator) not in ("TJ", "'", '"')
    return shown


def fonts_of(pdf: pikepdf.Pdf) -> dict[str, pikepdf.Dictionary]:
    return {name: font for set_, _ in drawn(pdf) for name, font in set_.get("/Font", {}).items()}


def signs_of(font: pikepdf.Dictionary) -> dict[int, str]:
    """Return what a font's ToUnicode table says each code stands for."""
    table = font.ToUnicode.read_bytes().decode("ascii")
    blocks = re.findall(r"(\d+) beginbfchar\n(.*?)\nendbfchar", table, re.DOTALL)
    pairs: list[tuple[str, str]] = []
    for count, block in blocks:
        lines = re.findall(r"^<(\w\w)> <((?:\w{4}){1,2})>$", block, re.MULTILINE)
        assert int(count) == len(block.splitlines()) == len(lines) <= 100
        pairs += lines
    return {int(code, 16): bytes.fromhex(sign).decode("utf-16-be") for code, sign in pairs}


def test_every_font_is_embedded_and_none_is_a_base_font(pdf: pikepdf.Pdf, archive: Path) -> None:
    fonts = fonts_of(pdf)
    assert len(fonts) >= 2
    for font in fonts.values():
        assert re.fullmatch(r"/[A-Z]{6}\+DejaVuSans(-\w+)?", str(font.BaseFont))
        assert font.FontDescriptor.FontFile2.read_bytes()[:4] == b"\0\1\0\0"
    rows = tool("pdffonts", archive).splitlines()[2:]
    assert rows and all(row.split()[-5:-2] == ["yes", "yes", "yes"] for row in rows)


def test_every_code_shown_has_its_character_and_none_is_the_missing_glyph(
    pdf: pikepdf.Pdf,
) -> None:
    fonts, shown = fonts_of(pdf), codes_shown(pdf)
    assert sum(map(len, shown.values())) > 80
    for name, codes in shown.items():
        signs = signs_of(fonts[name])
        assert codes <= set(signs)
        assert 0 not in codes
        assert {"\0", "\ufeff", "\ufffe"}.isdisjoint(signs.values())


def test_characters_that_no_face_has_can_still_be_copied_out(archive: Path) -> None:
    page = next(text for text in page_texts(archive) if "remark ends" in text)
    for sign in ("温度", "😀", "𝔸"):
        assert sign in page


def test_widths_told_are_those_of_the_glyph_that_stands_in(pdf: pikepdf.Pdf) -> None:
    """6.2.11.5: the replacement character of DejaVu Sans is 2100/2048 of the size wide."""
    widths = [
        float(font.Widths[code])
        for font in fonts_of(pdf).values()
        for code, sign in signs_of(font).items()
        if sign == "温" and "Bold" not in str(font.BaseFont)
    ]
    assert widths == [pytest.approx(2100 / 2048 * 1000, abs=1)]


# -- annotations, actions, the rest (6.1, 6.3, 6.5) ------------------------------


def test_every_link_is_printed_and_none_is_hidden(pdf: pikepdf.Pdf) -> None:
    annotations = [item for page in pdf.pages for item in page.get("/Annots", [])]
    assert len(annotations) > 20
    for item in annotations:
        assert item.Subtype == "/Link" or "/N" in item.AP  # 6.3.3
        assert int(item.F) == 4  # print; invisible, hidden, no view, toggle no view clear


def test_no_script_no_forbidden_action_no_outside_data(pdf: pikepdf.Pdf) -> None:
    assert not pdf.is_encrypted
    for key in ("/OpenAction", "/AA", "/OCProperties", "/Requirements"):
        assert key not in pdf.Root
    assert not {"/XFA", "/NeedAppearances"} & set(pdf.Root.AcroForm.keys())  # 6.4.1, 6.4.2
    assert "/JavaScript" not in pdf.Root.Names
    for thing in pdf.objects:
        if isinstance(thing, pikepdf.Stream):
            assert not {"/F", "/FFilter", "/FDecodeParms"} & set(thing.keys())
            assert "LZW" not in str(thing.get("/Filter"))
        if isinstance(thing, (pikepdf.Dictionary, pikepdf.Stream)):
            assert thing.get("/S") not in ("/JavaScript", "/Launch", "/URI", "/Named")
            assert not {"/AA", "/JS"} & set(thing.keys())


def test_version_id_language_and_view(pdf: pikepdf.Pdf, archive: Path) -> None:
    assert pdf.pdf_version == "1.7"
    assert [len(bytes(part)) for part in pdf.trailer.ID] == [16, 16]
    assert str(pdf.Root.Lang) == "en-US"
    assert pdf.Root.ViewerPreferences.DisplayDocTitle is True
    assert archive.read_bytes()[9] == ord("%")  # 6.1.2: a comment of high bytes follows
    assert min(archive.read_bytes()[10:14]) > 127
    assert "No syntax or stream encoding errors found" in tool("qpdf", "--check", archive)


def test_outline_labels_and_links_are_still_there(pdf: pikepdf.Pdf, archive: Path) -> None:
    titles = [title for _, title, _ in outline(archive)]
    assert {"Summary for the owner", "RTU-1", "Sign-off"} <= set(titles)
    labels = [page.label for page in pdf.pages]
    assert labels == ["Cover", *(str(number) for number in range(2, len(labels) + 1))]
    pages = {page.objgen for page in pdf.pages}
    assert {target[0].objgen for target in link_targets(pdf)} <= pages


def test_an_independent_checker_approves(
    small_project: ProjectFile,
    small_form: Form,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The allow-list checker of pikepdf, made after veraPDF's rules; it knows level B only.

    It allows no schema of properties beyond its list and no form at all, so the schema of
    PDF/UA and the signature fields are left out for it.
    """
    checker = pytest.importorskip("pikepdf.pdfa", exc_type=ImportError)
    monkeypatch.setattr(archival, "TAGGED_CONFORMANCE", "B")
    monkeypatch.setattr(archival, "UA_PART", "")
    monkeypatch.setattr(archival, "_UA_SCHEMA", "")
    monkeypatch.setattr(TaggedCanvas, "signature_field", lambda *_: None)
    small_project.record(small_project.units()[0].id, "remark", (), f"{ODD_TITLE} 𝔸")
    site = site_results(small_project, small_form)
    path = write_package(site, tmp_path / "b.pdf", attachments=FILES)
    report = checker.validate_written(path, "3b")
    assert report.passed, "\n".join(map(str, report.findings))


# -- attachments (6.8, annex E) --------------------------------------------------


def test_poppler_lists_and_extracts_the_same_bytes(archive: Path, tmp_path: Path) -> None:
    listed = tool("pdfdetach", "-list", archive)
    assert listed.startswith(f"{len(FILES)} embedded files")
    tool("pdfdetach", "-saveall", "-o", tmp_path, archive)
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == {
        item.name: item.data for item in FILES
    }


def test_each_attachment_is_described_as_the_standard_asks(pdf: pikepdf.Pdf) -> None:
    by_name = {item.name: item for item in FILES}
    parts = list(pdf.Root.Names.EmbeddedFiles.Names)
    names, files = parts[::2], parts[1::2]
    assert [bytes(name) for name in names] == sorted(bytes(name) for name in names)
    assert {file.objgen for file in files} == {file.objgen for file in pdf.Root.AF}
    assert sorted(str(name) for name in names) == sorted(by_name)
    for name, file in zip(names, files, strict=True):
        item = by_name[str(name)]
        assert file.is_indirect and file.Type == "/Filespec"
        assert (str(file.UF), str(file.Desc)) == (item.name, item.description)
        assert str(file.F) == item.name.replace("Ä", "_")
        assert file.AFRelationship == f"/{item.relationship}"
        assert file.EF.F.objgen == file.EF.UF.objgen
        stream = file.EF.F
        assert (stream.Type, stream.Subtype) == ("/EmbeddedFile", f"/{item.media_type}")
        assert stream.Params.Size == len(item.data)
        assert str(stream.Params.ModDate) == str(pdf.docinfo["/ModDate"])
        assert stream.read_bytes() == item.data


def test_without_attachments_there_is_no_tree_of_them(small_package: Path) -> None:
    with pikepdf.open(small_package) as pdf:
        assert "/AF" not in pdf.Root and "/Names" not in pdf.Root


def test_two_writes_are_the_same_whatever_the_order_of_the_attachments(
    small_site: SiteResults, tmp_path: Path
) -> None:
    first = write_package(small_site, tmp_path / "a.pdf", attachments=FILES).read_bytes()
    time.sleep(1.1)  # an id or a profile made from the clock would change by the second
    again = write_package(small_site, tmp_path / "b.pdf", attachments=FILES[::-1]).read_bytes()
    assert again == first
    other = (*FILES[:-1], replace(FILES[-1], data=b"x"))
    assert write_package(small_site, tmp_path / "c.pdf", attachments=other).read_bytes() != first


def test_faulty_attachments_are_told_all_at_once_and_nothing_is_written(
    small_site: SiteResults, tmp_path: Path
) -> None:
    good = FILES[0]
    bad = [
        good,
        replace(good, name="ZONE.json"),
        replace(good, name="a/b.json"),
        replace(good, name=""),
        replace(good, name="c.json", media_type="json"),
        replace(good, name="d.json", relationship="Source"),
    ]
    with pytest.raises(OutputError) as caught:
        write_package(small_site, tmp_path / "out.pdf", attachments=bad)
    told = str(caught.value).splitlines()
    assert all(line.startswith(f"{tmp_path / 'out.pdf'}: ") for line in told)
    for words in (
        "'zone.json' is attached twice. Give",
        "'a/b.json' cannot be the name of an attachment. Use",
        "'' cannot be the name",
        "'json' is not a media type. Write it like 'application/json'",
        "'Source' is not a relationship to the package. Use one of Data, Alternative, Supplement",
    ):
        assert any(words in line for line in told), words
    assert len(told) == 5
    assert not list(tmp_path.glob("*out.pdf*"))
