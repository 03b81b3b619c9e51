"""Figures in the package: after their page's tables, tagged with words, one line while wanting."""

from __future__ import annotations

from pathlib import Path

import pikepdf
import pytest

from commission.definitions.load import load_form
from commission.package import write_package
from commission.project.scenario import project_from_scenario
from commission.resources import demo_units_folder
from commission.validation.session import Session
from commission.validation.site import site_results
from package.reading_pdf import page_texts
from package.reading_tags import tree


@pytest.fixture(scope="module")
def package_path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A package of the demo's first unit, from which four static pressures were taken back."""
    folder = tmp_path_factory.mktemp("figures")
    form = load_form()
    path = folder / "demo.rtuproject"
    project_from_scenario(demo_units_folder(), path, form).close()
    with Session.open(path, form) as session:
        unit = session.project.units()[0].id
        for name in ("return", "after_filter", "after_coil", "fan_outlet"):
            session.enter(unit, f"{name}_static_inwc", (), "")
        site = site_results(session.project, form)
        return write_package(site, folder / "package.pdf", units=["RTU-1"], with_work=False)


def test_figures_stand_after_their_pages_tables(package_path: Path) -> None:
    whole = "\n".join(page_texts(package_path)[8:])
    for table, figure in (
        ("Leaving dry bulb", "Air on the psychrometric chart"),
        ("Suction-line temperature", "Pressure-enthalpy sketch, Circuit 1"),
        ("Pressure-enthalpy sketch, Circuit 1", "Pressure-enthalpy sketch, Circuit 2"),
        ("Duct width inside", "Velocities over the duct"),
    ):
        assert 0 <= whole.index(table) < whole.index(figure), figure
    assert "Drawn from: ASHRAE Handbook Fundamentals" in whole


def test_a_figure_without_its_readings_is_one_line(package_path: Path) -> None:
    text = " ".join(" ".join(page_texts(package_path)).split())
    assert "Static pressure along the air path: Not drawn yet. Wanting: Return, before" in text


def test_figures_are_tagged_with_what_they_show(package_path: Path) -> None:
    with pikepdf.open(package_path) as pdf:
        figures = [node for node in tree(pdf).all() if node.kind == "/Figure"]
        told = [str(node.element.get("/Alt", "")) for node in figures]
    assert any("Psychrometric chart at 12." in words for words in told)
    assert any("Sketch for R-454B" in words and "Superheat" in words for words in told)
    assert any("The unit has 2 refrigerant circuits" in words for words in told)
    assert all(told), "no figure without words"
