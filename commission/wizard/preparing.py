"""What opening a project needs, made ready while a person still looks at the first screen.

The form files are read anew only when one of them has changed since.
"""

from __future__ import annotations

import threading
from pathlib import Path
from typing import TYPE_CHECKING

from commission.errors import CommissionError
from commission.resources import forms_folder

if TYPE_CHECKING:
    from commission.definitions.model import Form

_Stamp = tuple[tuple[str, int, int], ...]
_LOCK = threading.Lock()
_KEPT: dict[str, tuple[_Stamp, Form]] = {}


def shipped_form() -> Form:
    """Return the shipped form, as its files are now.

    Raises:
        FormError: as `load_form`.
    """
    from commission.definitions.load import load_form

    folder = forms_folder()
    with _LOCK:
        stamp = _stamp(folder)
        kept = _KEPT.get(str(folder))
        if kept is None or kept[0] != stamp:
            kept = (stamp, load_form(folder))
            _KEPT[str(folder)] = kept
        return kept[1]


def _stamp(folder: Path) -> _Stamp:
    """Return names, sizes and times of the form's files."""
    facts = ((path, path.stat()) for path in sorted(folder.glob("*.toml")))
    return tuple((path.name, told.st_size, told.st_mtime_ns) for path, told in facts)


def prepare() -> threading.Thread:
    """Load the form and the modules of an open project in a thread of its own."""
    thread = threading.Thread(target=_prepare, name="preparing", daemon=True)
    thread.start()
    return thread


def _prepare() -> None:
    try:
        form = shipped_form()
        import commission.wizard.tracing  # and with it the whole workplace
        from commission.sequence.functional_load import sequence_of

        sequence_of(form)
        # Last, and long before anybody goes there: the places that bring numpy with them.
        import commission.wizard.stepper_place
        import commission.wizard.trend_place  # noqa: F401
    except CommissionError:
        return  # said when a project is opened
