"""Each text of the package is said in the language chosen, or was typed by a person."""

from __future__ import annotations

from pathlib import Path

import pytest

from commission.definitions.load import load_form
from commission.definitions.model import Form
from commission.definitions.translated import translated
from commission.language import speaking
from commission.package import write_package
from commission.project import ProjectFile
from commission.project.scenario import project_from_scenario
from commission.resources import demo_units_folder
from commission.sequence.trend_discovery import find_reading
from commission.sequence.trend_import import read_trend
from commission.sequence.trend_shelf import judged, keep_log
from commission.units import UNITS
from commission.validation.site import site_results
from package.reading_pdf import tool
from tests.spoken_marks import CODE, LOG, speak_marks, stored_texts, strangers

# One with gas heat and an economizer, one with a heat pump: most pages between them.
TAGS = ("RTU-1", "RTU-4")
NAMES = ("commission", "CoolProp", "hgas", "hliquid", "tbubble", "SHA")
# What a person typed as the program would say it.
TYPED = ("none", "Stopwatch")


def words_of(form: Form) -> list[str]:
    """Return units and symbols, which no language changes; a subscript is set without its mark."""
    symbols = [str(getattr(entry, "symbol", "") or "") for entry in form.by_name.values()]
    return [*UNITS, *NAMES, *symbols, *(symbol.replace("_", "") for symbol in symbols)]


def with_log(path: Path, form: Form, folder: Path) -> None:
    """Keep a log with a unit of the project, judged in the language spoken."""
    log = folder / "log.csv"
    log.write_text(LOG, encoding="utf-8")
    with ProjectFile.open(path) as project:
        unit = next(one for one in site_results(project, form).units if one.tag == TAGS[0])
        reading = find_reading(log)
        keep_log(project, unit.unit_id, judged(read_trend(log, reading), unit, project), reading)


def test_what_the_package_prints_is_said_or_was_typed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    speak_marks(monkeypatch)
    form = load_form()
    path = tmp_path / "demo.rtuproject"
    project_from_scenario(demo_units_folder(), path, form).close()
    with speaking(CODE):
        said = translated(form, CODE)
        with_log(path, said, tmp_path)
        with ProjectFile.open(path, read_only=True) as project:
            package = write_package(site_results(project, said), tmp_path / "d.pdf", units=TAGS)
    printed = tool("pdftotext", "-raw", package, "-")
    assert len(printed) > 100_000
    data = [*stored_texts(path), *TYPED, str(path), path.name]
    found = strangers(printed, data, words_of(form))
    assert not found, "\n".join(f"{word}: ... {place} ..." for word, place in found.items())
