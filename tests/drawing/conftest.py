"""The shipped form and the demo site."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from commission.definitions.load import load_form
from commission.definitions.model import Form
from commission.project.scenario import project_from_scenario
from commission.resources import demo_units_folder
from commission.validation.site import SiteResults, site_results


@pytest.fixture(scope="session")
def shipped() -> Form:
    return load_form()


@pytest.fixture(scope="session")
def demo(shipped: Form, tmp_path_factory: pytest.TempPathFactory) -> Iterator[SiteResults]:
    path = tmp_path_factory.mktemp("drawn") / "demo.rtuproject"
    with project_from_scenario(demo_units_folder(), path, shipped) as project:
        yield site_results(project, shipped)
