"""Formula text -> tree, and back.

Python expression syntax, read with `ast` and rebuilt from a white list: arithmetic,
comparison, and/or/not, `a if c else b`, names, numbers, texts and known functions.
Nothing is ever executed.
"""

from __future__ import annotations

import ast
import math

from commission.errors import FormulaError
from commission.formula.functions import FUNCTIONS, Function, FunctionKind
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
)
from commission.language import near_miss, spoken, spoken_again, spoken_count, to_say

_ARITHMETIC: dict[type[ast.operator], str] = {
    ast.Add: "+",
    ast.Sub: "-",
    ast.Mult: "*",
    ast.Div: "/",
    ast.Pow: "**",
}
_COMPARISON: dict[type[ast.cmpop], str] = {
    ast.Eq: "==",
    ast.NotEq: "!=",
    ast.Lt: "<",
    ast.LtE: "<=",
    ast.Gt: ">",
    ast.GtE: ">=",
}
_LONGEST = 4_000
_DEEPEST = 60
_TOO_DEEP = to_say("the formula is nested too deeply. Break it into quantities.")
# What Python's parser most often says of a text that is no formula.
_PARSER_WORDS = (
    to_say("nested too deeply"),
    to_say("invalid syntax"),
    to_say("invalid syntax. Perhaps you forgot a comma?"),
    to_say("invalid decimal literal"),
    to_say("expected 'else' after 'if' expression"),
    to_say("unterminated string literal (detected at line {value})"),
    to_say("'{value}' was never closed"),
    to_say("unmatched '{value}'"),
)
# Spreadsheets nest at most 64 deep, and one choice nests up to four.
_MOST_CHOICES = 12


def parse(text: str) -> Node:
    """Return the tree of a formula.

    Raises:
        FormulaError: The text is not a formula, or uses something formulas do not have;
            the message holds the part at fault.
    """
    if len(text) > _LONGEST:
        raise FormulaError(
            spoken(
                "formula of {count} characters; at most {most}. Break it into quantities.",
                count=len(text),
                most=_LONGEST,
            )
        )
    try:
        tree = ast.parse(text.strip(), mode="eval")
    except (SyntaxError, ValueError, RecursionError, MemoryError) as error:
        said = error.msg if isinstance(error, SyntaxError) else to_say("nested too deeply")
        reason = spoken_again(said, _PARSER_WORDS)
        raise FormulaError(
            spoken("'{formula}' is not a formula: {reason}.", formula=text, reason=reason)
        ) from None
    try:
        return _outermost(tree.body, 0)
    except RecursionError:  # while the part at fault was being written out
        raise FormulaError(spoken(_TOO_DEEP)) from None


def _outermost(node: ast.expr, choices: int) -> Node:
    """Build a formula's top: here, and only here, choices may stand."""
    if not isinstance(node, ast.IfExp):
        return _build(node, 0)
    if choices == _MOST_CHOICES:
        raise FormulaError(
            spoken(
                "more than {most} choices in one another. Break the formula into quantities.",
                most=_MOST_CHOICES,
            )
        )
    deeper = choices + 1
    condition = _build(node.test, 1)
    return Choice(condition, _outermost(node.body, deeper), _outermost(node.orelse, deeper))


def _build(node: ast.expr, depth: int) -> Node:
    if depth > _DEEPEST:
        raise FormulaError(spoken(_TOO_DEEP))
    deeper = depth + 1
    match node:
        case ast.Constant(value=bool() as flag):
            raise FormulaError(
                spoken("'{part}' cannot stand in a formula; compare with 'yes'.", part=flag)
            )
        case ast.Constant(value=int() | float() as value):
            return _literal(value)
        case ast.Constant(value=str(value)):
            return Text(value)
        case ast.Name(id=name):
            return Name(name)
        case ast.UnaryOp(op=ast.USub(), operand=operand):
            return Negative(_build(operand, deeper))
        case ast.UnaryOp(op=ast.UAdd(), operand=operand):
            return _build(operand, deeper)
        case ast.UnaryOp(op=ast.Not(), operand=operand):
            return Not(_build(operand, deeper))
        case ast.BinOp(left=left, op=operator, right=right) if type(operator) in _ARITHMETIC:
            return Arithmetic(
                _ARITHMETIC[type(operator)], _build(left, deeper), _build(right, deeper)
            )
        case ast.Compare():
            return _comparison(node, deeper)
        case ast.BoolOp(op=operator, values=values):
            word = "and" if isinstance(operator, ast.And) else "or"
            return Logic(word, tuple(_build(value, deeper) for value in values))
        case ast.Call():
            return _call(node, deeper)
        case ast.IfExp():
            raise FormulaError(
                spoken(
                    "'{part}': a choice can only be the outermost part of a formula. Make it a "
                    "quantity of its own.",
                    part=ast.unparse(node),
                )
            )
    raise FormulaError(_stranger(node))


