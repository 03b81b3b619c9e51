"""Limits of a project file: what each check is held to in a unit, and where that comes from."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from types import MappingProxyType

from commission.errors import ReadingError
from commission.language import near_miss, spoken
from commission.project.journal import Row, index_from, index_text
from commission.project.readings import ReadingLog, bracketed
from commission.project.records import LIMIT_PARTS, Index, Limit
from commission.project.schema import TABLES

_LIMIT = TABLES["limit_entry"]


class LimitLog(ReadingLog):
    """The limits of all units, with their history."""

    def set_limit(
        self,
        unit_id: str,
        check: str,
        index: Index = (),
        parts: Mapping[str, float] | None = None,
        *,
        origin: str = "",
        confirmed: bool = False,
        person_id: str = "",
    ) -> Limit:
        """Commit what a check is held to in one unit.

        Args:
            index: the member, or () for all members.
            parts: low, high, target, tolerance, tolerance_percent, as far as entered; none
                with `confirmed` confirms a default as it stands.
            origin: document, page, date.
        Raises:
            ReadingError: unknown part, not a number, low above high, negative tolerance.
        """
        what = spoken("The limit of {check}{bracketed}", check=check, bracketed=bracketed(index))
        return self._append_limit(
            unit_id,
            check,
            index,
            what,
            parts=json.dumps(_checked_parts(parts or {}, what)),
            origin=origin,
            confirmed=confirmed,
            person_id=person_id or self.person_id,
        )

    def clear_limit(self, unit_id: str, check: str, index: Index = ()) -> None:
        """Take an entered limit back, so that the form's default (or nothing) counts."""
        self._append_limit(
            unit_id,
            check,
            index,
            spoken("The limit of {check}{bracketed}", check=check, bracketed=bracketed(index)),
            parts="{}",
            origin="",
            confirmed=False,
            person_id=self.person_id,
            removed=True,
        )

    def _append_limit(
        self, unit_id: str, check: str, index: Index, what: str, **content: object
    ) -> Limit:
        place = {"unit_id": unit_id, "check": check, "index": index_text(index)}
        with self.transaction(what):
            self._refuse_unknown_unit(unit_id)
            supersedes = next((row["id"] for row in self._newest(_LIMIT, **place)), "")
            content |= place | {"supersedes": supersedes}
            return _limit(self._append(_LIMIT, [content], what)[0])

    def limits(self, unit_id: str) -> dict[tuple[str, Index], Limit]:
        """Return the limits that count now, by check and index (() = all members)."""
        found = [_limit(row) for row in self._current(_LIMIT, unit_id=unit_id)]
        return {(limit.check, limit.index): limit for limit in found}

    def limit_history(self, unit_id: str, check: str, index: Index = ()) -> list[Limit]:
        """Return all limits ever entered for one check, oldest first."""
        rows = self._rows(_LIMIT, unit_id=unit_id, check=check, index=index_text(index))
        return [_limit(row) for row in rows]


def _checked_parts(parts: Mapping[str, float], what: str) -> dict[str, float]:
    for name, value in parts.items():
        if name not in LIMIT_PARTS:
            raise ReadingError(
                spoken(
                    "{what}: '{name}' is no part of a limit; parts are {limit_parts}.{hint}",
                    what=what,
                    name=name,
                    limit_parts=", ".join(LIMIT_PARTS),
                    hint=near_miss(name, LIMIT_PARTS),
                )
            )
        if isinstance(value, bool) or not math.isfinite(value):
            raise ReadingError(
                spoken(
                    "{what}: {name} = {value} is not a number. Enter a number.",
                    what=what,
                    name=name,
                    value=value,
                )
            )
    _refuse_crossed(parts, what)
    return {name: float(value) for name, value in parts.items()}


def _refuse_crossed(parts: Mapping[str, float], what: str) -> None:
    if "low" in parts and "high" in parts and parts["low"] > parts["high"]:
        raise ReadingError(
            spoken(
                "{what}: low {low:g} is above high {high:g}. Exchange or correct them.",
                what=what,
                low=parts["low"],
                high=parts["high"],
            )
        )
    for name in ("tolerance", "tolerance_percent"):
        if parts.get(name, 0.0) < 0:
            raise ReadingError(
                spoken(
                    "{what}: {name} {parts:g} is below 0. Enter it without a sign.",
                    what=what,
                    name=name,
                    parts=parts[name],
                )
            )


def _limit(row: Row) -> Limit:
    return Limit(
        row["id"],
        row["unit_id"],
        row["check"],
        index_from(row["index"]),
        MappingProxyType(json.loads(row["parts"])),
        row["origin"],
        bool(row["confirmed"]),
        row["person_id"],
        row["at"],
        row["supersedes"],
    )
