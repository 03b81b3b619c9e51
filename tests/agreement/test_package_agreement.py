"""The turnover package says what the results say: every demo unit, every value and verdict."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import pytest

from commission.definitions.load import load_form
from commission.definitions.model import Section
from commission.formula.evaluate import State
from commission.package import write_package
from commission.package.wording import verdict_glyph
from commission.project.scenario import project_from_scenario
from commission.resources import demo_units_folder
from commission.validation.report import word
from commission.validation.results import UnitResults
from commission.validation.site import SiteResults, site_results
from commission.validation.verdict import Outcome
from package.reading_pdf import outline, page_texts, run_together, told_by


@dataclass(frozen=True)
class Printed:
    """The demo site and its package, page by page, with where each page of the form begins."""

    site: SiteResults
    texts: list[str]
    told: list[str]
    parts: dict[str, tuple[int, int]]
    pages: dict[tuple[str, str], tuple[int, int]]

    def part(self, tag: str) -> str:
        first, last = self.parts[tag]
        return "\n".join(self.texts[first - 1 : last])

    def page(self, tag: str, title: str) -> str:
        first, last = self.pages[tag, title]
        return "\n".join(self.texts[first - 1 : last])

    def says(self, tag: str, title: str, shown: str) -> bool:
        """Return whether a page of the form says this: a number as a word of its own."""
        first, last = self.pages[tag, title]
        if re.fullmatch(r"[−\d.,]+", shown):
            return stands_in(self.page(tag, title), shown)
        # Words may be broken over lines: a cell's lines follow one another in the order set.
        return run_together(shown) in "".join(self.told[first - 1 : last])


@pytest.fixture(scope="module")
def printed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Printed]:
    folder = tmp_path_factory.mktemp("demo_package")
    form = load_form()
    with project_from_scenario(demo_units_folder(), folder / "demo.rtuproject", form) as project:
        site = site_results(project, form)
        path = write_package(site, folder / "demo.pdf")
        yield Printed(site, page_texts(path), told_by(path), *places(path))


def places(
    path: Path,
) -> tuple[dict[str, tuple[int, int]], dict[tuple[str, str], tuple[int, int]]]:
    """Return first and last page of each part, and of each page of the form within it."""
    entries = [entry for entry in outline(path) if entry[0] < 2]
    ends = [page for *_, page in entries[1:]] + [entries[-1][2]]
    starts_of_parts = [(title, page) for depth, title, page in entries if depth == 0]
    parts = {
        title: (page, following - 1) for (title, page), (_, following) in pairwise(starts_of_parts)
    }
    pages: dict[tuple[str, str], tuple[int, int]] = {}
    part = ""
    for (depth, title, page), end in zip(entries, ends, strict=True):
        if depth == 0:
            part = title
        else:
            pages[part, title] = (page, end)
    return parts, pages


def units(printed: Printed) -> Iterator[tuple[str, UnitResults]]:
    for results in printed.site.everything():
        yield results.tag or "Project and site", results


def number_without_unit(results: UnitResults, name: str, index: tuple[int, ...]) -> str:
    shown = results.shown(name, index)
    unit = results.shown_unit(name)
    return shown.removesuffix(f" {unit}") if unit else shown


def stands_in(text: str, value: str) -> bool:
    """Return whether a value stands as a word of its own, not as part of a longer number."""
    return re.search(rf"(?<![\d.,−]){re.escape(value)}(?![\d]|[.,]\d)", text) is not None


def known_values(results: UnitResults, section: Section) -> Iterator[tuple[str, str]]:
    for entry in (*section.quantities, *section.fields):
        for index in results.asked_members(entry.name):
            value = results.value(entry.name, index)
            if value.state is State.KNOWN:
                yield f"{entry.name}{index}", number_without_unit(results, entry.name, index)


def test_every_part_and_page_of_the_form_is_there(printed: Printed) -> None:
    for tag, results in units(printed):
        assert tag in printed.parts
        for section in results.sections():
            assert (tag, section.title) in printed.pages


def test_every_known_value_stands_on_its_page(printed: Printed) -> None:
    checked = 0
    for tag, results in units(printed):
        for section in results.sections():
            for name, shown in known_values(results, section):
                checked += 1
                assert printed.says(tag, section.title, shown), (tag, section.title, name, shown)
    assert checked > 2000


def test_every_as_found_value_stands_on_its_page(printed: Printed) -> None:
    differing = 0
    for tag, results in units(printed):
        found = printed.site.as_found(results)
        for section in results.sections():
            latest = dict(known_values(results, section))
            for name, shown in known_values(found, section):
                differing += shown != latest.get(name)
                assert printed.says(tag, section.title, shown), (tag, section.title, name, shown)
    assert differing > 0


def test_every_verdict_stands_on_its_page(printed: Printed) -> None:
    checked = 0
    for tag, results in units(printed):
        for section in results.sections():
            text = printed.page(tag, section.title)
            for verdict in results.verdicts(section):
                if verdict.value.state is State.MISSING:
                    continue  # listed as not recorded instead
                checked += 1
                told = word(verdict)
                assert verdict_glyph(verdict) in text, (tag, verdict.check.name)
                assert all(part in text for part in told.split()), (tag, verdict.check.name)
    assert checked > 1000


def test_counts_of_each_page_are_those_of_the_results(printed: Printed) -> None:
    """The overview of each part counts verdicts; a count of none is printed as a dot."""
    outcomes = (Outcome.PASS, Outcome.FAIL, Outcome.INCONCLUSIVE, Outcome.MISSING)
    for tag, results in units(printed):
        text = printed.part(tag)
        for section in results.sections():
            progress = results.progress(section)
            counts = [progress.outcomes.get(outcome, 0) for outcome in outcomes]
            wanted = [str(count or "·") for count in (*counts, progress.unanswered)]
            first = printed.pages[tag, section.title][0]
            row = re.search(
                rf"{re.escape(section.title)} +\S+ {results.state(section)} +(.*)", text
            )
            assert row, (tag, section.title)
            assert row[1].split() == [*wanted, str(first)], (tag, section.title)


def test_no_page_of_a_unit_ends_with_a_heading(printed: Printed) -> None:
    small = {"Findings", "Shown work", "Checks of values on other pages"}
    for tag, results in units(printed):
        titles = {section.title for section in results.sections()}
        first, last = printed.parts[tag]
        for number in range(first, last + 1):
            lines = [line.strip() for line in printed.texts[number - 1].splitlines()]
            closing = [line for line in lines if line][-2]  # the last is the footer
            # A page's heading has its state at the right end of the line, and nothing between.
            parts = re.split(r" {3,}", closing)
            assert closing not in small | titles, (tag, number)
            assert not (len(parts) == 2 and parts[0] in titles), (tag, number, closing)


def test_every_failure_stands_among_the_first_pages(printed: Printed) -> None:
    first, last = printed.parts["Stops, failures and undecided results"]
    text = "\n".join(printed.texts[first - 1 : last])
    gravest = 0
    for _, results in units(printed):
        for verdict in results.verdicts():
            if verdict.outcome in (Outcome.FAIL, Outcome.INCONCLUSIVE):
                gravest += 1
                shown = results.shown(verdict.check.judges, verdict.index)
                assert shown.split()[0] in text, verdict.check.name
    total = sum(len(list(results.verdicts())) for _, results in units(printed))
    assert f"{gravest} results of {total} need attention." in text
