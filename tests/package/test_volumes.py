"""A site of many units: packages in volumes, and an index that says where each unit stands."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pikepdf
import pytest

from commission.__main__ import main
from commission.definitions.model import Form
from commission.errors import OutputError
from commission.package import Attachment, write_package, write_packages
from commission.project import ProjectFile
from commission.validation.site import site_results
from package.reading_pdf import outline, page_texts, run_together, told_by, tool
from workbook.sample_site import fill, new_project
from workbook.small_form import ANSWERS, small_form

TAGS = [f"RTU-{number}" for number in range(1, 6)]


@pytest.fixture(scope="module")
def form(tmp_path_factory: pytest.TempPathFactory) -> Form:
    return small_form(tmp_path_factory.mktemp("form"))


@pytest.fixture
def project(tmp_path: Path, form: Form) -> Iterator[ProjectFile]:
    """Five units, of which the last has nothing answered."""
    with new_project(tmp_path / "many.rtuproject", form) as made:
        fill(made, form, "", ANSWERS)
        for seed, tag in enumerate(TAGS):
            unit = made.add_unit(tag)
            if tag != TAGS[-1]:
                fill(made, form, unit.id, ANSWERS, seed)
        yield made


def test_each_volume_covers_its_units_and_says_which_it_is(
    project: ProjectFile, form: Form, tmp_path: Path
) -> None:
    written = write_packages(project, form, tmp_path / "site.pdf", per_volume=2)
    assert [path.name for path in written.volumes] == [
        f"site.volume-{number}.pdf" for number in (1, 2, 3)
    ]
    covered: list[str] = []
    for number, volume in enumerate(written.volumes, 1):
        cover = run_together(page_texts(volume)[0])
        assert run_together(f"Volume {number} of 3:") in cover
        assert run_together("All units: site.pdf.") in cover
        tool("qpdf", "--check", volume)
        headings = {title.split(",")[0] for _, title, _ in outline(volume)}
        covered += [tag for tag in TAGS if tag in headings]
    assert covered == TAGS
    assert not list(tmp_path.glob(".*"))  # nothing is left of the way there


def test_the_index_names_every_unit_with_its_standing_and_volume(
    project: ProjectFile, form: Form, tmp_path: Path
) -> None:
    written = write_packages(project, form, tmp_path / "site.pdf", per_volume=2)
    told = "".join(told_by(written.path))
    assert "Turnoverpackagein3volumes:5units." in told
    for volume in written.volumes:
        assert volume.name in told
    site = site_results(project, form)
    for unit in site.units:
        verdicts = [v for section in unit.sections() for v in unit.verdicts(section)]
        counts = "".join(
            str(sum(v.outcome == outcome for v in verdicts))
            for outcome in ("pass", "fail", "inconclusive", "missing")
        )
        stops = sum(v.stops for v in verdicts)
        row = told[told.index(unit.tag) :].partition("RTU-")[2]
        assert f"{counts}{stops}" in row
    with pikepdf.open(written.path) as pdf:
        assert "/StructTreeRoot" in pdf.Root


def test_a_volume_holds_what_a_package_of_its_units_holds(
    project: ProjectFile, form: Form, tmp_path: Path
) -> None:
    written = write_packages(project, form, tmp_path / "site.pdf", per_volume=3)
    part = site_results(project, form, project.units()[:2])
    alone = write_package(part, tmp_path / "alone.pdf")
    pages, others = told_by(written.volumes[0]), told_by(alone)
    assert pages[1:] == others[1:]  # the cover alone differs


def test_few_units_are_one_file_and_the_same_bytes(
    project: ProjectFile, form: Form, tmp_path: Path
) -> None:
    written = write_packages(project, form, tmp_path / "site.pdf", per_volume=5)
    assert written.volumes == ()
    alone = write_package(site_results(project, form), tmp_path / "alone.pdf")
    assert written.path.read_bytes() == alone.read_bytes()
    first = write_packages(project, form, tmp_path / "a.pdf", per_volume=2)
    again = write_packages(project, form, tmp_path / "b.pdf", per_volume=2)
    volume = first.volumes[1].read_bytes().replace(b"a.pdf", b"b.pdf")
    assert len(volume) == len(again.volumes[1].read_bytes())


def test_what_is_embedded_belongs_to_the_volume(
    project: ProjectFile, form: Form, tmp_path: Path
) -> None:
    def embedding(units) -> list[Attachment]:
        tags = ",".join(unit.tag for unit in units)
        return [Attachment("units.txt", "text/plain", "Data", tags, tags.encode())]

    written = write_packages(
        project, form, tmp_path / "site.pdf", per_volume=2, attachments_of=embedding
    )
    held = []
    for volume in written.volumes:
        with pikepdf.open(volume) as pdf:
            held.append(pdf.attachments["units.txt"].get_file().read_bytes().decode())
    assert ",".join(held) == ",".join(TAGS)


def test_a_cancelled_or_impossible_set_leaves_the_older_one(
    project: ProjectFile, form: Form, tmp_path: Path
) -> None:
    class CancelledError(Exception):
        pass

    path = tmp_path / "site.pdf"
    before = write_packages(project, form, path, per_volume=2)
    contents = [file.read_bytes() for file in (path, *before.volumes)]
    project.add_unit("RTU-6")

    def cancel(done: int, total: int, what: str) -> None:
        if what.startswith("Volume 2"):
            raise CancelledError

    with pytest.raises(CancelledError):
        write_packages(project, form, path, cancel, per_volume=2)
    assert [file.read_bytes() for file in (path, *before.volumes)] == contents
    with pytest.raises(OutputError, match="cannot be written"):
        write_packages(project, form, tmp_path / "nowhere" / "site.pdf", per_volume=2)
    with pytest.raises(OutputError, match="at least 1"):
        write_packages(project, form, path, per_volume=0)
    assert [one.name for one in write_packages(project, form, path).left_over] == [
        volume.name for volume in before.volumes
    ]


def test_progress_counts_over_all_volumes(project: ProjectFile, form: Form, tmp_path: Path) -> None:
    seen: list[tuple[int, int, str]] = []
    write_packages(
        project, form, tmp_path / "site.pdf", lambda *told: seen.append(told), per_volume=2
    )
    done = [told[0] for told in seen]
    assert done == sorted(done)
    assert all(told[0] <= told[1] for told in seen)
    assert {told[2].split(":")[0] for told in seen} == {f"Volume {n} of 3" for n in (1, 2, 3)}


def test_the_command_writes_volumes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "three.rtuproject"
    asked = ["new", str(path), *(word for tag in TAGS[:3] for word in ("--unit", tag))]
    assert main(asked) == 0
    assert main(["package", str(path), "--per-volume", "2"]) == 0
    told = "".join(capsys.readouterr())
    assert "the index of 2 volumes beside it (three.volume-1.pdf" in told
    assert main(["package", str(path), "--per-volume", "0"]) == 2
