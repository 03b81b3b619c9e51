"""Every place and page for a person who does not see, or sees badly, or has no pointer.

Names and roles are those that the system's own accessibility interface gives out. Contrast is
measured on the screen: the ground is the commonest colour of what is drawn, the ink the colour
farthest from it (WCAG 2.2, relative luminance and success criteria 1.4.3 and 1.4.6; visible
focus 2.4.7 and 2.4.13, targets 2.5.5). `COMMISSION_ACCESSIBLE=all` walks every page in every
palette; the suite does so in one, and a few pages in the others.
"""

from __future__ import annotations

import itertools
import os
from collections import Counter
from collections.abc import Callable, Iterator

import pytest
from PySide6.QtCore import QRect, Qt
from PySide6.QtGui import QAccessible, QColor, QImage
from PySide6.QtWidgets import (
    QAbstractItemView,
    QApplication,
    QCheckBox,
    QComboBox,
    QLabel,
    QLineEdit,
    QListView,
    QPushButton,
    QScrollArea,
    QTableView,
    QTableWidget,
    QWidget,
)

from commission.wizard.appearance import PALETTES
from commission.wizard.inputs import Input
from commission.wizard.page import SectionPage
from commission.wizard.window import MainWindow
from wizard.at_the_window import place_of
from wizard.tour import described, everywhere, pages, place_in, seen, settle

LEAST_CONTRAST = {"light": 4.5, "dark": 4.5, "bright sun": 7.0}
# Pages that hold every kind of widget between them; the suite walks all pages in one palette.
PAGES_OF_ALL_KINDS = (
    "prestart_safety",
    "electrical_supply",
    "cooling_circuits",
    "superheat_chart",
    "closeout",
)
IS_WHOLE = os.environ.get("COMMISSION_ACCESSIBLE") == "all"
LEAST_TEXT_PX = 12
LEAST_TARGET_PX = 44
_NO_ROLES = (QAccessible.Role.NoRole, QAccessible.Role.Client)


def takes_focus(widget: QWidget) -> bool:
    """Return whether Tab comes to a widget."""
    policy = widget.focusPolicy() & Qt.FocusPolicy.TabFocus
    return bool(policy) and widget.isEnabled() and widget.focusProxy() is None


def unnamed(inside: QWidget) -> Iterator[str]:
    """Yield what a screen reader cannot name."""
    for widget in seen(inside):
        if not takes_focus(widget):
            continue
        face = QAccessible.queryAccessibleInterface(widget)
        name = face.text(QAccessible.Text.Name) if face is not None else ""
        held_by = widget.parentWidget()
        if not name and isinstance(held_by, QComboBox):
            name = held_by.accessibleName()  # the line of a list speaks for the list
        if not name.strip():
            yield f"{described(widget)}: has no name"
        if face is None or face.role() in _NO_ROLES:
            yield f"{described(widget)}: has no role ({face.role() if face else None})"


def too_small(inside: QWidget) -> Iterator[str]:
    """Yield text under 12 px, and targets under 44 px in height or width."""
    for widget in seen(inside):
        size = widget.fontInfo().pixelSize()
        if (
            isinstance(widget, QLabel | QPushButton | QLineEdit | QComboBox)
            and size < LEAST_TEXT_PX
        ):
            yield f"{described(widget)}: text of {size} px"
        is_target = isinstance(widget, QPushButton | QComboBox | QLineEdit)
        if is_target and not isinstance(widget.parentWidget(), QComboBox):
            least = min(widget.width(), widget.height())
            if least < LEAST_TARGET_PX:
                yield f"{described(widget)}: {widget.width()} x {widget.height()} px"
        if isinstance(widget, QCheckBox) and widget.height() < LEAST_TARGET_PX:
            yield f"{described(widget)}: {widget.height()} px high"
        if isinstance(widget, QAbstractItemView):
            yield from low_lines(widget)


def low_lines(shown: QAbstractItemView) -> Iterator[str]:
    """Yield lines of a list, tree or table that can be chosen and are lower than 44 px."""
    model, heights = shown.model(), set()
    columns = 1 if isinstance(shown, QListView) else model.columnCount()
    for row in range(model.rowCount()):
        for column in range(columns):
            place = model.index(row, column)
            if model.flags(place) & Qt.ItemFlag.ItemIsSelectable:
                heights.add(shown.visualRect(place).height() + int(isinstance(shown, QTableView)))
    low = min(heights - {0, 1}, default=LEAST_TARGET_PX)
    if low < LEAST_TARGET_PX:
        yield f"{described(shown)} '{shown.accessibleName()}': lines of {low} px"


