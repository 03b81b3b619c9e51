"""How the window looks: palettes, sizes, and the style sheet made from both.

Three palettes: light for the desk, dark for the plant room, bright sun for the roof (pure
white and near black). A state is never told by colour alone: its icon's shape and its word
always stand beside the colour.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from string import Template
from types import MappingProxyType

from PySide6.QtWidgets import QWidget

from commission.errors import CommissionError
from commission.language import to_say
from commission.resources import icons_folder

SCALES = (100, 115, 130, 150, 175, 200, 225, 250)
"""Sizes on offer, in percent."""

_ROOM_GROWS_TO = 150
_ROOM_BEYOND = 0.15  # of what the words grow by, beyond that


@dataclass(frozen=True, slots=True)
class Palette:
    """Named colours. Text on its ground is at least 7:1 in every palette."""

    name: str
    title: str
    colours: Mapping[str, str]

    def __getitem__(self, name: str) -> str:
        return self.colours[name]


def _palette(name: str, title: str, **colours: str) -> Palette:
    return Palette(name, title, MappingProxyType(colours))


PALETTES: Mapping[str, Palette] = {
    palette.name: palette
    for palette in (
        _palette(
            "light",
            to_say("Light"),
            ground="#EEF1F0",
            surface="#FFFFFF",
            sunken="#F6F8F7",
            ink="#16212B",
            muted="#465460",
            line="#C9D1D5",
            edge="#75838E",
            tick_ground="#FFFFFF",
            accent="#0A5566",
            on_accent="#FFFFFF",
            accent_ground="#DDEBEE",
            focus="#0A7CA0",
            header="#12303A",
            on_header="#FFFFFF",
            header_line="#54727C",
            done="#17613A",
            fail="#A3241B",
            stop="#7F0F0F",
            inconclusive="#6B4300",
            missing="#465460",
            note="#27457F",
            fail_ground="#FBE9E7",
            stop_ground="#F9DEDC",
            caution_ground="#FFF3D6",
            caution="#553A00",
        ),
        _palette(
            "dark",
            to_say("Dark"),
            ground="#11181D",
            surface="#1A242B",
            sunken="#141D23",
            ink="#F1F5F7",
            muted="#B9C6CE",
            line="#3A4852",
            edge="#8496A2",
            tick_ground="#8AD3E4",
            accent="#8AD3E4",
            on_accent="#06222A",
            accent_ground="#213B45",
            focus="#FFD479",
            header="#0A1014",
            on_header="#F1F5F7",
            header_line="#51626E",
            done="#8BDDA8",
            fail="#FFB0A6",
            stop="#FFC2BC",
            inconclusive="#FFD38A",
            missing="#B9C6CE",
            note="#B4CBFF",
            fail_ground="#3D1F1D",
            stop_ground="#571A18",
            caution_ground="#3B2F12",
            caution="#FFE1A3",
        ),
        _palette(
            "bright sun",
            to_say("Bright sun"),
            ground="#FFFFFF",
            surface="#FFFFFF",
            sunken="#FFFFFF",
            ink="#000000",
            muted="#1C1C1C",
            line="#6A6A6A",
            edge="#000000",
            tick_ground="#FFFFFF",
            accent="#00313D",
            on_accent="#FFFFFF",
            accent_ground="#E4E4E4",
            focus="#0000C8",
            header="#000000",
            on_header="#FFFFFF",
            header_line="#FFFFFF",
            done="#003D1C",
            fail="#7A0000",
            stop="#5E0000",
            inconclusive="#402700",
            missing="#1C1C1C",
            note="#00205E",
            fail_ground="#FFFFFF",
            stop_ground="#FFE3E0",
            caution_ground="#FFF6D0",
            caution="#2B1D00",
        ),
    )
}


@dataclass(frozen=True, slots=True)
class Appearance:
    """A palette and a size; every widget asks this one for colours and pixels."""

    palette: Palette = PALETTES["light"]
    percent: int = 100

    def px(self, size: float) -> int:
        """Return a size given for 100 % in pixels at this scale."""
        return round(size * self.percent / 100)

    def pad(self, size: float) -> int:
        """Return room round words and between things, given for 100 %, in pixels.

        It grows with the words up to 150 %; beyond, the words go on growing and the room
        hardly does, or nothing else would be left of a small window.
        """
        grown = min(self.percent, _ROOM_GROWS_TO)
        return round(size * (grown + (self.percent - grown) * _ROOM_BEYOND) / 100)

    @property
    def line_width(self) -> int:
        """Width of the lines round inputs: twice as wide in bright sun."""
        return self.pad(2 if self.palette.name == "bright sun" else 1)

    @property
    def frame_width(self) -> int:
        """Width of the frame round a table that has the focus."""
        return self.pad(3 if self.palette.name == "bright sun" else 2)


def set_role(widget: QWidget, role: str, name: str = "role") -> None:
    """Give a widget the look that the style sheet has for `role`, and draw it anew."""
    if widget.property(name) == role:
        return
    widget.setProperty(name, role)
    style = widget.style()
    style.unpolish(widget)
    style.polish(widget)
    widget.update()


_WORD_SIZES = (13, 14, 15, 16, 18, 22, 28)
_ROOM_SIZES = (2, 3, 4, 5, 6, 8, 12, 14, 16, 24, 26, 28, 30, 32, 34, 36, 40)


def style_sheet(appearance: Appearance) -> str:
    """Return the window's style sheet."""
    sizes = {f"px{size}": f"{appearance.px(size)}px" for size in _WORD_SIZES}
    sizes["px44"] = f"{max(44, appearance.pad(44))}px"  # the least height of what is pointed at
    sizes |= {f"pad{size}": f"{appearance.pad(size)}px" for size in _ROOM_SIZES}
    line = f"{appearance.line_width}px"
    frame = f"{appearance.frame_width}px"
    return Template(_SHEET).substitute(
        **appearance.palette.colours, **sizes, line_px=line, frame_px=frame, tick=_tick()
    )


