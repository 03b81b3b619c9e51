"""Tree -> spreadsheet formula text, following the rules of `evaluate` cell by cell.

A cell that has no value holds "" (missing), "n/a" (not applicable) or "out of range" (the
readings make it impossible); only numbers and texts count as known. Only functions that
every common spreadsheet has are used.
"""

from __future__ import annotations

from typing import Protocol

from commission.formula.evaluate import needs
from commission.formula.functions import FUNCTIONS, FunctionKind
from commission.formula.tree import (
    Arithmetic,
    Call,
    Choice,
    Comparison,
    Logic,
    Name,
    Negative,
    Node,
    Not,
    Number,
    Text,
    walk,
)

NOT_APPLICABLE = "n/a"
OUT_OF_RANGE = "out of range"
_COMPARISON = {"==": "=", "!=": "<>"}


class References(Protocol):
    """Where in the workbook a formula's names stand, seen from one member of its repeats."""

    def cell(self, name: str) -> str | None:
        """Return the reference of one value, or None where it is not asked at all."""
        ...

    def cells(self, name: str) -> tuple[str, int] | None:
        """Return all members as "A1:A3,C1" with their number, or None where not asked."""
        ...

    def is_text(self, name: str) -> bool:
        """Return whether the value is a text, not a number."""
        ...

    def number_of(self, repeat: str) -> int:
        """Return the number of the member at hand of one of its repeats."""
        ...

    def step(self, call: Call, at: int, formula: str) -> str:
        """Give a step of a look-up (`Function.steps[at]`) a cell of its own; return it."""
        ...


def quoted(text: str) -> str:
    """Return a text as it is written inside a formula."""
    return '"' + text.replace('"', '""') + '"'


def value_formula(node: Node, references: References, when: Node | None = None) -> str:
    """Return the formula text (without "=") of a computed cell."""
    body = _branch(node, references)
    if when is None:
        return body
    return f"IF({condition_formula(when, references)},{body},{quoted(NOT_APPLICABLE)})"


def condition_formula(node: Node, references: References) -> str:
    """Return a formula that is TRUE only where all inputs are known and the condition holds."""
    if isinstance(node, Choice):
        then = condition_formula(node.then, references)
        otherwise = condition_formula(node.otherwise, references)
        choice = f"IF({expression(node.condition, references)},{then},{otherwise})"
        inner = _safe(node.condition, choice, "FALSE")
        return _guarded(node.condition, references, inner, "FALSE", "FALSE")
    inner = _safe(node, expression(node, references), "FALSE")
    return _guarded(node, references, inner, "FALSE", "FALSE")


def _safe(condition: Node, text: str, fault: str) -> str:
    """Return `text` with `fault` in place of an error that computing `condition` may give."""
    parts = (part for part in walk(condition) if isinstance(part, Arithmetic | Call))
    can_fail = any(
        isinstance(part, Arithmetic) or FUNCTIONS[part.function].kind is not FunctionKind.PRESENCE
        for part in parts
    )
    return f"IFERROR({text},{fault})" if can_fail else text


def _branch(node: Node, references: References) -> str:
    if isinstance(node, Choice):
        then = _branch(node.then, references)
        otherwise = _branch(node.otherwise, references)
        choice = f"IF({expression(node.condition, references)},{then},{otherwise})"
        inner = _safe(node.condition, choice, quoted(OUT_OF_RANGE))
        return _guarded(node.condition, references, inner, quoted(NOT_APPLICABLE), '""')
    safe = f"IFERROR({expression(node, references)},{quoted(OUT_OF_RANGE)})"
    return _guarded(node, references, safe, quoted(NOT_APPLICABLE), '""')


def _guarded(
    node: Node, references: References, inner: str, not_applicable: str, missing: str
) -> str:
    """Wrap `inner` in the tests that its inputs are there, as `evaluate.absence` does."""
    absent: list[str] = []
    unread: list[str] = []
    numbers: list[str] = []
    wanted = 0
    nothing_to_read = False
    for name, all_members in needs(node):
        found = references.cells(name.name) if all_members else references.cell(name.name)
        if found is None:
            return not_applicable
        cell, count = found if isinstance(found, tuple) else (found, 1)
        if count == 0:
            nothing_to_read = True
            continue
        absent += _not_applicable_tests(cell) if all_members else [f'{cell}="n/a"']
        if references.is_text(name.name):
            unread += [f'{cell}=""', f"{cell}={quoted(OUT_OF_RANGE)}"]
        else:
            numbers.append(cell)
            wanted += count
    if numbers:
        unread.append(f"COUNT({','.join(numbers)})<{wanted}")
    if nothing_to_read:
        return f"IF({_any(absent)},{not_applicable},{missing})" if absent else missing
    if not unread:
        return inner
    return f"IF({_any(absent)},{not_applicable},IF({_any(unread)},{missing},{inner}))"


