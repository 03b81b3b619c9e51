"""Whether a formula is still the one that was sent out, whichever program has saved it.

Programs write the same formula differently (blanks, `FALSE()`, quoted sheet names, other
digits of a constant) and move its references when rows are inserted. So two formulas are
compared as tokens, and a reference to a cell by the defined name that stands on that cell.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Mapping, Sequence

_SHEET = r"(?:'(?:[^']|'')*'|[^\W\d][\w.]*)"
_CELL = r"\$?[A-Za-z]{1,3}\$?\d{1,7}"
_TOKEN = re.compile(
    rf"""(?P<text>"(?:[^"]|"")*")"""
    r"""|(?P<named>\[[^\]"]*\])"""
    rf"""|(?P<place>(?:\$?(?P<sheet>{_SHEET})!)?(?P<first>{_CELL})(?::(?P<last>{_CELL}))?(?![\w.(]))"""
    r"""|(?P<number>(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)"""
    r"""|(?P<word>[^\W\d][\w.]*)"""
    r"""|(?P<blank>\s+)"""
    r"""|(?P<sign><=|>=|<>|.)""",
    re.VERBOSE | re.DOTALL,
)
_OPEN_TOKEN = re.compile(
    r'"(?:[^"]|"")*"|\[(?P<place>(?:[^\[\]\']|\'(?:[^\']|\'\')*\')*)\]|.', re.S
)
_OPEN_SIDE = re.compile(rf"^(?:\$?(?P<sheet>{_SHEET}))?\.(?P<cell>.*)$", re.DOTALL)
_FURTHER = ("_xlfn.", "_xlws.", "com.microsoft.")

_DECIMALS = 17
"""Some programs write a small number with 20 decimals, whatever digits that leaves."""
_NEAR, _NEXT = 1e-11, 2e-17  # of the number; or one in the last decimal kept, as at a half

NameOf = Callable[[str, str], str]
"""Sheet ("" for the formula's own) and cell ("B5") -> the defined name there, or ""."""


def canonical(formula: str, name_of: NameOf) -> tuple[str, ...]:
    """Return a formula as tokens that two programs' ways of writing it have in common."""
    tokens: list[str] = []
    for kind, token in _tokens(formula, name_of):
        if kind == "sign" and token == ")" and tokens[-2:] in (["true", "("], ["false", "("]):
            tokens.pop()
        else:
            tokens.append(token)
    return tuple(tokens)


def is_alike(ours: Sequence[str], theirs: Sequence[str]) -> bool:
    """Return whether two formulas' tokens are the same, numbers as near as their digits allow."""
    return len(ours) == len(theirs) and all(map(_is_near, ours, theirs))


def _is_near(one: str, other: str) -> bool:
    if one == other:
        return True
    try:
        return math.isclose(float(one), float(other), rel_tol=_NEAR, abs_tol=_NEXT)
    except ValueError:
        return False


def with_names(formula: str, sheet: str, names: Mapping[tuple[str, str], str]) -> str:
    """Return a formula that is sent out, its references to cells as "[name:name]"."""
    if "$" not in formula and "!" not in formula:
        return formula  # ours refer to cells so, and by names otherwise

    def named(found: re.Match[str]) -> str:
        if found["place"] is None:
            return found[0]
        there = _unquoted(found["sheet"] or "") or sheet
        ends = [cell.replace("$", "") for cell in (found["first"], found["last"]) if cell]
        return f"[{':'.join(names.get((there, cell), '') for cell in ends)}]"

    return _TOKEN.sub(named, formula)


def _tokens(formula: str, name_of: NameOf) -> Iterator[tuple[str, str]]:
    for found in _TOKEN.finditer(formula):
        kind, text = str(found.lastgroup), found[0]
        if found["place"] is not None:
            sheet = _unquoted(found["sheet"] or "")
            ends = [
                cell.replace("$", "").upper() for cell in (found["first"], found["last"]) if cell
            ]
            yield "place", f"[{':'.join(_place(sheet, cell, name_of) for cell in ends)}]"
        elif kind == "number":
            yield kind, f"{round(float(text), _DECIMALS):.12g}"
        elif kind == "word":
            yield kind, _word(text)
        elif kind == "sign":
            yield kind, "," if text == ";" else text
        elif kind == "named":
            yield kind, text.casefold()
        elif kind == "text":
            yield kind, text


def _place(sheet: str, cell: str, name_of: NameOf) -> str:
    """Return a cell by its name; one without a name is any such cell."""
    return name_of(sheet, cell).casefold()


def _word(text: str) -> str:
    word = text.casefold()
    for beginning in _FURTHER:
        word = word.removeprefix(beginning)
    return word


def _unquoted(sheet: str) -> str:
    return sheet[1:-1].replace("''", "'") if sheet.startswith("'") else sheet


# -- OpenDocument's way of writing -------------------------------------------------------


def from_open_document(formula: str) -> str:
    """Return the text of an OpenFormula formula as .xlsx has it, without "="."""
    text = formula.removeprefix("of:").removeprefix("msoxl:").removeprefix("oooc:")
    return "".join(_as_xlsx(text.removeprefix("=")))


def _as_xlsx(text: str) -> Iterator[str]:
    for found in _OPEN_TOKEN.finditer(text):
        if found["place"] is not None:
            yield place_from_open_document(found["place"])
        else:
            yield {";": ",", "~": ","}.get(found[0], found[0])


def place_from_open_document(where: str) -> str:
    """Return "$'RTU-1 Gas'.$B$5:.$B$9" as "'RTU-1 Gas'!$B$5:$B$9"."""
    first, last = _sides(where)
    start = _OPEN_SIDE.match(first)
    if start is None:
        return where
    sheet = _unquoted(start["sheet"] or "").replace("'", "''")
    text = f"'{sheet}'!{start['cell']}" if start["sheet"] else start["cell"]
    end = _OPEN_SIDE.match(last)
    return f"{text}:{end['cell'] if end else last}" if last else text


def _sides(where: str) -> tuple[str, str]:
    quoted = False
    for place, sign in enumerate(where):
        if sign == "'":
            quoted = not quoted
        elif sign == ":" and not quoted:
            return where[:place], where[place + 1 :]
    return where, ""
