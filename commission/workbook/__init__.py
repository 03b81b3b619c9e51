"""The workbook: a spreadsheet of entry cells, live formulas, limits and live verdicts."""

from __future__ import annotations

from commission.workbook.volumes import Written, write_workbooks
from commission.workbook.write import write_workbook

__all__ = ["Written", "write_workbook", "write_workbooks"]
