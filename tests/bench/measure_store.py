"""How the portfolio store grows: import, search and outliers, from hundreds to 5,000 units.

    python tests/bench/measure_store.py [UNITS] [STORE]

Sites of six units are made from the demo record with seeded noise on every quantity, under
serial numbers and a project of their own. Printed is the time of the processor (on a server the
database's own is not in it) a unit and a value, alike throughout if the cost is linear; nothing is
asserted, since times belong to a machine and a day. A store on a server is given by address and
must be empty.
"""

from __future__ import annotations

import json
import random
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from commission.archive import write_record
from commission.archive.store import Query, Store, add_record, find_outliers, search_units
from commission.definitions.load import load_form
from commission.project.scenario import project_from_scenario
from commission.resources import demo_units_folder
from commission.validation.site import site_results

UNITS = 5_000


def demo_content(folder: Path) -> dict[str, Any]:
    """Return the demo site's record as plain data."""
    form = load_form()
    with project_from_scenario(demo_units_folder(), folder / "a.rtuproject", form) as project:
        path = write_record(site_results(project, form), folder / "a.record.json")
    return dict(json.loads(path.read_bytes()))


def sites(content: dict[str, Any], folder: Path) -> Iterator[Path]:
    """Yield record after record, each of another site; one file is written again and again."""
    dice, path = random.Random(20261125), folder / "site.record.json"
    values = [row["value"] for row in content["quantities"]]
    number = 0
    while True:
        number += 1
        content["project"].update(uuid=f"site-{number}", title=f"Site {number}")
        for place, row in enumerate(content["identities"]):
            row.update(serial=f"S-{number:05}-{place}")
        for row, value in zip(content["quantities"], values, strict=True):
            row["value"] = value * (1 + dice.gauss(0, 0.02)) if isinstance(value, float) else value
        path.write_text(json.dumps(content, separators=(",", ":")), encoding="utf-8")
        yield path


def measured(store: Store, content: dict[str, Any], folder: Path, most: int) -> None:
    """Add sites, and print what it cost at every doubling."""
    a_site = len(content["identities"])
    made = sites(content, folder)
    done, spent, step = 0, 0.0, max(most // 8, a_site)
    print("units   import, ms a unit   search, ms   outliers, s   us a value   values   found")
    while done < most:
        at, before = done, spent
        while done < min(step, most):
            path = next(made)
            began = time.process_time()
            add_record(store, path)
            spent += time.process_time() - began
            done += a_site
        began = time.process_time()
        found = search_units(store, Query(site="Site 7", outcome="fail"))
        searched = time.process_time() - began
        began = time.process_time()
        report = find_outliers(store)
        judged = time.process_time() - began
        print(
            f"{done:5}   {1000 * (spent - before) / (done - at):17.1f}   {1000 * searched:10.1f}   "
            f"{judged:11.2f}   {1e6 * judged / report.values:10.2f}   {report.values:6}   "
            f"{len(found)} units, {len(report.outliers)} outliers",
            flush=True,
        )
        step *= 2


def main(arguments: list[str]) -> None:
    """Measure on a file made for it, or on the store named."""
    most = int(arguments[0]) if arguments else UNITS
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        place = arguments[1] if len(arguments) > 1 else str(folder / "a.rtustore")
        with Store.open(place, read_only=False) as store:
            measured(store, demo_content(folder), folder, most)
        if "://" not in place:
            print(f"{Path(place).stat().st_size / 1e6:.0f} MB for {most} units")


if __name__ == "__main__":
    main(sys.argv[1:])
