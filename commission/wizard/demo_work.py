"""Making the demo site's project file; without anything of the window's, for a process apart."""

from __future__ import annotations

from pathlib import Path

from commission.wizard.apart import Told


def demo_made(path: Path, tell: Told) -> None:
    """Read the demo site's scenario and its log into a new file."""
    from commission.definitions.load import load_form
    from commission.project.scenario import project_from_scenario
    from commission.resources import demo_units_folder
    from commission.sequence.trend_demo import add_demo_log

    path.parent.mkdir(parents=True, exist_ok=True)
    form = load_form()
    tell(0, 0, "")
    project_from_scenario(demo_units_folder(), path, form).close()
    add_demo_log(path, form, path.parent)
