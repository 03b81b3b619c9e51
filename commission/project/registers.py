"""People, instruments, deficiencies and overrides of a project file.

Each thing keeps its id for life; an update is a further row, a removal a row that marks it.
"""

from __future__ import annotations

from typing import Any

from commission.errors import ProjectFileError, ReadingError
from commission.language import spoken
from commission.project.journal import Row, index_from, index_text
from commission.project.records import (
    DEFICIENCY_STATUSES,
    Deficiency,
    Index,
    Instrument,
    Override,
    Person,
)
from commission.project.register import given, one_of
from commission.project.schema import TABLES
from commission.project.units import UnitList

ACCURACY_TERMS = (
    *("percent_of_reading", "percent_of_span", "span", "plus_minus"),
    *("repeatability", "resolution"),
)
"""The numbers that an instrument's uncertainty is made of."""


class Registers(UnitList):
    """All that is added, updated and listed under a stable id."""

    # --- people

    def people(self) -> list[Person]:
        """Return the people in the order added."""
        return self._register("person", _person)

    def add_person(
        self, name: str, company: str = "", role: str = "", licence: str = "", email: str = ""
    ) -> Person:
        """Add a person; ReadingError without a name."""
        content = {
            "name": given(name, spoken("A person's name")),
            "company": company,
            "role": role,
        }
        content |= {"licence": licence, "email": email}
        return _person(self._add("person", content, spoken("The person {name}", name=name)))

    def update_person(self, person_id: str, **changes: object) -> Person:
        """Change fields of a person, by name."""
        return _person(self._update_fields("person", Person, person_id, changes))

    def remove_person(self, person_id: str) -> None:
        """Take a person off the list; readings that name them keep doing so."""
        self._update(
            "person",
            person_id,
            {"removed": True},
            spoken("The removal of the person"),
        )

    # --- instruments

    def instruments(self) -> list[Instrument]:
        """Return the instruments in the order added."""
        return self._register("instrument", _instrument)

    def add_instrument(
        self,
        kind: str,
        *,
        make: str = "",
        model: str = "",
        serial: str = "",
        range_text: str = "",
        span: float | None = None,
        percent_of_reading: float = 0.0,
        percent_of_span: float = 0.0,
        plus_minus: float = 0.0,
        unit: str = "",
        calibrated_on: str = "",
        calibration_due: str = "",
        repeatability: float = 0.0,
        resolution: float = 0.0,
    ) -> Instrument:
        """Add an instrument; accuracy terms are 0 or above, all but the percents in `unit`.

        Raises:
            ReadingError: a negative accuracy term or span, or a percent of no span.
        """
        content: dict[str, object] = {
            "kind": given(kind, spoken("An instrument's kind")),
            "make": make,
            "model": model,
            "serial": serial,
            "range_text": range_text,
            "span": None if span is None else float(span),
            "percent_of_reading": float(percent_of_reading),
            "percent_of_span": float(percent_of_span),
            "plus_minus": float(plus_minus),
            "unit": unit,
            "calibrated_on": calibrated_on,
            "calibration_due": calibration_due,
            "repeatability": float(repeatability),
            "resolution": float(resolution),
        }
        _refuse_accuracy(content)
        return _instrument(
            self._add("instrument", content, spoken("The instrument {kind}", kind=kind))
        )

    def update_instrument(self, instrument_id: str, **changes: object) -> Instrument:
        """Change fields of an instrument, by name."""
        with self.transaction(spoken("The instrument")):
            row = self._row_of(TABLES["instrument"], instrument_id)
            _refuse_accuracy(row | changes)
            return _instrument(
                self._update_fields("instrument", Instrument, instrument_id, changes)
            )

    # --- deficiencies

    def deficiencies(self, unit_id: str | None = None) -> list[Deficiency]:
        """Return the deficiencies of one unit, or of all, by number."""
        found = self._register("deficiency", _deficiency, unit_id)
        return sorted(found, key=lambda deficiency: deficiency.number)

    def add_deficiency(
        self,
        unit_id: str,
        description: str,
        *,
        check: str = "",
        index: Index = (),
        requirement: str = "",
        owner: str = "",
        due: str = "",
        correction: str = "",
        corrected_on: str = "",
        retest: str = "",
        status: str = "open",
        person_id: str = "",
    ) -> Deficiency:
        """Add a deficiency under the next number of the project.

        Raises:
            ReadingError: no description, or a status that is none.
        """
        content: dict[str, object] = {
            "unit_id": unit_id,
            "check": check,
            "index": index_text(index),
            "requirement": requirement,
            "description": given(description, spoken("A deficiency's description")),
            "owner": owner,
            "due": due,
            "correction": correction,
            "corrected_on": corrected_on,
            "retest": retest,
            "status": one_of(status, DEFICIENCY_STATUSES, spoken("Deficiency status")),
            "person_id": person_id or self.person_id,
        }
        with self.transaction(spoken("The deficiency")):
            self._refuse_unknown_unit(unit_id)
            highest = self._select("SELECT max(deficiency_number) AS n FROM deficiency")[0]["n"]
            content["deficiency_number"] = 1 + (highest or 0)
            return _deficiency(self._add("deficiency", content, spoken("The deficiency")))

    def update_deficiency(self, deficiency_id: str, **changes: object) -> Deficiency:
        """Change fields of a deficiency, by name; its number stays."""
        if "status" in changes:
            one_of(str(changes["status"]), DEFICIENCY_STATUSES, spoken("Deficiency status"))
        fixed = {"number", "unit_id", "at"} & set(changes)
        if fixed:
            raise ProjectFileError(
                spoken("A deficiency keeps its {fixed}.", fixed=", ".join(sorted(fixed)))
            )
        if self.person_id:
            changes.setdefault("person_id", self.person_id)
        return _deficiency(self._update_fields("deficiency", Deficiency, deficiency_id, changes))

    # --- overrides

    def overrides(self, unit_id: str | None = None) -> list[Override]:
        """Return the decisions to go on past a stop, of one unit or of all."""
        return self._register("override_entry", _override, unit_id)

    def add_override(
        self, unit_id: str, check: str, index: Index = (), *, person_name: str, reason: str
    ) -> Override:
        """Record that a named person goes on past a stop, and why; both must be given."""
        content: dict[str, object] = {
            "unit_id": unit_id,
            "check": given(check, spoken("The check of an override")),
            "index": index_text(index),
            "person_name": given(
                person_name, spoken("The name of the person who goes on past a stop")
            ),
            "reason": given(reason, spoken("The reason to go on past a stop")),
        }
        with self.transaction(spoken("The override")):
            self._refuse_unknown_unit(unit_id)
            return _override(self._add("override_entry", content, spoken("The override")))

    def remove_override(self, override_id: str) -> None:
        """Take a decision back; it stays in the file's rows."""
        self._update("override_entry", override_id, {"removed": True}, spoken("The removal"))


