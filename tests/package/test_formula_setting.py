"""Formulas set as by hand. The rules of setting are those of ISO 80000-2:2019, 5 (from memory):
a fraction has a bar, a product's sum stands in brackets, a power's base is a sign or in brackets.
"""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

import pytest

from commission.definitions.load import load_form
from commission.definitions.model import Key
from commission.formula.parse import parse
from commission.formula.work import written
from commission.package import write_package
from commission.package.formula_setting import Setting, setting_of
from commission.package.formula_shape import (
    Bracketed,
    Fraction,
    Glyphs,
    Power,
    Root,
    Row,
    Shape,
    glyphs_of,
    is_tall,
    shape_of,
)
from commission.project.scenario import project_from_scenario
from commission.resources import demo_units_folder
from commission.validation.site import SiteResults, site_results
from package.reading_pdf import tool


def shape(text: str) -> Shape:
    return shape_of(parse(text), lambda name: name, lambda name: [name])


def linear(found: Shape) -> str:
    """Return a shape in the notation of a plain text, a fraction as {top|bottom}."""
    match found:
        case Glyphs(text):
            return text
        case Row(parts):
            return "".join(map(linear, parts))
        case Fraction(top, bottom):
            return f"{{{linear(top)}|{linear(bottom)}}}"
        case Root(inner):
            return f"√[{linear(inner)}]"
        case Power(base, exponent):
            return f"{linear(base)}^{linear(exponent)}"
        case Bracketed(inner):
            return f"({linear(inner)})"


@pytest.mark.parametrize(
    ("formula", "set_as"),
    [
        ("a + b", "a + b"),
        ("a / b", "{a|b}"),
        ("(a + b) / (c - d)", "{a + b|c − d}"),
        ("100 * (a - b) / b", "{100 × (a − b)|b}"),
        ("a / b / c", "{{a|b}|c}"),
        ("a / (b / c)", "{a|{b|c}}"),
        ("a * (b + c) * d", "a × (b + c) × d"),
        ("a - (b - c)", "a − (b − c)"),
        ("a - (b + c)", "a − (b + c)"),
        ("a + (b - c)", "a + b − c"),
        ("(a / b) ** 2", "({a|b})^2"),
        ("(a + b) ** 3", "(a + b)^3"),
        ("a ** 2 * b", "a^2 × b"),
        ("-a + b", "−a + b"),
        ("sqrt(a / b)", "√[{a|b}]"),
        ("a * sqrt(b)", "a × √[b]"),
        ("difference_percent(a, b)", "{100 × (a − b)|b}"),
    ],
)
def test_a_formula_is_set_as_by_hand(formula: str, set_as: str) -> None:
    assert linear(shape(formula)) == set_as


def pieces_of(setting: Setting) -> list[tuple[float, float, str]]:
    return [(x, y, "".join(run.text for run in runs)) for x, y, runs, _ in setting.texts]


def test_the_parts_of_a_fraction_stand_centred_over_and_under_its_bar() -> None:
    setting = setting_of(shape("(alpha + b) / c"), 8)
    ((left, bar), (right, same)), *others = setting.lines
    assert not others
    assert bar == same
    (bottom,) = [(x, y) for x, y, text in pieces_of(setting) if text == "c"]
    tops = [y for _, y, text in pieces_of(setting) if text != "c"]
    assert all(y > bar + 1 for y in tops)
    assert bottom[1] < bar - 4
    assert bottom[0] == pytest.approx((left + right) / 2, abs=4)
    assert setting.rise > bar > 0 > -setting.drop


def test_nothing_of_a_setting_lies_outside_its_measures() -> None:
    setting = setting_of(shape("sqrt((a + b) / c) * (d / e) ** 2 / f"), 8)
    for x, y, runs, size in setting.texts:
        assert 0 <= x <= setting.width
        assert -setting.drop <= y - 0.24 * size + 0.01
        assert y + 0.76 * size - 0.01 <= setting.rise
        assert runs
    for line in setting.lines:
        for x, y in line:
            assert 0 <= x <= setting.width
            assert -setting.drop <= y <= setting.rise


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> SiteResults:
    form = load_form()
    path = tmp_path_factory.mktemp("formulas") / "demo.rtuproject"
    return site_results(project_from_scenario(demo_units_folder(), path, form), form)


def test_every_formula_of_the_demo_holds_what_its_line_of_work_holds(site: SiteResults) -> None:
    """The set formula and the plain line say the same signs in numbers and names."""

    def signs(text: str) -> Counter[str]:
        return Counter(re.sub(r"[\s()/√^]", "", text).replace("²", "2").replace("³", "3"))

    tall = 0
    for results in site.units:
        for section in results.sections():
            for quantity in section.quantities:
                for member in results.asked_members(quantity.name):
                    key = Key(quantity.name, member)
                    if results.work(*key) is None:
                        continue
                    shapes, lines = results.worked(key, shape_of), results.worked(key, written)
                    assert shapes is not None and lines is not None
                    for found, line in zip(shapes, lines, strict=True):
                        assert signs("".join(glyphs_of(found))) == signs(line), key
                        tall += is_tall(found)
    assert tall > 500


def test_a_fraction_can_be_searched_and_copied_as_one_line(demo_package: Path) -> None:
    text = " ".join(tool("pdftotext", "-raw", demo_package, "-").split())
    assert "SHR = qs / qt = " in text


def test_without_the_work_the_package_is_shorter_and_says_so(
    site: SiteResults, tmp_path: Path
) -> None:
    path = write_package(site, tmp_path / "short.pdf", units=["RTU-3"], with_work=False)
    whole = write_package(site, tmp_path / "long.pdf", units=["RTU-3"])
    short, long = (tool("pdftotext", "-layout", each, "-") for each in (path, whole))
    assert short.count("\f") < 0.85 * long.count("\f")
    assert "this edition leaves out how each quantity was computed" in " ".join(short.split())
    assert "Shown work\n" not in short
