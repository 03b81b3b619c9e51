"""The portfolio store, the same on an SQLite file and on a PostgreSQL server."""

from __future__ import annotations

import copy
import json
import random
import statistics
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text

from commission.archive.store import (
    SMALLEST_GROUP,
    Query,
    Store,
    add_record,
    add_records,
    find_outliers,
    modified_z_score,
    record_paths,
    search_units,
    stored_record,
    unit_history,
)
from commission.archive.store.outliers import spread
from commission.archive.store.reading import made_year
from commission.archive.store.tables import UPGRADES, Upgrade
from commission.errors import ProjectFileError, StoreError
from tests.archive.store.conftest import like_model, one_unit, saved, sister


def counted(store: Store, table: str) -> int:
    with store.transaction("test") as connection:
        return int(connection.execute(text(f"SELECT count(*) FROM {table}")).scalar_one())


@pytest.fixture
def filled(request: pytest.FixtureRequest, address: str, demo_path: Path) -> Iterator[Store]:
    """The demo site's record in a store."""

    def fill(place: str) -> None:
        with Store.open(place, read_only=False) as store:
            add_record(store, demo_path)

    with Store.open(like_model(request, "demo", address, fill), read_only=False) as store:
        yield store


# --- adding


def test_a_record_is_kept_whole_and_once(filled: Store, demo_path: Path) -> None:
    before = counted(filled, "read_value")
    again = add_record(filled, demo_path)
    assert again.was_there and again.units == 0
    assert counted(filled, "record") == 1 and counted(filled, "unit") == 6
    assert counted(filled, "read_value") == before > 2000
    assert stored_record(filled, again.record_id) == demo_path.read_bytes()


def test_every_number_in_force_is_there_with_its_uncertainty(
    filled: Store, demo_content: dict[str, Any]
) -> None:
    numbers = [
        (row["unit_id"], row["name"], ".".join(map(str, row["index"])), row["value"], row["u"])
        for row in (*demo_content["readings"], *demo_content["quantities"])
        if row["unit_id"] and row.get("in_force", True) and isinstance(row["value"], int | float)
    ]
    statement = """SELECT unit.unit_id, entry.name, place, number, u FROM read_value
        JOIN unit ON unit.id = unit_key JOIN entry ON entry.id = entry_id"""
    with filled.transaction("test") as connection:
        held = [tuple(row) for row in connection.execute(text(statement))]
    assert sorted(held, key=repr) == sorted(numbers, key=repr)


def test_a_later_record_stands_beside_the_earlier(
    filled: Store, demo_content: dict[str, Any], tmp_path: Path
) -> None:
    later = copy.deepcopy(demo_content)
    later["project"]["revision"] += 1
    for row in later["readings"]:
        row["at"] = row["at"].replace("2026-", "2028-")
    add_record(filled, saved(later, tmp_path / "later.record.json"))
    assert len(search_units(filled, Query())) == 6
    assert {unit.visited_at[:4] for unit in search_units(filled, Query())} == {"2028"}
    assert len(search_units(filled, Query(all_visits=True))) == 12
    visits = unit_history(filled, Query(tag="rtu-1"), ["superheat_f"])
    assert [visit.unit.visited_at[:4] for visit in visits] == ["2026", "2028"]
    assert [len(visit.values) for visit in visits] == [2, 2]
    assert visits[0].values[0].expanded is not None
    assert visits[1].unit.age == pytest.approx(visits[0].unit.age + 2, abs=0.01)


def test_an_earlier_record_added_late_is_not_the_newest(
    filled: Store, demo_content: dict[str, Any], tmp_path: Path
) -> None:
    earlier = copy.deepcopy(demo_content)
    for row in earlier["readings"]:
        row["at"] = row["at"].replace("2026-", "2024-")
    add_record(filled, saved(earlier, tmp_path / "earlier.record.json"))
    assert {unit.visited_at[:4] for unit in search_units(filled, Query())} == {"2026"}