def _refuse_accuracy(content: dict[str, Any]) -> None:
    for name in ACCURACY_TERMS:
        value = content[name]
        if value is not None and value < 0:
            raise ReadingError(
                spoken(
                    "Instrument: {name} {value:g} is below 0. Enter 0 or above.",
                    name=name,
                    value=value,
                )
            )
    if content["percent_of_span"] and not content["span"]:
        raise ReadingError(
            spoken(
                "Instrument: {percent_of_span:g} % of span, but no span is entered. Enter the "
                "span, in the instrument's unit.",
                percent_of_span=content["percent_of_span"],
            )
        )


def _person(row: Row) -> Person:
    return Person(row["record"], *(row[name] for name in TABLES["person"].columns))


def _instrument(row: Row) -> Instrument:
    return Instrument(row["record"], *(row[name] for name in TABLES["instrument"].columns))


def _deficiency(row: Row) -> Deficiency:
    return Deficiency(
        row["record"],
        row["unit_id"],
        row["deficiency_number"],
        row["check"],
        index_from(row["index"]),
        row["requirement"],
        row["description"],
        row["owner"],
        row["due"],
        row["correction"],
        row["corrected_on"],
        row["retest"],
        row["status"],
        row["first_at"],
        row["person_id"],
    )


def _override(row: Row) -> Override:
    return Override(
        row["record"],
        row["unit_id"],
        row["check"],
        index_from(row["index"]),
        row["person_name"],
        row["reason"],
        row["first_at"],
    )
