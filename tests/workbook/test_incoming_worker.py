"""The process that reads files from outside: its limits hold, and a broken one is replaced."""

from __future__ import annotations

import os
import time
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path

import openpyxl
import pytest

from commission.errors import IncomingFileError
from commission.validation.site import SiteResults
from commission.workbook import write_workbook
from commission.workbook.incoming import admit, tables
from commission.workbook.incoming_tables import Formula, Unread
from commission.workbook.incoming_worker import (
    IncomingCancelled,
    IncomingWorker,
    WorkerLimits,
    read_tables,
)
from workbook.mutations import MOST_BYTES, MOST_SECONDS, read_many

# The full count is run by hand: python tests/workbook/mutations.py --count 20000 BOOK...
COUNT = int(os.environ.get("COMMISSION_MUTATIONS", "60"))


def sleep(_path: Path) -> None:
    time.sleep(60)


def grow(_path: Path) -> int:
    held = [bytes(range(256)) * 40_000 for _ in range(200)]
    return len(held)


def end(_path: Path) -> None:
    os._exit(3)


def hold_on(_path: Path) -> None:
    raise RecursionError("too deep")


def answer(_path: Path, number: int) -> int:
    return number


@pytest.fixture(scope="module")
def worker() -> Iterator[IncomingWorker]:
    limits = WorkerLimits(memory_bytes=300_000_000, seconds=8, seconds_per_mb=0)
    with IncomingWorker(limits) as made:
        yield made


@pytest.mark.parametrize(
    ("task", "words"),
    [
        (sleep, "took more than the 8 s"),
        (grow, "needs more than 300 MB of memory"),
        (end, r"broke off \(code 3\)"),
        (hold_on, "damaged inside .RecursionError: too deep"),
    ],
)
def test_what_breaks_the_process_is_a_sentence_and_the_next_file_is_read(
    worker: IncomingWorker, tmp_path: Path, task: Callable[[Path], object], words: str
) -> None:
    with pytest.raises(IncomingFileError, match=words) as fault:
        worker.run(tmp_path / "a.xlsx", task)
    assert str(fault.value).startswith(f"{tmp_path / 'a.xlsx'}: ")
    assert worker.run(tmp_path / "a.xlsx", answer, 7) == 7


def test_cancel_ends_it_at_once(tmp_path: Path) -> None:
    with IncomingWorker() as worker:
        worker.run(tmp_path, answer, 1)
        began = time.monotonic()
        with pytest.raises(IncomingCancelled, match="cancelled"):
            worker.run(tmp_path, sleep, cancelled=lambda: time.monotonic() > began + 0.3)
        assert time.monotonic() < began + 20


def test_plain_cells_are_those_that_openpyxl_reads(
    tmp_path: Path, site: Callable[[], SiteResults]
) -> None:
    path = write_workbook(site(), tmp_path / "site.xlsx")
    ours = {sheet.title: sheet for sheet in tables(admit(path)).sheets}
    book = openpyxl.load_workbook(path)
    assert list(ours) == book.sheetnames
    cells = 0
    for sheet in book.worksheets:
        for cell in (cell for row in sheet for cell in row if cell.value not in (None, "")):
            value = ours[sheet.title].value(cell.row, cell.column)
            if cell.data_type == "f":
                assert isinstance(value, Formula)
                assert f"={value}" == cell.value
            else:
                assert value == cell.value
            cells += 1
    assert cells == sum(len(row) for sheet in ours.values() for row in sheet.rows.values()) > 500


def test_every_kind_of_cell_and_the_value_kept_for_a_formula(tmp_path: Path) -> None:
    from datetime import date, datetime
    from datetime import time as time_of_day

    book = openpyxl.Workbook()
    sheet = book.active
    values = [
        1, 2.5, "text", True, datetime(2026, 9, 14, 10, 5), date(2026, 9, 14),
        time_of_day(10, 15), "=1+1", "#N/A", " blank ", "x" * 32_767, "'=quoted", "A1", "XFD1",
    ]  # fmt: skip
    for row, value in enumerate(values, start=1):
        sheet.cell(row, 2).value = value
    sheet["B9"].data_type = "e"
    book.save(tmp_path / "kinds.xlsx")
    (read,) = read_tables(tmp_path / "kinds.xlsx").sheets
    found = [read.value(row, 2) for row in range(1, len(values) + 1)]
    assert found == [
        1.0, 2.5, "text", "TRUE", datetime(2026, 9, 14, 10, 5), datetime(2026, 9, 14),
        time_of_day(10, 15), "1+1", "#N/A", " blank ", "x" * 32_767, "'=quoted", "A1", "XFD1",
    ]  # fmt: skip
    assert [type(found[place]) for place in (3, 7, 8)] == [Unread, Formula, Unread]
    assert (read.last_row, read.last_column, read.text(6, 2)) == (14, 2, "2026-09-14")
    (computed,) = read_tables(tmp_path / "kinds.xlsx", computed=True).sheets
    assert computed.value(8, 2) is None  # openpyxl keeps no value with a formula


