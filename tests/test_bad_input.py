"""Bad input of every kind: a sentence that says where, what and what to do; nothing lost.

Each row runs the real core on the bad thing and returns the message a person would see: the
text of a CommissionError, the reason of a read-only opening, or the sentence of a verdict.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from builders import TOP, form_of, write_form
from commission.definitions.load import load_form
from commission.definitions.model import Form
from commission.errors import CommissionError
from commission.project import opening
from commission.validation.session import Session

PAGE = """
[[field]]
name = "dry_bulb_f"
label = "Return dry bulb"
unit = "°F"
possible = [-40, 150]
plausible = [50, 100]
[[field]]
name = "wet_bulb_f"
label = "Return wet bulb"
unit = "°F"
possible = [-40, 150]
[[quantity]]
name = "humidity_ratio"
label = "Return humidity ratio"
unit = "lb/lb"
formula = "humidity_ratio_from_wet_bulb(dry_bulb_f, wet_bulb_f, 14.696)"
source = "ASHRAE Handbook, Fundamentals, ch. 1"
[[check]]
name = "humidity_ratio_at_most"
label = "Return humidity ratio"
judges = "humidity_ratio"
limit = "at most"
high = 0.02
basis = "common practice"
[[field]]
name = "leg_amps"
label = "Fan current"
unit = "A"
repeat = "leg"
possible = [0, 1000]
plausible = [1, 200]
[[quantity]]
name = "amps_imbalance"
label = "Fan current imbalance"
unit = "%"
formula = "imbalance_of(leg_amps)"
source = "NEMA MG 1, 14.36"
[[check]]
name = "amps_imbalance_at_most"
label = "Fan current imbalance"
judges = "amps_imbalance"
limit = "at most"
high = 10
basis = "common practice"
[[field]]
name = "lockout"
label = "Lockout applied"
kind = "item"
severity = "stop"
[[field]]
name = "suction_psig"
label = "Suction pressure"
unit = "psig"
possible = [-14.7, 800]
plausible = [20, 300]
[[field]]
name = "started"
label = "Started"
kind = "date"
[[field]]
name = "phases"
label = "Phases"
kind = "choice"
choices = ["1", "3"]
"""
LEGS = '[[repeat]]\nname = "leg"\nlabel = "L{n}"\ncount = "3"\nmaximum = 3\n'


@dataclass
class Site:
    """A small project with one unit, and the folder it lies in."""

    folder: Path
    path: Path
    form: Form
    unit_id: str
    patch: pytest.MonkeyPatch

    def open(self) -> Session:
        return Session.open(self.path, self.form)

    def enter(self, *entries: tuple[str, tuple[int, ...], str]) -> Session:
        session = self.open()
        try:
            for name, index, text in entries:
                session.enter(self.unit_id, name, index, text)
        except CommissionError:
            session.close()
            raise
        return session

    def verdict(self, check: str, *entries: tuple[str, tuple[int, ...], str]) -> str:
        with self.enter(*entries) as session:
            return session.results(self.unit_id).verdict(check).sentence

    def raw(self, statement: str) -> None:
        connection = sqlite3.connect(self.path)
        connection.execute(statement)
        connection.commit()
        connection.close()


@pytest.fixture
def site(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Site:
    form = form_of(PAGE, LEGS)
    path = tmp_path / "school.rtuproject"
    with Session.create(path, form, "Invented school") as session:
        unit_id = session.add_unit("RTU-1").id
        session.enter(unit_id, "suction_psig", (), "118")
    return Site(tmp_path, path, form, unit_id, monkeypatch)


def wrong_form_file(site: Site) -> str:
    text = '[section]\nname = "page"\ntitle = "Page"\n[[field]]\nname = "a"\nlabell = "A"\n'
    load_form(write_form(site.folder / "form", {"cooling.toml": text}))
    return ""


def form_file_that_is_no_toml(site: Site) -> str:
    load_form(write_form(site.folder / "form", {"cooling.toml": "PK\x03\x04 \x00"}))
    return ""


def form_folder_without_a_form(site: Site) -> str:
    load_form(site.folder / "nowhere")
    return ""


def form_that_runs_a_program(site: Site) -> str:
    page = (
        '[section]\nname = "page"\ntitle = "Page"\n[[quantity]]\nname = "a"\nlabel = "A"\n'
        "formula = \"__import__('os').system('true')\"\nsource = \"x\"\n"
    )
    load_form(write_form(site.folder / "form", {"cooling.toml": page}, top=TOP))
    return ""


def newer_project_file(site: Site) -> str:
    site.raw("PRAGMA user_version = 99")
    with site.open() as session:
        assert session.project.read_only
        assert session.results(site.unit_id).value("suction_psig").number == 118
        return f"{session.project.path}: {session.project.read_only_reason}."


def entry_into_a_newer_project_file(site: Site) -> str:
    site.raw("PRAGMA user_version = 99")
    site.enter(("suction_psig", (), "119"))
    return ""


def truncated_project_file(site: Site) -> str:
    whole = site.path.read_bytes()
    site.path.write_bytes(whole[: len(whole) // 2])
    site.open()
    return ""


def empty_project_file(site: Site) -> str:
    site.path.write_bytes(b"")
    site.open()
    return ""


def overwritten_project_file(site: Site) -> str:
    whole = bytearray(site.path.read_bytes())
    whole[4096 : 4096 * 4] = b"\xff" * (4096 * 3)
    site.path.write_bytes(whole)
    site.open()
    return ""


def foreign_file(site: Site) -> str:
    site.path.write_bytes(b"%PDF-1.7\n" + b"0" * 5000)
    site.open()
    return ""


def foreign_database(site: Site) -> str:
    site.path.unlink()
    site.raw("CREATE TABLE music (title TEXT)")
    site.open()
    return ""


def absent_project_file(site: Site) -> str:
    site.path = site.folder / "no such.rtuproject"
    site.open()
    return ""


def project_of_another_form(site: Site) -> str:
    other = write_form(
        site.folder / "form",
        {"p.toml": '[section]\nname = "page"\ntitle = "Page"\n'},
        top=TOP.replace("test_form", "boiler"),
    )
    site.form = load_form(other)
    site.open()
    return ""


def text_in_a_number_field(site: Site) -> str:
    site.enter(("suction_psig", (), "about 120"))
    return ""


def wrong_unit(site: Site) -> str:
    site.enter(("suction_psig", (), "120 V"))
    return ""


def wet_bulb_above_dry_bulb(site: Site) -> str:
    readings = (("dry_bulb_f", (), "75"), ("wet_bulb_f", (), "78"))
    return site.verdict("humidity_ratio_at_most", *readings)


def zero_amps(site: Site) -> str:
    readings = (("leg_amps", (1,), "0"), ("leg_amps", (2,), "0"), ("leg_amps", (3,), "0"))
    return site.verdict("amps_imbalance_at_most", *readings)


def absurd_magnitude(site: Site) -> str:
    site.enter(("suction_psig", (), "118000"))
    return ""


def unbounded_magnitude(site: Site) -> str:
    site.enter(("suction_psig", (), "1e999"))
    return ""


def slip_of_unit(site: Site) -> str:
    with site.open() as session:
        entered = session.enter(site.unit_id, "dry_bulb_f", (), "24")
        assert session.results(site.unit_id).value("dry_bulb_f").number == 24  # kept all the same
        return f"{session.form.by_name['dry_bulb_f'].label}: {entered.understood.warning}"


def choice_that_is_none(site: Site) -> str:
    site.enter(("phases", (), "three"))
    return ""


def date_the_other_way_round(site: Site) -> str:
    site.enter(("started", (), "31/03/2026"))
    return ""


def not_applicable_without_reason(site: Site) -> str:
    site.enter(("suction_psig", (), "n/a"))
    return ""


def folder_that_cannot_be_written(site: Site) -> str:
    # /proc takes no new files, not even from root.
    Session.create(Path("/proc/school.rtuproject"), site.form, "School")
    return ""


def name_that_is_taken(site: Site) -> str:
    Session.create(site.path, site.form, "School")
    return ""


def read_only_folder(site: Site) -> str:
    # Simulated: `os.access` is made to say no, since root may write anywhere.
    access = os.access
    site.patch.setattr(
        opening.os,
        "access",
        lambda path, mode: Path(path) != site.folder and access(path, mode),
    )
    with site.open() as session:
        assert session.results(site.unit_id).value("suction_psig").number == 118
        session.enter(site.unit_id, "suction_psig", (), "119")
    return ""


def full_disk(site: Site) -> str:
    with site.open() as session:
        session.project._connection.execute("PRAGMA max_page_count = 1")  # not below today's size
        results = session.results(site.unit_id)
        try:
            for number in range(10_000):
                last = 100 + number % 50
                session.enter(site.unit_id, "suction_psig", (), str(last))
        except CommissionError as error:
            kept = results.value("suction_psig").number
            with Session.open(_copy(site), site.form) as copy:
                stored = copy.results(site.unit_id).value("suction_psig").number
            assert kept == stored == 100 + (number - 1) % 50
            assert session.can_undo()
            session.project._connection.execute("PRAGMA max_page_count = 1000000")
            session.enter(site.unit_id, "suction_psig", (), "119")  # and work goes on
            assert results.value("suction_psig").number == 119
            return str(error)
    return ""


def _copy(site: Site) -> Path:
    return Path(shutil.copy(site.path, site.folder / "copy.rtuproject"))


def limit_without_origin(site: Site) -> str:
    with site.open() as session:
        session.set_limit(site.unit_id, "amps_imbalance_at_most", (), {"high": 5}, "")
    return ""


def stop_passed_without_a_name(site: Site) -> str:
    with site.open() as session:
        session.override_stop(site.unit_id, "lockout_done", (), "", "in a hurry")
    return ""


TABLE: list[tuple[Callable[[Site], str], tuple[str, ...]]] = [
    # what is done: (where, what, what to do)
    (wrong_form_file, ("cooling.toml, field a", "unknown key 'labell'", "Did you mean 'label'?")),
    (form_file_that_is_no_toml, ("cooling.toml", "cannot be read as TOML")),
    (form_folder_without_a_form, ("rooftop_unit.toml", "no such file in", "nowhere")),
    (form_that_runs_a_program, ("cooling.toml, quantity a", "is not a plain call of a function")),
    (newer_project_file, ("school.rtuproject", "newer program", "install the newer program")),
    (entry_into_a_newer_project_file, ("suction_psig = 119", "NOT", "newer program", "install")),
    (truncated_project_file, ("school.rtuproject", "is cut short", "Restore it from a copy")),
    (empty_project_file, ("school.rtuproject", "is empty (0 bytes)", "Restore it from a copy")),
    (overwritten_project_file, ("school.rtuproject", "is damaged", "Restore it from a copy")),
    (foreign_file, ("school.rtuproject", "is not a project file", "Choose a file that ends in")),
    (foreign_database, ("school.rtuproject", "is not a project file", "Choose a file")),
    (absent_project_file, ("no such.rtuproject", "cannot be read", "Check the name")),
    (project_of_another_form, ("school.rtuproject", "'test_form'", "'boiler'", "Open it with")),
    (text_in_a_number_field, ("Suction pressure", "'about 120' is not a number", "Type digits")),
    (
        wrong_unit,
        ("Suction pressure", "V does not measure what is asked", "Type the number in psig"),
    ),
    (wet_bulb_above_dry_bulb, ("Return humidity ratio", "78 °F is above", "75", "read both again")),
    (zero_amps, ("Fan current imbalance", "cannot be computed", "0")),
    (absurd_magnitude, ("Suction pressure", "118,000 psig cannot be", "Check the number and its")),
    (unbounded_magnitude, ("Suction pressure", "'1e999' is not a number", "Type it like")),
    (slip_of_unit, ("Return dry bulb", "24", "unusual here", "A slip of unit or digit?")),
    (choice_that_is_none, ("Phases", "'three' is none of 1, 3")),
    (date_the_other_way_round, ("Started", "'31/03/2026' is no date", "Type it like 2026-03-31")),
    (not_applicable_without_reason, ("Suction pressure", "needs its reason", "'n/a no port")),
    (folder_that_cannot_be_written, ("/proc/school.rtuproject", "cannot be made there", "Choose")),
    (name_that_is_taken, ("school.rtuproject", "a file of this name already", "Choose another")),
    (read_only_folder, ("suction_psig = 119", "NOT", "cannot be written to")),
    (full_disk, ("suction_psig = ", "NOT kept", "disk")),
    (limit_without_origin, ("Fan current imbalance", "say where the limit comes from")),
    (stop_passed_without_a_name, ("needs a name and a reason",)),
]


@pytest.mark.parametrize(
    ("bad", "fragments"), TABLE, ids=lambda part: getattr(part, "__name__", "")
)
def test_bad_input_gets_a_sentence_and_loses_nothing(
    site: Site, bad: Callable[[Site], str], fragments: tuple[str, ...]
) -> None:
    before = site.path.read_bytes()
    try:
        message = bad(site)
        refused = False
    except CommissionError as error:
        message, refused = str(error), True
    for fragment in fragments:
        assert fragment in message
    assert "Traceback" not in message
    assert message[-1] in ".?'" or message.endswith(")")
    untouched = ("truncated", "empty", "overwritten", "foreign", "newer", "absent")
    if refused and not any(word in bad.__name__ for word in untouched):
        assert_whole(site, before)


def assert_whole(site: Site, before: bytes) -> None:
    """The reading entered at first is still there, and nothing was added."""
    site.patch.undo()
    assert len(site.path.read_bytes()) == len(before)
    with Session.open(site.path, form_of(PAGE, LEGS)) as session:
        assert not session.project.read_only
        history = session.project.history(site.unit_id, "suction_psig")
        assert [reading.value for reading in history] == [118.0]


@pytest.mark.parametrize(
    "bad", [truncated_project_file, overwritten_project_file, foreign_file, foreign_database]
)
def test_a_file_that_is_refused_is_never_written_to(site: Site, bad: Callable[[Site], str]) -> None:
    opened = Session.open
    found: list[bytes] = []

    def spy(path: Path, form: Form) -> Session:
        found.append(path.read_bytes())
        return opened(path, form)

    site.patch.setattr(Session, "open", spy)
    with pytest.raises(CommissionError):
        bad(site)
    assert site.path.read_bytes() == found[0]


def test_every_kind_of_bad_input_of_the_issue_is_in_the_table() -> None:
    names = " ".join(bad.__name__ for bad, _ in TABLE)
    for word in (
        "wrong_form_file", "newer_project_file", "truncated", "foreign", "text_in_a_number",
        "wet_bulb_above", "zero_amps", "absurd", "slip_of_unit", "read_only_folder", "full_disk",
    ):  # fmt: skip
        assert word in names
