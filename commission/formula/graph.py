"""Which entry depends on which, and in what order to compute them; repeats matched by name."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from graphlib import CycleError, TopologicalSorter

from commission.errors import FormulaError
from commission.language import spoken

Index = tuple[int, ...]


def computing_order(dependencies: Mapping[str, Sequence[str]]) -> tuple[str, ...]:
    """Return the names so that each comes after all it depends on.

    Raises:
        FormulaError: The names form a ring; the message spells it out.
    """
    try:
        return tuple(TopologicalSorter(dependencies).static_order())
    except CycleError as error:
        needs = f" {spoken('needs')} "
        ring = needs.join(f"'{name}'" for name in reversed(error.args[1]))
        raise FormulaError(
            spoken("{ring}: a ring that can never be computed.", ring=ring)
        ) from None


def matching_index(wanted: Sequence[str], own: Sequence[str], index: Index) -> Index:
    """Return the member of a thing repeated over `wanted` that belongs to member `index`.

    Every repeat in `wanted` must be one of `own`.
    """
    place = dict(zip(own, index, strict=True))
    return tuple(place[repeat] for repeat in wanted)


def matching_members(
    wanted: Sequence[str], own: Sequence[str], index: Index, counts: Mapping[str, int]
) -> tuple[Index, ...]:
    """Return all members of a thing repeated over `wanted`, its shared repeats held at `index`."""
    place = dict(zip(own, index, strict=True))
    ranges = [
        (place[repeat],) if repeat in place else range(1, counts[repeat] + 1) for repeat in wanted
    ]
    return tuple(itertools.product(*ranges))


def all_members(repeats: Sequence[str], counts: Mapping[str, int]) -> tuple[Index, ...]:
    """Return every member of a thing repeated over `repeats`, in reading order."""
    return matching_members(repeats, (), (), counts)


def touches(changed: Sequence[str], changed_index: Index, own: Sequence[str], index: Index) -> bool:
    """Return whether a change of one member can reach another, by the repeats both have."""
    place = dict(zip(changed, changed_index, strict=True))
    return all(
        place.get(repeat, number) == number for repeat, number in zip(own, index, strict=True)
    )
