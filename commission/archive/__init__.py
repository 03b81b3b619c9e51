"""What is kept for years: the archive record, its comparison with a later one, handover sheets."""

from __future__ import annotations

from commission.archive.compare import Comparison, Finding, compare_records
from commission.archive.compare_rows import comparison_rows, verdict_change_rows
from commission.archive.handover import handover_tables, write_handover_csv
from commission.archive.handover_rules import handover_faults
from commission.archive.rebuild import project_from_record, read_record
from commission.archive.record import SCHEMA_PATH, write_record
from commission.archive.record_csv import write_record_csv

__all__ = [
    "SCHEMA_PATH",
    "Comparison",
    "Finding",
    "compare_records",
    "comparison_rows",
    "handover_faults",
    "handover_tables",
    "project_from_record",
    "read_record",
    "verdict_change_rows",
    "write_handover_csv",
    "write_record",
    "write_record_csv",
]
