"""The portfolio store: thousands of archive records in one database, searched and compared.

One SQLite file by default, PostgreSQL by its address; the same code on both (SQLAlchemy Core,
chosen because it writes each database's own SQL and keeps the program's statements one).
"""

from __future__ import annotations

from commission.archive.store.adding import Added, add_record, add_records, record_paths
from commission.archive.store.history import Visit, VisitValue, stored_record, unit_history
from commission.archive.store.opening import DEFAULT_STORE, Store
from commission.archive.store.outliers import (
    SMALLEST_GROUP,
    THRESHOLD,
    Outlier,
    OutlierReport,
    find_outliers,
    modified_z_score,
)
from commission.archive.store.searching import FoundUnit, Query, search_units

__all__ = [
    "DEFAULT_STORE",
    "SMALLEST_GROUP",
    "THRESHOLD",
    "Added",
    "FoundUnit",
    "Outlier",
    "OutlierReport",
    "Query",
    "Store",
    "Visit",
    "VisitValue",
    "add_record",
    "add_records",
    "find_outliers",
    "modified_z_score",
    "record_paths",
    "search_units",
    "stored_record",
    "unit_history",
]
