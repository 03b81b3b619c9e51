"""Values that stand apart among units of one model and like age: robust statistics.

The modified z-score M = 0.6745 (x - median) / MAD, with MAD the median of the absolute
deviations from the median; |M| above 3.5 is called an outlier. Source: B. Iglewicz and
D. C. Hoaglin, How to Detect and Handle Outliers, ASQC 1993, as given in the NIST/SEMATECH
e-Handbook of Statistical Methods, section 1.3.5.17. Median and MAD stay where they are while
fewer than half of the values are wrong, which a mean and its standard deviation do not.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from itertools import groupby
from statistics import median
from typing import Any

from sqlalchemy import ColumnElement, Row, Select, and_, select

from commission.archive.labels import said_label
from commission.archive.store.opening import Store
from commission.archive.store.searching import age_at, contains, newest_units, refuse_unknown
from commission.archive.store.tables import ENTRY, READ_VALUE, RECORD, UNIT
from commission.errors import UnitError
from commission.language import spoken, spoken_count
from commission.units import convert, difference_scale

THRESHOLD = 3.5
SMALLEST_GROUP = 10
"""Units below which no outlier is called: with ten values of a normal distribution the MAD itself
scatters by more than a third (its efficiency is 0.37). Chosen here; the sources name no number."""
BAND_YEARS = 5.0
_NORMAL = 0.6745  # the MAD of a normal distribution in standard deviations: its 75 % quantile
_CHUNK = 20_000


@dataclass(frozen=True, slots=True)
class _Value:
    """One number of one unit; `group` is (make, model)."""

    unit: int
    group: tuple[str, str]
    age: float | None
    number: float
    u: float | None
    told: tuple[str, str, str, str]
    member: str
    shown_model: str
    factor: float


@dataclass(frozen=True, slots=True)
class Outlier:
    """One value that stands apart.

    `score` is its modified z-score; `group` says among which units, `count` how many.
    `within_uncertainty`: the value's own expanded uncertainty reaches back to the median, so
    the instrument may be what stands apart.
    """

    site: str
    tag: str
    serial: str
    model: str
    label: str
    name: str
    unit: str
    decimals: int | None
    value: float
    median: float
    mad: float
    score: float
    count: int
    group: str
    age: float | None
    visited_at: str
    within_uncertainty: bool


@dataclass(frozen=True, slots=True)
class OutlierReport:
    """What was found, and how much could be judged.

    Counts are of groups of values of one name: `judged`, `too_small` (fewer than
    `SMALLEST_GROUP` units), `alike` (more than half of the values are the same, so there is no
    spread to measure by).
    """

    outliers: tuple[Outlier, ...]
    values: int
    units: int
    judged: int
    too_small: int
    alike: int

    @property
    def sentence(self) -> str:
        """How much was judged, by what rule, and what could not be."""
        found = len(self.outliers)
        return spoken(
            "{values:,} values of {units:,} units; {outliers} in {judged} "
            "groups of one model and like age (modified z-score beyond {threshold:g}, "
            "Iglewicz and Hoaglin). Not judged: {too_small} groups of fewer than "
            "{smallest_group} units, {alike} of which more than half are the same.",
            values=self.values,
            units=self.units,
            outliers=spoken_count("{count} outlier", "{count} outliers", found),
            judged=self.judged,
            threshold=THRESHOLD,
            too_small=self.too_small,
            smallest_group=SMALLEST_GROUP,
            alike=self.alike,
        )


def modified_z_score(value: float, middle: float, mad: float) -> float:
    """Return 0.6745 (value - median) / MAD.

    Args:
        mad: median absolute deviation, above 0, in the unit of the values.
    Source: NIST/SEMATECH e-Handbook, 1.3.5.17.
    """
    return _NORMAL * (value - middle) / mad


def spread(numbers: Sequence[float]) -> tuple[float, float]:
    """Return the median and the median absolute deviation from it."""
    middle = median(numbers)
    return middle, median(abs(number - middle) for number in numbers)


def find_outliers(
    store: Store, names: Sequence[str] = (), *, make: str = "", model: str = ""
) -> OutlierReport:
    """Return values that stand apart among units of one make and model and like age.

    The newest visit of each unit counts. Ages are banded by five years; where a band has
    fewer than `SMALLEST_GROUP` units, the units of all ages are its group.

    Args:
        names: fields and quantities to look at; none for every computed quantity that is
            neither a condition of the visit nor asked for.
        make, model: parts of names, to look at some units only.
    Raises:
        StoreError: the store cannot be read, or holds no value of a name.
    """
    tally = _Tally()
    with store.transaction(spoken("nothing was searched")) as connection:
        refuse_unknown(store, connection, names)
        rows = connection.execution_options(yield_per=_CHUNK).execute(
            _statement(names, make, model)
        )
        for _, same_name in groupby(rows, key=lambda row: row.name):
            tally.take(same_name)
    return tally.report()


def _statement(names: Sequence[str], make: str, model: str) -> Select[Any]:
    wanted: ColumnElement[bool] = ENTRY.c.name.in_(list(names))
    if not names:
        wanted = and_(
            ENTRY.c.kind == "quantity", ENTRY.c.condition.is_(False), ENTRY.c.requirement.is_(False)
        )
    conditions: list[ColumnElement[bool]] = [wanted, UNIT.c.id.in_(newest_units())]
    conditions += [contains(UNIT.c.make_folded, make)] * bool(make.strip())
    conditions += [contains(UNIT.c.model_folded, model)] * bool(model.strip())
    value, unit, entry, record = READ_VALUE.c, UNIT.c, ENTRY.c, RECORD.c
    return (
        select(
            *(value.number, value.u, value.member, value.place),
            *(entry.name, entry.label, entry.unit, entry.decimals),
            *(unit.id, unit.tag, unit.serial, unit.make, unit.model, unit.make_folded),
            *(unit.model_folded, unit.made_year, unit.visited_at),
            *(record.site, record.coverage_factor),
        )
        .join(ENTRY, entry.id == value.entry_id)
        .join(UNIT, unit.id == value.unit_key)
        .join(RECORD, record.id == unit.record_id)
        .where(*conditions)
        .order_by(entry.name, entry.id.desc(), unit.id, value.place)
    )


class _Tally:
    """Takes the values of one name after another, and keeps what stands apart."""

    def __init__(self) -> None:
        self.outliers: list[Outlier] = []
        self.values = self.judged = self.too_small = self.alike = 0
        self.units: set[int] = set()

    def take(self, rows: Iterable[Row[Any]]) -> None:
        """Judge all values of one name, in the unit of its newest entry.

        Values of a unit that measures another thing (of another form, say) are judged apart.
        """
        entries: list[Row[Any]] = []
        groups: dict[tuple[int, str, str], list[_Value]] = {}
        for row in rows:
            place, value = _placed(row, entries)
            groups.setdefault((place, *value.group), []).append(value)
        for (place, *_), values in groups.items():
            self.values += len(values)
            self.units.update(value.unit for value in values)
            for members, called in _bands(values):
                self._judge(entries[place], values, members, called)

    def _judge(
        self, entry: Row[Any], model: Sequence[_Value], members: Sequence[_Value], called: str
    ) -> None:
        among = members
        if _units(members) < SMALLEST_GROUP:
            among, called = model, spoken("all ages")
        if _units(among) < SMALLEST_GROUP:
            self.too_small += 1
            return
        middle, mad = spread([value.number for value in among])
        if mad <= 1e-9 * max(abs(middle), 1e-9):
            self.alike += 1
            return
        self.judged += 1
        for value in members:
            score = modified_z_score(value.number, middle, mad)
            if abs(score) > THRESHOLD:
                self.outliers.append(
                    _outlier(entry, value, (middle, mad, score), _units(among), called)
                )

    def report(self) -> OutlierReport:
        """Return all that was found, the furthest first."""
        ranked = sorted(self.outliers, key=lambda one: (-abs(one.score), one.site, one.tag))
        counts = (self.values, len(self.units), self.judged, self.too_small, self.alike)
        return OutlierReport(tuple(ranked), *counts)


def _units(values: Sequence[_Value]) -> int:
    return len({value.unit for value in values})


def _placed(row: Row[Any], entries: list[Row[Any]]) -> tuple[int, _Value]:
    """Return a value in the unit of the first entry that measures the same, and its place."""
    for place, entry in enumerate(entries):
        with suppress(UnitError):
            return place, _in_unit(row, entry.unit)
    entries.append(row)
    return len(entries) - 1, _in_unit(row, row.unit)


def _in_unit(row: Row[Any], wanted: str) -> _Value:
    number, u = row.number, row.u
    if row.unit != wanted:
        number = convert(number, row.unit, wanted)
        u = None if u is None else u * abs(difference_scale(row.unit, wanted))
    return _Value(
        row.id,
        (row.make_folded, row.model_folded),
        age_at(row.made_year, row.visited_at),
        number,
        u,
        (row.site, row.tag, row.serial, row.visited_at),
        row.member,
        " ".join(filter(None, (row.make, row.model))),
        row.coverage_factor,
    )


def _bands(values: Sequence[_Value]) -> Iterator[tuple[list[_Value], str]]:
    """Yield the values of like age, with the band in words."""
    bands: dict[int | None, list[_Value]] = {}
    for value in values:
        band = None if value.age is None else int(value.age // BAND_YEARS)
        bands.setdefault(band, []).append(value)
    for band, members in bands.items():
        if band is None:
            yield members, spoken("age not known")
        else:
            yield (
                members,
                spoken(
                    "{least:g} to {most:g} years",
                    least=band * BAND_YEARS,
                    most=(band + 1) * BAND_YEARS,
                ),
            )


def _outlier(
    entry: Row[Any], value: _Value, statistics: tuple[float, float, float], count: int, called: str
) -> Outlier:
    middle, mad, score = statistics
    site, tag, serial, visited_at = value.told
    reach = 0.0 if value.u is None else value.factor * value.u
    return Outlier(
        site=site,
        tag=tag,
        serial=serial,
        model=value.shown_model,
        label=said_label(entry.label, value.member),
        name=entry.name,
        unit=entry.unit,
        decimals=entry.decimals,
        value=value.number,
        median=middle,
        mad=mad,
        score=score,
        count=count,
        group=f"{value.shown_model or spoken('model not read')}, {called}",
        age=value.age,
        visited_at=visited_at,
        within_uncertainty=abs(value.number - middle) <= reach,
    )
