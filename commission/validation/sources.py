"""Where every formula, function and default limit comes from, as one table."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from commission.definitions.model import Check, Form, Quantity
from commission.formula.functions import FUNCTIONS
from commission.formula.parse import unparse
from commission.language import spoken, to_say


@dataclass(frozen=True, slots=True)
class SourceRow:
    """One thing that computes or limits: what it is, how, and where that comes from."""

    kind: str
    name: str
    rule: str
    unit: str
    source: str


# What a function's result may be measured in, beside a unit: see `formula.declaration`.
RESULTS = (to_say("same"), to_say("flag"), to_say("rows"), to_say("body"))


def source_rows(form: Form) -> Iterator[SourceRow]:
    """Yield functions, then quantities, then default limits, each in the order declared.

    Names and formulas are those of the form file; the rest is in the language spoken.
    """
    for function in FUNCTIONS.values():
        arguments = ", ".join(argument.name for argument in function.arguments)
        rule = f"{function.name}({arguments}); {spoken(function.valid)}"
        source = spoken(function.source)
        unit = spoken(function.result)
        yield SourceRow(spoken("function"), function.name, rule, unit, source)
    for entry in form.entries():
        if isinstance(entry, Quantity):
            rule = unparse(entry.formula)
            yield SourceRow(spoken("quantity"), entry.name, rule, entry.unit, entry.source)
    for entry in form.entries():
        if isinstance(entry, Check) and entry.basis is not None:
            yield _default_limit(entry)


def _default_limit(check: Check) -> SourceRow:
    parts = ((part, getattr(check, part)) for part in check.parts)
    rule = "; ".join(f"{part} = {unparse(tree)}" for part, tree in parts if tree is not None)
    rule = rule or spoken("must be '{answer}'", answer=spoken(check.expected))
    basis = spoken(check.basis or "")
    source = f"{basis}: {check.source}" if check.source else basis
    return SourceRow(spoken("default limit"), check.name, rule, check.unit, source)


HEADER: Sequence[str] = ("Kind", "Name", "Rule", "Unit", "Source")
