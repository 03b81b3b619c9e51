"""A box that can be ticked: whether it is, is seen in every appearance and grows with the words."""

from __future__ import annotations

from collections import Counter

import pytest
from PySide6.QtGui import QColor, QImage
from PySide6.QtWidgets import QApplication, QCheckBox, QStyle, QStyleOptionButton, QWidget
from pytestqt.qtbot import QtBot

from commission.wizard.appearance import PALETTES, Appearance, style_sheet
from wizard.test_accessible import LEAST_CONTRAST, contrast


def _box_of(tick: QCheckBox) -> QImage:
    """Return a picture of the box alone, without its edge."""
    option = QStyleOptionButton()
    tick.initStyleOption(option)
    part = QStyle.SubElement.SE_CheckBoxIndicator
    place = tick.style().subElementRect(part, option, tick)
    edge = place.width() // 4
    return tick.grab(place.adjusted(edge, edge, -edge, -edge)).toImage()


def _drawn(image: QImage) -> Counter[int]:
    return Counter(image.pixel(x, y) for x in range(image.width()) for y in range(image.height()))


@pytest.mark.parametrize("palette", list(PALETTES))
def test_a_tick_is_seen(palette: str, qtbot: QtBot) -> None:
    widths = []
    for percent in (100, 250):
        look = Appearance(PALETTES[palette], percent)
        card = QWidget()
        qtbot.addWidget(card)
        card.setStyleSheet(style_sheet(look))
        tick = QCheckBox("All rules", card)
        tick.resize(400, look.px(44))
        with qtbot.waitExposed(card):
            card.show()
        assert len(_drawn(_box_of(tick))) == 1
        tick.setChecked(True)
        QApplication.processEvents()
        drawn = _drawn(_box_of(tick))
        ground = QColor(drawn.most_common(1)[0][0])
        assert max(contrast(ground, QColor(one)) for one in drawn) >= LEAST_CONTRAST[palette]
        assert tick.minimumSizeHint().height() >= 44
        widths.append(_box_of(tick).width())
    assert widths[1] > 2 * widths[0]
