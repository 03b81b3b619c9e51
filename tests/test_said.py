"""No refusal is written past the catalogues: each text that is raised to a person is said.

The walks in a marked language see what a window, a package and a command show on their way; a
refusal shows only when something is wrong. So the code itself is read.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
# What a person can meet who uses the program.
FACING = (
    "archive", "commands", "engineering", "package", "project", "sequence", "validation", "wizard",
    "workbook",
)  # fmt: skip
# Read by those who write form files, scenarios or rules; and what only a fault of the code raises.
FOR_WRITERS = {
    "project/scenario_reading.py", "project/scenario_tables.py", "project/scenario_values.py",
    "sequence/functional_load.py", "sequence/rules.py", "sequence/rules_condition.py",
    "sequence/simulated_state.py", "package/archival.py", "archive/handover.py",
    "wizard/pictures.py",
}  # fmt: skip
SAYING = {"spoken", "spoken_count", "said_in", "listed"}
LETTERS = 3


def unsaid_in(source: str) -> Iterator[tuple[int, str]]:
    """Yield (line, text) of each text of a module's refusals that does not pass `spoken`."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Call) and getattr(node.func, "id", "").endswith("Error"):
            for argument in node.args:
                yield from _unsaid(argument)


def _unsaid(node: ast.AST) -> Iterator[tuple[int, str]]:
    if isinstance(node, ast.Call) and getattr(node.func, "id", "") in SAYING:
        return
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        if sum(letter.isalpha() for letter in node.value) >= LETTERS and " " in node.value:
            yield node.lineno, node.value
        return
    for inner in ast.iter_child_nodes(node):
        yield from _unsaid(inner)


@pytest.mark.parametrize("layer", FACING)
def test_each_refusal_is_said(layer: str) -> None:
    folder = ROOT / "commission"
    found = [
        f"{place}:{line}: {text}"
        for path in sorted((folder / layer).rglob("*.py"))
        if (place := path.relative_to(folder).as_posix()) not in FOR_WRITERS
        for line, text in unsaid_in(path.read_text(encoding="utf-8"))
    ]
    assert found == [], "say it through spoken(...)"


def test_what_is_not_said_is_found() -> None:
    assert [text for _, text in unsaid_in('raise ReadingError(f"{path}: is empty. Fill it.")')]
    assert [text for _, text in unsaid_in('error = StoreError(spoken("a b") + " no such thing")')]
    assert not list(unsaid_in('raise ReadingError(spoken("{path}: is empty.", path=path))'))


def test_those_for_writers_are_there() -> None:
    assert all((ROOT / "commission" / place).is_file() for place in FOR_WRITERS)


def said_at_import(source: str) -> list[int]:
    """Return the lines where `spoken` is called while a module is imported."""
    found: list[int] = []

    def look(node: ast.AST) -> None:
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda):
            for default in (*node.args.defaults, *filter(None, node.args.kw_defaults)):
                look(default)
            return
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") in SAYING:
            found.append(node.lineno)
        for inner in ast.iter_child_nodes(node):
            look(inner)

    look(ast.parse(source))
    return found


def test_nothing_is_said_before_a_language_is_chosen() -> None:
    early = {
        path.relative_to(ROOT).as_posix(): lines
        for path in (ROOT / "commission").rglob("*.py")
        if (lines := said_at_import(path.read_text(encoding="utf-8")))
    }
    assert early == {}, "mark it with to_say(...) and say it where it is shown"
    assert said_at_import('A = spoken("x y")\ndef f(a=spoken("z")):\n    return spoken("b")') == [
        1,
        2,
    ]