def test_times_are_ordered_as_moments_not_as_texts(
    address: str, demo_content: dict[str, Any], tmp_path: Path
) -> None:
    with Store.open(address, read_only=False) as store:
        for number, moment in enumerate(("2026-09-14T23:00:00-06:00", "2026-09-15T01:00:00+09:00")):
            content = one_unit(demo_content, "RTU-1")
            content["project"]["revision"] = number
            for row in content["readings"]:
                row["at"] = moment
            add_record(store, saved(content, tmp_path / f"{number}.record.json"))
        (newest,) = search_units(store, Query())
        assert newest.visited_at == "2026-09-14T23:00:00-06:00"


def test_a_folder_gives_its_records_and_faults_stop_nothing(
    address: str, demo_content: dict[str, Any], tmp_path: Path
) -> None:
    folder = tmp_path / "records" / "deeper"
    folder.mkdir(parents=True)
    saved(one_unit(demo_content, "RTU-1"), folder / "a.record.json")
    saved({"record": "another"}, folder / "b.record.json")
    (folder / "c.record.json").write_text('{"record": ')
    broken = one_unit(demo_content, "RTU-2")
    del broken["verdicts"][-1]["outcome"]
    saved(broken, folder / "d.record.json")
    saved(one_unit(demo_content, "RTU-3"), folder / "e.record.json")
    paths = record_paths([tmp_path / "records"])
    assert [path.name[0] for path in paths] == [*"abcde"]
    with Store.open(address, read_only=False) as store:
        outcome = list(add_records(store, paths))
        assert [bool(one.fault) for one in outcome] == [False, True, True, True, False]
        assert "is not an archive record" in outcome[1].fault
        assert "cannot be taken into the store: KeyError at 'outcome'" in outcome[3].fault
        assert {unit.tag for unit in search_units(store, Query())} == {"RTU-1", "RTU-3"}
        assert counted(store, "record") == 2  # nothing is left of the broken one


def test_a_record_of_version_1_is_taken(address: str) -> None:
    specimen = Path(__file__).parents[2] / "specimens" / "record_version_1.json"
    with Store.open(address, read_only=False) as store:
        add_record(store, specimen)
        (unit,) = search_units(store, Query())
        assert (unit.tag, unit.overrides) == ("RTU-1A", 1)
        assert search_units(store, Query(words="Utility told"))
        assert search_units(store, Query(words="tap CHANGED")), "the deficiency's correction"
        assert not search_units(store, Query(words="Blurred"))


def test_places_without_records_are_told(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="no archive record"):
        record_paths([tmp_path])
    with pytest.raises(StoreError, match="there is no such file"):
        record_paths([tmp_path / "absent.record.json"])


# --- searching


@pytest.mark.parametrize(
    ("query", "tags"),
    [
        (Query(tag="rtu-3"), "3"),
        (Query(site="LARKSPUR"), "123456"),
        (Query(site="elsewhere"), ""),
        (Query(make="make a"), "13"),
        (Query(model="ea-05"), "3"),
        (Query(serial="b-251118"), "2"),
        (Query(serial="%"), ""),
        (Query(serial="_"), ""),
        (Query(stop=True), "56"),
        (Query(youngest=1.0), "5"),
        (Query(oldest=1.0), "12346"),
        (Query(make="make a", outcome="fail"), "3"),
        (Query(check="supply_imbalance_loaded_ok", outcome="no such"), ""),
    ],
)
def test_units_are_found(filled: Store, query: Query, tags: str) -> None:
    found = [unit.tag.removeprefix("RTU-") for unit in search_units(filled, query)]
    assert "".join(found) == tags


def test_counts_are_the_record_s(filled: Store, demo_content: dict[str, Any]) -> None:
    for unit in search_units(filled, Query()):
        outcomes = [r["outcome"] for r in demo_content["verdicts"] if r["tag"] == unit.tag]
        told = (unit.passes, unit.fails, unit.inconclusives, unit.missing, unit.not_applicable)
        names = ("pass", "fail", "inconclusive", "missing", "not applicable")
        assert told == tuple(outcomes.count(name) for name in names)