def _luminance(colour: QColor) -> float:
    parts = [
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4
        for part in (colour.redF(), colour.greenF(), colour.blueF())
    ]
    return 0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2]


def contrast(first: QColor, second: QColor) -> float:
    """Return the contrast ratio of two colours (WCAG 2.2)."""
    light, dark = sorted((_luminance(first), _luminance(second)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def drawn_contrast(image: QImage, box: QRect) -> float:
    """Return the contrast of the ink farthest from the ground in a part of a picture."""
    inner = box.intersected(image.rect())
    counted = Counter(
        image.pixel(x, y)
        for y in range(inner.top(), inner.bottom() + 1)
        for x in range(inner.left(), inner.right() + 1)
    )
    if not counted:
        return 21.0
    ground = QColor(counted.most_common(1)[0][0])
    return max(contrast(ground, QColor(value)) for value in counted)


def faint(inside: QWidget) -> Iterator[str]:
    """Yield text that stands out too little, as (sentence, ratio)."""
    window = inside.window()
    image = window.grab().toImage()
    least = LEAST_CONTRAST[window.appearance.palette.name]  # type: ignore[attr-defined]
    for widget in seen(inside):
        is_text = isinstance(widget, QLabel | QPushButton) and bool(widget.text())
        if not is_text or not widget.isEnabled() or widget.visibleRegion().isEmpty():
            continue
        whole = widget.visibleRegion().boundingRect()
        if whole.size() != widget.size():
            continue  # scrolled half away
        edge = 4 if isinstance(widget, QPushButton) else 0
        box = place_in(widget, window).adjusted(edge, edge, -edge, -edge)
        ratio = drawn_contrast(image, box)
        if ratio < least:
            yield f"{described(widget)}: contrast {ratio:.1f}, at least {least}"


@pytest.mark.parametrize("palette", list(PALETTES))
def test_every_place_and_page_has_names_roles_sizes_and_contrast(
    palette: str, demo_tour: Callable[..., MainWindow]
) -> None:
    window = demo_tour(palette, 100)
    window.resize(1280, 800)
    found: dict[str, str] = {}
    only = () if IS_WHOLE or palette == "light" else PAGES_OF_ALL_KINDS
    for name, shown in everywhere(window, only):
        for check in (unnamed, too_small, faint):
            found |= dict.fromkeys(check(shown), name)
    said = [f"{name}: {sentence}" for sentence, name in found.items()]
    assert not said, f"{len(said)} faults\n" + "\n".join(said)


def _stops_of(window: MainWindow, page: SectionPage) -> list[QWidget]:
    """Return what Tab comes to on a page, in order, from its first input round once."""
    first = QApplication.focusWidget()
    found: list[QWidget] = []
    widget = first
    while widget is not None:
        if page.content.isAncestorOf(widget) and takes_focus(widget) and widget.isVisible():
            found.append(widget)
        widget = widget.nextInFocusChain()
        if widget is first:
            break
    return found


def out_of_order(page: SectionPage, stops: list[QWidget]) -> Iterator[str]:
    """Yield each step of the focus that goes against reading: up, or left on one line."""
    top = min(range(len(stops)), key=lambda n: _key(page, stops[n]))
    ordered = stops[top:] + stops[:top]
    for before, after in itertools.pairwise(ordered):
        one, other = (place_in(_block_of(each), page.content) for each in (before, after))
        if one == other:
            continue
        on_one_line = one.top() <= other.center().y() <= one.bottom() or (
            other.top() <= one.center().y() <= other.bottom()
        )
        goes_up = other.bottom() < one.top()
        goes_left = on_one_line and other.right() < one.left()
        if goes_up or goes_left:
            yield f"from {described(before)} to {described(after)}"


def _block_of(widget: QWidget) -> QWidget:
    """Return the input that a widget is a part of: a table with its tools is one block."""
    above: QWidget | None = widget
    while above is not None:
        if isinstance(above, Input):
            return above
        above = above.parentWidget()
    return widget


def _key(page: SectionPage, widget: QWidget) -> tuple[int, int]:
    place = place_in(widget, page.content)
    return (place.top(), place.left())


def test_focus_goes_as_one_reads(demo_tour: Callable[..., MainWindow]) -> None:
    window = demo_tour("light", 100)
    window.resize(1280, 800)
    found: list[str] = []
    for name, _ in pages(window):
        page = place_of(window).pages.page
        assert page is not None
        stops = _stops_of(window, page)
        if len(stops) > 1:
            found += [f"{name}: {step}" for step in out_of_order(page, stops)]
    assert not found, f"{len(found)} steps\n" + "\n".join(found)


def _kind(widget: QWidget) -> tuple[str, ...]:
    above = widget.parentWidget()
    return (
        type(widget).__name__,
        *(str(widget.property(name)) for name in ("kind", "role", "tone")),
        type(above).__name__ if isinstance(above, QComboBox) else "",
    )


def focus_shown(window: MainWindow, widget: QWidget) -> float:
    """Return which part of a widget's outline changes by 3:1 or more when it has the focus."""
    frame = widget.parentWidget() if isinstance(widget.parentWidget(), QComboBox) else widget
    assert frame is not None
    scroll = frame.parentWidget()
    while scroll is not None and not isinstance(scroll, QScrollArea):
        scroll = scroll.parentWidget()
    if isinstance(scroll, QScrollArea):
        scroll.ensureWidgetVisible(frame)
        if scroll.widget() is frame:
            frame = scroll  # what fills an area shows its focus round the area
    pictures = []
    for has_focus in (True, False):
        if has_focus:
            widget.setFocus(Qt.FocusReason.TabFocusReason)
        else:
            widget.clearFocus()
        settle()
        pictures.append(window.grab(place_in(frame, window)).toImage())
    changed = 0
    for y in range(pictures[0].height()):
        for x in range(pictures[0].width()):
            one, other = pictures[0].pixel(x, y), pictures[1].pixel(x, y)
            if one != other and contrast(QColor(one), QColor(other)) >= 3:
                changed += 1
    return changed / max(1, 2 * (pictures[0].width() + pictures[0].height()))


@pytest.mark.parametrize("palette", list(PALETTES))
def test_focus_is_seen(palette: str, demo_tour: Callable[..., MainWindow]) -> None:
    """One of each kind of widget; tables draw the focus round the cell and round themselves."""
    window = demo_tour(palette, 100)
    window.resize(1280, 800)
    shown: dict[tuple[str, ...], str] = {}
    done: set[tuple[str, ...]] = set()
    for name, inside in everywhere(window, PAGES_OF_ALL_KINDS):
        for widget in list(seen(inside)):
            kind = _kind(widget)
            if kind in done or not takes_focus(widget) or not widget.isVisible():
                continue
            done.add(kind)
            part = focus_shown(window, widget)
            if part < 0.5:
                shown[kind] = f"{name}: {described(widget)}: {part:.2f} of its outline"
    assert len(done) > 12
    assert not shown, "\n".join(shown.values())


def test_the_checks_find_what_is_wrong(demo_tour: Callable[..., MainWindow]) -> None:
    window = demo_tour("light", 100)
    page = next(iter(pages(window)))[1]
    stray = QPushButton(page)
    stray.setStyleSheet("min-width: 0; min-height: 0; padding: 0")
    stray.setGeometry(300, 300, 20, 20)
    pale = QLabel("pale", page)
    pale.setStyleSheet("color: #C0C0C0; background: #FFFFFF; font-size: 9px")
    pale.setGeometry(400, 300, 60, 20)
    low = QTableWidget(2, 1, page)
    low.verticalHeader().setDefaultSectionSize(30)
    low.setGeometry(500, 300, 90, 90)
    for made in (stray, pale, low):
        made.show()
        made.raise_()
    settle()
    assert any("no name" in one for one in unnamed(page))
    assert stray.size().toTuple() == (20, 20)
    assert any("20 x 20" in one for one in too_small(page))
    assert any("9 px" in one for one in too_small(page))
    assert any("lines of 30 px" in one for one in too_small(page))
    assert any("'pale'" in one for one in faint(page))
    opened = place_of(window).pages.page
    assert opened is not None
    stops = _stops_of(window, opened)
    assert list(out_of_order(opened, [stops[0], stops[2], stops[1]]))
    assert contrast(QColor("#000000"), QColor("#FFFFFF")) == 21.0
    assert contrast(QColor("#777777"), QColor("#FFFFFF")) == pytest.approx(4.48, abs=0.01)
