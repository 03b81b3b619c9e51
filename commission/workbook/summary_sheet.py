"""The first sheet: whose job, how verdicts are taken, which stops stand, how each page stands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from commission import __version__
from commission.definitions.model import Key, Kind
from commission.engineering.refrigerant import saturation_table
from commission.formula.evaluate import State
from commission.language import spoken, to_say
from commission.validation.results import UnitResults
from commission.validation.verdict import DecisionRule, Outcome
from commission.workbook.addresses import Cell, column_letters
from commission.workbook.book import FACTOR_NAME, PAGES, RULE_NAME, SUMMARY, Book
from commission.workbook.index_sheets import (
    COUNT_HEADS,
    COUNTED,
    INDEX_FIRST,
    PageCounts,
    StopLine,
    count_column,
    stop_column,
)
from commission.workbook.read_back_exported import FACTOR_LABEL, RULE_LABEL
from commission.workbook.sheet import Sheet
from commission.workbook.words import in_words, tab

DEFERRAL = to_say(
    "This workbook records what was read and what that means. It does not replace "
    "the unit's literature, the codes in force at the site or the judgement of "
    "licensed people; where they differ from it, they govern."
)
_MOST_NAMED = 6
_STOPS_LEAST, _STOPS_MOST = 4, 12
_UNITS_ACROSS = 6
_WIDTHS = (34, 17, 17, 17, 17, 17, 17, 17)
_LAST = len(_WIDTHS) - 1
_RULES = to_say(
    "Simple: the result itself decides. Guarded (JCGM 106): a result nearer its "
    "limit than ± U is inconclusive."
)
_UNIT_HEADS = (to_say("Unit"), *COUNT_HEADS)


def write_summary(
    book: Book, sheet: Sheet, counts: Sequence[PageCounts], stops: Sequence[StopLine]
) -> None:
    """Write the summary."""
    sheet.columns(_WIDTHS)
    writer = _Summary(book, sheet, counts, stops)
    row = writer.job(0)
    row = writer.decision(row + 1)
    row = writer.stops_standing(row + 1)
    row = writer.units(row + 1)
    row = writer.matrix(row + 1)
    sheet.fit_rows(1, row)
    sheet.protect()
    site = book.site
    footer = spoken(
        "{id} {version}, project revision {revision}",
        id=site.form.id,
        version=site.form.version,
        revision=site.project.revision,
    )
    sheet.printed(left=site.project.title, right=SUMMARY, repeat=None, footer=footer)


@dataclass
class _Summary:
    book: Book
    sheet: Sheet
    counts: Sequence[PageCounts]
    stops: Sequence[StopLine]

    def _heading(self, row: int, text: str) -> None:
        for column in range(len(_WIDTHS)):
            self.sheet.text(row, column, text if column == 0 else "", "heading")

    def _heads(self, row: int, texts: Sequence[str]) -> None:
        for column, text in enumerate(texts):
            self.sheet.text(row, column, text, "head_center" if column else "head")

    def job(self, row: int) -> int:
        """Write what this workbook is of and made by; return the next free row."""
        project, form = self.book.site.project, self.book.site.form
        self.sheet.text(row, 0, project.title, "title")
        self.sheet.worksheet.set_row(row, 24)
        self.sheet.text(row + 1, 0, form.title, "subtitle")
        self.sheet.across(row + 2, 0, _LAST, DEFERRAL, "intro")
        volume = (("Volume", self.book.volume),) if self.book.volume else ()
        lines = (
            *volume,
            (to_say("Form"), spoken("{id}, version {version}", id=form.id, version=form.version)),
            (to_say("Form's content hash"), form.content_hash),
            ("Program", f"commission {__version__}"),
            (
                to_say("Refrigerant properties"),
                spoken(
                    "CoolProp {coolprop_version}",
                    coolprop_version=saturation_table().coolprop_version,
                ),
            ),
            (
                to_say("Project state"),
                spoken(
                    "revision {revision}, id {uuid}", revision=project.revision, uuid=project.uuid
                ),
            ),
        )
        for number, (label, text) in enumerate(lines, start=row + 3):
            self.sheet.text(number, 0, label, "label")
            self.sheet.across(number, 1, _LAST, text, "cell")
        return self._named(row + 3 + len(lines))

    def _named(self, row: int) -> int:
        """Write what the project's pages name in words: site, address, drawings ..., live."""
        pages = self.book.site.pages
        texts = [
            field
            for section in pages.sections()
            for field in section.fields
            if field.kind in (Kind.TEXT, Kind.NOTE) and not field.repeat
        ]
        known = [field for field in texts if pages.value(field.name).state is State.KNOWN]
        for number, field in enumerate(known[:_MOST_NAMED], start=row):
            content = str(pages.value(field.name).content)
            name = self.book.addresses.value(0, Key(field.name))
            self.sheet.text(number, 0, field.label, "label")
            self.sheet.merge(number, 1, _LAST, "cell")
            self.sheet.formula(number, 1, f'IF({name}="","",{name})', content, "cell")
            self.sheet.reserve(number, content, sum(_WIDTHS[1:]), "cell")
        return row + len(known[:_MOST_NAMED])

    def decision(self, row: int) -> int:
        """Write the decision rule and the coverage factor, which all verdicts read."""
        self._heading(row, to_say("How verdicts are taken"))
        decision = self.book.site.pages.calculation.decision
        self.sheet.text(row + 1, 0, RULE_LABEL, "label")
        self.sheet.merge(row + 1, 1, 2, "entry_text")
        self.sheet.text(row + 1, 1, in_words(decision.rule), "entry_text")
        rules = {"validate": "list", "source": [in_words(rule) for rule in DecisionRule]}
        self.sheet.choices(row + 1, 1, rules)
        self.sheet.across(row + 1, 3, _LAST, _RULES, "small")
        self.sheet.text(row + 2, 0, FACTOR_LABEL, "label")
        self.sheet.number(row + 2, 1, decision.coverage_factor, "entry", "0.0#")
        factor = {"validate": "decimal", "criteria": "between", "minimum": 1, "maximum": 4}
        self.sheet.choices(row + 2, 1, factor)
        self.sheet.across(row + 2, 3, _LAST, to_say("U = k u; k = 2 covers about 95 %."), "small")
        self.book.addresses.names[RULE_NAME] = Cell(tab(SUMMARY), row + 1, 1)
        self.book.addresses.names[FACTOR_NAME] = Cell(tab(SUMMARY), row + 2, 1)
        return row + 3

    # -- stops -----------------------------------------------------------------------

    def stops_standing(self, row: int) -> int:
        """Write how many stops stand and the first of them, live."""
        self._heading(row, to_say("Stops that stand"))
        standing = [line for line in self.stops if line.verdict.stops]
        count = f'COUNTIF({stop_column(self.book, 4)},"fail")'
        self.sheet.text(row + 1, 0, to_say("Stops failing now"), "label")
        self.sheet.formula(row + 1, 1, count, float(len(standing)), "count")
        self.sheet.across(
            row + 1, 2, _LAST, to_say("All stop checks are on the sheet Stops."), "small"
        )
        shown = min(max(len(standing) + 2, _STOPS_LEAST), _STOPS_MOST, len(self.stops))
        for place in range(shown):
            line = standing[place] if place < len(standing) else None
            self._stop(row + 2 + place, place + 1, line)
        return row + 2 + shown

    def _stop(self, row: int, number: int, line: StopLine | None) -> None:
        def looked_up(column: int) -> str:
            found = f"MATCH({number},{stop_column(self.book, 0)},0)"
            return f'IFERROR(INDEX({stop_column(self.book, column)},{found})&"","")'

        tag = (line.page.results.tag or "Project") if line else ""
        what = line.page.results.label(line.key) if line else ""
        gone = line.page.results.override_of(line.verdict) if line else None
        why = f"{gone.person_name}: {gone.reason}" if gone else ""
        self.sheet.formula(row, 0, looked_up(1), tag, "label")
        for first, last, column, text in ((1, 3, 3, what), (4, _LAST, 5, why)):
            self.sheet.merge(row, first, last, "cell")
            self.sheet.formula(row, first, looked_up(column), text, "cell")
            self.sheet.reserve(row, text, sum(_WIDTHS[first : last + 1]), "cell")

    # -- units and pages ---------------------------------------------------------------

    def units(self, row: int) -> int:
        """Write the live counts of each unit."""
        self._heading(row, "Units")
        self._heads(row + 1, _UNIT_HEADS)
        for owner, results in enumerate(self.book.site.everything()):
            line = row + 2 + owner
            self.sheet.text(line, 0, results.tag or "Project", "label")
            self._unit_counts(line, owner)
        return row + 3 + len(self.book.site.units)

    def _unit_counts(self, line: int, owner: int) -> None:
        places = self.book.places_of(owner)
        mine = [self.counts[place] for place in places]
        totals = [sum(count.outcomes[outcome] for count in mine) for outcome in COUNTED]
        totals += [sum(count.stops for count in mine), sum(count.unread for count in mine)]
        for place, total in enumerate(totals):
            letters = column_letters(place + count_column(Outcome.PASS))
            if places:
                first, last = (INDEX_FIRST + end + 1 for end in (places[0], places[-1]))
                area = f"'{tab(PAGES)}'!${letters}${first}:${letters}${last}"
                self.sheet.formula(line, place + 1, f"SUM({area})", float(total), "count")
            else:
                self.sheet.number(line, place + 1, 0, "count")

    def matrix(self, row: int) -> int:
        """Write pages against units, each cell a live word that links to its sheet."""
        units = self.book.site.units
        for start in range(0, max(len(units), 1), _UNITS_ACROSS):
            part = units[start : start + _UNITS_ACROSS]
            row = self._block(row, start, part) + 1
        return row

    def _block(self, row: int, start: int, units: Sequence[UnitResults]) -> int:
        self._heading(row, "Pages")
        self._heads(row + 1, ["Page", *(unit.tag for unit in units)])
        row += 2
        first = row
        for section in self.book.site.form.sections:
            owners = range(start + 1, start + 1 + len(units))
            places = [self.book.place(owner, section) for owner in owners]
            if any(place is not None for place in places):
                self.sheet.text(row, 0, section.title, "label")
                for column, place in enumerate(places, start=1):
                    self._state(row, column, place)
                row += 1
        self.sheet.words((first, 1, max(row - 1, first), max(len(units), 1)), _STATE_COLOURS)
        return row

    def _state(self, row: int, column: int, place: int | None) -> None:
        if place is None:
            self.sheet.text(row, column, "–", "matrix")
            return
        text = _state_text(self.counts[place])
        self.sheet.link(row, column, self.book.pages[place].sheet, " ", "matrix")
        self.sheet.formula(row, column, _state_formula(INDEX_FIRST + place), text, "matrix")