def _tick() -> str:
    """Return the file of the tick; without it a box that is ticked tells itself by its ground."""
    try:
        return (icons_folder() / "ticked.svg").as_posix()
    except CommissionError:
        return ""


_SHEET = """
* { font-size: $px14; color: $ink; }
QMainWindow, QWidget#ground, QScrollArea, QScrollArea > QWidget > QWidget { background: $ground; }
QToolTip { background: $ink; color: $surface; border: 0; padding: $pad4; }
QScrollArea { border: 0; }

QLabel[role="title"] { font-size: $px22; font-weight: 600; }
QLabel[role="heading"] { font-size: $px16; font-weight: 600; }
QLabel[role="product"] { font-size: $px28; font-weight: 600; }
QLabel[role="intro"] { font-size: $px15; color: $ink; }
QLabel[role="muted"] { color: $muted; font-size: $px13; }
QLabel[role="unit"] { color: $muted; }
QLabel[role="value"] { font-size: $px15; font-weight: 600; }
QLabel[role="work"] { font-family: "DejaVu Sans Mono", monospace; font-size: $px13; }
QLabel[role="how"] { background: $accent_ground; border-radius: $pad4; padding: $pad8; }
QLabel[role="error"] { color: $fail; font-weight: 600; }
QLabel[role="warning"] { color: $inconclusive; }
QLabel[role="remark"] { color: $note; }
QLabel[role="past"] { color: $muted; }
QLabel[role="done"] { color: $done; font-weight: 600; }
QLabel[role="fail"] { color: $fail; font-weight: 600; }
QLabel[role="stop"] { color: $stop; font-weight: 700; }
QLabel[role="inconclusive"] { color: $inconclusive; font-weight: 600; }
QLabel[role="missing"] { color: $missing; font-weight: 600; }
QLabel[role="note"] { color: $note; font-weight: 600; }

QFrame[role="card"], QGroupBox[role="card"] { background: $surface;
    border: 1px solid $line; border-radius: $pad6; }
QFrame[role="entry"] { background: $surface; border: 0; border-bottom: 1px solid $line; }
QFrame[role="nested"] { background: $sunken; border: 1px solid $line; border-radius: $pad4; }
QFrame[role="caution_frame"] { background: $caution_ground; border: $line_px solid $caution;
    border-radius: $pad6; }
QFrame[role="caution_frame"] QLabel { color: $caution; }
QFrame[role="stop_frame"] { background: $stop_ground; border: $pad2 solid $stop;
    border-radius: $pad6; }
QFrame[role="header"] { background: $header; }
QFrame[role="header"] QLabel { color: $on_header; font-size: $px13; }
QFrame[role="strip"] { background: $surface; border-top: 1px solid $line; }
QFrame[role="strip"][tone="error"] { background: $fail_ground; border-top: $pad2 solid $fail; }
QFrame[role="ask"] { background: $accent_ground; border-bottom: 1px solid $line; }
QFrame[role="side"] { background: $surface; border-right: 1px solid $line; }
QFrame[role="foot"] { background: $surface; border-top: 1px solid $line; }

QGroupBox { border: 0; margin: 0; padding: 0; }

QPushButton { background: $surface; border: $line_px solid $edge; border-radius: $pad6;
    padding: $pad6 $pad14; min-height: $pad30; min-width: $pad26; icon-size: $px16; }
QPushButton:hover { background: $accent_ground; }
QPushButton:pressed { background: $line; }
QPushButton:checked { background: $accent_ground; border: $pad2 solid $accent; }
QPushButton:disabled { color: $edge; border: $line_px dashed $edge; background: $ground; }
QPushButton:focus { border: $pad3 solid $focus; padding: $pad4 $pad12; }
QPushButton[kind="primary"] { background: $accent; color: $on_accent; border-color: $accent;
    font-weight: 600; }
QPushButton[kind="primary"]:hover { background: $ink; color: $surface; }
QPushButton[kind="primary"]:focus { background: $surface; color: $accent;
    border: $pad3 solid $focus; }
QPushButton[kind="primary"]:disabled { background: $ground; color: $muted;
    border: $line_px dashed $edge; }
QPushButton[kind="quiet"] { background: transparent; border: $line_px solid transparent;
    color: $accent; padding: $pad4 $pad8; min-height: $pad34; text-align: left; }
QPushButton[kind="quiet"]:checked { background: $accent_ground;
    border: $line_px solid transparent; }
QPushButton[kind="quiet"]:hover { background: $accent_ground; }
QPushButton[kind="quiet"]:focus { border: $pad3 solid $focus; padding: $pad2 $pad6; }
QPushButton[kind="quiet"]:disabled { color: $edge; border: $line_px dashed $line; }
QPushButton[kind="place"] { background: transparent; border: $pad2 solid transparent;
    border-radius: $pad6; color: $on_header; padding: $pad4 $pad6; min-height: $pad32;
    min-width: $pad28; }
QPushButton[kind="place"]:hover { border-color: $header_line; }
QPushButton[kind="place"]:checked { background: $on_header; color: $header;
    font-weight: 400; }
QPushButton[kind="place"]:focus { border: $pad3 solid $on_header; padding: $pad3 $pad5; }
QPushButton[kind="place"]:checked:focus { border: $pad3 solid $focus; }
QPushButton[kind="place"]:disabled { color: $header_line; }
QPushButton[kind="segment"] { border-radius: 0; padding: $pad6 $pad12; margin: 0; }
QPushButton[kind="segment"]:checked { font-weight: 600; }
QPushButton[kind="picture"] { padding: 0; border-radius: 0; background: $sunken;
    color: $muted; }
QPushButton[kind="picture"]:focus { border: $pad3 solid $focus; padding: 0; }
QPushButton[kind="big"] { text-align: left; padding: $pad12 $pad16; font-size: $px15;
    min-height: $pad32; }

QLineEdit, QPlainTextEdit, QComboBox { background: $surface; border: $line_px solid $edge;
    border-radius: $pad4; padding: $pad4 $pad8; min-height: $pad34;
    selection-background-color: $accent; selection-color: $on_accent; }
QLineEdit:focus, QPlainTextEdit:focus, QComboBox:focus, QWidget[focused="true"] {
    border: $pad3 solid $focus; padding: $pad3 $pad6; }
QLineEdit:disabled, QPlainTextEdit:disabled, QComboBox:disabled { background: $ground;
    color: $muted; border: $line_px dashed $edge; }
QLineEdit[tone="error"], QComboBox[tone="error"], QPlainTextEdit[tone="error"] {
    border: $pad2 solid $fail; background: $fail_ground; }
QComboBox QLineEdit { border: 0; padding: 0; min-height: 0; background: transparent; }
QComboBox QLineEdit:focus { border: 0; padding: 0; }
QComboBox::drop-down { width: $pad26; border: 0; }
QComboBox::down-arrow { image: none; width: 0; height: 0; }
QComboBox QAbstractItemView { background: $surface; border: 1px solid $edge;
    selection-background-color: $accent; selection-color: $on_accent; outline: 0; }
QComboBox QAbstractItemView::item { min-height: $px44; padding: 0 $pad8; }
QFrame[role="header"] QComboBox { background: $header; color: $on_header;
    border: 1px solid $header_line; }
QFrame[role="header"] QComboBox:focus { border: $pad3 solid $on_header; }

QCheckBox { spacing: $pad8; min-height: $px44; border: $pad3 solid transparent;
    border-radius: $pad4; padding: 0 $pad5; }
QCheckBox::indicator { width: $px18; height: $px18; }
QCheckBox::indicator:unchecked { background: $surface; border: $line_px solid $edge;
    border-radius: $pad3; }
QCheckBox::indicator:checked { background: $tick_ground; border: $line_px solid $edge;
    border-radius: $pad3; image: url("$tick"); }
QCheckBox:disabled { color: $muted; }
QCheckBox::indicator:disabled { border-style: dashed; }
QCheckBox:focus { color: $accent; border-color: $focus; }
QProgressBar { border: 1px solid $edge; border-radius: $pad4; background: $surface;
    min-height: $pad24; text-align: center; }
QProgressBar::chunk { background: $accent_ground; border-radius: $pad3; }

QListView, QTableView { icon-size: $px18; }
QTableView, QTreeView, QListView { background: $surface; border: 1px solid $line;
    gridline-color: $line; outline: 0; selection-background-color: $accent_ground;
    selection-color: $ink; alternate-background-color: $sunken; }
QTableView:focus, QTreeView:focus, QListView:focus { border: $frame_px solid $focus; }
QTableView QLineEdit { border-radius: 0; padding: 0 $pad4; min-height: 0; }
QTableView QComboBox { border-radius: 0; padding: 0 $pad4; min-height: 0; }
QTableView#records::item { padding: $pad2 $pad8; border-bottom: 1px solid $line; }
QTableView#records::item:selected { background: $accent_ground; color: $ink; }
QHeaderView { background: $sunken; }
QHeaderView::section { background: $sunken; border: 0; border-right: 1px solid $line;
    border-bottom: 1px solid $line; padding: $pad4 $pad8; font-weight: 600; }
QTableCornerButton::section { background: $sunken; border: 0; border-right: 1px solid $line;
    border-bottom: 1px solid $line; }
QFrame[role="side"] QTreeView { border: 0; }
QFrame[role="side"] QTreeView:focus { border: $frame_px solid $focus; }
QScrollBar:vertical { background: transparent; width: $pad14; margin: 0; }
QScrollBar::handle:vertical { background: $edge; border-radius: $pad4; min-height: $pad40;
    margin: $pad3; }
QScrollBar:horizontal { background: transparent; height: $pad14; margin: 0; }
QScrollBar::handle:horizontal { background: $edge; border-radius: $pad4; min-width: $pad40;
    margin: $pad3; }
QScrollBar::add-line, QScrollBar::sub-line { width: 0; height: 0; }
QScrollBar::add-page, QScrollBar::sub-page { background: transparent; }
"""
