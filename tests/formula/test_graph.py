"""Order of computing, rings, and which members belong to which."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from commission.errors import FormulaError
from commission.formula.graph import (
    all_members,
    computing_order,
    matching_index,
    matching_members,
    touches,
)


@given(st.data())
def test_each_name_comes_after_all_it_depends_on(data: st.DataObject) -> None:
    names = [f"n{number}" for number in range(12)]
    graph = {
        name: data.draw(st.lists(st.sampled_from(names[:place]), unique=True)) if place else []
        for place, name in enumerate(names)
    }
    shuffled = {name: graph[name] for name in data.draw(st.permutations(names))}
    order = computing_order(shuffled)
    assert sorted(order) == sorted(names)
    for name, used in graph.items():
        assert all(order.index(other) < order.index(name) for other in used)


def test_a_ring_is_spelled_out_in_the_direction_of_need() -> None:
    graph = {"superheat": ["dew"], "dew": ["pressure"], "pressure": ["superheat"], "amps": []}
    with pytest.raises(FormulaError) as caught:
        computing_order(graph)
    message = str(caught.value)
    chain = message.split(": ")[0].replace("'", "").split(" needs ")
    assert chain[0] == chain[-1]
    assert all(after in graph[before] for before, after in pairwise(chain))
    assert set(chain) == {"superheat", "dew", "pressure"}
    assert "can never be computed" in message


def test_what_needs_itself_is_a_ring() -> None:
    with pytest.raises(FormulaError, match="'a' needs 'a'"):
        computing_order({"a": ["a"]})


def test_a_thing_with_fewer_repeats_is_found_by_the_shared_ones() -> None:
    own = ("compressor", "leg")
    assert matching_index(("compressor",), own, (2, 3)) == (2,)
    assert matching_index(("leg", "compressor"), own, (2, 3)) == (3, 2)
    assert matching_index((), own, (2, 3)) == ()


def test_members_run_over_the_repeats_that_are_not_shared() -> None:
    counts = {"compressor": 2, "leg": 3}
    assert matching_members(("compressor", "leg"), ("compressor",), (2,), counts) == (
        (2, 1), (2, 2), (2, 3),
    )  # fmt: skip
    assert all_members(("compressor", "leg"), counts) == (
        (1, 1), (1, 2), (1, 3), (2, 1), (2, 2), (2, 3),
    )  # fmt: skip
    assert all_members((), counts) == ((),)
    assert all_members(("leg",), {"leg": 0}) == ()


def test_a_change_reaches_the_members_that_share_its_repeats() -> None:
    assert touches(("compressor",), (1,), ("compressor", "leg"), (1, 3))
    assert not touches(("compressor",), (1,), ("compressor", "leg"), (2, 3))
    assert touches((), (), ("leg",), (2,))
    assert touches(("leg",), (2,), (), ())
    assert touches(("circuit",), (1,), ("leg",), (2,))
