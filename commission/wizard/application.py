"""Starting the window: the first picture is on the screen before anything heavy is loaded."""

from __future__ import annotations

import sys
from pathlib import Path

from PySide6.QtCore import QEvent, QObject, QTimer
from PySide6.QtWidgets import QApplication, QWidget

from commission.wizard.collecting import Collector
from commission.wizard.window import MainWindow

_SWITCH_S = 0.001
"""After how long a thread that computes lets the window have Python's interpreter, if it asks.

Python's own 5 ms are waited for anew at each of the many calls of one round of the loop.
"""


def run(path: Path | None = None, *, exit_when_shown: bool = False) -> int:
    """Open the window, on a project if one is named; return when it is closed.

    Args:
        path: a project file, or None for the start screen.
        exit_when_shown: leave once the first window has been painted.
    """
    application = prepared_application()
    collector = Collector(application)
    window = MainWindow()
    sys.excepthook = window.catch
    window.show()
    if exit_when_shown:
        watcher = _FirstPaint(window.ground, application)
        watcher.setParent(application)
    if path is not None or not exit_when_shown:
        named = path.resolve() if path is not None else None
        QTimer.singleShot(0, window, lambda: window.begin_soon(named))
    try:
        return application.exec()
    finally:
        collector.end()


def prepared_application() -> QApplication:
    """Return the application object, made if need be, with our own look."""
    existing = QApplication.instance()
    application = existing if isinstance(existing, QApplication) else QApplication(sys.argv[:1])
    application.setApplicationName("Commission")
    sys.setswitchinterval(_SWITCH_S)
    if application.style().objectName() != "fusion":
        # Only once: setting a style draws every widget there is anew.
        application.setStyle("Fusion")
    return application


class _FirstPaint(QObject):
    """Leaves the application after the first painting of a widget."""

    def __init__(self, watched: QWidget, application: QApplication) -> None:
        super().__init__()
        self._application = application
        watched.installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.Paint:
            watched.removeEventFilter(self)
            QTimer.singleShot(0, self._application.quit)
        return False
