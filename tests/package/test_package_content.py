"""What a package says: stops and overrides first, every value, what is not there and why."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from commission.definitions.model import Form
from commission.errors import OutputError
from commission.package import write_package
from commission.project import ProjectFile
from commission.validation.site import site_results
from package.invented_project import fill, new_project
from package.reading_pdf import outline, page_texts, row_of, run_together, told_by

Written = Callable[..., list[str]]


@pytest.fixture(scope="session")
def texts(small_package: Path) -> list[str]:
    return page_texts(small_package)


@pytest.fixture(scope="session")
def told(small_package: Path) -> list[str]:
    return told_by(small_package)


@pytest.fixture
def written(small_project: ProjectFile, small_form: Form, tmp_path: Path) -> Written:
    """Return a function that writes the project as it stands by then and reads the PDF."""

    def write(**options: object) -> list[str]:
        path = tmp_path / "changed.pdf"
        site = site_results(small_project, small_form)
        return page_texts(write_package(site, path, **options))  # type: ignore[arg-type]

    return write


def test_the_first_page_tells_the_stop_passed_over_with_name_and_reason(texts: list[str]) -> None:
    for words in ("1 stop", "Ben Oar", "temporary guard", "Lockout applied"):
        assert words in texts[0]


def test_the_first_page_says_which_form_and_program_made_it(
    small_project: ProjectFile, small_form: Form, written: Written
) -> None:
    first = written()[0]
    revision = f"revision {small_project.revision}"
    for words in (small_form.id, small_form.content_hash, "CoolProp", "commission", revision):
        assert words in first


def test_a_stop_that_nobody_passed_over_forbids_running(
    small_project: ProjectFile, written: Written
) -> None:
    small_project.remove_override(small_project.overrides()[0].id)
    texts = written()
    assert "Do not run: RTU-1." in texts[0]
    assert "No stop was passed over." in texts[0]
    assert "Do not run" in texts[1]


def test_as_found_and_as_left_both_stand_with_both_verdicts(texts: list[str]) -> None:
    row = row_of(texts, "Deviation from rated voltage")
    assert "−12.7" in row
    assert "−2.5" in row
    assert any("(as found: fail)" in text for text in texts)
    assert any("Put right since it was found: Supply voltage near rated" in t for t in texts)


def test_a_third_pass_has_a_column_of_its_own(small_project: ProjectFile, written: Written) -> None:
    unit = small_project.units()[0].id
    small_project.record(unit, "supply_v", (), 455.1, pass_name="retest 1")
    texts = written()
    row = row_of(texts, "Supply voltage").split()
    assert [word for word in row if word in ("401.5", "448.4", "455.1")] == [
        "401.5",
        "448.4",
        "455.1",
    ]
    assert any("Retest 1" in text for text in texts)


def test_shown_work_gives_symbols_numbers_and_result(told: list[str]) -> None:
    joined = "".join(told)
    assert run_together("58.2 °F − 46.1 °F = 12.1 Δ°F") in joined
    assert run_together("100 × (448.4 V − 460 V) / 460 V = −2.5 %") in joined


def test_a_failure_has_its_sentence_and_cure_on_its_page_and_among_the_first(
    told: list[str],
) -> None:
    sentence = run_together("12.1 Δ°F is above the high limit 11.5 Δ°F by 0.6.")
    cure = run_together("Look at charge and airflow first.")
    assert len([page for page in told if sentence + cure in page]) == 2


def test_a_default_limit_is_marked_and_listed(texts: list[str]) -> None:
    assert any("−10.0 to 10.0 % †" in text for text in texts)
    decisions = next(text for text in texts if "How the verdicts were decided\n" in text)
    assert "k=2(about95%)" in run_together(decisions)
    listed = next(text for text in texts if "2 defaults. Confirm each" in text)
    assert "Default limits not confirmed" in listed
    assert "at most 40.0 A" in row_of([listed], "Compressor amps, each leg")


def test_a_confirmed_default_is_not_marked(small_project: ProjectFile, written: Written) -> None:
    unit = small_project.units()[0].id
    small_project.set_limit(unit, "deviation_small", (), {}, confirmed=True)
    assert not any("−10.0 to 10.0 % †" in text for text in written())


def test_unanswered_readings_are_listed_as_not_recorded(texts: list[str]) -> None:
    page = next(text for text in texts if "0 readings" in text or "No readings" in text)
    told = run_together(page)
    labels = "Lockout applied; Circuits; Supply voltage; Rated voltage."
    assert run_together(f"Not recorded: {labels}") in told
    assert run_together("Not recorded, not required: Remark.") in told


def test_not_applicable_comes_with_its_reason(small_project: ProjectFile, written: Written) -> None:
    unit = small_project.units()[0].id
    small_project.record(
        unit, "supply_v", (), None, not_applicable="fed by a drive", pass_name="as left"
    )
    assert any("Supply voltage: fed by a drive" in text for text in written())


def test_an_instrument_past_due_on_the_day_is_marked(texts: list[str]) -> None:
    page = next(text for text in texts if "Serial no." in text)
    assert "▲ past due on" in page
    assert "1 instrument used past the day its calibration was due." in page


def test_instruments_uncertainty_and_note_stand_with_the_reading(
    texts: list[str], told: list[str]
) -> None:
    row = row_of(texts, "Supply voltage")
    assert "I-1" in row
    # 0.5 % of 448.4 V as a rectangular limit with k = 2 (GUM 4.3.7): 2 · 2.242 V / √3
    assert "±2.6" in row
    assert "Supplyvoltage:gusty" in "".join(told)


def test_deficiency_people_photo_and_sign_off_are_there(texts: list[str]) -> None:
    joined = "".join(texts)
    for words in ("Circuit 2 short of charge", "L-77", "Meter on L1", "Accepted by", "“As read.”"):
        assert words in joined


def test_deficiency_names_its_verdict_or_reading_and_the_member(
    small_project: ProjectFile, small_form: Form, written: Written
) -> None:
    unit = small_project.units()[0].id
    small_project.add_deficiency(unit, "Leg two runs hot", check="amps_a", index=(1, 2))
    small_project.add_deficiency("", "No site plan", check="site_name")
    told = run_together("".join(written()))
    labels = {name: entry.label for name, entry in small_form.by_name.items()}
    assert run_together(f"Check: {labels['superheat_in_range']}, Circuit 2") in told
    assert run_together(f"Reading: {labels['amps_a']}, Circuit 1") in told
    assert run_together(f"Reading: {labels['site_name']}") in told


def test_readings_changed_after_a_signature_are_told(
    small_project: ProjectFile, written: Written
) -> None:
    assert not any("have changed since." in text for text in written())
    small_project.record(small_project.units()[0].id, "rated_v", (), 480.0)
    assert any("have changed since." in text for text in written())


def test_cautions_and_what_is_deferred_to_are_told(told: list[str]) -> None:
    pages = [page for page in told if "Itdoesnotreplacetheunit'sownliterature" in page]
    assert pages[0] == told[0]
    assert "Energisedwork." in pages[-1]


def test_one_unit_can_be_chosen(written: Written) -> None:
    texts = written(units=["rtu-1"])
    assert "1 unit covered" in texts[0]
    assert not any("RTU-2" in text for text in texts)


def test_a_unit_that_is_not_there_is_refused_with_the_near_miss(written: Written) -> None:
    with pytest.raises(OutputError, match=r"no unit 'RTU-3'.*RTU-1, RTU-2"):
        written(units=["RTU-3"])


def test_si_shows_converted_values_and_uncertainty_on_a4(
    small_project: ProjectFile, written: Written, tmp_path: Path
) -> None:
    small_project.set_setting("unit_system", "SI")
    texts = written()
    joined = run_together("".join(texts))
    assert run_together("6.722") in joined
    assert run_together("12.1 Δ°F = 6.722 K") in joined
    assert run_together("= 6.722 K = 6.722 K") not in joined
    assert "Shown work, in IP units" in "".join(texts)


# -- what people type ----------------------------------------------------------------------

NASTY = "<b>&amp; <font color='red'>x</font> </para> <!-- %s {0} \\n ]]> ™ <a href='x'>y</a>"


def test_markup_in_what_people_type_is_printed_as_typed(small_form: Form, tmp_path: Path) -> None:
    with new_project(tmp_path / "nasty.rtuproject", small_form, title=NASTY) as project:
        fill(project)
        unit = project.add_unit("<i>T&1</i>").id
        project.record(unit, "remark", (), NASTY)
        project.record(unit, "locked_out", (), "not done", note=NASTY)
        project.add_deficiency(unit, NASTY, requirement=NASTY, owner=NASTY)
        project.add_override(unit, "locked_out_done", person_name=NASTY, reason=NASTY)
        project.add_person(NASTY, NASTY)
        path = write_package(site_results(project, small_form), tmp_path / "nasty.pdf")
    joined = run_together("".join(page_texts(path)))
    assert joined.count(run_together(NASTY)) >= 6
    assert any(title == "<i>T&1</i>" for _, title, _ in outline(path))


def test_a_very_long_text_is_printed_whole(small_form: Form, tmp_path: Path) -> None:
    long_text = " ".join(f"word{number}" for number in range(4000))
    with new_project(tmp_path / "long.rtuproject", small_form) as project:
        fill(project)
        unit = project.units()[1].id
        project.record(unit, "remark", (), long_text)
        project.add_override(unit, "locked_out_done", person_name="Ben", reason="x" * 9000)
        path = write_package(site_results(project, small_form), tmp_path / "long.pdf")
    joined = "".join(page_texts(path))
    assert all(f"word{number}" in joined for number in range(4000))
    assert joined.count("x") > 18_000  # on the cover and in the list


def test_an_empty_project_still_gives_a_package(small_form: Form, tmp_path: Path) -> None:
    with new_project(tmp_path / "empty.rtuproject", small_form, title="") as project:
        path = write_package(site_results(project, small_form), tmp_path / "empty.pdf")
    texts = page_texts(path)
    assert "No stops, no failures" in texts[0]
    assert "No unit has been added yet." in texts[1]


def test_many_circuits_stand_a_row_each(small_form: Form, tmp_path: Path) -> None:
    with new_project(tmp_path / "many.rtuproject", small_form) as project:
        unit = project.add_unit("RTU-9").id
        project.record(unit, "circuits", (), 12.0)
        for circuit in range(1, 13):
            project.record(unit, "suction_line_f", (circuit,), 50.0 + circuit)
            project.record(unit, "dew_point_f", (circuit,), 40.0)
        path = write_package(site_results(project, small_form), tmp_path / "many.pdf")
    texts = page_texts(path)
    for circuit in range(1, 13):
        values = row_of(texts, f"Circuit {circuit}").split()
        assert values[2:] == [f"{50.0 + circuit:.1f}", "40.0", f"{10.0 + circuit:.1f}"]
    assert "and10moreinthesameway" in "".join(told_by(path))


def test_the_program_that_reads_it_back_is_there() -> None:
    assert all(shutil.which(name) for name in ("qpdf", "pdffonts", "pdftotext"))


def test_signs_that_the_face_does_not_have_stop_nothing(small_form: Form, tmp_path: Path) -> None:
    typed = "温度 😀 \u202e עברית \u00a0 a\tb"
    with new_project(tmp_path / "signs.rtuproject", small_form, title=typed) as project:
        fill(project)
        project.record(project.units()[0].id, "remark", (), f"{typed} end of remark")
        path = write_package(site_results(project, small_form), tmp_path / "signs.pdf")
    assert any("end of remark" in text for text in page_texts(path))