def _stranger(node: ast.expr) -> str:
    return spoken("'{part}' cannot stand in a formula.", part=ast.unparse(node))


def _literal(value: float) -> Number:
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise FormulaError(spoken("a number is too large; the largest is about 1.8e308."))
    return Number(number)


def _comparison(node: ast.Compare, depth: int) -> Node:
    sides = [_build(side, depth) for side in (node.left, *node.comparators)]
    pairs: list[Node] = []
    for operator, left, right in zip(node.ops, sides, sides[1:], strict=False):
        if type(operator) not in _COMPARISON:
            raise FormulaError(_stranger(node))
        pairs.append(Comparison(_COMPARISON[type(operator)], left, right))
    return pairs[0] if len(pairs) == 1 else Logic("and", tuple(pairs))


def _call(node: ast.Call, depth: int) -> Node:
    text = ast.unparse(node)
    if not isinstance(node.func, ast.Name) or node.keywords:
        raise FormulaError(spoken("'{part}' is not a plain call of a function.", part=text))
    function = FUNCTIONS.get(node.func.id)
    if function is None:
        hint = near_miss(node.func.id, FUNCTIONS)
        raise FormulaError(
            spoken("'{name}' is not a function.{hint}", name=node.func.id, hint=hint)
        )
    wanted, given = len(function.arguments), len(node.args)
    if given < wanted - function.optional or (given > wanted and not function.variadic):
        raise FormulaError(f"'{text}': {_takes(function, given)}")
    arguments = tuple(_build(argument, depth) for argument in node.args)
    if function.kind is FunctionKind.MEMBER:
        arguments = (_repeat_named(arguments[0], text),)
    if function.kind is FunctionKind.ENTERED and not isinstance(arguments[0], Name):
        raise FormulaError(
            spoken(
                "'{part}': {function} needs the name of a table field first.",
                part=text,
                function=function.name,
            )
        )
    return Call(function.name, arguments)


def _takes(function: Function, given: int) -> str:
    """Say how many arguments a function takes, and how many stand there."""
    most = len(function.arguments)
    names = ", ".join(argument.name for argument in function.arguments)
    if function.optional:
        return spoken(
            "{function} takes {fewest} to {most} arguments ({names}), {given} given.",
            function=function.name,
            fewest=most - function.optional,
            most=most,
            names=names,
            given=given,
        )
    return spoken_count(
        "{function} takes {count} argument ({names}), {given} given.",
        "{function} takes {count} arguments ({names}), {given} given.",
        most,
        function=function.name,
        names=names,
        given=given,
    )


def _repeat_named(argument: Node, text: str) -> Text:
    """Keep a repeat's name as a text: it is no field or quantity that has a value."""
    if isinstance(argument, Name):
        return Text(argument.name)
    if isinstance(argument, Text):
        return argument
    raise FormulaError(spoken("'{part}' needs the name of a repeat.", part=text))


_STRENGTH = {"or": 1, "and": 2, "not": 3, "==": 4, "+": 5, "*": 6, "-x": 7, "**": 8}


def unparse(node: Node) -> str:
    """Return formula text whose parse is `node` again."""
    return _text(node, 0)


def _text(node: Node, outer: int) -> str:
    match node:
        case Number(value):
            return repr(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
        case Text(value):
            return repr(value)
        case Name(name):
            return name
        case Call(function, arguments):
            return f"{function}({', '.join(_text(part, 0) for part in arguments)})"
        case Choice(condition, then, otherwise):
            inner = f"{_text(then, 1)} if {_text(condition, 1)} else {_text(otherwise, 0)}"
            return _bracket(inner, 0, outer)
        case Negative(operand):
            return _bracket(f"-{_text(operand, 7)}", 7, outer)
        case Not(operand):
            return _bracket(f"not {_text(operand, 3)}", 3, outer)
        case Logic(operator, operands):
            strength = _STRENGTH[operator]
            inner = f" {operator} ".join(_text(part, strength + 1) for part in operands)
            return _bracket(inner, strength, outer)
        case Comparison(operator, left, right):
            return _bracket(f"{_text(left, 5)} {operator} {_text(right, 5)}", 4, outer)
        case Arithmetic(operator, left, right):
            return _arithmetic_text(operator, left, right, outer)


def _arithmetic_text(operator: str, left: Node, right: Node, outer: int) -> str:
    if operator == "**":
        return _bracket(f"{_text(left, 9)} ** {_text(right, 8)}", 8, outer)
    strength = 5 if operator in "+-" else 6
    inner = f"{_text(left, strength)} {operator} {_text(right, strength + 1)}"
    return _bracket(inner, strength, outer)


def _bracket(text: str, strength: int, outer: int) -> str:
    return f"({text})" if strength < outer else text
