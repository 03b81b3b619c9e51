"""A site of many units as a set of files: which units stand together, and what files are called."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from commission.project import Unit


@dataclass(frozen=True, slots=True)
class Written:
    """What an export has put in place.

    Args:
        path: The one file; with volumes, the index of them.
        volumes: The volumes beside it; none where one file holds all units.
        left_over: Volumes of an earlier export beside it that this one has not replaced.
    """

    path: Path
    volumes: tuple[Path, ...] = ()
    left_over: tuple[Path, ...] = ()


def split(units: Sequence[Unit], per_volume: int) -> list[Sequence[Unit]]:
    """Return units in the fewest volumes, in their order, no two sizes more than one apart."""
    count = max(-(-len(units) // per_volume), 1)
    ends = [len(units) * number // count for number in range(count + 1)]
    return [units[first:last] for first, last in pairwise(ends)]


def volume_names(path: Path, count: int) -> list[str]:
    """Return the names of the volumes of an index: "site.volume-01.xlsx" ..."""
    digits = len(str(count))
    return [f"{path.stem}.volume-{n:0{digits}}{path.suffix}" for n in range(1, count + 1)]


def left_over(path: Path, volumes: Sequence[Path]) -> tuple[Path, ...]:
    """Return volumes beside an index that are not its own: an earlier export had more."""
    pattern = re.compile(rf"{re.escape(path.stem)}\.volume-\d+{re.escape(path.suffix)}")
    there = (file for file in path.parent.iterdir() if pattern.fullmatch(file.name))
    return tuple(sorted(set(there) - set(volumes)))


@dataclass
class VolumeSteps:
    """Progress over all volumes; those to come are taken to be as long as the one at hand."""

    count: int
    number: int = 1
    before: int = 0
    at_hand: int = 0

    def overall(self, done: int, total: int) -> tuple[int, int]:
        """Return done and total over all volumes."""
        self.at_hand = total
        return self.before + done, self.before + total * (self.count - self.number + 1)

    def go_on(self) -> None:
        """The volume at hand is done; the next one is."""
        self.before += self.at_hand
        self.number += 1
