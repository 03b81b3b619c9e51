"""Signatures of a project file, and what each of them is over."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable

from commission.definitions.model import Form
from commission.language import spoken
from commission.project.journal import Row
from commission.project.records import (
    HASH_OF_DECISIONS,
    HASH_OF_READINGS,
    PROJECT_LEVEL,
    SIGNATURE_ROLES,
    Signature,
)
from commission.project.register import given, one_of
from commission.project.settings import ProjectSettings


class SignatureBook(ProjectSettings):
    """Who stands for what, and whether it is still what they signed."""

    def signatures(self, unit_id: str | None = None) -> list[Signature]:
        """Return the signatures of one unit or of all."""
        return self._register("signature", _signature, unit_id)

    def add_signature(
        self,
        unit_id: str,
        section: str,
        role: str,
        *,
        person_id: str,
        printed_name: str,
        statement: str,
        names: Iterable[str] | None = None,
        checks: Iterable[str] | None = None,
    ) -> Signature:
        """Sign a section ("" = the whole unit) as it stands now.

        Args:
            names: the section's fields; the readings of these (default: of all) are hashed
                into the signature. `is_signed_still` with the same names tells later whether
                they have changed since.
            checks: the section's checks; so are their limits and overrides.
        """
        content: dict[str, object] = {
            "unit_id": unit_id,
            "section": section,
            "role": one_of(role, SIGNATURE_ROLES, "Role"),
            "person_id": person_id,
            "printed_name": given(printed_name, spoken("The name of who signs")),
            "statement": statement,
        }
        with self.transaction(spoken("The signature")):
            self._refuse_unknown_unit(unit_id)
            content["hash_kind"] = HASH_OF_DECISIONS
            content["readings_hash"] = self.decisions_hash(unit_id, names, checks)
            return _signature(self._add("signature", content, spoken("The signature")))

    def decisions_hash(
        self,
        unit_id: str,
        names: Iterable[str] | None = None,
        checks: Iterable[str] | None = None,
    ) -> str:
        """Return SHA-256 over readings, limits and overrides, and how verdicts are decided.

        Limits are those in force, the project's own where the unit has none. `names` and
        `checks` as for `add_signature`.
        """
        wanted = None if checks is None else set(checks)
        limits = self.limits(PROJECT_LEVEL) | self.limits(unit_id)
        lines = [
            json.dumps(
                ["limit", *place, sorted(limit.parts.items()), limit.origin, limit.confirmed]
            )
            for place, limit in limits.items()
            if wanted is None or limit.check in wanted
        ]
        lines += [
            json.dumps(["override", one.check, one.index, one.person_name, one.reason])
            for one in self.overrides(unit_id)
            if wanted is None or one.check in wanted
        ]
        rule = json.dumps(["decided by", self.decision_rule, self.coverage_factor])
        told = [self.readings_hash(unit_id, names), rule, *sorted(lines)]
        return hashlib.sha256("\n".join(told).encode()).hexdigest()

    def is_signed_still(
        self,
        signature: Signature,
        names: Iterable[str] | None = None,
        checks: Iterable[str] | None = None,
    ) -> bool:
        """Return whether all that a signature covers is as it was when it was given.

        An older signature covers the readings alone, and is held to no more.
        """
        if signature.hash_kind == HASH_OF_READINGS:
            return signature.readings_hash == self.readings_hash(signature.unit_id, names)
        now = self.decisions_hash(signature.unit_id, names, checks)
        return signature.readings_hash == now

    def remove_signature(self, signature_id: str) -> None:
        """Withdraw a signature; it stays in the file's rows."""
        self._update("signature", signature_id, {"removed": True}, spoken("The removal"))


def signed_names(form: Form, section_name: str) -> tuple[list[str] | None, list[str] | None]:
    """Return the fields and checks that a signature of a page covers; None, None for all."""
    section = form.section_by_name.get(section_name)
    if section is None:
        return None, None
    return [field.name for field in section.fields], [check.name for check in section.checks]


def _signature(row: Row) -> Signature:
    return Signature(
        row["record"],
        row["unit_id"],
        row["section"],
        row["role"],
        row["person_id"],
        row["printed_name"],
        row["statement"],
        row["first_at"],
        row["readings_hash"],
        row["hash_kind"],
    )
