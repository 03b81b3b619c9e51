"""What a form's names depend on, worked out once and shared by all units."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from commission.definitions.dependencies import dependencies
from commission.definitions.model import Check, Entry, Form, Key
from commission.formula.graph import computing_order
from commission.formula.tree import names_in


@dataclass(frozen=True)
class Plan:
    """The order in which a form is computed, and what a change of one name reaches."""

    form: Form

    @cached_property
    def order(self) -> tuple[str, ...]:
        """All entry names, each after what it depends on."""
        return computing_order(self.dependencies)

    @cached_property
    def dependencies(self) -> dict[str, tuple[str, ...]]:
        """The names each entry uses directly."""
        return dependencies(self.form)

    @cached_property
    def entries(self) -> dict[str, Entry]:
        """Entries by name (a plain dict, since it is looked into thousands of times)."""
        return dict(self.form.by_name)

    @cached_property
    def repeats(self) -> dict[str, tuple[str, ...]]:
        """The repeats of each entry."""
        return {name: entry.repeat for name, entry in self.entries.items()}

    @cached_property
    def only_keys(self) -> dict[str, Key]:
        """The key of each entry that is there once."""
        return {name: Key(name) for name, repeats in self.repeats.items() if not repeats}

    @cached_property
    def structural(self) -> frozenset[str]:
        """Names that decide which pages and members exist; a change of one redoes all."""
        trees = [section.when for section in self.form.sections if section.when is not None]
        trees += [repeat.count for repeat in self.form.repeats.values()]
        wanted = {name for tree in trees for name in names_in(tree)}
        found: set[str] = set()
        while wanted:
            name = wanted.pop()
            found.add(name)
            wanted |= set(self.dependencies.get(name, ())) - found
        return frozenset(found)

    def _asking(self, name: str) -> frozenset[str]:
        """Return the names that decide whether an entry's members are asked or judged at all."""
        found = self._asking_known.get(name)
        if found is None:
            entry = self.entries[name]
            page = self.form.section_by_name[entry.section].when
            trees = [tree for tree in (page, entry.when) if tree is not None]
            found = frozenset(used for tree in trees for used in names_in(tree))
            if isinstance(entry, Check):
                found |= self._asking(entry.judges)
            self._asking_known[name] = found
        return found

    @cached_property
    def judging(self) -> dict[str, tuple[Check, ...]]:
        """The checks that judge each entry, those of its own page first."""
        checks = [entry for entry in self.form.entries() if isinstance(entry, Check)]
        found: dict[str, list[Check]] = {}
        for check in checks:
            found.setdefault(check.judges, []).append(check)
        return {
            name: tuple(sorted(judging, key=lambda one: one.section != self.entries[name].section))
            for name, judging in found.items()
        }

    @cached_property
    def _asking_known(self) -> dict[str, frozenset[str]]:
        return {}

    @cached_property
    def _relevance_reached(self) -> dict[str, frozenset[str]]:
        return {}

    def relevance_reached_from(self, name: str) -> frozenset[str]:
        """Return the names whose being asked at all may change with `name`."""
        if name not in self._relevance_reached:
            changing = {name, *self.reached_from(name)}
            self._relevance_reached[name] = frozenset(
                other for other in changing if self._asking(other) & changing
            )
        return self._relevance_reached[name]

    def used_by(self, name: str) -> frozenset[str]:
        """Return `name` and everything it rests on, directly or not."""
        found = {name}
        waiting = [name]
        while waiting:
            for other in self.dependencies[waiting.pop()]:
                if other not in found:
                    found.add(other)
                    waiting.append(other)
        return frozenset(found)

    @cached_property
    def _direct_dependents(self) -> dict[str, list[str]]:
        dependents: dict[str, list[str]] = {name: [] for name in self.entries}
        for name, used in self.dependencies.items():
            for other in used:
                dependents[other].append(name)
        return dependents

    @cached_property
    def _places(self) -> dict[str, int]:
        return {name: number for number, name in enumerate(self.order)}

    @cached_property
    def _reached(self) -> dict[str, tuple[str, ...]]:
        return {}

    def reached_from(self, name: str) -> Sequence[str]:
        """Return the names that depend on `name`, directly or not, in computing order."""
        if name not in self._reached:
            found: set[str] = set()
            waiting = [name]
            while waiting:
                for other in self._direct_dependents[waiting.pop()]:
                    if other not in found:
                        found.add(other)
                        waiting.append(other)
            self._reached[name] = tuple(sorted(found, key=self._places.__getitem__))
        return self._reached[name]
