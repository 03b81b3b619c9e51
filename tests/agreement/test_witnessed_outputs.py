"""Witnessed readings: workbook and package tell the same lines, those worked out by hand.

The bounds are those of JCGM 100:2008, 4.3.7 and 6.2.1: two half-widths a and b of equal
likelihood, U = 2 sqrt(a^2 / 3 + b^2 / 3); E_n = |x - X| / U (ISO 13528).
"""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from openpyxl import load_workbook

from commission.definitions.model import Key
from commission.package.write import write_package
from commission.validation.session import Session
from commission.validation.witness_entry import draw_for
from commission.workbook import write_workbook
from package.reading_pdf import outline, run_together, told_by
from witnessed_site import WitnessedSite, witnessed_form


@pytest.fixture
def site(tmp_path: Path):
    form = witnessed_form(tmp_path)
    with Session.create(tmp_path / "site.rtuproject", form, "Site") as session:
        made = WitnessedSite(session)
        project = session.project
        first = project.add_instrument("multimeter", unit="V", plus_minus=1.5).id
        second = project.add_instrument("multimeter", unit="V", plus_minus=2.0).id
        session.refresh()
        for member, recorded in ((1, "460"), (2, "462"), (3, "455")):
            session.enter(made.unit, "supply_v", (member,), recorded, first)
        draw_for(session, made.unit, 1.0)
        made.witness_reads("462", second)  # 2.0 of 2.8868 V: they agree
        made.witness_reads("467", second, Key("supply_v", (2,)))  # 5.0 V apart: they differ
        yield made


BOUND = 2 * math.sqrt(1.5**2 / 3 + 2.0**2 / 3)


SAMPLE = "Sample 1: 100 % of 3 readings"
STANDS = "2 of 3 witnessed: 1 agree, 1 differ, 0 undecided."


def test_the_sheet_tells_each_line(site: WitnessedSite, tmp_path: Path) -> None:
    book = load_workbook(write_workbook(site.session.site(), tmp_path / "site.xlsx"))
    rows = list(book["Witnessed"].iter_rows(min_row=5, values_only=True))
    stands, first, second, third = rows
    assert stands[0] == "RTU-1"
    assert stands[1].startswith(SAMPLE) and stands[1].endswith(STANDS)
    at_most, e_number = f"{BOUND:.2f} V", f"{2 / BOUND:.2f}"
    assert first[1:8] == (
        *("Supply voltage, L1-L2", "yes", "460 V", "as found", "Ada Rowan"),
        *("462 V", "Ben Hollis"),
    )
    assert first[9:13] == ("2 V", at_most, e_number, "agrees")
    assert second[9:13] == ("5 V", at_most, f"{5 / BOUND:.2f}", "differs")
    assert third[6] == "not yet"
    assert third[12] == "to be witnessed"


def test_the_package_tells_each_line(site: WitnessedSite, tmp_path: Path) -> None:
    pdf = write_package(site.session.site(), tmp_path / "site.pdf")
    (page,) = [text for text in told_by(pdf) if run_together("Sample 1: 100 %") in text]
    assert run_together(STANDS) in page
    at_most = f"{BOUND:.2f}V"
    for line in (
        "L1-L2 460 V, as found Ada Rowan, I-3 462 V Ben Hollis, I-4",
        f"2 V {at_most} ✓ agrees Supply voltage, L2-L3",
        f"5 V {at_most} ✗ differs Supply voltage, L3-L1",
        "not yet · to be witnessed",
    ):
        assert run_together(line) in page
    assert "Witnessed readings" in {title for _, title, _ in outline(pdf)}
