"""The sample for a witness, drawn again from what is in the file, and the witness's readings."""

from __future__ import annotations

import hashlib
import math
from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commission.errors import ReadingError
from commission.project import ProjectFile
from commission.project.merge import merge_projects
from commission.project.witness import checked_share, drawn, population_from, sample_size

POPULATION = [(f"reading_{n}", (n,)) for n in range(1, 41)]


def test_the_sample_follows_from_what_the_file_says(project, unit_id) -> None:
    draw = project.draw_sample(unit_id, POPULATION, 0.2)
    # Drawn again by hand, by the rule that stands in the archive record's schema.
    by_hand = sorted(
        draw.population,
        key=lambda place: hashlib.sha256(
            f"{draw.seed}\n{place[0]}\n{','.join(map(str, place[1]))}".encode()
        ).hexdigest(),
    )[:8]
    assert set(draw.members()) == set(by_hand)
    assert draw.seed == f"{project.uuid}/{unit_id}/1"
    assert project.witness_draw(unit_id) == draw


def test_a_second_draw_is_another_and_the_first_stays_in_the_rows(project, unit_id) -> None:
    first = project.draw_sample(unit_id, POPULATION, 0.2)
    second = project.draw_sample(unit_id, POPULATION, 0.2)
    assert (first.number, second.number) == (1, 2)
    assert set(first.members()) != set(second.members())
    assert len(project.rows("witness_draw")) == 2


@pytest.mark.parametrize(
    ("population", "share", "size"),
    [(40, 0.2, 8), (15, 0.2, 3), (1, 0.2, 1), (11, 0.2, 3), (10, 1.0, 10), (0, 0.5, 0)],
)
def test_the_share_is_rounded_up(population: int, share: float, size: int) -> None:
    assert sample_size(population, share) == size


@pytest.mark.parametrize("share", [0, -0.1, 1.01, math.nan, math.inf])
def test_an_impossible_share_is_refused(share: float) -> None:
    with pytest.raises(ReadingError, match="at most 1"):
        checked_share(share)


def test_nothing_to_draw_from_is_said(project, unit_id) -> None:
    with pytest.raises(ReadingError, match="no reading yet"):
        project.draw_sample(unit_id, [], 0.2)


def test_each_reading_has_the_same_chance() -> None:
    """Pearson's chi-squared, NIST/SEMATECH e-Handbook 1.3.5.15: 39 degrees of freedom.

    The statistic of a draw without replacement is smaller than the test's by (1 - share), so
    holding it to the upper 0.1 % point (72.05, from a table) is on the safe side.
    """
    draws = 2000
    counts = Counter(
        place for seed in range(draws) for place in drawn(POPULATION, 0.2, f"seed {seed}")
    )
    expected = draws * 0.2
    assert sum((counts[place] - expected) ** 2 / expected for place in POPULATION) < 72.05
    assert len(counts) == len(POPULATION)


@settings(max_examples=100, deadline=None)
@given(st.integers(2, 60), st.floats(0.01, 1.0), st.text(max_size=10))
def test_one_reading_more_puts_at_most_one_out(size: int, share: float, seed: str) -> None:
    places = [(f"f{n}", ()) for n in range(size)]
    before, after = set(drawn(places[:-1], share, seed)), set(drawn(places, share, seed))
    assert len(before - after) <= 1
    assert list(drawn(places, share, seed)) == [one for one in places if one in after]


def test_what_the_witness_read_replaces_nothing(project, unit_id) -> None:
    project.record(unit_id, "volts", (1,), 460.0)
    project.record_witnessed(unit_id, "volts", (1,), 461.0, pass_name="as found", entered="461")
    assert project.readings(unit_id)[("volts", (1,))].value == 460.0
    assert project.witness_readings(unit_id)[("volts", (1,), "as found")].value == 461.0
    assert len(project.history(unit_id, "volts", (1,))) == 1


def test_a_witnessed_reading_is_corrected_and_taken_out_by_rows(project, unit_id) -> None:
    for value in (461.0, 459.0, None):
        project.record_witnessed(unit_id, "volts", (1,), value, pass_name="as found")
    assert project.witness_readings(unit_id) == {}
    assert [row["value"] for row in project.rows("witness_reading")] == [461.0, 459.0, None]


@pytest.mark.parametrize("text", ["{}", "[1]", '[["a"]]', '[["a", 1]]', '[["a", "x"]]', "nonsense"])
def test_a_population_that_is_none_is_refused(text: str) -> None:
    with pytest.raises(ValueError):  # noqa: PT011 (json's own faults among them)
        population_from(text)


def test_two_witnesses_are_merged_and_their_difference_shown(project, unit_id, path) -> None:
    project.record(unit_id, "volts", (1,), 460.0)
    project.draw_sample(unit_id, POPULATION, 0.2)
    other = path.with_name("other.rtuproject")
    project.save_copy(other)
    project.record_witnessed(unit_id, "volts", (1,), 461.0, pass_name="as found")
    project.close()
    with ProjectFile.open(other) as theirs:
        theirs.record_witnessed(unit_id, "volts", (1,), 450.0, pass_name="as found")
    report = merge_projects(path, other, path.with_name("both.rtuproject"))
    [conflict] = report.conflicts
    assert (conflict.kind, conflict.what) == ("witness_reading", "volts[1], as found")
    assert {conflict.ours.split()[0], conflict.theirs.split()[0]} == {"461", "450"}
    with ProjectFile.open(report.path) as both:
        assert len(both.rows("witness_reading")) == 2
        assert both.witness_draw(unit_id) is not None
