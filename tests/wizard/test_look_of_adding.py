"""What comes in piece by piece is never drawn over what is there already."""

from __future__ import annotations

from PySide6.QtWidgets import QApplication, QLabel, QVBoxLayout, QWidget
from pytestqt.qtbot import QtBot

from commission.wizard.adding import adding_to


def test_a_piece_stands_apart_until_it_has_its_place(qtbot: QtBot) -> None:
    card = QWidget()
    qtbot.addWidget(card)
    column = QVBoxLayout(card)
    first = QLabel("what is there")
    column.addWidget(first)
    card.resize(200, 100)
    with qtbot.waitExposed(card):
        card.show()
    piece = QLabel("what comes in")
    with adding_to(card, [piece]):
        column.addWidget(piece)
    assert piece.isVisible()
    assert not piece.geometry().intersects(card.rect())
    QApplication.processEvents()
    assert card.rect().contains(piece.geometry())
    assert not piece.geometry().intersects(first.geometry())
