"""The file a package is: sound, fonts embedded, outline, labels, links and contents right."""

from __future__ import annotations

import re
from pathlib import Path

import pikepdf

from package.reading_pdf import link_targets, outline, page_texts, tool


def test_qpdf_finds_nothing_wrong(small_package: Path) -> None:
    assert "No syntax or stream encoding errors found" in tool("qpdf", "--check", small_package)


def test_all_fonts_are_embedded_subsets_with_text_mapping(small_package: Path) -> None:
    rows = tool("pdffonts", small_package).splitlines()[2:]
    assert rows
    for row in rows:
        name, embedded, subset, mapped = row.split()[0], *row.split()[-5:-2]
        assert "DejaVuSans" in name
        assert (embedded, subset, mapped) == ("yes", "yes", "yes"), row


def test_page_labels_agree_with_the_numbers_printed(small_package: Path) -> None:
    with pikepdf.open(small_package) as pdf:
        labels = [page.label for page in pdf.pages]
    assert labels[0] == "Cover"
    assert labels[1:] == [str(number) for number in range(2, len(labels) + 1)]


def test_each_page_says_its_number_and_the_count(small_package: Path) -> None:
    texts = page_texts(small_package)
    for number, text in enumerate(texts, 1):
        assert f"Page {number} of {len(texts)}" in text


def test_outline_leads_to_the_pages_that_bear_the_titles(small_package: Path) -> None:
    texts = page_texts(small_package)
    entries = outline(small_package)
    titles = [title for _, title, _ in entries]
    for expected in ("Summary for the owner", "RTU-1", "Electrical supply", "Sign-off"):
        assert expected in titles
    for _, title, page in entries:
        assert title in texts[page - 1], (title, page)
    assert max(depth for depth, *_ in entries) >= 1


def test_contents_give_the_page_on_which_each_part_begins(small_package: Path) -> None:
    contents = next(text for text in page_texts(small_package) if "Contents\n" in text)
    starts = {title: page for depth, title, page in outline(small_package) if depth == 0}
    for title in ("Stops, failures and undecided results", "Deficiency log", "Instruments"):
        match = re.search(rf"^{re.escape(title)}\s+(\d+)$", contents, re.MULTILINE)
        assert match, title
        assert int(match[1]) == starts[title]
    overview = re.search(r"^Overview of the unit\s+(\d+)\s+(\d+)$", contents, re.MULTILINE)
    assert overview
    assert [int(number) for number in overview.groups()] == [starts["RTU-1"], starts["RTU-2"]]


def test_contents_give_the_page_of_each_units_pages(small_package: Path) -> None:
    contents = next(text for text in page_texts(small_package) if "Contents\n" in text)
    pages = [page for _, title, page in outline(small_package) if title == "Electrical supply"]
    match = re.search(r"^Electrical supply\s+(\d+)\s+(\d+)$", contents, re.MULTILINE)
    assert match
    assert [int(number) for number in match.groups()] == pages


def test_every_link_leads_to_a_page_of_the_file(small_package: Path) -> None:
    with pikepdf.open(small_package) as pdf:
        pages = {page.objgen for page in pdf.pages}
        targets = [target[0].objgen for target in link_targets(pdf)]
    assert len(targets) > 20
    assert set(targets) <= pages


def test_title_author_language_and_dates_are_the_projects(
    small_package: Path,
) -> None:
    with pikepdf.open(small_package) as pdf:
        assert str(pdf.docinfo["/Title"]) == "Invented yard – turnover package"
        assert str(pdf.docinfo["/Author"]) == "Ada Quill"
        assert str(pdf.docinfo["/CreationDate"]).startswith("D:20260914")
        assert str(pdf.Root.Lang) == "en-US"


def test_nothing_runs_off_the_page(small_package: Path) -> None:
    """Every word's box lies within the side margins and above the foot (pdftotext -bbox)."""
    boxes = re.findall(
        r'<word xMin="([\d.]+)" yMin="([\d.]+)" xMax="([\d.]+)" yMax="([\d.]+)"',
        tool("pdftotext", "-bbox", small_package, "-"),
    )
    assert len(boxes) > 300
    for box in boxes:
        left, top, right, bottom = map(float, box)
        assert left >= 47.5, box
        assert right <= 612 - 47.5, box
        assert 20 <= top <= bottom <= 792 - 20, box
