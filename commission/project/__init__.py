"""The project file: readings and their history, in one SQLite file.

`ProjectFile` is built up subject by subject, each class adding to the one before: journal,
readings, limits, register, units, registers (people ...), photos, trend logs, settings,
signatures, witness, undo, file.
"""

from __future__ import annotations

from commission.project.file import ProjectFile, local_clock, random_id
from commission.project.records import (
    AS_FOUND,
    AS_LEFT,
    DEFICIENCY_STATUSES,
    HASH_KINDS,
    HASH_OF_DECISIONS,
    HASH_OF_READINGS,
    LIMIT_PARTS,
    PROJECT_LEVEL,
    SIGNATURE_ROLES,
    Deficiency,
    Entered,
    Instrument,
    Limit,
    Override,
    Person,
    Photo,
    Reading,
    Signature,
    TrendLimit,
    TrendRecord,
    Unit,
    pass_rank,
)
from commission.project.schema import SUFFIX
from commission.project.settings import SETTINGS
from commission.project.witness import WitnessDraw, WitnessReading

__all__ = [
    "AS_FOUND",
    "AS_LEFT",
    "DEFICIENCY_STATUSES",
    "HASH_KINDS",
    "HASH_OF_DECISIONS",
    "HASH_OF_READINGS",
    "LIMIT_PARTS",
    "PROJECT_LEVEL",
    "SETTINGS",
    "SIGNATURE_ROLES",
    "SUFFIX",
    "Deficiency",
    "Entered",
    "Instrument",
    "Limit",
    "Override",
    "Person",
    "Photo",
    "ProjectFile",
    "Reading",
    "Signature",
    "TrendLimit",
    "TrendRecord",
    "Unit",
    "WitnessDraw",
    "WitnessReading",
    "local_clock",
    "pass_rank",
    "random_id",
]
