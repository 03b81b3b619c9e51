"""The PDF turnover package: everything read, judged and left open, in print."""

from __future__ import annotations

from commission.package.archival import Attachment
from commission.package.volumes import write_packages
from commission.package.write import write_package

__all__ = ["Attachment", "write_package", "write_packages"]
