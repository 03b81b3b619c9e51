"""Every figure of the demo site: drawn the same each time, whole, and alike in both renderers."""

from __future__ import annotations

import subprocess
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image, ImageChops, ImageFilter
from PySide6.QtGui import QColor, QImage, QPainter
from pytestqt.qtbot import QtBot
from reportlab.pdfgen.canvas import Canvas

from commission.definitions.model import Figure
from commission.definitions.translated import translated
from commission.drawing.extents import outside, overlapping, texts
from commission.drawing.figure import calls, drawn
from commission.drawing.shapes import TEXT_SIZE, Drawing, Role
from commission.formula.graph import Index
from commission.language import speaking
from commission.package.drawing_flowable import COLOURS, DrawingFlowable
from commission.package.look import register_faces
from commission.validation.results import UnitResults
from commission.validation.site import SiteResults, site_results
from commission.wizard.appearance import PALETTES, Appearance
from commission.wizard.drawing_view import DrawingView, colour_of, paint_drawing

Member = tuple[UnitResults, Figure, Index]


def _members(demo: SiteResults) -> list[Member]:
    return [
        (unit, figure, index)
        for unit in demo.units
        for section in unit.sections()
        for figure, index in unit.figures(section)
    ]


def test_the_demo_shows_every_kind(demo: SiteResults) -> None:
    kinds = {
        figure.kind
        for unit, figure, index in _members(demo)
        if isinstance(drawn(unit, figure, index, 516.0), Drawing)
    }
    declared = {figure.kind for section in demo.form.sections for figure in section.figures}
    assert kinds == declared and len(kinds) == 6


@pytest.mark.parametrize("width", [300.0, 380.0, 516.0, 620.0])
def test_all_are_whole_legible_and_the_same_each_time(demo: SiteResults, width: float) -> None:
    for unit, figure, index in _members(demo):
        for call in calls(unit, figure, index)[-2:] or (None,):
            extra = () if call is None else (call,)
            made = drawn(unit, figure, index, width, *extra)
            assert isinstance(made, Drawing), (unit.tag, made)
            assert repr(made) == repr(drawn(unit, figure, index, width, *extra))
            assert outside(made) == [], (unit.tag, figure.name)
            assert overlapping(made) == [], (unit.tag, figure.name)
            assert min(text.size for text in texts(made)) >= TEXT_SIZE
            assert made.title and len(made.description) > 40


def test_in_another_language_nothing_is_cut_off_either(demo: SiteResults) -> None:
    with speaking("es"):
        said = site_results(demo.project, translated(demo.form, "es"))
        for unit, figure, index in _members(said):
            made = drawn(unit, figure, index, 400.0)
            assert isinstance(made, Drawing)
            assert outside(made) == [], (unit.tag, figure.name)
            assert overlapping(made) == [], (unit.tag, figure.name)


def _pdf_bytes(drawing: Drawing) -> bytes:
    register_faces()
    target = BytesIO()
    canvas = Canvas(target, pagesize=(drawing.width, drawing.height), invariant=1)
    flowable = DrawingFlowable(drawing)
    flowable.wrap(drawing.width, drawing.height)
    flowable.drawOn(canvas, 0, 0)
    canvas.save()
    return target.getvalue()


def _printed(drawing: Drawing, folder: Path, scale: int) -> Image.Image:
    path = folder / "drawing.pdf"
    path.write_bytes(_pdf_bytes(drawing))
    stem = folder / "page"
    subprocess.run(
        ["pdftoppm", "-r", str(72 * scale), "-png", "-singlefile", str(path), str(stem)], check=True
    )
    return Image.open(stem.with_suffix(".png")).convert("L")


