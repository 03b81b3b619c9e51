"""Stops that hold a page, as live formulas."""

from __future__ import annotations

from collections.abc import Sequence

from commission.definitions.model import Key
from commission.formula.excel import quoted
from commission.language import spoken, to_say
from commission.validation.verdict import Outcome
from commission.workbook.book import Book
from commission.workbook.layout import Page
from commission.workbook.texts import shortened

_LONGEST_LITERAL = 250  # a text inside a formula holds 255
_CLEAR = (Outcome.PASS, Outcome.NOT_APPLICABLE)


def guard_formulas(book: Book, page: Page, keys: Sequence[Key]) -> tuple[str, str, str, str]:
    """Return the formula of "clear" or "held" with its value, and of what is waited for.

    A stop that a named person has gone past counts as clear, as in the program.
    """
    overridden = [key for key in keys if _gone_past(page, key)]
    holding = [key for key in keys if key not in overridden]
    tests = [_test(book.value_name(page, key) or '""') for key in holding]
    end = spoken("{count} in all", count=len(keys)) + (
        spoken(", {count} gone past by name", count=len(overridden)) if overridden else ""
    )
    parts = [
        f'IF({test},"",{quoted(_waiting(page, key))})'
        for test, key in zip(tests, holding, strict=True)
    ]
    now = [_waiting(page, key) for key in holding if not _is_clear(page, key)]
    clear = f'IF(AND({",".join(tests)}),"clear","held")' if tests else quoted("clear")
    state = to_say("held") if now else to_say("clear")
    return clear, state, "&".join([*parts, quoted(end)]), "".join(now) + end


def _test(name: str) -> str:
    return f"OR({','.join(f'{name}={quoted(outcome)}' for outcome in _CLEAR)})"


def _waiting(page: Page, key: Key) -> str:
    return shortened(page.results.label(key), _LONGEST_LITERAL) + ";  "


def _is_clear(page: Page, key: Key) -> bool:
    return page.results.verdict(*key).outcome in _CLEAR


def _gone_past(page: Page, key: Key) -> bool:
    return page.results.override_of(page.results.verdict(*key)) is not None
