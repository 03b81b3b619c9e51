"""Nothing is cut off: every place and page at three sizes, appearances, scales and languages.

The suite takes a part of the looks; `COMMISSION_OVERFLOW=all` takes all of them.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QScrollArea, QWidget
from pytestqt.qtbot import QtBot

from commission.language import choose_language, languages
from commission.wizard.appearance import PALETTES
from commission.wizard.parts import label
from commission.wizard.window import MainWindow
from wizard.overflow import overflows
from wizard.tour import at_rest, everywhere, settle

SIZES = ((1024, 640), (1280, 800), (1920, 1080))
# Palette, size in percent, language, and the least window that such a size is meant for.
PART = (("light", 100, "en", 0),)
WHOLE = tuple(
    (palette, percent, code, least)
    for palette in PALETTES
    for percent, least in ((100, 0), (150, 2))
    for code in languages()
)
LOOKS = WHOLE if os.environ.get("COMMISSION_OVERFLOW") == "all" else PART


@pytest.fixture(autouse=True)
def speaking_english_again() -> Iterator[None]:
    yield
    choose_language("en")


@pytest.mark.parametrize(("palette", "percent", "code", "least"), LOOKS)
def test_nothing_is_cut_off(
    palette: str,
    percent: int,
    code: str,
    least: int,
    demo_tour: Callable[..., MainWindow],
) -> None:
    window = demo_tour(palette, percent, code)
    found: dict[str, None] = {}
    for name, shown in everywhere(window):
        for size in SIZES[least:]:
            window.resize(*size)
            settle()
            if (window.width(), window.height()) != size:
                found[f"{name}: the window is {window.size().toTuple()}, not {size}"] = None
            found |= {
                f"{name} at {size[0]} x {size[1]}: {one}": None
                for one in at_rest(lambda shown=shown: list(overflows(shown)))
            }
    assert not found, f"{len(found)} faults\n" + "\n".join(found)


def test_the_detector_finds_what_is_cut_off(qtbot: QtBot, tmp_path: Path) -> None:
    window = QWidget()
    qtbot.addWidget(window)
    line = QHBoxLayout(window)
    plain, wrapped, pushed = (
        QLabel("a long word of many letters"),
        label("many words here"),
        QPushButton("Press me here"),
    )
    for widget in (plain, wrapped, pushed):
        line.addWidget(widget)
    area = QScrollArea()
    wide = QWidget()
    wide.setFixedSize(900, 20)
    area.setWidget(wide)
    line.addWidget(area)
    window.resize(1600, 200)
    window.show()
    settle()
    assert [
        one for one in overflows(window) if "QScrollArea" not in one and "wider" not in one
    ] == []
    plain.setFixedWidth(40)
    wrapped.setFixedSize(60, 10)
    pushed.setFixedWidth(50)
    area.setFixedWidth(200)
    settle()
    said = list(overflows(window))
    for kind in ("a long word", "many words", "Press me", "QScrollArea"):
        assert any(kind in one for one in said), (kind, said)
    stray = QWidget(window)
    stray.setGeometry(window.width() - 10, 0, 60, 20)
    stray.show()
    assert any("outside what holds it" in one for one in overflows(window))
