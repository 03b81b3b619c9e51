from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from commission.definitions.model import Form
from commission.project import ProjectFile
from commission.validation.site import SiteResults, site_results
from workbook.sample_site import fill, new_project
from workbook.small_form import ANSWERS, small_form


@pytest.fixture(scope="session")
def form(tmp_path_factory: pytest.TempPathFactory) -> Form:
    return small_form(tmp_path_factory.mktemp("small_form"))


@pytest.fixture
def project(tmp_path: Path, form: Form) -> Iterator[ProjectFile]:
    """A site with one answered unit and one that nothing has been answered for."""
    with new_project(tmp_path / "site.rtuproject", form) as made:
        fill(made, form, "", ANSWERS)
        unit = made.add_unit("RTU-1")
        fill(made, form, unit.id, ANSWERS)
        made.add_unit("RTU-2")
        yield made


@pytest.fixture
def site(project: ProjectFile, form: Form) -> Callable[[], SiteResults]:
    """The results as they are when it is called."""
    return lambda: site_results(project, form)