_STATES = (("stop", 6), ("fail", 3), ("inconclusive", 4), ("missing", 5), (to_say("to read"), 7))
_STATE_COLOURS = {
    "stop": Outcome.FAIL,
    "fail": Outcome.FAIL,
    "inconclusive": Outcome.INCONCLUSIVE,
    "missing": Outcome.MISSING,
    "to read": Outcome.MISSING,
    "pass": Outcome.PASS,
    "done": Outcome.PASS,
}


def _state_formula(row: int) -> str:
    pages = f"'{tab(PAGES)}'!"
    text = f'IF({pages}$C${row + 1}>0,"pass "&{pages}$C${row + 1},"done")'
    for word, column in reversed(_STATES):
        cell = f"{pages}${column_letters(column)}${row + 1}"
        text = f'IF({cell}>0,"{word} "&{cell},{text})'
    return text


def _state_text(count: PageCounts) -> str:
    numbers = (
        count.stops,
        count.outcomes[Outcome.FAIL],
        count.outcomes[Outcome.INCONCLUSIVE],
        count.outcomes[Outcome.MISSING],
        count.unread,
    )
    for (word, _), number in zip(_STATES, numbers, strict=True):
        if number:
            return f"{in_words(word)} {number}"
    passed = count.outcomes[Outcome.PASS]
    return f"{in_words('pass')} {passed}" if passed else "done"
