"""The shipped form under any readings: nothing raises, and each edit is as good as anew."""

from __future__ import annotations

import random
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commission.definitions.load import load_form
from commission.definitions.model import Check, Field, Form, Key, Kind, Quantity
from commission.errors import ReadingError
from commission.formula.excel import condition_formula, value_formula
from commission.formula.parse import unparse
from commission.formula.tree import Call, Node, names_in
from commission.formula.uncertainty import Instrument
from commission.validation.calculation import Calculation, Given, MeasuringInstrument
from commission.validation.entry import understand
from commission.validation.plan import Plan
from commission.validation.results import UnitResults
from workbook.sample_site import small_table

INSTRUMENTS = {"M": MeasuringInstrument(Instrument(percent_of_reading=1.0, plus_minus=0.1), "")}
# What a damaged file may hold for a table: it is told as out of range, and nothing raises.
NO_TABLES = ("text", "", "1\t2\t3", "/\t1\n", "2\t1\n1\t2", "1\tnan")
FAULTY = 0.85
OFTEN_ZERO = (0.0, 0.0, 1.0, -1.0, 1e-9, 1e9)


@cache
def form() -> Form:
    return load_form()


@cache
def plan() -> Plan:
    return Plan(form())


def reading(field: Field, dice: random.Random) -> Given | None:
    """Return a reading the field would take: usual, at its bounds, odd, n/a or none."""
    kind = dice.random()
    if kind < 0.08:
        return None
    if kind < 0.12:
        return Given(not_applicable="not fitted")
    if field.choices:
        return Given(dice.choice(field.choices))
    if field.kind is Kind.TABLE:
        return Given(small_table(field) if kind < FAULTY else dice.choice(NO_TABLES))
    if field.kind not in (Kind.NUMBER, Kind.INTEGER):
        return Given("2026-09-14" if field.kind is Kind.DATE else "text")
    low, high = field.plausible or field.possible or (0.0, 500.0)
    if kind < 0.25:
        low, high = field.possible or (low, high)
        number = dice.choice([low, high, *(n for n in OFTEN_ZERO if low <= n <= high)])
    else:
        number = dice.uniform(low, high)
    if field.kind is Kind.INTEGER:
        number = float(min(round(number), 3))
    return Given(number, instrument=dice.choice(["", "M"]))


def filled(dice: random.Random) -> Calculation:
    """Return a unit filled in page by page, as members appear."""
    calculation = Calculation(plan(), instruments=INSTRUMENTS)
    entries = [entry for entry in form().entries() if isinstance(entry, Field)]
    given_now = calculation.given
    for field in entries:
        if field.name in plan().structural:
            given_now[Key(field.name)] = reading(field, dice) or Given()
            calculation.compute_all()
    for field in entries:
        for index in calculation.members(field.name):
            given = reading(field, dice)
            if given is not None and field.name not in plan().structural:
                given_now[Key(field.name, index)] = given
    calculation.compute_all()
    return calculation


def read_everything(calculation: Calculation) -> None:
    """Ask for all that a page or an output would."""
    for unit_id in ("", "u1"):
        for system in ("IP", "SI"):
            results = UnitResults(calculation, "RTU-1", unit_id, unit_system=system)
            for section in results.sections():
                results.state(section)
                for entry in section.entries:
                    for index in results.asked_members(entry.name):
                        if isinstance(entry, Check):
                            verdict = results.verdict(entry.name, index)
                            assert verdict.sentence.endswith((".", "?"))
                            results.limit_text(verdict)
                        else:
                            shown = results.shown(entry.name, index)
                            if isinstance(entry, Field) and entry.kind is Kind.TABLE:
                                table = results.table(entry.name, index)
                                assert (table is None) is (shown in ("", "n/a", "out of range"))
                            results.work(entry.name, index)
                            results.expanded(entry.name, index)


