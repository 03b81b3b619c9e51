"""The rooftop units of a project, known by their tags."""

from __future__ import annotations

from collections.abc import Sequence

from commission.errors import ProjectFileError
from commission.language import spoken
from commission.project.journal import Row
from commission.project.records import Unit
from commission.project.register import Register
from commission.project.schema import TABLES


class UnitList(Register):
    """Units are added, renamed, put in order, marked as removed and restored."""

    def units(self, *, removed: bool = False) -> list[Unit]:
        """Return the units in their order; with `removed` those that were removed instead."""
        found = self._register("unit", _unit, removed=removed)
        return sorted(found, key=lambda unit: unit.order)

    def unit(self, unit_id: str) -> Unit:
        """Return one unit, removed or not; ProjectFileError if there is none."""
        return _unit(self._row_of(TABLES["unit"], unit_id))

    def add_unit(self, tag: str) -> Unit:
        """Add a unit after the last; ProjectFileError if the tag is empty or taken."""
        with self.transaction(spoken("The unit {tag}", tag=tag)):
            tag = self._free_tag(tag)
            everyone = self.units() + self.units(removed=True)
            order = 1 + max((unit.order for unit in everyone), default=0)
            return _unit(
                self._add(
                    "unit",
                    {"tag": tag, "order": order},
                    spoken("The unit {tag}", tag=tag),
                )
            )

    def rename_unit(self, unit_id: str, tag: str) -> Unit:
        """Give a unit another tag; its readings stay with it."""
        with self.transaction(spoken("The new tag {tag}", tag=tag)):
            tag = self._free_tag(tag, but_for=unit_id)
            return _unit(
                self._update(
                    "unit",
                    unit_id,
                    {"tag": tag},
                    spoken("The new tag {tag}", tag=tag),
                )
            )

    def reorder_units(self, unit_ids: Sequence[str]) -> list[Unit]:
        """Put all units into the order given."""
        present = {unit.id: unit.order for unit in self.units()}
        if set(unit_ids) != set(present) or len(unit_ids) != len(present):
            raise ProjectFileError(
                spoken("{path}: an order of units must name each unit once.", path=self.path)
            )
        with self.transaction(spoken("The order of units")):
            for order, unit_id in enumerate(unit_ids, start=1):
                if present[unit_id] != order:
                    self._update(
                        "unit",
                        unit_id,
                        {"order": order},
                        spoken("The order of units"),
                    )
        return self.units()

    def remove_unit(self, unit_id: str) -> None:
        """Mark a unit as removed; its readings stay in the file and it can be restored."""
        self._update("unit", unit_id, {"removed": True}, spoken("The removal of the unit"))

    def restore_unit(self, unit_id: str) -> Unit:
        """Take a removal back; ProjectFileError if its tag is taken by now."""
        with self.transaction(spoken("The unit")):
            self._free_tag(self.unit(unit_id).tag, but_for=unit_id)
            return _unit(self._update("unit", unit_id, {"removed": False}, spoken("The unit")))

    def _free_tag(self, tag: str, but_for: str = "") -> str:
        tag = tag.strip()
        if not tag:
            raise ProjectFileError(spoken("A unit is known by its tag; enter one, such as RTU-1."))
        for unit in self.units():
            if unit.tag.casefold() == tag.casefold() and unit.id != but_for:
                raise ProjectFileError(
                    spoken(
                        "Unit tag '{tag}': this project has a unit {known} already. Enter another.",
                        tag=tag,
                        known=unit.tag,
                    )
                )
        return tag


def _unit(row: Row) -> Unit:
    return Unit(row["record"], row["tag"], row["order"])
