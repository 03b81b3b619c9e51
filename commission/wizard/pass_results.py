"""How a unit stood after each of its passes, kept until something of it changes."""

from __future__ import annotations

from commission.project import pass_rank
from commission.validation.results import UnitResults
from commission.validation.session import Session


class PassResults:
    """Earlier passes of the units of one open project, worked out when first asked for."""

    def __init__(self, session: Session) -> None:
        self._session = session
        self._names: dict[str, tuple[str, ...]] = {}
        self._results: dict[tuple[str, str], UnitResults] = {}

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