def test_words_are_found_without_regard_to_case_in_any_script(
    address: str, demo_content: dict[str, Any], tmp_path: Path
) -> None:
    content = one_unit(demo_content, "RTU-1")
    content["readings"][-1].update(note="Größe 5 % über_Soll", in_force=True)
    content["readings"][-1]["unit_id"] = content["identities"][0]["unit_id"]
    with Store.open(address, read_only=False) as store:
        add_record(store, saved(content, tmp_path / "a.record.json"))
        for words in ("GRÖSSE", "größe 5 %", "ÜBER_soll"):
            assert search_units(store, Query(words=words)), words
        for words in ("5 %%", "über-soll", "größe_5"):
            assert not search_units(store, Query(words=words)), words


def test_history_asks_for_one_unit(filled: Store) -> None:
    with pytest.raises(StoreError, match=r"6 units answer: .* Say which"):
        unit_history(filled, Query())
    with pytest.raises(StoreError, match="no unit answers"):
        unit_history(filled, Query(tag="RTU-77"))
    with pytest.raises(StoreError, match=r"'superheat_g' is no field .* 'superheat_f'"):
        unit_history(filled, Query(tag="RTU-1"), ["superheat_g"])


@pytest.mark.parametrize(
    ("plate", "year"),
    [("2019-07", 2019.5), ("2019-07-31", 2019.5), ("06/2019", 2019), ("made 2008", 2008),
     ("", None), ("week 32", None), ("serial 120191", None)],
)  # fmt: skip
def test_the_year_on_a_plate(plate: str, year: float | None) -> None:
    assert made_year(plate) == year


# --- outliers


def test_the_modified_z_score_is_that_of_the_definition() -> None:
    # NIST/SEMATECH e-Handbook 1.3.5.17: M = 0.6745 (x - median) / MAD. Worked by hand: of
    # 1, 2, 3, 4, 100 the median is 3, the absolute deviations 2, 1, 0, 1, 97, their median 1.
    middle, mad = spread([1, 2, 3, 4, 100])
    assert (middle, mad) == (3, 1)
    assert modified_z_score(100, middle, mad) == pytest.approx(65.4265)
    assert modified_z_score(1, middle, mad) == pytest.approx(-1.349)


def test_0_6745_makes_the_mad_a_standard_deviation() -> None:
    # Oracle: the standard library's normal distribution.
    assert statistics.NormalDist().inv_cdf(0.75) == pytest.approx(0.6745, abs=5e-5)


@pytest.fixture
def portfolio(
    request: pytest.FixtureRequest, address: str, demo_content: dict[str, Any], tmp_path: Path
) -> Iterator[Store]:
    """Thirty units of one model with 2 % scatter; one has a superheat thrice as high."""

    def fill(place: str) -> None:
        dice, base = random.Random(7), one_unit(demo_content, "RTU-1")
        with Store.open(place, read_only=False) as store:
            for number in range(30):
                made = sister(base, number, dice)
                if number == 17:
                    superheat_times(made, 3.0)
                add_record(store, saved(made, tmp_path / f"{number}.record.json"))

    with Store.open(like_model(request, "thirty", address, fill), read_only=False) as store:
        yield store


def superheat_times(content: dict[str, Any], factor: float) -> None:
    for row in content["quantities"]:
        if row["name"] == "superheat_f":
            row["value"] *= factor


def test_what_stands_apart_is_found(portfolio: Store) -> None:
    report = find_outliers(portfolio, ["superheat_f"])
    assert {one.tag for one in report.outliers} == {"RTU-17"}
    assert report.values == 60 and report.units == 30 and report.judged == 1
    first = report.outliers[0]
    assert first.count == 30 and "0 to 5 years" in first.group and not first.within_uncertainty
    with portfolio.transaction("test") as connection:
        numbers = connection.execute(
            text(
                "SELECT number FROM read_value JOIN entry ON entry.id = entry_id "
                "WHERE name = 'superheat_f'"
            )
        ).scalars()
        numbers = list(numbers)
    middle = statistics.median(numbers)
    mad = statistics.median(abs(number - middle) for number in numbers)
    assert first.score == pytest.approx(0.6745 * (first.value - middle) / mad)


