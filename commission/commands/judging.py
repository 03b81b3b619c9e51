"""Commands that judge and explain: check, sources."""

from __future__ import annotations

import argparse
import csv
import json
import sys
from collections import Counter
from dataclasses import astuple

from commission.archive.files import csv_cell
from commission.commands import FINE, FOUND
from commission.commands.opening import chosen_units, opened, site_for_machines, site_of
from commission.definitions.load import load_form
from commission.definitions.translated import translated
from commission.language import ENGLISH, language, speaking, spoken, spoken_count
from commission.terminal import listed
from commission.validation.report import findings, site_record
from commission.validation.sources import HEADER, source_rows


def check(options: argparse.Namespace) -> int:
    """Print the verdicts of a project, or of one unit; 1 if one fails or stops.

    What is for machines (`options.json`) is English.
    """
    with opened(options.file) as project:
        site = site_for_machines(project) if options.json else site_of(project)
        units = chosen_units(site, options.unit)
        with speaking(ENGLISH if options.json else language()):
            record = site_record(site, units)
        counts = Counter(row["outcome"] for unit in record["units"] for row in unit["verdicts"])
        if options.json:
            print(json.dumps(record, ensure_ascii=False, indent=1))
        else:
            for heading, rows in findings(units, everything=options.all):
                print(listed(heading, rows))
            print(_counted(counts, record["stops"]))
    failed = any(
        row["outcome"] == "fail" and row["severity"] != "note"
        for unit in record["units"]
        for row in unit["verdicts"]
    )
    return FOUND if failed else FINE


def _counted(counts: Counter[str], stops: int) -> str:
    words = ("pass", "fail", "inconclusive", "missing", "not applicable")
    found = ", ".join(f"{counts.get(word, 0)} {spoken(word)}" for word in words)
    return f"{found}; {spoken_count('{count} stop', '{count} stops', stops)}."


def sources(options: argparse.Namespace) -> int:
    """Print every formula, function and default limit with its source; as CSV in English."""
    if options.csv:
        with speaking(ENGLISH):
            rows = [astuple(row) for row in source_rows(load_form())]
        writer = csv.writer(sys.stdout, lineterminator="\n")
        writer.writerows([csv_cell(cell) for cell in row] for row in (HEADER, *rows))
        return FINE
    rows = [astuple(row) for row in source_rows(translated(load_form(), language()))]
    for kind, name, rule, unit, source in rows:
        print(f"{kind}  {name}{f' [{unit}]' if unit else ''}\n    {rule}\n    {source}")
    print(spoken("{count} formulas, functions and default limits.", count=len(rows)))
    return FINE
