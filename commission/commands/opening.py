"""What most commands begin with: a project opened for reading, its results, its units."""

from __future__ import annotations

from pathlib import Path

from commission.definitions.load import load_form
from commission.definitions.translated import translated
from commission.errors import CommissionError
from commission.language import ENGLISH, language, speaking, spoken
from commission.project import ProjectFile
from commission.validation.results import UnitResults
from commission.validation.site import SiteResults, site_results


def opened(path: Path) -> ProjectFile:
    """Open a project for reading only; no command but the window enters anything."""
    return ProjectFile.open(path, read_only=True)


def site_of(project: ProjectFile) -> SiteResults:
    """Return a project's results under the shipped form, in the language spoken here."""
    return site_results(project, translated(load_form(), language()))


def site_for_machines(project: ProjectFile) -> SiteResults:
    """Return a project's results in English, for outputs that another program reads."""
    with speaking(ENGLISH):
        return site_results(project, load_form())


def chosen_units(site: SiteResults, tag: str | None) -> list[UnitResults]:
    """Return one unit by its tag, or the project pages and all units.

    Raises:
        CommissionError: No unit has this tag.
    """
    if tag is None:
        return list(site.everything())
    chosen = [results for results in site.units if results.tag.casefold() == tag.casefold()]
    if not chosen:
        tags = ", ".join(results.tag for results in site.units) or spoken("none")
        raise CommissionError(
            spoken(
                "{path}: no unit '{tag}'. Its units: {tags}.",
                path=site.project.path,
                tag=tag,
                tags=tags,
            )
        )
    return chosen