@settings(max_examples=8)
@given(st.integers(0, 10**6))
def test_any_readings_give_results_and_never_an_exception(seed: int) -> None:
    read_everything(filled(random.Random(seed)))


@settings(max_examples=4)
@given(st.integers(0, 10**6))
def test_edits_one_by_one_give_what_computing_anew_gives(seed: int) -> None:
    dice = random.Random(seed)
    live = filled(dice)
    fields = [entry for entry in form().entries() if isinstance(entry, Field)]
    for _ in range(40):
        field = dice.choice(fields)
        members = live.members(field.name)
        if members:
            live.give(Key(field.name, dice.choice(members)), reading(field, dice))
    fresh = Calculation(plan(), dict(live.given), instruments=INSTRUMENTS)
    assert live.counts == fresh.counts
    assert live.values == fresh.values
    assert live.verdicts == fresh.verdicts


def test_an_empty_unit_has_pages_and_results() -> None:
    read_everything(Calculation(plan()))


class Named:
    """References by long defined names, as a workbook has them, and the steps of look-ups."""

    def __init__(self) -> None:
        self.steps: list[tuple[str, str]] = []

    def step(self, call: Call, at: int, formula: str) -> str:
        self.steps.append((f"{unparse(call)}, step {at + 1}", formula))
        return "'Look-ups'!$AB$1234"

    def number_of(self, repeat: str) -> int:
        assert any(repeat in entry.repeat for entry in form().entries())
        return 12

    def cell(self, name: str) -> str:
        return f"u12_{name}_3_3"

    def cells(self, name: str) -> tuple[str, int]:
        return "'RTU-12 Airflow traverse by grid'!$D$12:$D$36", 25

    def is_text(self, name: str) -> bool:
        entry = form().by_name[name]
        if isinstance(entry, Quantity):
            return entry.text
        return isinstance(entry, Field) and entry.kind not in (Kind.NUMBER, Kind.INTEGER)


def depth(text: str) -> int:
    """Return how deep a formula's brackets nest."""
    level = deepest = 0
    for letter in text:
        level += (letter == "(") - (letter == ")")
        deepest = max(deepest, level)
    return deepest


def test_every_formula_is_one_that_spreadsheets_take() -> None:
    # ECMA-376 / common spreadsheets: at most 8,192 characters, 64 levels of functions.
    trees: list[tuple[str, str]] = []
    named = Named()
    for section in form().sections:
        for entry in section.entries:
            if isinstance(entry, Quantity):
                trees.append((entry.name, value_formula(entry.formula, named, entry.when)))
            if isinstance(entry, Check):
                parts = [getattr(entry, part) for part in entry.parts]
                trees += [
                    (entry.name, value_formula(part, named)) for part in parts if part is not None
                ]
            if entry.when is not None:
                trees.append((entry.name, condition_formula(entry.when, named)))
    assert len(named.steps) > 20
    trees += named.steps
    too_long = {name: len(text) for name, text in trees if len(text) > 8192}
    too_deep = {name: depth(text) for name, text in trees if depth(text) > 64}
    assert not too_long
    assert not too_deep
    assert len(trees) > 300


def test_a_bound_is_a_reading_that_is_taken() -> None:
    """The very ends of `possible` are accepted, in both unit systems, and shown back."""
    for entry in form().entries():
        if isinstance(entry, Field) and entry.possible and entry.kind is Kind.NUMBER:
            for bound in entry.possible:
                assert understand(entry, repr(float(bound))).content == bound
            beyond = entry.possible[1] + abs(entry.possible[1]) + 1
            with pytest.raises(ReadingError, match="cannot be"):
                understand(entry, repr(float(beyond)))


def test_every_name_in_a_formula_is_reached_by_a_change_of_it() -> None:
    for entry in form().entries():
        trees: list[Node | None] = [entry.when]
        if isinstance(entry, Quantity):
            trees.append(entry.formula)
        for tree in trees:
            for name in names_in(tree) if tree is not None else ():
                assert entry.name in plan().reached_from(name)