def _shown(drawing: Drawing, scale: int) -> Image.Image:
    size = round(drawing.width * scale), round(drawing.height * scale)
    image = QImage(*size, QImage.Format.Format_RGB32)
    image.fill(QColor("white"))
    painter = QPainter(image)
    paint_drawing(painter, drawing, PALETTES["light"], scale)
    painter.end()
    data = image.convertToFormat(QImage.Format.Format_Grayscale8)
    rows = bytes(data.constBits())
    return Image.frombytes("L", size, rows, "raw", "L", data.bytesPerLine())


def test_window_and_package_draw_the_same_picture(
    demo: SiteResults, tmp_path: Path, qtbot: QtBot
) -> None:
    """Blurred by a point, the two pictures of a figure differ by less than a light grey."""
    seen = set()
    for unit, figure, index in _members(demo):
        if figure.kind in seen:
            continue
        seen.add(figure.kind)
        made = drawn(unit, figure, index, 516.0)
        assert isinstance(made, Drawing)
        printed, shown = _printed(made, tmp_path, 2), _shown(made, 2)
        size = min(printed.width, shown.width), min(printed.height, shown.height)
        blurred = [
            picture.crop((0, 0, *size)).filter(ImageFilter.GaussianBlur(4))
            for picture in (printed, shown)
        ]
        difference = ImageChops.difference(*blurred)
        share = sum(difference.histogram()[40:]) / (size[0] * size[1])
        assert share < 0.001, figure.kind
        empty = Image.new("L", size, 255)
        ink = sum(ImageChops.difference(blurred[0], empty).histogram()[40:])
        assert ink > 0.01 * size[0] * size[1], "the comparison saw a drawing"


def test_the_pdf_is_the_same_bytes_each_time(demo: SiteResults) -> None:
    unit, figure, index = _members(demo)[0]
    made = [drawn(unit, figure, index, 516.0) for _ in range(2)]
    assert isinstance(made[0], Drawing) and isinstance(made[1], Drawing)
    assert _pdf_bytes(made[0]) == _pdf_bytes(made[1])


def test_the_view_shows_the_drawing_of_its_width(demo: SiteResults, qtbot: QtBot) -> None:
    unit, figure, index = _members(demo)[0]

    def make(width: float) -> Drawing:
        made = drawn(unit, figure, index, width)
        assert isinstance(made, Drawing)
        return made

    view = DrawingView(make, Appearance())
    qtbot.addWidget(view)
    view.resize(826, 10)
    view.show()
    assert view.drawing.width == pytest.approx(826 / 1.6)
    assert repr(view.drawing) == repr(make(view.drawing.width))
    assert view.height() == round(view.drawing.height * 1.6)
    assert view.accessibleDescription() == view.drawing.description
    view.resize(240, 10)
    assert view.drawing.width == 300.0, "a very narrow view is scaled, not squeezed"


@pytest.mark.parametrize("name", PALETTES)
def test_every_role_has_a_colour_that_can_be_read(name: str) -> None:
    """WCAG 2.2: text at least 4.5:1 against its ground, 7:1 in sunlight (issue 5)."""
    from commission.drawing.shapes import COOL, DOUBT, FAIL, GROUND, INK, PASS, QUIET, WARM

    palette = PALETTES[name]
    least = 7.0 if name == "bright sun" else 4.5
    for paint in (INK, QUIET, COOL, WARM, PASS, FAIL, DOUBT):
        assert _contrast(colour_of(paint, palette), colour_of(GROUND, palette)) >= least, paint


def _contrast(one: QColor, other: QColor) -> float:
    light, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def _luminance(colour: QColor) -> float:
    parts = [
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4
        for part in (colour.redF(), colour.greenF(), colour.blueF())
    ]
    return 0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2]


def test_every_role_has_a_colour_in_print() -> None:
    assert set(COLOURS) == set(Role)


@pytest.mark.parametrize("name", PALETTES)
def test_numbers_can_be_read_on_the_strongest_shade(name: str) -> None:
    from commission.drawing.shapes import ACCENT, INK

    palette = PALETTES[name]
    assert _contrast(colour_of(INK, palette), colour_of(ACCENT.faint(0.46), palette)) >= 4.5
