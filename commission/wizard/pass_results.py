"""How a unit stood after each of its passes, kept until something of it changes."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial

from commission.project import pass_rank
from commission.validation.results import UnitResults
from commission.validation.session import Session


class PassResults:
    """Earlier passes of the units of one open project, worked out when first asked for."""

    def __init__(self, session: Session) -> None:
        self._session = session
        self._names: dict[str, tuple[str, ...]] = {}
        self._results: dict[tuple[str, str], UnitResults] = {}
        self.is_held_back = False

    def names(self, unit_id: str) -> tuple[str, ...]:
        """Return the passes in which anything of a unit stands, oldest first."""
        if unit_id not in self._names:
            self._names[unit_id] = tuple(self._session.project.passes(unit_id))
        return self._names[unit_id]

    def at(self, unit_id: str, pass_name: str) -> UnitResults:
        """Return a unit as it stood after a pass."""
        kept = self._results.get((unit_id, pass_name))
        if kept is None:
            kept = self._session.results_of_pass(unit_id, pass_name)
            self._results[(unit_id, pass_name)] = kept
        return kept

    def computing(self, unit_id: str) -> Iterator[None]:
        """Work out the earlier passes of a unit piece by piece; `is_ready` tells the end of it."""
        for name in self.names(unit_id)[:-1]:
            place = (unit_id, name)
            if place not in self._results:
                keep = partial(self._results.__setitem__, place)
                yield from self._session.computing_of_pass(unit_id, name, keep)

    @contextmanager
    def held_back(self) -> Iterator[None]:
        """Let nobody ask inside for what is not worked out yet: it is shown later."""
        before, self.is_held_back = self.is_held_back, True
        try:
            yield
        finally:
            self.is_held_back = before

    def is_ready(self, unit_id: str) -> bool:
        """Return whether all that stands beside one another is worked out."""
        return all((unit_id, name) in self._results for name in self.names(unit_id)[:-1])

    def entered(self, unit_id: str) -> None:
        """Something was recorded in the pass that is recorded now: later ones rest on it."""
        pass_name = self._session.pass_name
        if not unit_id:
            self.forget()
            return
        if pass_name not in self._names.get(unit_id, ()):
            self._names.pop(unit_id, None)
        reached = pass_rank(pass_name)
        for key in [one for one in self._results if one[0] == unit_id]:
            if pass_rank(key[1]) >= reached:
                del self._results[key]

    def forget(self) -> None:
        """Anything may have changed: a limit, an undo, an instrument."""
        self._names.clear()
        self._results.clear()
