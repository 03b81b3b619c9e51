"""What opening a project needs, made ready while a person still looks at the first screen.

The form files are read anew only when one of them has changed since.
"""

from __future__ import annotations

import threading
from contextlib import suppress
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


def _load_classes() -> None:
    """Let PySide6 make its classes.

    It makes each when it is first met, and all of them where it first meets a widget of Qt's own
    making: that would hold the window.
    """
    from PySide6 import QtCore, QtGui, QtWidgets

    for module in (QtCore, QtGui, QtWidgets):
        for name in dir(module):
            getattr(module, name)


class Preparation(threading.Thread):
    """Loads the form and the modules of an open project, and then those of its further places."""

    def __init__(self) -> None:
        super().__init__(name="preparing", daemon=True)
        self._has_enough = threading.Event()

    @property
    def is_ready(self) -> bool:
        """Whether a project can be opened without loading anything, or by loading it itself."""
        return self._has_enough.is_set() or not self.is_alive()

    def run(self) -> None:
        """Load; a fault is said when a project is opened."""
        with suppress(CommissionError):
            form = shipped_form()
            import commission.wizard.tracing  # and with it the whole workplace

            _load_classes()
            self._has_enough.set()
            from commission.sequence.functional_load import sequence_of

            sequence_of(form)
            # Last, and long before anybody goes there: the places that bring numpy with them.
            import commission.wizard.stepper_place
            import commission.wizard.trend_place  # noqa: F401
            from commission.sequence.trend_deficiency import load_titles
            from commission.wizard.trend_reading_form import time_zones

            time_zones()
            load_titles()


def prepare() -> Preparation:
    """Load what an open project needs in a thread of its own."""
    preparation = Preparation()
    preparation.start()
    return preparation
