"""What each rule needs of a log, and so what to trend on a unit before it is left."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from commission.sequence.configuration import Configuration
from commission.sequence.rules import Rule, RuleBook, rule_book
from commission.sequence.rules_condition import holds, names_of
from commission.sequence.trend_signals import SIGNALS


def signals_needed(configuration: Configuration) -> Mapping[str, tuple[str, ...]]:
    """Return, for each rule that applies to a unit, the signals a log must hold to judge it."""
    book, facts = rule_book(), configuration.facts()
    return {
        rule.name: tuple(dict.fromkeys(_signals(rule, configuration, book)))
        for rule in book.rules
        if (not rule.when or holds(rule.when, facts)) and _has_part(rule, configuration)
    }


def _has_part(rule: Rule, configuration: Configuration) -> bool:
    return not rule.repeat or configuration.members.get(rule.repeat, 0) >= rule.from_member


def _signals(rule: Rule, configuration: Configuration, book: RuleBook) -> Iterator[str]:
    if not rule.repeat:
        numbers: tuple[int, ...] = (0,)
    else:
        numbers = tuple(range(rule.from_member, configuration.members[rule.repeat] + 1))
    for number in numbers:
        for text in rule.conditions:
            filled = text.replace("{n}", str(number)).replace("{previous}", str(number - 1))
            for name in names_of(filled):
                yield from _base(name, configuration, book)


def _base(name: str, configuration: Configuration, book: RuleBook) -> Iterator[str]:
    """Yield the signals a name is made of: itself, its members, or what its formula uses."""
    if name in SIGNALS:
        yield name
    elif name in configuration.members:
        yield from (f"{name}_{n}" for n in range(1, configuration.members[name] + 1))
    elif name.endswith("_enthalpy"):
        place = name.removesuffix("_enthalpy")
        yield from (f"{place}_f", f"{place}_rh_percent")
    else:
        facts = configuration.facts()
        rows = (row for row in book.derived if row.name == name)
        made = next((row for row in rows if not row.when or holds(row.when, facts)), None)
        for used in names_of(made.formula) if made else ():
            yield from _base(used, configuration, book)
