"""A site with two people and two meters of which readings are witnessed, for several tests."""

from __future__ import annotations

from pathlib import Path

from commission.definitions.load import load_form
from commission.definitions.model import Form, Key
from commission.validation.session import Session
from commission.validation.witness_entry import enter_witnessed
from commission.validation.witnessing import Witnessed, verification

TOP = """
id = "witness_test"
version = "1"
title = "A form to be witnessed"
sections = ["volts.toml"]
[[repeat]]
name = "pair"
label = "{member}"
members = ["L1-L2", "L2-L3", "L3-L1"]
count = "3"
maximum = 3
"""
VOLTS = """
[section]
name = "volts"
title = "Volts"
stage = "Running"
[[field]]
name = "supply_v"
label = "Supply voltage"
repeat = "pair"
unit = "V"
instrument = "multimeter"
[[field]]
name = "air_f"
label = "Supply air"
unit = "°F"
instrument = "thermometer"
[[field]]
name = "guards"
label = "Guards fitted"
kind = "item"
[[field]]
name = "tag"
label = "Tag"
kind = "text"
"""
L1 = Key("supply_v", (1,))


def witnessed_form(folder: Path) -> Form:
    """Return the small form, written into a folder."""
    (folder / "rooftop_unit.toml").write_text(TOP, encoding="utf-8")
    (folder / "volts.toml").write_text(VOLTS, encoding="utf-8")
    return load_form(folder)


class WitnessedSite:
    """An open project with two people and two meters."""

    def __init__(self, session: Session) -> None:
        self.session = session
        project = session.project
        self.recorder = project.add_person("Ada Rowan").id
        self.witness = project.add_person("Ben Hollis").id
        self.meter = project.add_instrument(
            "multimeter", unit="V", percent_of_reading=1.0, plus_minus=0.5, resolution=0.1
        ).id
        self.other = project.add_instrument(
            "multimeter", unit="V", percent_of_reading=0.5, plus_minus=0.2
        ).id
        self.unit = session.add_unit("RTU-1").id
        session.person_id = self.recorder
        session.refresh()

    def read(self, text: str = "460", instrument: str | None = None) -> None:
        chosen = self.meter if instrument is None else instrument
        self.session.enter(self.unit, *L1, text, chosen)

    def witness_reads(self, text: str, instrument: str = "", key: Key = L1) -> None:
        enter_witnessed(
            self.session,
            self.unit,
            key,
            text,
            person_id=self.witness,
            instrument_id=instrument,
        )

    def lines(self) -> tuple[Witnessed, ...]:
        return verification(self.session.project, self.session.results(self.unit)).lines
