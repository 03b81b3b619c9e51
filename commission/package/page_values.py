"""What one page shows of each value, as text: in each pass, with limit, verdict, instrument."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from commission.definitions.model import Check, Field, Key, Quantity, Section
from commission.formula.evaluate import State
from commission.formula.figures import uncertainty_figure
from commission.language import spoken, to_say
from commission.package.look import BOLD, INK, QUIET, REGULAR
from commission.package.tables import Cell
from commission.package.turnover import Part, Turnover
from commission.package.wording import verdict_colour, verdict_mark
from commission.units import unit
from commission.validation.report import word
from commission.validation.results import UnitResults
from commission.validation.sentences import pass_words
from commission.validation.verdict import Outcome, Verdict

Index = tuple[int, ...]
Asked = Field | Quantity
Item = tuple[Asked, Index]

DEFAULT_MARK = " †"
UNREAD = to_say("not recorded")
_NOISE = 1e-9
_DECIDED = (Outcome.PASS, Outcome.FAIL, Outcome.INCONCLUSIVE)
_PLAIN = (Outcome.PASS, Outcome.NOT_APPLICABLE, Outcome.MISSING)


@dataclass(frozen=True)
class PageValues:
    """The texts of one page of one part."""

    turnover: Turnover
    part: Part
    section: Section

    @property
    def results(self) -> UnitResults:
        """The results in force."""
        return self.part.results

    @property
    def pass_count(self) -> int:
        """In how many passes the part was read."""
        return len(self.part.passes)

    def shown_entries(self) -> Iterator[tuple[Asked, list[Index]]]:
        """Yield the entries of which any pass shows anything, with all members asked."""
        for entry in self.section.entries:
            if isinstance(entry, Check):
                continue
            members = sorted(self.results.asked_members(entry.name))
            if any(self._stands(entry.name, member) for member in members):
                yield entry, members

    def _stands(self, name: str, member: Index) -> bool:
        return any(
            results.value(name, member).state is not State.MISSING
            for _, results in self.part.passes
        )

    # -- values --------------------------------------------------------------------

    def value_text(self, place: int, item: Item) -> str:
        """Return a value after a pass, without its unit, which has a column of its own."""
        entry, index = item
        results = self.part.passes[place][1]
        text = results.shown(entry.name, index)
        unit_text = results.shown_unit(entry.name)
        return text.removesuffix(f" {unit_text}") if unit_text else text

    def pass_texts(self, item: Item) -> list[str]:
        """Return the value after each pass; "" where a pass changed nothing."""
        texts: list[str] = []
        last = ""
        for place in range(self.pass_count):
            text = self.value_text(place, item)
            texts.append(text if text != last or not texts else "")
            last = text
        return texts

    def passes_of(self, items: Iterable[Item]) -> list[int]:
        """Return the places of the passes that say anything of their own of these values."""
        found: set[int] = set()
        for item in items:
            found |= {place for place, text in enumerate(self.pass_texts(item)) if text}
            found |= {
                place for place in range(1, self.pass_count) if self._was_read_in(place, item)
            }
        return sorted(found) or [0]

    def _was_read_in(self, place: int, item: Item) -> bool:
        name, results = self.part.passes[place]
        reading = results.reading(item[0].name, item[1])
        return reading is not None and reading.pass_name == name

    def pass_title(self, place: int) -> str:
        """Return "As found", "As left", "Retest 1"."""
        name = pass_words(self.part.passes[place][0])
        return name[0].upper() + name[1:]

    def unit_of(self, entry: Asked) -> str:
        """Return the unit in which an entry is shown."""
        return self.results.shown_unit(entry.name)

    def titled(self, entry: Asked) -> str:
        """Return an entry's label with its unit."""
        return ", ".join(filter(None, (entry.label, self.unit_of(entry))))

    # -- uncertainty and instrument --------------------------------------------------

    def uncertainty(self, name: str, index: Index) -> str:
        """Return "±2.1" in the unit shown, or "" where no instrument is named."""
        entry = self.results.form.by_name[name]
        expanded = self.results.expanded(name, index)
        if not expanded:
            return ""
        value = self.results.value(name, index).number or 0.0
        if expanded < _NOISE * max(1.0, abs(value)):
            return "±0"  # one instrument's error cancels in a difference
        if not entry.unit:
            return f"±{uncertainty_figure(expanded)}"
        # A difference: only the scales count, not where the two scales begin.
        scale = unit(entry.unit).scale / unit(self.results.shown_unit(name)).scale
        return f"±{uncertainty_figure(expanded * scale)}"

    def instrument(self, name: str, index: Index) -> str:
        """Return the tag of the instrument of a reading, or ""."""
        reading = self.results.reading(name, index)
        return self.turnover.instrument_tags.get(reading.instrument_id, "") if reading else ""

    def measured(self, item: Item) -> str:
        """Return uncertainty and instrument in one text."""
        name, index = item[0].name, item[1]
        texts = (self.uncertainty(name, index), self.instrument(name, index))
        return " ".join(filter(None, texts))

    # -- verdicts --------------------------------------------------------------------

    @cached_property
    def checks(self) -> dict[str, list[Check]]:
        """This page's checks by what they judge."""
        found: dict[str, list[Check]] = {}
        for check in self.section.checks:
            found.setdefault(check.judges, []).append(check)
        return found

    def verdicts(self, item: Item) -> list[Verdict]:
        """Return the verdicts of this page's own checks on a value."""
        entry, index = item
        return [
            self.results.verdict(check.name, index)
            for check in self.checks.get(entry.name, ())
            if self.results.relevant(check.name, index)
        ]

    def verdicts_by_member(self, check: Check, members: Sequence[Index]) -> dict[Index, Verdict]:
        """Return a check's verdicts for those members that it judges."""
        return {
            member: self.results.verdict(check.name, member)
            for member in members
            if self.results.relevant(check.name, member)
        }

    def limit_text(self, verdict: Verdict) -> str:
        """Return the limit, marked if it is a default that nobody has confirmed."""
        text = self.results.limit_text(verdict)
        return text + DEFAULT_MARK if text and verdict.limit.is_default else text

    def limit_cells(self, verdict: Verdict | None) -> list[Cell | str]:
        """Return the cells of limit and verdict."""
        return ["", ""] if verdict is None else [self.limit_text(verdict), self.cell(verdict)]

    def cell(self, verdict: Verdict, further: str = "") -> Cell:
        """Return a verdict's cell, with what the first pass found if the work changed it."""
        text = verdict_mark(verdict) + self._as_first_found(verdict) + further
        return Cell(text, face(verdict), verdict_colour(verdict))

    def _as_first_found(self, verdict: Verdict) -> str:
        name, results = self.part.passes[0]
        if self.pass_count < 2:
            return ""
        before = results.calculation.verdicts.get(Key(verdict.check.name, verdict.index))
        if before is None or before.outcome not in _DECIDED or before.outcome is verdict.outcome:
            return ""
        return f"\n({pass_words(name)}: {word(before)})"

    def verdicts_on_other_pages_values(self) -> list[Verdict]:
        """Return the verdicts of this page's checks that judge what stands on another page."""
        own = {entry.name for entry in self.section.entries if not isinstance(entry, Check)}
        return [
            self.results.verdict(check.name, index)
            for check in self.section.checks
            if check.judges not in own
            for index in self.results.asked_members(check.name)
        ]


def face(verdict: Verdict) -> str:
    """Return bold for a verdict that needs somebody's eye."""
    return REGULAR if verdict.outcome in _PLAIN else BOLD


def value_ink(text: str) -> Any:
    """Return quiet ink for the words that stand in place of a value."""
    return QUIET if text == spoken(UNREAD) else INK
