"""Writing: the same bytes for the same project, cancelling, and folders that refuse."""

from __future__ import annotations

import errno
from pathlib import Path

import pytest

from commission.definitions.model import Form
from commission.errors import OutputError
from commission.package import write, write_package
from commission.validation.site import SiteResults, site_results
from package.invented_project import fill, new_project
from package.reading_pdf import page_texts


class CancelledError(Exception):
    """What a window raises from the progress callback."""


def cancel_at(step: int):
    def progress(done: int, total: int, what: str) -> None:
        if done >= step:
            raise CancelledError(what)

    return progress


def test_two_writes_give_the_same_bytes(small_site: SiteResults, tmp_path: Path) -> None:
    first = write_package(small_site, tmp_path / "a.pdf").read_bytes()
    assert write_package(small_site, tmp_path / "b.pdf").read_bytes() == first


def test_the_same_entries_in_another_file_give_the_same_text(
    small_form: Form, tmp_path: Path
) -> None:
    packages = []
    for name in ("one", "two"):
        with new_project(tmp_path / f"{name}.rtuproject", small_form) as project:
            fill(project)
            path = write_package(site_results(project, small_form), tmp_path / f"{name}.pdf")
            # The file's own uuid is random and stands on the cover.
            packages.append([text.replace(project.uuid, "") for text in page_texts(path)])
    assert packages[0] == packages[1]


def test_progress_counts_every_page_up_to_the_total(
    small_site: SiteResults, tmp_path: Path
) -> None:
    told: list[tuple[int, int, str]] = []
    write_package(small_site, tmp_path / "a.pdf", lambda *step: told.append(step))
    totals = {total for _, total, _ in told}
    assert len(totals) == 1
    assert [done for done, *_ in told] == list(range(len(told)))
    assert len(told) <= totals.pop()
    assert any(what == "RTU-1: Electrical supply" for *_, what in told)


@pytest.mark.parametrize("step", [0, 3, 6])
def test_cancelling_leaves_no_file(small_site: SiteResults, tmp_path: Path, step: int) -> None:
    folder = tmp_path / "out"
    folder.mkdir()
    with pytest.raises(CancelledError):
        write_package(small_site, folder / "a.pdf", cancel_at(step))
    assert list(folder.iterdir()) == []


def test_cancelling_keeps_the_older_package(small_site: SiteResults, tmp_path: Path) -> None:
    path = tmp_path / "a.pdf"
    path.write_bytes(b"older")
    with pytest.raises(CancelledError):
        write_package(small_site, path, cancel_at(4))
    assert path.read_bytes() == b"older"
    assert not list(tmp_path.glob(".*.part"))


def test_a_folder_that_is_not_there_is_told_with_a_cure(
    small_site: SiteResults, tmp_path: Path
) -> None:
    with pytest.raises(OutputError, match=r"a\.pdf.*cannot be written.*another folder"):
        write_package(small_site, tmp_path / "nowhere" / "a.pdf")


def test_a_folder_in_place_of_the_file_is_told(small_site: SiteResults, tmp_path: Path) -> None:
    (tmp_path / "a.pdf").mkdir()
    with pytest.raises(OutputError, match="cannot be written"):
        write_package(small_site, tmp_path / "a.pdf")
    assert not list(tmp_path.glob(".*.part"))


def test_a_full_disk_leaves_the_older_package(
    small_site: SiteResults, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The disk is full by pretence: the write of the finished bytes raises ENOSPC."""

    class Full:
        def __enter__(self):
            return self

        def __exit__(self, *_: object) -> None:
            return None

        def write(self, _: bytes) -> int:
            raise OSError(errno.ENOSPC, "No space left on device")

    path = tmp_path / "a.pdf"
    path.write_bytes(b"older")
    real = write.Path.open

    def opened(place: Path, *arguments: object, **options: object) -> object:
        is_beside = place.name.endswith(".part")
        return Full() if is_beside else real(place, *arguments, **options)  # type: ignore[call-overload]

    monkeypatch.setattr(write.Path, "open", opened)
    with pytest.raises(OutputError, match=r"No space left on device.*make room"):
        write_package(small_site, path)
    monkeypatch.undo()
    assert path.read_bytes() == b"older"


def test_a_device_that_is_always_full(small_site: SiteResults, tmp_path: Path) -> None:
    """/dev/full refuses every write; the file beside the target is made to lead there."""
    full = Path("/dev/full")
    if not full.exists():
        pytest.skip("no /dev/full here")
    (tmp_path / ".a.pdf.part").symlink_to(full)
    with pytest.raises(OutputError, match="No space left"):
        write_package(small_site, tmp_path / "a.pdf")
    assert not (tmp_path / "a.pdf").exists()