def _not_applicable_tests(cells: str) -> list[str]:
    return [f'COUNTIF({part},"n/a")>0' for part in cells.split(",")]


def _any(tests: list[str]) -> str:
    return tests[0] if len(tests) == 1 else f"OR({','.join(tests)})"


def expression(node: Node, references: References) -> str:
    """Return the bare expression of a branch, without tests for missing inputs."""
    match node:
        case Number(value):
            return repr(int(value)) if value.is_integer() else repr(value).upper()
        case Text(value):
            return quoted(value)
        case Name(name):
            return references.cell(name) or "NA()"
        case Negative(operand):
            return f"-{_operand(operand, references)}"
        case Arithmetic(sign, left, right):
            return _arithmetic(sign, left, right, references)
        case Comparison(sign, left, right):
            written = _COMPARISON.get(sign, sign)
            return f"{_operand(left, references)}{written}{_operand(right, references)}"
        case Not(operand):
            return f"NOT({expression(operand, references)})"
        case Logic(word, operands):
            return f"{word.upper()}({','.join(expression(part, references) for part in operands)})"
        case Choice(condition, then, otherwise):
            parts = (expression(part, references) for part in (condition, then, otherwise))
            return f"IF({','.join(parts)})"
        case Call():
            return _call(node, references)


def _arithmetic(sign: str, left: Node, right: Node, references: References) -> str:
    first, second = _operand(left, references), _operand(right, references)
    if sign in "*/" and isinstance(left, Arithmetic) and left.operator in "*/":
        first = expression(left, references)
    if sign in "+-" and isinstance(left, Arithmetic) and left.operator != "**":
        first = expression(left, references)
    if sign in "+-" and isinstance(right, Arithmetic) and right.operator in "*/":
        second = expression(right, references)
    return f"{first}{'^' if sign == '**' else sign}{second}"


def _operand(node: Node, references: References) -> str:
    """Bracket whatever is not one term: spreadsheets bind minus and powers their own way."""
    text = expression(node, references)
    return text if isinstance(node, Number | Text | Name | Call) else f"({text})"


def _call(node: Call, references: References) -> str:
    function = FUNCTIONS[node.function]
    if function.kind is FunctionKind.PRESENCE:
        return _presence(node.arguments[0], references)
    if function.kind is FunctionKind.AGGREGATE:
        argument = node.arguments[0]
        assert isinstance(argument, Name)
        found = references.cells(argument.name)
        return function.spreadsheet.format(found[0]) if found else "NA()"
    if function.kind is FunctionKind.MEMBER:
        repeat = node.arguments[0]
        assert isinstance(repeat, Text)
        return str(references.number_of(repeat.value))
    texts = [_operand(argument, references) for argument in node.arguments]
    if function.kind is FunctionKind.ENTERED:
        return _looked_up(node, texts, references)
    return function.spreadsheet.format(*texts, all=",".join(texts))


def _looked_up(node: Call, texts: list[str], references: References) -> str:
    """Place the steps of a look-up in cells, each shown blank where it cannot be, then use them."""
    function, table = FUNCTIONS[node.function], node.arguments[0]
    assert isinstance(table, Name)
    if references.cell(table.name) is None:
        return "NA()"
    one_way = len(texts) < len(function.arguments)
    absent = [f"{texts[0]}={word}" for word in ('""', quoted(NOT_APPLICABLE), quoted(OUT_OF_RANGE))]
    absent.append(f"COUNT({','.join(texts[1:])})<{len(texts) - 1}")
    cells: dict[str, str] = {}
    for at, step in enumerate(function.steps):
        template = step.one_way if one_way and step.one_way else step.spreadsheet
        formula = f'IFERROR({template.format(*texts, **cells)},"")'
        rests_on = [cell for name, cell in cells.items() if f"{{{name}}}" in template]
        blank = [f'{cell}=""' for cell in rests_on] or absent
        formula = f'IF({_any(blank)},"",{formula})'
        cells[step.name] = references.step(node, at, formula)
    return function.spreadsheet.format(*texts, **cells)


def _presence(argument: Node, references: References) -> str:
    assert isinstance(argument, Name)
    cell = references.cell(argument.name)
    if cell is None:
        return "FALSE"
    if references.is_text(argument.name):
        return f'AND({cell}<>"",{cell}<>"n/a",{cell}<>{quoted(OUT_OF_RANGE)})'
    return f"ISNUMBER({cell})"
