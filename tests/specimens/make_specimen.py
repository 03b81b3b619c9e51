"""Writes a specimen of the newest file version; run once before a version is released.

    python tests/specimens/make_specimen.py

Kept specimens are never written again: they are what that version really wrote.
"""

from __future__ import annotations

import sys
from datetime import datetime, timedelta, timezone
from io import BytesIO
from itertools import count
from pathlib import Path

from PIL import Image

from commission.project import ProjectFile
from commission.project.upgrades import UPGRADES

_BEGAN = datetime(2026, 9, 14, 8, 0, tzinfo=timezone(timedelta(hours=-6)))


def make(path: Path) -> None:
    """Write one of everything."""
    minutes, numbers = count(), count(1)
    with ProjectFile.create(
        path,
        form_id="packaged_rooftop_unit",
        form_version="0.1",
        form_hash="0" * 64,
        title="Specimen yard",
        clock=lambda: _BEGAN + timedelta(minutes=next(minutes)),
        new_id=lambda: f"00000000-0000-4000-8000-{next(numbers):012d}",
    ) as project:
        _fill(project)


def _fill(project: ProjectFile) -> None:
    project.set_setting("decision_rule", "guarded acceptance")
    person = project.add_person("Ada Rowan", company="Example Balancing", role="agent")
    project.person_id = person.id
    gauge = project.add_instrument(
        "gauge",
        serial="0042",
        unit="psig",
        span=500,
        percent_of_span=0.5,
        plus_minus=1,
        repeatability=0.4,
        resolution=0.1,
        calibrated_on="2026-01-10",
        calibration_due="2027-01-10",
    )
    unit = project.add_unit("RTU-1").id
    project.record(unit, "suction_psig", (1,), 118.5, entered="118.5", instrument_id=gauge.id)
    project.record(unit, "suction_psig", (1,), 121.25, pass_name="as left", entered="836 kPa")
    project.record(unit, "note_text", (), "Δ°F, 5 µA, “quoted”\n2nd line")
    project.record(unit, "smoke_test", (), None, not_applicable="no detector")
    project.set_limit(unit, "rise_in_range", (), {"low": 30, "high": 60}, origin="Sheet, page 4")
    found = project.add_deficiency(unit, "charge low", check="superheat_in_range", index=(1,))
    project.update_deficiency(found.id, status="corrected", corrected_on="2026-09-14")
    project.add_override(unit, "rotation_done", person_name="Ada Rowan", reason="seen by the fan")
    picture = BytesIO()
    Image.new("RGB", (16, 12), "steelblue").save(picture, "PNG")
    project.add_photo(unit, picture.getvalue(), caption="nameplate")
    project.add_trend_log(
        unit,
        "roof 1.csv",
        b"packed samples",
        file_sha256="0" * 64,
        read_as={"delimiter": ";"},
        facts={"samples": 2, "interval_s": 1.5},
        findings=[{"rule": "fan_loaded", "rows": [[0, 1]]}],
    )
    project.set_trend_limit(unit, "fan_start_s", 45, "Sheet, page 2")
    project.draw_sample(unit, [("suction_psig", (1,)), ("note_text", ())], 0.5)
    project.record_witnessed(
        unit, "suction_psig", (1,), 120.5, pass_name="as left", entered="120.5"
    )
    project.add_signature(
        unit, "", "recorded", person_id=person.id, printed_name="Ada Rowan", statement="as read"
    )


if __name__ == "__main__":
    place = Path(__file__).parent / f"version_{len(UPGRADES)}.rtuproject"
    if place.exists():
        sys.exit(f"{place} is kept as it is.")
    make(place)
    print(place)