def ods(path: Path, content: str, kind: str = "application/vnd.oasis.opendocument.spreadsheet"
        ) -> Path:  # fmt: skip
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("mimetype", kind)
        archive.writestr("content.xml", content)
    return path


HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?><o:document-content '
    'xmlns:o="urn:oasis:names:tc:opendocument:xmlns:office:1.0" '
    'xmlns:t="urn:oasis:names:tc:opendocument:xmlns:table:1.0" '
    'xmlns:x="urn:oasis:names:tc:opendocument:xmlns:text:1.0"><o:body><o:spreadsheet>'
)
TAIL = "</o:spreadsheet></o:body></o:document-content>"


def sheet_of(rows: str) -> str:
    return f'{HEAD}<t:table t:name="One">{rows}</t:table>{TAIL}'


def test_an_open_document_sheet(tmp_path: Path) -> None:
    rows = (
        '<t:table-row><t:table-cell t:number-columns-repeated="2"/>'
        '<t:table-cell o:value-type="float" o:value="2.5" t:number-columns-repeated="2"/>'
        '<t:table-cell o:value-type="string"><o:annotation><x:p>aside</x:p></o:annotation>'
        '<x:p>a<x:s x:c="2"/>b</x:p><x:p>c</x:p></t:table-cell></t:table-row>'
        '<t:table-row t:number-rows-repeated="1048000"><t:table-cell/></t:table-row>'
        "<t:table-row><t:table-cell t:formula=\"of:=SUM([.C1];[$'It''s'.$D$1:.$E$2])\" "
        'o:value-type="float" o:value="5"/></t:table-row>'
    )
    with pytest.raises(IncomingFileError, match="reaches to row 1,048,002"):
        tables(admit(ods(tmp_path / "a.ods", sheet_of(rows))))
    near = rows.replace("1048000", "3")
    (sheet,) = tables(admit(ods(tmp_path / "a.ods", sheet_of(near)))).sheets
    assert sheet.rows == {1: {3: 2.5, 4: 2.5, 5: "a  b\nc"}, 5: {1: "SUM(C1,'It''s'!$D$1:$E$2)"}}
    (kept,) = tables(admit(tmp_path / "a.ods"), computed=True).sheets
    assert kept.value(5, 1) == 5.0


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ('<t:table-row t:number-rows-repeated="900000"><t:table-cell o:value-type="float" '
         'o:value="1"/></t:table-row>', "900,000 times over"),
        ('<t:table-row><t:table-cell o:value-type="float" o:value="1" '
         't:number-columns-repeated="16384"/></t:table-row>', "16,384 times over"),
        ('<t:table-row><t:table-cell o:value-type="float"/></t:table-row>', "damaged inside"),
        ("<t:table/>", "a table within a table"),
        (f'<x:p a="{"y" * 5_000_000}"/>', "one tag or text of more than|inflates more than"),
    ],
)  # fmt: skip
def test_hostile_open_documents(tmp_path: Path, rows: str, words: str) -> None:
    with pytest.raises(IncomingFileError, match=words):
        tables(admit(ods(tmp_path / "a.ods", sheet_of(rows))))


def test_elements_within_elements_without_end_are_read(tmp_path: Path) -> None:
    deep = sheet_of("<x:p>" * 30_000 + "</x:p>" * 30_000)
    (sheet,) = read_tables(ods(tmp_path / "a.ods", deep)).sheets
    assert sheet.rows == {}


def test_open_documents_that_are_refused_at_the_gate(tmp_path: Path) -> None:
    path = tmp_path / "a.ods"
    with pytest.raises(IncomingFileError, match="but no spreadsheet"):
        admit(ods(path, "<x/>", "application/vnd.oasis.opendocument.text"))
    with pytest.raises(IncomingFileError, match="declares XML entities"):
        admit(ods(path, '<!DOCTYPE x [<!ENTITY y "z">]><x>&y;</x>'))
    ods(path, sheet_of(""))
    with zipfile.ZipFile(path, "a") as archive:
        archive.writestr("Basic/Standard/Module1.xml", "<x/>")
    with pytest.raises(IncomingFileError, match="holds macros"):
        admit(path)


def test_the_memory_told_is_the_process_s_own_and_not_the_program_s(tmp_path: Path) -> None:
    """A system may hand the starting process's figure on to the one it starts."""
    held = b"x" * 400_000_000
    with IncomingWorker() as fresh:
        assert fresh.run(tmp_path, answer, len(held)) == len(held)
        assert 0 < fresh.peak_bytes < len(held) * 0.75


def test_mutated_files_end_in_a_sentence_or_are_read(
    tmp_path: Path, site: Callable[[], SiteResults]
) -> None:
    book = write_workbook(site(), tmp_path / "site.xlsx")
    outcome = read_many([book], range(COUNT), tmp_path)
    print("\n".join(outcome.lines()))
    assert not outcome.faults
    assert outcome.counts["read"] + outcome.counts["refused"] == COUNT
    assert min(outcome.counts["read"], outcome.counts["refused"]) > 0
    assert outcome.peak_bytes < MOST_BYTES
    assert outcome.longest < MOST_SECONDS
