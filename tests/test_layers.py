"""Imports go down the layers only, and some libraries are imported in one place only.

The tables are the rule; the program's modules are read with `ast`, not imported, so an import
inside a function counts as one at the top does.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = "commission"

# Top to bottom. A layer imports itself and what stands below it.
LAYERS = (
    "__main__",
    "commands",  # what each command does
    "terminal",  # what the command line draws
    "wizard",
    "workbook",
    "package",
    "archive",
    "sequence",
    "drawing",  # plain shapes; the window and the package render them
    "validation",
    "project",
    "definitions",
    "formula",
    "engineering",
    "units",
    "language",
    "resources",
    "errors",
)

# The outputs draw the same results; none is made from another.
STRANGERS = frozenset({"workbook", "package", "archive"})

# Library -> the places (module or package prefixes) that may import it.
ONLY_PLACES = {
    "PySide6": ("commission.wizard",),
    "shiboken6": ("commission.wizard",),
    "xlsxwriter": ("commission.workbook",),
    "openpyxl": ("commission.workbook",),
    "reportlab": ("commission.package",),
    "pikepdf": ("commission.package",),
    "sqlite3": ("commission.project",),
    "sqlalchemy": ("commission.archive",),
    "psycopg": ("commission.archive",),
    "CoolProp": ("commission.engineering.refrigerant",),
}

# Layers that may name only these of the program's own modules, narrower than their height.
ONLY_OWN = {
    "terminal": frozenset({"errors", "terminal"}),
    "engineering": frozenset({"engineering", "errors", "language", "units"}),
    "language": frozenset({"errors", "language"}),
    "units": frozenset({"errors", "language", "units"}),
    "resources": frozenset({"errors", "resources"}),
    "errors": frozenset({"errors"}),
}


@dataclass(frozen=True, slots=True)
class Module:
    """One source file of the program, by its dotted name."""

    name: str
    source: str
    is_package: bool = False

    @property
    def layer(self) -> str:
        return layer_of(self.name)


def layer_of(name: str) -> str:
    """Return the layer of a dotted name: its second part, or "" for the package itself."""
    parts = name.split(".")
    return parts[1] if len(parts) > 1 else ""


def program_modules() -> list[Module]:
    """Return every module of the program that is in the tree."""
    modules = []
    for path in sorted((ROOT / PACKAGE).rglob("*.py")):
        parts = path.relative_to(ROOT).with_suffix("").parts
        is_package = parts[-1] == "__init__"
        name = ".".join(parts[:-1] if is_package else parts)
        modules.append(Module(name, path.read_text(encoding="utf-8"), is_package))
    return modules


def imported_names(module: Module) -> Iterator[tuple[str, int]]:
    """Yield (dotted name, line) of everything a module imports, wherever in it that stands."""
    for node in ast.walk(ast.parse(module.source)):
        if isinstance(node, ast.Import):
            yield from ((alias.name, node.lineno) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = absolute_base(module, node)
            # `from commission import errors` names a module, so each name counts.
            yield from ((f"{base}.{alias.name}", node.lineno) for alias in node.names)
        elif isinstance(node, ast.Call) and imports_by_call(node):
            argument = node.args[0] if node.args else None
            if isinstance(argument, ast.Constant) and isinstance(argument.value, str):
                yield argument.value, node.lineno


def absolute_base(module: Module, node: ast.ImportFrom) -> str:
    """Return the dotted name that a `from ... import` starts from."""
    if not node.level:
        return node.module or ""
    parts = module.name.split(".")
    up = node.level - 1 if module.is_package else node.level
    kept = parts[: len(parts) - up]
    return ".".join([*kept, node.module] if node.module else kept)


def imports_by_call(node: ast.Call) -> bool:
    """Return whether a call is `import_module(...)` or `__import__(...)`."""
    function = node.func
    name = function.attr if isinstance(function, ast.Attribute) else getattr(function, "id", "")
    return name in {"import_module", "__import__"}


def faults(module: Module) -> list[str]:
    """Return every way in which a module breaks the tables, one sentence each."""
    if module.layer and module.layer not in LAYERS:
        return [f"{module.name}: '{module.layer}' is in no layer; add it to LAYERS where it stands"]
    return [
        f"{module.name}:{line}: {fault}"
        for name, line in imported_names(module)
        for fault in (*own_faults(module, name), *library_faults(module, name))
    ]


def own_faults(module: Module, name: str) -> Iterator[str]:
    """Yield what is wrong with one import of the program's own module."""
    target = layer_of(name)
    if name.split(".")[0] != PACKAGE or target not in LAYERS:
        return  # another library, or a name of commission/__init__.py itself
    here = module.layer
    if here == "":
        yield f"the package's __init__ imports {name}; it stands below every layer"
        return
    if LAYERS.index(target) < LAYERS.index(here):
        yield f"{here} imports {name}, which stands above it"
    if target != here and {target, here} <= STRANGERS:
        yield f"{here} imports {name}; {', '.join(sorted(STRANGERS))} never import one another"
    if here in ONLY_OWN and target not in ONLY_OWN[here]:
        yield f"{here} imports {name}; it may import only {', '.join(sorted(ONLY_OWN[here]))}"


