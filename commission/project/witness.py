"""What a witness reads beside what was recorded: the sample drawn, and the witness's own readings.

Neither replaces anything: they stand in tables of their own, as rows that are never changed.
The sample follows from three things that are all in the file: the readings there were
(population), the share and the seed. Anybody can draw it again.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Iterable
from dataclasses import dataclass

from commission.errors import ReadingError
from commission.language import spoken
from commission.project.journal import Row, index_from, index_text
from commission.project.readings import bracketed
from commission.project.records import Index, Value, pass_rank
from commission.project.schema import TABLES
from commission.project.signatures import SignatureBook
from commission.project.trend_logs import plain_text

Place = tuple[str, Index]
_DRAW, _WITNESSED = TABLES["witness_draw"], TABLES["witness_reading"]


@dataclass(frozen=True, slots=True)
class WitnessDraw:
    """A sample drawn over a unit's readings; `number` counts a unit's draws from 1."""

    id: str
    unit_id: str
    number: int
    share: float
    seed: str
    population: tuple[Place, ...]
    person_id: str
    at: str

    def members(self) -> tuple[Place, ...]:
        """Return the readings of the sample, drawn again from population, share and seed."""
        return drawn(self.population, self.share, self.seed)


@dataclass(frozen=True, slots=True)
class WitnessReading:
    """What a witness read of one field, beside the reading recorded in one pass."""

    id: str
    unit_id: str
    name: str
    index: Index
    value: Value
    pass_name: str
    entered: str
    note: str
    instrument_id: str
    person_id: str
    at: str


def drawn(population: Iterable[Place], share: float, seed: str) -> tuple[Place, ...]:
    """Return a sample: as many as the share asks for, rounded up, in the population's order.

    Args:
        population: the readings there were, none twice.
        share: above 0, at most 1.
        seed: any text.
    Returns: the readings whose SHA-256 of seed and place come first; this is a draw without
        replacement in which each reading has the same chance, and adding a reading to the
        population puts at most one other out.
    """
    places = list(population)
    count = sample_size(len(places), share)
    first = sorted(places, key=lambda place: _lot(seed, place))[:count]
    return tuple(place for place in places if place in set(first))


def sample_size(population: int, share: float) -> int:
    """Return how many a sample has: the share of the population, rounded up."""
    checked_share(share)
    # 0.2 x 15 is 3.0000000000000004 in binary: the last bits do not ask for one more.
    return min(population, math.ceil(round(share * population, 9)))


def checked_share(share: float) -> float:
    """Return the share; ReadingError unless it is above 0 and at most 1."""
    if not 0 < share <= 1:
        raise ReadingError(
            spoken(
                "Share of the readings to be witnessed: {share:g} is not above 0 and at most 1. "
                "Enter 0.2 for one in five.",
                share=share,
            )
        )
    return share


def _lot(seed: str, place: Place) -> bytes:
    return hashlib.sha256(f"{seed}\n{place[0]}\n{index_text(place[1])}".encode()).digest()


def population_from(text: str) -> tuple[Place, ...]:
    """Return the places stored as `text`; ValueError if it is no such list."""
    rows = json.loads(text)
    if not isinstance(rows, list):
        raise ValueError(spoken("population is no list."))
    places = []
    for row in rows:
        well_formed = isinstance(row, list) and len(row) == 2
        if not well_formed or not all(isinstance(part, str) for part in row):
            raise ValueError(
                spoken("population has {row!r:.60}, which is no name and index.", row=row)
            )
        places.append((row[0], index_from(row[1])))
    return tuple(places)


def _population_text(population: Iterable[Place]) -> str:
    return plain_text([[name, index_text(index)] for name, index in population])


class WitnessLog(SignatureBook):
    """The samples drawn and the witnesses' readings of all units, with their history."""

    def draw_sample(
        self, unit_id: str, population: Iterable[Place], share: float, *, person_id: str = ""
    ) -> WitnessDraw:
        """Draw a sample over a unit's readings; an earlier one stays in the file's rows.

        The seed is the project's id, the unit's and the draw's number.

        Raises:
            ReadingError: an impossible share, or there is nothing to draw from.
        """
        places = tuple(sorted(dict.fromkeys(population)))
        if not places:
            raise ReadingError(spoken("There is no reading yet of which a sample could be drawn."))
        checked_share(share)
        with self.transaction(spoken("The sample")):
            self._refuse_unknown_unit(unit_id)
            before = self._rows(_DRAW, unit_id=unit_id)
            content: dict[str, object] = {
                "unit_id": unit_id,
                "share": float(share),
                "seed": f"{self._meta_uuid()}/{unit_id}/{len(before) + 1}",
                "population": _population_text(places),
                "person_id": person_id or self.person_id,
                "supersedes": next((row["id"] for row in self._newest(_DRAW, unit_id=unit_id)), ""),
            }
            row = self._append(_DRAW, [content], spoken("The sample"))[0]
        return _draw(row)

    def _meta_uuid(self) -> str:
        return str(self._select("SELECT value FROM meta WHERE key = 'project_uuid'")[0]["value"])

    def witness_draw(self, unit_id: str) -> WitnessDraw | None:
        """Return the sample that stands for a unit, or None while none is drawn."""
        rows = self._current(_DRAW, unit_id=unit_id)
        return _draw(rows[0]) if rows else None

    def record_witnessed(
        self,
        unit_id: str,
        name: str,
        index: Index,
        value: Value,
        *,
        pass_name: str,
        entered: str = "",
        note: str = "",
        instrument_id: str = "",
        person_id: str = "",
    ) -> WitnessReading:
        """Commit what a witness read beside the reading recorded in a pass.

        Args:
            value: in the field's own unit; None takes the witness's reading out again.
        """
        what = spoken(
            "The witnessed reading {name}{bracketed}", name=name, bracketed=bracketed(index)
        )
        pass_rank(pass_name)
        content: dict[str, object] = {
            "unit_id": unit_id,
            "name": name,
            "index": index_text(index),
            "value": value if isinstance(value, str | None) else float(value),
            "pass_name": pass_name,
            "entered": entered,
            "note": note,
            "instrument_id": instrument_id,
            "person_id": person_id or self.person_id,
            "removed": value is None,
        }
        with self.transaction(what):
            self._refuse_unknown_unit(unit_id)
            place = {column: content[column] for column in _WITNESSED.keyed_by}
            before = self._newest(_WITNESSED, **place)
            content["supersedes"] = before[0]["id"] if before else ""
            return _witnessed(self._append(_WITNESSED, [content], what)[0])

    def witness_readings(self, unit_id: str) -> dict[tuple[str, Index, str], WitnessReading]:
        """Return the witnesses' readings that count now, by field, index and pass."""
        found = [_witnessed(row) for row in self._current(_WITNESSED, unit_id=unit_id)]
        return {(one.name, one.index, one.pass_name): one for one in found}


def _draw(row: Row) -> WitnessDraw:
    return WitnessDraw(
        row["id"],
        row["unit_id"],
        int(row["seed"].rsplit("/", 1)[-1]) if row["seed"].rsplit("/", 1)[-1].isdecimal() else 1,
        row["share"],
        row["seed"],
        population_from(row["population"]),
        row["person_id"],
        row["at"],
    )


def _witnessed(row: Row) -> WitnessReading:
    return WitnessReading(
        row["id"],
        row["unit_id"],
        row["name"],
        index_from(row["index"]),
        row["value"],
        row["pass_name"],
        row["entered"],
        row["note"],
        row["instrument_id"],
        row["person_id"],
        row["at"],
    )
