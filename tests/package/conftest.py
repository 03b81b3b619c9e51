"""The invented project, opened."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from commission.definitions.load import load_form
from commission.definitions.model import Form
from commission.package import write_package
from commission.project import ProjectFile
from commission.project.scenario import project_from_scenario
from commission.resources import demo_units_folder
from commission.validation.site import SiteResults, site_results
from package.invented_project import fill, new_project, small_form_in


@pytest.fixture(scope="session")
def small_form(tmp_path_factory: pytest.TempPathFactory) -> Form:
    return small_form_in(tmp_path_factory.mktemp("small_form"))


@pytest.fixture
def small_project(tmp_path: Path, small_form: Form) -> Iterator[ProjectFile]:
    with new_project(tmp_path / "small.rtuproject", small_form) as project:
        fill(project)
        yield project


@pytest.fixture
def small_site(small_project: ProjectFile, small_form: Form) -> SiteResults:
    return site_results(small_project, small_form)


@pytest.fixture(scope="session")
def small_package(small_form: Form, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the package of the invented project, written once, to be read only."""
    folder = tmp_path_factory.mktemp("small_package")
    with new_project(folder / "small.rtuproject", small_form) as project:
        fill(project)
        return write_package(site_results(project, small_form), folder / "small.pdf")


@pytest.fixture(scope="session")
def demo_package(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the package of the demo site, written once, to be read only."""
    folder = tmp_path_factory.mktemp("demo_package")
    form = load_form()
    with project_from_scenario(demo_units_folder(), folder / "demo.rtuproject", form) as project:
        return write_package(site_results(project, form), folder / "demo.pdf")