def test_all_quantities_are_judged_if_none_is_named(portfolio: Store) -> None:
    report = find_outliers(portfolio)
    assert "RTU-17" in {one.tag for one in report.outliers if one.name == "superheat_f"}
    names = {one.name for one in report.outliers}
    assert "visit_outdoor_f" not in names and report.judged > 100
    # 2 % of a normal distribution: |M| > 3.5 falls on about 0.05 % of the values.
    others = [one for one in report.outliers if one.tag != "RTU-17"]
    assert len(others) < 0.005 * report.values


def test_too_few_units_are_said_to_be(filled: Store, demo_content: dict[str, Any]) -> None:
    report = find_outliers(filled, ["superheat_f"])
    have = {
        row["tag"]
        for row in demo_content["quantities"]
        if row["name"] == "superheat_f" and row["value"]
    }
    assert not report.outliers and report.judged == 0 and report.too_small == len(have) > 1
    assert f"fewer than {SMALLEST_GROUP} units" in report.sentence


def test_units_of_another_model_are_another_group(
    portfolio: Store, demo_content: dict[str, Any], tmp_path: Path
) -> None:
    other = sister(one_unit(demo_content, "RTU-1"), 99, random.Random(1))
    other["identities"][0]["model"] = "Another (invented)"
    superheat_times(other, 5.0)
    add_record(portfolio, saved(other, tmp_path / "o.record.json"))
    report = find_outliers(portfolio, ["superheat_f"])
    assert {one.tag for one in report.outliers} == {"RTU-17"} and report.too_small == 1
    assert find_outliers(portfolio, ["superheat_f"], model="another").judged == 0


def test_a_band_of_few_old_units_is_judged_among_all_ages(
    portfolio: Store, demo_content: dict[str, Any], tmp_path: Path
) -> None:
    old = sister(one_unit(demo_content, "RTU-1"), 98, random.Random(2))
    for row in old["readings"]:
        row["value"] = "2009-03" if row["name"] == "date_made" else row["value"]
    superheat_times(old, 4.0)
    add_record(portfolio, saved(old, tmp_path / "o.record.json"))
    report = find_outliers(portfolio, ["superheat_f"])
    found = next(one for one in report.outliers if one.tag == "RTU-98")
    assert found.group.endswith("all ages") and found.age == pytest.approx(17.5, abs=0.1)


def test_values_of_other_units_of_measure_are_converted(
    portfolio: Store, demo_content: dict[str, Any], tmp_path: Path
) -> None:
    metric = sister(one_unit(demo_content, "RTU-1"), 97, random.Random(3))
    metric["form"]["hash"] = "f" * 64
    for row in (*metric["fields"], *metric["quantities"]):
        if row["name"] == "superheat_f":
            row["unit"] = "K" if "value" not in row else row["unit"]
            if "value" in row:
                row["value"] /= 1.8
    add_record(portfolio, saved(metric, tmp_path / "m.record.json"))
    report = find_outliers(portfolio, ["superheat_f"])
    assert {one.tag for one in report.outliers} == {"RTU-17"} and report.values == 62


def test_values_that_are_the_same_have_no_spread(
    address: str, demo_content: dict[str, Any], tmp_path: Path
) -> None:
    base = one_unit(demo_content, "RTU-1")
    with Store.open(address, read_only=False) as store:
        for number in range(SMALLEST_GROUP):
            made = sister(base, number, random.Random(0))
            for row in made["quantities"]:
                row["value"] = 7.0 + (number == 0) if row["name"] == "superheat_f" else row["value"]
            add_record(store, saved(made, tmp_path / f"{number}.record.json"))
        report = find_outliers(store, ["superheat_f"])
    assert not report.outliers and report.alike == 1


# --- opening


