"""The rule files: complete, consistent, and refused with all faults when they are not."""

from __future__ import annotations

import re

import pytest

from commission.definitions.model import Severity
from commission.errors import FormError
from commission.sequence.configuration import Configuration
from commission.sequence.rules import Rule, read_rules, rule_book
from commission.sequence.rules_condition import names_of
from commission.sequence.trend_signals import SIGNALS

BOOK = rule_book()
FACTS = Configuration().facts()
ANY_OF = set(Configuration().members)
MADE = {row.name for row in BOOK.derived} | {"outdoor_enthalpy", "return_enthalpy"} | ANY_OF


def filled(text: str) -> str:
    return text.replace("{n}", "2").replace("{previous}", "1")


@pytest.mark.parametrize("rule", BOOK.rules, ids=lambda rule: rule.name)
def test_rule_is_complete(rule: Rule) -> None:
    assert rule.title and rule.said and rule.source and rule.cure
    assert re.match(r"[a-z]", rule.said), "said is the middle of a sentence"
    for text in rule.conditions:
        for name in names_of(filled(text)):
            assert name in SIGNALS or name in MADE or name in BOOK.limits, name
    for name in names_of(rule.when) if rule.when else ():
        assert name in FACTS
    assert ("{n}" in "".join(rule.conditions)) == bool(rule.repeat)
    assert not rule.repeat or rule.repeat in ANY_OF


def test_limits_say_where_they_come_from() -> None:
    for row in BOOK.limits.values():
        assert row.source and row.label and row.basis in ("common practice", "published")
        assert row.basis == "common practice" or re.search(r"seen|memory|chapter", row.source)


def test_every_limit_is_used() -> None:
    used = {name for rule in BOOK.rules for name in rule.limit_names}
    used |= {n for rule in BOOK.rules for t in rule.conditions for n in names_of(filled(t))}
    used |= {name for row in BOOK.derived for name in names_of(row.formula)} | {"barometer_psia"}
    assert set(BOOK.limits) <= used


def test_each_severity_is_there() -> None:
    assert {rule.severity for rule in BOOK.rules} == set(Severity)


FAULTY = """
[[limit]]
name = "wait_s"
label = "Wait"
unit = "s"
sauce = "x"
source = "x"
[[rule]]
name = "a"
title = "A"
kind = "never"
said = "x"
severity = "grave"
source = "x"
cure = "x"
[[rule]]
name = "a"
title = "A"
kind = "delay"
from = "call_fan and"
to = "indoor_fan"
at_most = "wait"
already = "maybe"
said = "x"
severity = "fail"
source = "x"
cure = "x"
"""


def test_all_faults_come_at_once() -> None:
    with pytest.raises(FormError) as caught:
        read_rules({"faulty": FAULTY})
    text = "\n".join(caught.value.faults)
    for part in ("unknown key 'sauce'. Did you mean 'source'?", "severity must be", "needs 'never'",
                 "'call_fan and' is not a formula", "limit 'wait' is not defined",
                 "already is pass", "two rules have this name"):  # fmt: skip
        assert part in text, part
