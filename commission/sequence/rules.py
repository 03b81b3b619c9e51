"""Rules as data: what is fitted, what must or must not be seen, within which limit, why.

They stand in `rules_*.toml` beside this file. Four kinds:

- never: while `while` has held for `settle_s`, `never` must not hold longer than `longer_s`
- delay: from `from` becoming true to `to` becoming true, at least / at most
- lasting: how long `of` stays true, at least / at most
- rate: how often an hour `of` becomes true, at most

A duration or bound is a number or the name of a limit. "{n}" is the member's number,
"{previous}" the one before it.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields
from functools import cache
from importlib.resources import files
from typing import TypeVar

from commission.definitions.model import Severity
from commission.definitions.translated import said
from commission.errors import FormError, FormulaError
from commission.language import language, near_miss, to_say
from commission.sequence.rules_condition import condition

FILES = ("rules_limits", "rules_fan", "rules_cooling", "rules_air", "rules_gas", "rules_heat",
         "rules_protections")  # fmt: skip
KINDS: Mapping[str, tuple[str, ...]] = {
    "never": ("never",),
    "delay": ("from", "to"),
    "lasting": ("of",),
    "rate": ("of", "at_most"),
}
BASES = (to_say("common practice"), to_say("published"))
T = TypeVar("T")
_CONDITIONS = ("while", "never", "from", "to", "of", "provided", "ended_while", "when")


@dataclass(frozen=True, slots=True)
class LimitRow:
    """One limit that a person may replace; `default` None: not judged until it is entered.

    `form` names the form's entries of the same meaning ("check.part", or a name).
    """

    name: str
    label: str
    unit: str
    default: float | None
    source: str
    basis: str = "common practice"
    form: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Derived:
    """A signal made of others; the first row of a name whose `when` holds is used."""

    name: str
    formula: str
    when: str = ""


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule; see the module for what each kind uses.

    Attributes:
        said: What it means when the rule is broken ("the compressor ran with no indoor fan").
        must_come: For a delay: the effect not coming before the cause ends is a failure, even
            within the time.
        already: For a delay: what it means when `to` holds as `from` begins (pass, fail, skip).
        repeat: The repeated part it is asked of, each member once, from `from_member` on.
    """

    name: str
    title: str
    kind: str
    said: str
    severity: Severity
    source: str
    cure: str
    when: str = ""
    while_: str = ""
    never: str = ""
    settle_s: str | float = 0.0
    longer_s: str | float = 0.0
    from_: str = ""
    to: str = ""
    of: str = ""
    at_least: str | float | None = None
    at_most: str | float | None = None
    provided: str = ""
    ended_while: str = ""
    must_come: bool = False
    already: str = "pass"
    repeat: str = ""
    from_member: int = 1

    @property
    def conditions(self) -> tuple[str, ...]:
        """Return the conditions over columns that the rule holds."""
        texts = (
            self.while_, self.never, self.from_, self.to, self.of, self.provided,
            self.ended_while,
        )  # fmt: skip
        return tuple(text for text in texts if text)

    @property
    def limit_names(self) -> tuple[str, ...]:
        """Return the limits that its durations and bounds name."""
        bounds = (self.settle_s, self.longer_s, self.at_least, self.at_most)
        return tuple(bound for bound in bounds if isinstance(bound, str))


@dataclass(frozen=True, slots=True)
class RuleBook:
    """Everything in the rule files."""

    limits: Mapping[str, LimitRow]
    derived: tuple[Derived, ...]
    rules: tuple[Rule, ...]


def rule_book() -> RuleBook:
    """Return the shipped rules in the language spoken here, each read once.

    Raises:
        FormError: All faults of all files, each with its file and entry.
    """
    return _said_book(language())


@cache
def _said_book(code: str) -> RuleBook:
    return said(_shipped(), code)


@cache
def _shipped() -> RuleBook:
    folder = files("commission.sequence")
    return read_rules({name: folder.joinpath(f"{name}.toml").read_text("utf-8") for name in FILES})


def read_rules(texts: Mapping[str, str]) -> RuleBook:
    """Return the rules in TOML texts (file name -> text).

    Raises:
        FormError: All faults at once.
    """
    faults: list[str] = []
    limits: dict[str, LimitRow] = {}
    derived: list[Derived] = []
    rules: list[Rule] = []
    for name, text in texts.items():
        table = tomllib.loads(text)
        for entry in table.get("limit", []):
            given = {"default": None} | entry | {"form": tuple(entry.get("form", ()))}
            row = _built(LimitRow, given, name, faults)
            limits |= {row.name: row} if row else {}
        made = (_built(Derived, entry, name, faults) for entry in table.get("derived", []))
        derived += [signal for signal in made if signal]
        for entry in table.get("rule", []):
            rule = _built(Rule, _for_rule(entry, name, faults), name, faults)
            rules += [rule] if rule else []
    for rule in rules:
        faults += _faults_of(rule, limits)
    faults += _twice([rule.name for rule in rules])
    if faults:
        raise FormError(faults)
    return RuleBook(limits, tuple(derived), tuple(rules))


def _for_rule(entry: Mapping[str, object], file: str, faults: list[str]) -> dict[str, object]:
    """Return a rule's entry with Python's names, its severity turned."""
    renamed = {"while": "while_", "from": "from_"}
    row = {renamed.get(key, key): value for key, value in entry.items()}
    try:
        row["severity"] = Severity(str(entry.get("severity")))
    except ValueError:
        faults.append(f"{file}: {entry.get('name')}: severity must be stop, fail or note")
        row["severity"] = Severity.NOTE
    for key in _CONDITIONS:
        try:
            if text := entry.get(key):
                condition(str(text).replace("{n}", "1").replace("{previous}", "1"))
        except FormulaError as error:
            faults.append(f"{file}: {entry.get('name')}: {key}: {error}")
    return row


def _built(kind: type[T], entry: Mapping[str, object], file: str, faults: list[str]) -> T | None:
    known = {field.name for field in fields(kind)}  # type: ignore[arg-type]
    strangers = [key for key in entry if key not in known]
    faults += [
        f"{file}: {entry.get('name')}: unknown key '{key}'.{near_miss(key, known)}"
        for key in strangers
    ]
    try:
        return kind(**{key: value for key, value in entry.items() if key in known})
    except TypeError as error:
        faults.append(f"{file}: {entry.get('name')}: {error}")
        return None


def _faults_of(rule: Rule, limits: Mapping[str, LimitRow]) -> Iterator[str]:
    if rule.kind not in KINDS:
        yield f"{rule.name}: kind '{rule.kind}' is not one of {', '.join(KINDS)}"
        return
    renamed = {"from": "from_"}
    for key in KINDS[rule.kind]:
        if getattr(rule, renamed.get(key, key)) in ("", None):
            yield f"{rule.name}: a rule of kind {rule.kind} needs '{key}'"
    if rule.kind in ("delay", "lasting") and rule.at_least is None and rule.at_most is None:
        yield f"{rule.name}: give at_least, at_most or both"
    if rule.already not in ("pass", "fail", "skip"):
        yield f"{rule.name}: already is pass, fail or skip, not '{rule.already}'"
    for name in rule.limit_names:
        if name not in limits:
            yield f"{rule.name}: limit '{name}' is not defined.{near_miss(name, limits)}"


def _twice(names: list[str]) -> Iterator[str]:
    for name in sorted({name for name in names if names.count(name) > 1}):
        yield f"{name}: two rules have this name"
