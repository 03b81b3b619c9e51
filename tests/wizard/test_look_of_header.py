"""The header says in full which pass is recorded, in every language and at every size."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from PySide6.QtWidgets import QStyle, QStyleOptionComboBox

from commission.language import choose_language, languages
from commission.wizard.choice import Choice
from commission.wizard.window import MainWindow
from wizard.at_the_window import place_of
from wizard.tour import place_in, settle

RECORDED = ("as found", "as left", "retest 1", "retest 12")


@pytest.fixture(autouse=True)
def speaking_english_again() -> Iterator[None]:
    yield
    choose_language("en")


def _room(box: Choice) -> int:
    """Return the width that the words of a closed list have, pixels."""
    option = QStyleOptionComboBox()
    box.initStyleOption(option)
    control, part = QStyle.ComplexControl.CC_ComboBox, QStyle.SubControl.SC_ComboBoxEditField
    return box.style().subControlRect(control, option, part, box).width()


@pytest.mark.parametrize("code", languages())
@pytest.mark.parametrize("percent", [100, 150, 200, 250])
def test_the_pass_is_never_cut(
    percent: int, code: str, make_window: Callable[..., MainWindow], project_path: Path
) -> None:
    window = make_window()
    window.preferences.percent, window.preferences.language = percent, code
    window._speak_anew()
    window._look_changed()
    window.open_project(project_path)
    header, document = place_of(window).header, place_of(window).document
    document.record_as("Ann Otherwise-Longname of the Second Crew and Its Many Helpers")
    for name in RECORDED:
        document.choose_pass(name)
        settle()
        shown = header.passes
        needed = shown.fontMetrics().horizontalAdvance(shown.currentText())
        # The list draws its words with some pixels to spare at the end.
        assert needed <= _room(shown) - window.appearance.px(8), (name, shown.currentText())
        for box in (header.passes, header.people):
            assert header.rect().contains(place_in(box, header))
    assert header.people.currentText() in header.people.toolTip()  # a very long name is told there
