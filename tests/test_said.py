"""No refusal is written past the catalogues: each text that is raised to a person is said.

The walks in a marked language see what a window, a package and a command show on their way; a
refusal shows only when something is wrong. So the code itself is read.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from commission.definitions.figures import PLACES

ROOT = Path(__file__).resolve().parent.parent
# What a person can meet who uses the program.
FACING = (
    "archive", "commands", "definitions", "engineering", "formula", "package", "project",
    "sequence", "validation", "wizard", "workbook",
)  # fmt: skip
# Read by those who write scenarios or the shipped rules; and what only a fault of the code raises.
FOR_WRITERS = {
    "project/scenario_reading.py", "project/scenario_tables.py", "project/scenario_values.py",
    "formula/evaluate.py", "sequence/rules.py", "sequence/rules_condition.py",
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


# Modules whose every sentence is for a person: what a command prints, what is wrong with a file.
ALL_SAID = (
    "__main__.py", "commands/*.py", "definitions/build.py", "definitions/figures.py",
    "definitions/load.py", "definitions/meaning.py", "definitions/shape_faults.py",
    "formula/dimensions.py", "formula/graph.py", "formula/parse.py",
    "sequence/functional_load.py", "sequence/functional_meaning.py", "archive/compare*.py",
    "archive/handover_rules.py", "archive/store/*.py", "validation/sources.py",
)  # fmt: skip
# No sentences: what is typed, stored or matched as it is.
NO_SENTENCES = {
    *PLACES, "not applicable", "to confirm", r"(.*) \(at line (\d+), column (\d+)\)",
     " (at end of document)",
    "rooftop commissioning portfolio store", "first version",
    "authentication failed", "no password supplied", "does not exist",  # a server's own words
    "SELECT count(*) FROM sqlite_schema", "BEGIN IMMEDIATE", "PRAGMA application_id = ",
    "SELECT pg_advisory_xact_lock(",
}  # fmt: skip
MARKED = SAYING | {"to_say"}


def sentences_in(source: str) -> Iterator[tuple[int, str]]:
    """Yield (line, text) of each text of two words or more that is neither said nor marked."""
    tree = ast.parse(source)
    docstrings = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef)
        and node.body
        and isinstance(node.body[0], ast.Expr)
    }

    def look(node: ast.AST) -> Iterator[tuple[int, str]]:
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") in MARKED:
            said = 2 if node.func.id == "spoken_count" else 1  # type: ignore[attr-defined]
            for argument in (*node.args[said:], *node.keywords):
                yield from look(argument)
            return
        # A text on a line of its own says something about what stands above it.
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            return
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            if id(node) not in docstrings and re.search(
                r"[^\W\d_]{2,}[ ,:]+[^\W\d_]{2,}", node.value
            ):
                yield node.lineno, node.value
            return
        for inner in ast.iter_child_nodes(node):
            yield from look(inner)

    yield from look(tree)


def test_each_sentence_of_a_command_and_of_a_fault_is_said() -> None:
    folder = ROOT / "commission"
    paths = sorted({path for pattern in ALL_SAID for path in folder.glob(pattern)})
    assert len(paths) > 30
    found = [
        f"{path.relative_to(folder)}:{line}: {text}"
        for path in paths
        for line, text in sentences_in(path.read_text(encoding="utf-8"))
        if text not in NO_SENTENCES
    ]
    assert found == [], "say it through spoken(...)"
    assert [t for _, t in sentences_in('"""A doc."""\nprint(f"{a}: no such unit.")')]
    assert not list(sentences_in('print(spoken("{a}: no such unit.", a=a))'))


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
