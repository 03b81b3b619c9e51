"""Adding widgets to what is seen already: laid out once, not once for each of them.

Qt shows each widget that a layout takes up by itself, a moment later, and lays out all that
stands round it for each. So the layout rests while they come in, they are shown together, and
it is asked for once.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QWidget

_HIDDEN_ON_PURPOSE = Qt.WidgetAttribute.WA_WState_ExplicitShowHide


@contextmanager
def adding_to(parent: QWidget, widgets: Iterable[QWidget]) -> Iterator[None]:
    """Let `widgets` come in, inside, to the layout of `parent` or to layouts within that one."""
    layout = parent.layout()
    if layout is None or not parent.isVisible():
        yield
        return
    layout.setEnabled(False)
    try:
        yield
        for widget in widgets:
            if widget.isHidden() and not widget.testAttribute(_HIDDEN_ON_PURPOSE):
                widget.move(0, parent.height())  # not over the others, until it has its place
                widget.show()
    finally:
        layout.setEnabled(True)
        layout.update()
