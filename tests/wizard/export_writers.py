"""Writers of the tests' own, of module level: they run in the process that an export has.

What they see and what they are to do goes through files beside their target.
"""

from __future__ import annotations

import json
import os
import threading
import time
from pathlib import Path

from commission.definitions.model import Form
from commission.errors import OutputError
from commission.project import ProjectFile
from commission.validation.site import SiteResults
from commission.validation.volumes import Written
from commission.wizard.apart import Told

_LONGEST_S = 20.0


def beside(path: Path, name: str) -> Path:
    """Return a file beside an output, through which its writer and a test speak."""
    return path.with_suffix(f".{name}")


def tells_what_it_sees(site: SiteResults, path: Path, tell: Told) -> None:
    """Write what is seen of the site, and from where."""
    for number in range(3):
        tell(number, 3, f"sheet {number}")
    seen = {
        "process": os.getpid(),
        "thread": threading.current_thread() is threading.main_thread(),
        "tags": [unit.tag for unit in site.units],
        "control_v": site.units[0].value("control_v").number,
        "unit_system": site.unit_system,
    }
    path.write_text(json.dumps(seen), encoding="utf-8")


def is_slow(_site: SiteResults, path: Path, tell: Told) -> None:
    """Say that it has begun, and go on until it is stopped; tidy up then."""
    half = beside(path, "half")
    until = time.monotonic() + _LONGEST_S
    try:
        while time.monotonic() < until:
            tell(1, 100, "first")
            half.write_text("half", encoding="utf-8")
            time.sleep(0.005)
        path.write_text("too late", encoding="utf-8")
    finally:
        half.unlink(missing_ok=True)
        beside(path, "ended").write_text("ended", encoding="utf-8")


def finds_the_disk_full(_site: SiteResults, path: Path, _tell: Told) -> None:
    """Refuse with a sentence."""
    raise OutputError(f"{path.name}: the disk is full. Make room.")


def is_faulty(_site: SiteResults, _path: Path, _tell: Told) -> None:
    """Fail as nobody foresaw."""
    raise ZeroDivisionError("odd")


def dies(_site: SiteResults, _path: Path, _tell: Told) -> None:
    """End the process, as a system does that is short of memory."""
    os._exit(9)


def writes_volumes(project: ProjectFile, form: Form, path: Path, _tell: Told) -> Written:
    """Tell of three volumes, one of them of an earlier export."""
    seen = {"units": len(project.units()), "form": form.id}
    path.write_text(json.dumps(seen), encoding="utf-8")
    volumes = [path.with_name(f"{path.stem}.volume-{n}.txt") for n in (1, 2, 3)]
    return Written(path, tuple(volumes[:2]), tuple(volumes[2:]))