def test_a_store_that_is_not_there_is_not_made_by_looking(tmp_path: Path) -> None:
    place = tmp_path / "none.rtustore"
    with pytest.raises(StoreError, match=r"there is no store\. 'commission store add' makes one"):
        Store.open(str(place))
    assert not place.exists()
    with pytest.raises(StoreError, match="cannot be made there"):
        Store.open(str(tmp_path / "no" / "a.rtustore"), read_only=False)


def test_an_empty_database_holds_no_store_yet(server: Any) -> None:
    with pytest.raises(StoreError, match="holds no store yet"):
        Store.open(server.address(server.new_database()))


def test_newer_stores_are_refused_and_older_ones_upgraded(address: str) -> None:
    def add_colour(connection: Any) -> None:
        connection.execute(text("ALTER TABLE unit ADD COLUMN colour TEXT NOT NULL DEFAULT ''"))

    steps = (*UPGRADES, Upgrade("colour", add_colour))
    Store.open(address, read_only=False).close()
    with pytest.raises(StoreError, match="of an older version"):
        Store.open(address, upgrades=steps)
    with Store.open(address, read_only=False, upgrades=steps) as store:
        assert counted(store, "unit") == 0
    with pytest.raises(StoreError, match=r"version 2; this program knows 1\. Install the newer"):
        Store.open(address)


def test_an_upgrade_that_fails_leaves_the_store_as_it_was(address: str, demo_path: Path) -> None:
    def half(connection: Any) -> None:
        connection.execute(text("ALTER TABLE unit ADD COLUMN colour TEXT NOT NULL DEFAULT ''"))
        connection.execute(text("INSERT INTO nowhere VALUES (1)"))

    with Store.open(address, read_only=False) as store:
        add_record(store, demo_path)
    with pytest.raises(StoreError, match="the store was not opened"):
        Store.open(address, read_only=False, upgrades=(*UPGRADES, Upgrade("half", half)))
    with Store.open(address) as store:
        assert counted(store, "unit") == 6
        with pytest.raises(StoreError), store.transaction("test") as connection:
            connection.execute(text("SELECT colour FROM unit"))


def test_what_is_opened_for_reading_is_not_written_to(address: str, demo_path: Path) -> None:
    Store.open(address, read_only=False).close()
    with Store.open(address) as store:
        with pytest.raises(StoreError, match="was NOT added: the store is open read-only"):
            add_record(store, demo_path)
        with (
            pytest.raises(StoreError, match=r"test: .*(written to|read-only)"),
            store.transaction("test") as connection,
        ):
            connection.execute(text("DELETE FROM store_info"))


def test_the_time_of_adding_is_kept(address: str, demo_path: Path) -> None:
    moment = datetime.fromisoformat("2027-01-02T03:04:05+01:00")
    with Store.open(address, read_only=False) as store:
        add_record(store, demo_path, now=lambda: moment)
        with store.transaction("test") as connection:
            held = connection.execute(text("SELECT added_at FROM record")).scalar_one()
    assert held == "2027-01-02T03:04:05+01:00"


def test_a_record_that_is_none_is_refused(address: str, tmp_path: Path) -> None:
    with Store.open(address, read_only=False) as store:
        with pytest.raises(ProjectFileError, match="cannot be read"):
            add_record(store, tmp_path / "absent.record.json")
        with pytest.raises(ProjectFileError, match="Install the newer program"):
            newer = {"record": "rooftop unit commissioning record", "record_version": 99}
            add_record(store, saved(newer, tmp_path / "n.record.json"))


def test_both_databases_tell_the_same(server: Any, demo_path: Path, tmp_path: Path) -> None:
    told = []
    for place in (str(tmp_path / "a.rtustore"), server.address(server.new_database())):
        with Store.open(place, read_only=False) as store:
            add_record(store, demo_path)
            units = search_units(store, Query())
            history = unit_history(store, Query(tag="RTU-1"), ["superheat_f", "suction_psig"])
            told.append(json.dumps([repr(units), repr(history), repr(find_outliers(store))]))
    assert told[0] == told[1]
