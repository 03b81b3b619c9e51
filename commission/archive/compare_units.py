"""Which unit of a later record is which unit of the baseline."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from commission.language import spoken, to_say

Record = dict[str, Any]


@dataclass(frozen=True, slots=True)
class UnitPair:
    """One unit in both records, and by what it was known again ("serial number" or "tag")."""

    baseline_id: str
    later_id: str
    baseline_tag: str
    later_tag: str
    matched_by: str

    @property
    def tag(self) -> str:
        """The tag now, with the former one if it is another."""
        if self.baseline_tag.casefold() == self.later_tag.casefold():
            return self.later_tag
        return spoken(
            "{later_tag} (was {baseline_tag})",
            later_tag=self.later_tag,
            baseline_tag=self.baseline_tag,
        )


def paired_units(baseline: Record, later: Record) -> tuple[list[UnitPair], list[str]]:
    """Return the units in both records, and sentences on those that stand in one only.

    A serial number that each record has once decides; then the tag, unless both units have
    serial numbers and these differ: then the unit was replaced, and is not compared.
    """
    old, new = list(baseline["identities"]), list(later["identities"])
    pairs: list[UnitPair] = []
    _take(old, new, _serial, to_say("serial number"), pairs)
    _take(old, new, _tag, to_say("tag"), pairs)
    order = {row["unit_id"]: place for place, row in enumerate(later["identities"])}
    pairs.sort(key=lambda pair: order[pair.later_id])
    return pairs, _left_over(old, new)


def _serial(row: Record) -> str:
    return str(row["serial"]).strip().casefold()


def _tag(row: Record) -> str:
    return str(row["tag"]).strip().casefold()


def _take(
    old: list[Record], new: list[Record], known_by: Any, how: str, pairs: list[UnitPair]
) -> None:
    """Move the units that both lists have once under this name from the lists to `pairs`."""
    once_old, once_new = _once(old, known_by), _once(new, known_by)
    for name in once_old.keys() & once_new.keys():
        first, second = once_old[name], once_new[name]
        replaced = _serial(first) and _serial(second) and _serial(first) != _serial(second)
        if not replaced:
            old.remove(first)
            new.remove(second)
            pairs.append(
                UnitPair(first["unit_id"], second["unit_id"], first["tag"], second["tag"], how)
            )


def _once(rows: Sequence[Record], known_by: Any) -> dict[str, Record]:
    counts = Counter(known_by(row) for row in rows)
    return {known_by(row): row for row in rows if known_by(row) and counts[known_by(row)] == 1}


def _left_over(old: Sequence[Record], new: Sequence[Record]) -> list[str]:
    sentences = []
    later = {_tag(row): row for row in new}
    for row in old:
        other = later.pop(_tag(row), None)
        if other is None:
            sentences.append(spoken("{tag}: in the baseline only; not compared.", tag=row["tag"]))
        elif _serial(row) != _serial(other):
            sentences.append(
                spoken(
                    "{tag}: serial number {serial} in the baseline, {later} later. Another unit "
                    "stands there now, or one number is misread; not compared.",
                    tag=row["tag"],
                    serial=row["serial"] or spoken("not read"),
                    later=other["serial"] or spoken("not read"),
                )
            )
        else:
            sentences.append(
                spoken(
                    "{tag}: several units share this tag or serial number; not compared. Give each "
                    "its own.",
                    tag=row["tag"],
                )
            )
    sentences += [
        spoken("{tag}: in the later record only; not compared.", tag=row["tag"])
        for row in later.values()
    ]
    return sentences
