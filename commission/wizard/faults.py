"""What went wrong inside the program, kept in a file; a person sees a sentence instead."""

from __future__ import annotations

import traceback
from pathlib import Path
from types import TracebackType

from commission.wizard.preferences import config_folder

_MOST_BYTES = 200_000


def noted(
    kind: type[BaseException], fault: BaseException, trace: TracebackType | None
) -> Path | None:
    """Add a fault to the file of faults; return the file, or None where it cannot be written."""
    place = config_folder() / "faults.txt"
    lines = "".join(traceback.format_exception(kind, fault, trace))
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        before = place.read_text(encoding="utf-8") if place.exists() else ""
        place.write_text(f"{before}{lines}\n"[-_MOST_BYTES:], encoding="utf-8")
    except (OSError, UnicodeDecodeError):
        return None
    return place
