"""Which names each entry of a form uses: what must be computed before it."""

from __future__ import annotations

from commission.definitions.model import Check, Entry, Form, Quantity
from commission.formula.tree import Name, Node, names_in


def dependencies(form: Form) -> dict[str, tuple[str, ...]]:
    """Return for every field and quantity the names its formula and relevance use."""
    found: dict[str, tuple[str, ...]] = {}
    for section in form.sections:
        page = names_in(section.when) if section.when is not None else ()
        for entry in section.entries:
            trees = _trees(entry)
            counts = [form.repeats[name].count for name in entry.repeat if name in form.repeats]
            names = [name for tree in (*trees, *counts) for name in names_in(tree)]
            found[entry.name] = tuple(dict.fromkeys((*page, *names)))
    return found


def _trees(entry: Entry) -> list[Node]:
    trees: list[Node | None] = [entry.when]
    if isinstance(entry, Quantity):
        trees.append(entry.formula)
    if isinstance(entry, Check):
        trees.append(Name(entry.judges))
        trees += [getattr(entry, part) for part in entry.parts]
    return [tree for tree in trees if tree is not None]
