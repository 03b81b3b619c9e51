"""Scenario folder (TOML) -> Scenario; strict, and all faults of all files at once."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from commission.definitions.model import Check, Field, Form, Level
from commission.errors import CommissionError, FormError
from commission.language import near_miss
from commission.project.records import (
    AS_FOUND,
    DEFICIENCY_STATUSES,
    LIMIT_PARTS,
    SIGNATURE_ROLES,
    Index,
)
from commission.project.scenario_tables import (
    DEFICIENCY,
    INSTRUMENT,
    LIMIT,
    OVERRIDE,
    PERSON,
    SIGNATURE,
    SITE_FILE,
    Entry,
    TableReader,
)
from commission.project.scenario_values import (
    GivenReading,
    GivenValueError,
    given_readings,
    members_of,
)
from commission.project.settings import SettingValue, checked_setting
from commission.units import unit as unit_of_code

_PASS_TABLE = re.compile(r"as_found|as_left|retest_[1-9][0-9]{0,3}")

_SHARED_KEYS = ("instruments", "limits", "deficiency", "override", "signature")
_SITE_KEYS = (
    *("title", "began", "default_person", "settings", "readings", "person", "instrument"),
    *_SHARED_KEYS,
)
_PLAIN_GROUPS = ("configuration", "nameplate", "design")
_UNIT_KEYS = ("tag", "began", "as_found", "as_left", "retest_1", *_PLAIN_GROUPS, *_SHARED_KEYS)


@dataclass(frozen=True, slots=True)
class GivenLimit:
    """A limit as a scenario gives it."""

    check: str
    index: Index
    parts: dict[str, float]
    origin: str
    confirmed: bool


@dataclass(slots=True)
class Part:
    """What a scenario says of one unit, or (tag "") of the project."""

    tag: str = ""
    began: datetime | None = None
    readings: list[GivenReading] = field(default_factory=list)
    limits: list[GivenLimit] = field(default_factory=list)
    deficiencies: list[Entry] = field(default_factory=list)
    overrides: list[Entry] = field(default_factory=list)
    signatures: list[Entry] = field(default_factory=list)


@dataclass(slots=True)
class Scenario:
    """A whole invented site; people and instruments by the keys that the files use."""

    title: str
    began: datetime
    default_person: str
    settings: dict[str, SettingValue]
    people: dict[str, Entry]
    instruments: dict[str, Entry]
    site: Part
    units: list[Part]


def read_scenario(folder: Path, form: Form) -> Scenario:
    """Return what the files of a scenario folder say.

    Raises:
        FormError: its `faults` are all that is wrong, each with file, entry, rule and cure.
    """
    reader = _Reader(form)
    scenario = reader.site(folder / SITE_FILE)
    others = sorted((p for p in folder.glob("*.toml") if p.name != SITE_FILE), key=_by_number)
    for path in others:
        reader.unit(path, scenario)
    if not others:
        reader.fault(str(folder), "has no unit file; add one, such as rtu_1.toml.")
    if reader.faults:
        raise FormError(reader.faults)
    return scenario


def _by_number(path: Path) -> list[tuple[int, str]]:
    """Sort rtu_10 after rtu_2."""
    return [(int(part) if part.isdecimal() else 0, part) for part in re.split(r"(\d+)", path.name)]


class _Reader(TableReader):
    """Reads file after file, gathering faults; what it returns counts only without any."""

    def __init__(self, form: Form) -> None:
        super().__init__()
        self.form = form

    def site(self, path: Path) -> Scenario:
        """Read site.toml."""
        table = self.load(path)
        file = path.name
        self.refuse_unknown_keys(file, table, _SITE_KEYS)
        people = self.keyed_records(file, table, "person", PERSON, ("name",))
        instruments = self.keyed_records(file, table, "instrument", INSTRUMENT, ("kind",))
        for key, entry in instruments.items():
            self._measuring_unit(f"{file}, instrument {key}", entry.get("unit", ""))
        default_person = self.text(file, table, "default_person")
        began = self.moment(file, table) or datetime.min
        if "began" not in table:
            self.fault(file, "began is missing; give it like 2026-09-14T08:00:00-06:00.")
        settings = self._settings(file, table)
        title = self.text(file, table, "title", required=True)
        scenario = Scenario(title, began, default_person, settings, people, instruments, Part(), [])
        if default_person:
            self.refuse_unknown_reference(f"{file}, default_person", default_person, people)
        used = self.table(file, table, "instruments")
        readings = self.table(file, table, "readings")
        scenario.site.readings += self._readings(
            f"{file}, [readings]", readings, AS_FOUND, used, Level.PROJECT
        )
        self._rest(file, table, scenario.site, scenario)
        return scenario

    def unit(self, path: Path, scenario: Scenario) -> None:
        """Read one unit file and add it to the scenario."""
        table = self.load(path)
        file = path.name
        part = Part(self.text(file, table, "tag", required=True), self.moment(file, table))
        if part.tag.casefold() in {other.tag.casefold() for other in scenario.units}:
            self.fault(file, f"tag '{part.tag}' is another unit's already; give it its own.")
        known = (*_UNIT_KEYS, *self.form.section_by_name)
        self.refuse_unknown_keys(
            file, [key for key in table if not _PASS_TABLE.fullmatch(key)], known
        )
        used = self.table(file, table, "instruments")
        for place, pass_name, group in self._groups(file, table):
            part.readings += self._readings(place, group, pass_name, used, Level.UNIT)
        self._once(file, part.readings)
        self._rest(file, table, part, scenario)
        scenario.units.append(part)

    def _rest(self, file: str, table: Entry, part: Part, scenario: Scenario) -> None:
        self._instrument_keys(file, table, part, scenario)
        part.limits += self._limits(file, self.table(file, table, "limits"))
        part.deficiencies += self.records(file, table, "deficiency", DEFICIENCY, ("description",))
        part.overrides += self.records(
            file, table, "override", OVERRIDE, ("check", "person_name", "reason")
        )
        part.signatures += self.records(
            file, table, "signature", SIGNATURE, ("role", "person", "statement")
        )
        for number, entry in enumerate(part.deficiencies, start=1):
            place = f"{file}, deficiency {number}"
            if entry.get("check"):
                self._check(place, entry["check"])
            self.refuse_other_than(
                place, "status", entry.get("status", "open"), DEFICIENCY_STATUSES
            )
        for number, entry in enumerate(part.overrides, start=1):
            self._check(f"{file}, override {number}", entry.get("check", ""))
        for number, entry in enumerate(part.signatures, start=1):
            self._signature(f"{file}, signature {number}", entry, scenario)

    # --- names

    def _measuring_unit(self, place: str, code: str) -> None:
        try:
            unit_of_code(code)
        except CommissionError as fault:
            self.fault(place, str(fault))

    def _settings(self, file: str, table: Entry) -> dict[str, SettingValue]:
        settings = {}
        for name, value in self.table(file, table, "settings").items():
            try:
                settings[name] = checked_setting(name, value)
            except CommissionError as fault:
                self.fault(f"{file}, [settings]", str(fault))
        return settings

    def _field(self, place: str, name: str, level: Level) -> Field | None:
        found = self.form.by_name.get(name)
        if not isinstance(found, Field):
            known = [entry.name for entry in self.form.entries() if isinstance(entry, Field)]
            self.fault(place, f"'{name}' is no field of the form.{near_miss(name, known)}")
            return None
        if self.form.section_of(name).level is not level:
            where = f"once for the project: give it in {SITE_FILE}, [readings]"
            other = "for each unit: give it in the unit's file"
            self.fault(place, f"'{name}' is asked {where if level is Level.UNIT else other}.")
            return None
        return found

    def _check(self, place: str, name: str) -> Check | None:
        found = self.form.by_name.get(name)
        if isinstance(found, Check):
            return found
        known = [entry.name for entry in self.form.entries() if isinstance(entry, Check)]
        self.fault(place, f"'{name}' is no check of the form.{near_miss(name, known)}")
        return None

    # --- readings

    def _groups(self, file: str, table: Entry) -> Iterator[tuple[str, str, Entry]]:
        """Yield (place, pass, field table) of every group of readings in a unit file."""
        for key in table:
            if _PASS_TABLE.fullmatch(key):
                pass_name = key.replace("_", " ")
                for group in self.table(file, table, key):
                    place = f"{file}, [{key}.{group}]"
                    yield place, pass_name, self.table(file, table[key], group)
            elif key in _PLAIN_GROUPS or key in self.form.section_by_name:
                yield f"{file}, [{key}]", AS_FOUND, self.table(file, table, key)

    def _readings(
        self, place: str, group: Entry, pass_name: str, used: Entry, level: Level
    ) -> list[GivenReading]:
        readings: list[GivenReading] = []
        for name, raw in group.items():
            asked = self._field(place, name, level)
            if asked is None:
                continue
            try:
                readings += given_readings(
                    self.form, asked, raw, pass_name, str(used.get(name, ""))
                )
            except GivenValueError as fault:
                self.fault(f"{place}, {name}", str(fault))
        return readings

    def _once(self, file: str, readings: list[GivenReading]) -> None:
        seen = set()
        for reading in readings:
            key = (reading.name, reading.index, reading.pass_name)
            if key in seen:
                self.fault(
                    file, f"{reading.name} is given twice for {reading.pass_name}; drop one."
                )
            seen.add(key)

    def _instrument_keys(self, file: str, table: Entry, part: Part, scenario: Scenario) -> None:
        names = [entry.name for entry in self.form.entries() if isinstance(entry, Field)]
        for name, key in self.table(file, table, "instruments").items():
            place = f"{file}, [instruments] {name}"
            if name not in names:
                self.fault(place, f"is no field of the form.{near_miss(name, names)}")
            self.refuse_unknown_reference(place, str(key), scenario.instruments)
        for reading in part.readings:
            place = f"{file}, {reading.name}"
            if reading.instrument and reading.instrument not in map(
                str, table.get("instruments", {}).values()
            ):
                self.refuse_unknown_reference(place, reading.instrument, scenario.instruments)
            if reading.person:
                self.refuse_unknown_reference(place, reading.person, scenario.people)

    # --- limits and signatures

    def _limits(self, file: str, table: Entry) -> list[GivenLimit]:
        limits = []
        for name, raw in table.items():
            place = f"{file}, [limits] {name}"
            check = self._check(place, name)
            if check is None:
                continue
            try:
                members = (
                    [((), raw)]
                    if isinstance(raw, dict)
                    else [*members_of(self.form, check.repeat, raw)]
                )
            except GivenValueError as fault:
                self.fault(place, str(fault))
                continue
            limits += [self._limit(place, check, index, entry) for index, entry in members if entry]
        return limits

    def _limit(self, place: str, check: Check, index: Index, raw: object) -> GivenLimit:
        if not isinstance(raw, dict):
            self.fault(place, f"a limit is a table such as {{low = 1, high = 2}}; {raw!r} is none.")
            return GivenLimit(check.name, index, {}, "", False)
        entry = self.shaped(place, raw, LIMIT)
        parts = {part: float(entry[part]) for part in LIMIT_PARTS if part in entry}
        for part in parts:
            if part not in check.parts:
                has = ", ".join(check.parts) or "no part to enter"
                self.fault(place, f"{part} is no part of a limit '{check.limit}'; it has {has}.")
        if "low" in parts and "high" in parts and parts["low"] > parts["high"]:
            self.fault(place, f"low {parts['low']:g} is above high {parts['high']:g}.")
        if not parts and not entry.get("confirmed"):
            self.fault(place, "says nothing; give a part, or confirmed = true for the default.")
        return GivenLimit(
            check.name, index, parts, entry.get("origin", ""), entry.get("confirmed", False)
        )

    def _signature(self, place: str, entry: Entry, scenario: Scenario) -> None:
        section = entry.get("section", "")
        if section and section not in self.form.section_by_name:
            known = self.form.section_by_name
            self.fault(place, f"'{section}' is no section of the form.{near_miss(section, known)}")
        self.refuse_other_than(place, "role", entry.get("role", ""), SIGNATURE_ROLES)
        self.refuse_unknown_reference(place, entry.get("person", ""), scenario.people)