def library_faults(module: Module, name: str) -> Iterator[str]:
    """Yield what is wrong with one import of a library that has an only place."""
    places = ONLY_PLACES.get(name.split(".")[0])
    if places is None:
        return
    if not any(module.name == place or module.name.startswith(f"{place}.") for place in places):
        yield f"{name} is imported only in {', '.join(places)}"


MODULES = program_modules()


def test_there_are_modules_to_walk() -> None:
    assert {"commission.errors", "commission.units", "commission.resources"} <= {
        module.name for module in MODULES
    }


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.name)
def test_module_keeps_to_its_layer(module: Module) -> None:
    assert faults(module) == []


def test_every_folder_of_the_program_is_a_layer() -> None:
    folders = {
        path.name for path in (ROOT / PACKAGE).iterdir() if path.is_dir() and any(path.glob("*.py"))
    }
    assert folders <= set(LAYERS)


# (module, its source, a piece of the sentence that must come): each rule can fail.
BREACHES = [
    ("commission.formula.tree", "import commission.validation.calculation", "stands above it"),
    ("commission.formula.tree", "from commission.validation import plan", "stands above it"),
    ("commission.formula.tree", "from commission import project", "stands above it"),
    ("commission.formula.tree", "from ..wizard import window", "stands above it"),
    ("commission.errors", "from . import units", "stands above it"),
    ("commission.formula.tree", "def f():\n    import commission.wizard.window", "above it"),
    (
        "commission.formula.tree",
        "if TYPE_CHECKING:\n    from commission.project import records",
        "stands above it",
    ),
    (
        "commission.formula.tree",
        "importlib.import_module('commission.project.records')",
        "stands above it",
    ),
    ("commission.workbook.sheets", "import commission.package.pages", "never import one another"),
    ("commission.workbook.sheets", "from commission.archive import record", "never import one"),
    ("commission.package.pages", "from commission.archive import record", "never import one"),
    ("commission.package.pages", "from ..workbook import sheets", "never import one another"),
    ("commission.archive.record", "from commission import package", "never import one another"),
    ("commission.engineering.airflow", "from commission.resources import x", "may import only"),
    ("commission.terminal", "from commission.wizard import window", "may import only"),
    ("commission.units", "from commission.resources import forms_folder", "may import only"),
    ("commission.engineering.airflow", "from commission.formula import tree", "stands above it"),
    ("commission.engineering.airflow", "import CoolProp", "only in commission.engineering.ref"),
    ("commission.engineering.airflow", "from CoolProp.CoolProp import PropsSI", "only in"),
    ("commission.validation.plan", "def f():\n    import sqlite3", "only in commission.project"),
    ("commission.__main__", "from PySide6.QtWidgets import QApplication", "commission.wizard"),
    ("commission.wizard.window", "import openpyxl.styles", "only in commission.workbook"),
    ("commission.archive.sheets", "import xlsxwriter", "only in commission.workbook"),
    ("commission.workbook.sheets", "from reportlab.lib import colors", "only in commission.pack"),
    ("commission.workbook.sheets", "import pikepdf", "only in commission.package"),
    ("commission.workbooks", "import pikepdf", "is in no layer"),
    ("commission", "from commission.errors import CommissionError", "below every layer"),
]


@pytest.mark.parametrize(("name", "source", "sentence"), BREACHES)
def test_breach_is_found(name: str, source: str, sentence: str) -> None:
    found = faults(Module(name, source, is_package=name == PACKAGE))
    assert any(sentence in fault for fault in found), found


ALLOWED = [
    ("commission.engineering.refrigerant", "def f():\n    from CoolProp import AbstractState"),
    ("commission.engineering.refrigerant", "from commission import errors, units"),
    ("commission.project.records", "import sqlite3\nfrom . import opening\nimport json"),
    ("commission.wizard.window", "from PySide6 import QtSvg\nimport commission.package.pages"),
    ("commission.package.pages", "import reportlab, pikepdf\nfrom ..validation import results"),
    ("commission.__main__", "from commission import wizard, workbook, package, archive"),
    ("commission.formula.tree", "x = 'import sqlite3'  # import PySide6"),
    ("commission.formula.tree", "import commission\nfrom commission import __version__"),
]


@pytest.mark.parametrize(("name", "source"), ALLOWED)
def test_rightful_import_passes(name: str, source: str) -> None:
    assert faults(Module(name, source)) == []


def test_relative_import_in_a_package_starts_from_the_package_itself() -> None:
    module = Module("commission.workbook", "from .sheets import x\nfrom ..package import y", True)
    assert [name for name, _ in imported_names(module)] == [
        "commission.workbook.sheets.x",
        "commission.package.y",
    ]
