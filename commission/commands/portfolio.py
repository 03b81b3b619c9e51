"""The portfolio store: add, search, outliers, history, extract."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from pathlib import Path

from commission.archive.store import (
    FoundUnit,
    Outlier,
    Query,
    Store,
    Visit,
    add_records,
    find_outliers,
    record_paths,
    search_units,
    stored_record,
    unit_history,
)
from commission.commands import BAD_INPUT, FINE, FOUND
from commission.errors import OutputError
from commission.formula.figures import figure, uncertainty_figure, with_unit
from commission.language import spoken, spoken_count, to_say
from commission.terminal import ProgressLine, table


def store(options: argparse.Namespace) -> int:
    """Do what was asked of the portfolio store."""
    action: Callable[[argparse.Namespace], int] = _ACTIONS[options.action]
    return action(options)


def _add(options: argparse.Namespace) -> int:
    paths = record_paths(options.records)
    progress = ProgressLine(spoken("Adding"))
    added = there = units = 0
    faults: list[str] = []
    with Store.open(options.store, read_only=False) as opened:
        for one in add_records(opened, paths, progress):
            added += not one.was_there and not one.fault
            there += one.was_there
            units += one.units
            faults += [one.fault] * bool(one.fault)
        progress.finish(
            spoken(
                "{store}: {records} added with {units}, {there} there already, {faults} not added.",
                store=opened.name,
                records=spoken_count("{count} record", "{count} records", added),
                units=spoken_count("{count} unit", "{count} units", units),
                there=there,
                faults=len(faults),
            )
        )
    for fault in faults:
        print(fault)
    return BAD_INPUT if faults else FINE


def _query(options: argparse.Namespace) -> Query:
    return Query(
        site=options.site,
        tag=options.unit,
        make=options.make,
        model=options.model,
        serial=options.serial,
        words=getattr(options, "words", ""),
        outcome=getattr(options, "verdict", ""),
        check=getattr(options, "check", ""),
        stop=getattr(options, "stop", False),
        youngest=getattr(options, "youngest", None),
        oldest=getattr(options, "oldest", None),
        all_visits=getattr(options, "all_visits", False),
    )


def _search(options: argparse.Namespace) -> int:
    with Store.open(options.store) as opened:
        found = search_units(opened, _query(options))
    if found:
        header = [spoken(head) for head in _FOUND]
        print(table(header, [_found_row(unit) for unit in found], wide=len(header) - 1))
    print(spoken_count("{count} unit found.", "{count} units found.", len(found)))
    return FINE if found else FOUND


COUNTED = (to_say("Passed"), to_say("Failed"), to_say("Open"), to_say("Stops"))
_FOUND = (
    to_say("Record"),
    to_say("Unit"),
    to_say("Model"),
    to_say("Serial"),
    to_say("Age"),
    to_say("Visited"),
    *COUNTED,
    to_say("Site"),
)
_OUTLIER = (
    to_say("Score"),
    to_say("Unit"),
    to_say("Value"),
    to_say("Median"),
    to_say("Among"),
    to_say("What"),
    to_say("Site"),
)
_VISIT = (to_say("Record"), to_say("Visited"), to_say("Age"), *COUNTED, to_say("Project"))


def _found_row(unit: FoundUnit) -> list[str]:
    return [
        str(unit.record_id),
        unit.tag,
        " ".join(filter(None, (unit.make, unit.model))),
        unit.serial,
        age_words(unit.age),
        unit.visited_at[:10],
        *_counts(unit),
        unit.site,
    ]


def _counts(unit: FoundUnit) -> list[str]:
    still_open = unit.inconclusives + unit.missing
    return [str(count) for count in (unit.passes, unit.fails, still_open, unit.stops)]


def age_words(age: float | None) -> str:
    """Return an age with its unit, "" for none."""
    return "" if age is None else spoken("{age:.1f} years", age=age)


def _outliers(options: argparse.Namespace) -> int:
    with Store.open(options.store) as opened:
        report = find_outliers(opened, options.names, make=options.make, model=options.model)
    if report.outliers:
        header = [spoken(head) for head in _OUTLIER]
        rows = [_outlier_row(one) for one in report.outliers]
        print(table(header, rows, wide=len(header) - 2))
    print(report.sentence)
    if options.pdf:
        from commission.commands.portfolio_report import write_outlier_report

        asked = [
            (spoken("Store"), Path(options.store).name),
            (spoken("Make"), options.make or spoken("any")),
            (spoken("Model"), options.model or spoken("any")),
            (spoken("Values"), ", ".join(options.names) or spoken("all quantities")),
        ]
        written = write_outlier_report(report, asked, options.pdf)
        print(spoken("{file}: report written.", file=written))
    return FOUND if report.outliers else FINE


def _outlier_row(one: Outlier) -> list[str]:
    return [
        figure(one.score, 1),
        one.tag,
        with_unit(one.value, one.unit, one.decimals),
        with_unit(one.median, one.unit, one.decimals),
        f"{one.count}: {one.group}",
        outlier_words(one),
        one.site,
    ]


def outlier_words(one: Outlier) -> str:
    """Return what stands apart, and whether its own uncertainty may account for it."""
    if not one.within_uncertainty:
        return one.label
    return spoken("{label} (within its own uncertainty of the median)", label=one.label)


def _history(options: argparse.Namespace) -> int:
    with Store.open(options.store) as opened:
        visits = unit_history(opened, _query(options), options.names)
    header = [spoken(head) for head in _VISIT]
    rows = [
        [
            str(visit.unit.record_id),
            visit.unit.visited_at[:10],
            age_words(visit.unit.age),
            *_counts(visit.unit),
            f"{visit.unit.title}, {visit.unit.tag}",
        ]
        for visit in visits
    ]
    print(table(header, rows, wide=len(header) - 1))
    if any(visit.values for visit in visits):
        print()
        print(_values_table(visits))
    if options.pdf:
        from commission.commands.portfolio_report import write_history_report

        written = write_history_report(visits, options.pdf)
        print(spoken("{file}: report written.", file=written))
    return FINE


def _values_table(visits: Sequence[Visit]) -> str:
    """Return the values, one row each, the visits side by side."""
    dates = [visit.unit.visited_at[:10] for visit in visits]
    labels = dict.fromkeys(value.label for visit in visits for value in visit.values)
    rows = []
    for label in labels:
        shown = []
        for visit in visits:
            value = next((v for v in visit.values if v.label == label), None)
            text = "" if value is None else with_unit(value.number, value.unit, value.decimals)
            if value is not None and value.expanded:
                text += f" ±{uncertainty_figure(value.expanded)}"
            shown.append(text)
        rows.append([*shown, label])
    return table((*dates, spoken("What")), rows, wide=len(dates))


def _extract(options: argparse.Namespace) -> int:
    output: Path = options.output
    with Store.open(options.store) as opened:
        data = stored_record(opened, options.record)
    try:
        with output.open("xb") as stream:
            stream.write(data)
    except OSError as fault:
        raise OutputError(
            spoken(
                "{output}: the record cannot be written there ({strerror}). Choose another name "
                "or folder.",
                output=output,
                strerror=fault.strerror or fault,
            )
        ) from fault
    print(spoken("{file}: record {number}, as it was added.", file=output, number=options.record))
    return FINE


_ACTIONS = {
    "add": _add,
    "search": _search,
    "outliers": _outliers,
    "history": _history,
    "extract": _extract,
}
