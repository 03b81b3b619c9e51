"""A site of many units as a set of files: which units stand together, and what files are called."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from commission.language import spoken
from commission.project import Unit

Progress = Callable[[int, int, str], None]


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
    """Tells progress over all volumes; those to come are taken to be as long as that at hand."""

    progress: Progress
    count: int
    number: int = 1
    before: int = 0
    at_hand: int = 0

    def __call__(self, done: int, total: int, what: str) -> None:
        """Tell how far the volume at hand is."""
        self.at_hand = total
        words = spoken(
            "Volume {number} of {count}: {what}", number=self.number, count=self.count, what=what
        )
        whole = self.before + total * (self.count - self.number + 1)
        self.progress(self.before + done, whole, words)

    def go_on(self) -> None:
        """The volume at hand is done; the next one is."""
        self.before += self.at_hand
        self.number += 1
