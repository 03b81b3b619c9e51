"""The workbook: a spreadsheet of entry cells, live formulas, limits and live verdicts."""

from __future__ import annotations

from commission.workbook.volumes import write_workbooks
from commission.workbook.write import write_workbook

__all__ = ["write_workbook", "write_workbooks"]
