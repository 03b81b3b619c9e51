"""LibreOffice as the independent recalculator of our workbooks.

A workbook is opened with a private profile that forbids trusting cached values, computed
anew and saved: what comes back is what a spreadsheet makes of our formulas.
"""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from pathlib import Path

_PATIENCE_S = 300

# OOXMLRecalcMode 0: always recalculate on load; the default trusts what the writer cached.
_SETTINGS = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry"
 xmlns:xs="http://www.w3.org/2001/XMLSchema"
 xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">
<item oor:path="/org.openoffice.Office.Calc/Formula/Load">
<prop oor:name="OOXMLRecalcMode" oor:op="fuse"><value>0</value></prop></item>
<item oor:path="/org.openoffice.Office.Calc/Formula/Load">
<prop oor:name="ODFRecalcMode" oor:op="fuse"><value>0</value></prop></item>
</oor:items>
"""


def recalculate(path: Path, out_dir: Path) -> Path:
    """Return `path` recalculated hard by LibreOffice, saved as .xlsx under `out_dir`.

    Args:
        path: A workbook (.xlsx).
        out_dir: Folder for the result, made if need be; not the workbook's own.
    Raises:
        RuntimeError: LibreOffice is absent, fails, or writes nothing.
    """
    office = shutil.which("soffice") or shutil.which("libreoffice")
    if office is None:
        raise RuntimeError(
            "LibreOffice (soffice) is not installed; these tests recalculate workbooks with it. "
            "Install the package libreoffice-calc."
        )
    if out_dir.resolve() == path.resolve().parent:
        raise RuntimeError(f"{out_dir}: would overwrite the workbook itself; give another folder.")
    out_dir.mkdir(parents=True, exist_ok=True)
    result = out_dir / f"{path.stem}.xlsx"
    result.unlink(missing_ok=True)
    with tempfile.TemporaryDirectory(prefix="recalculation_") as profile:
        ran = _convert(office, path, out_dir, Path(profile))
    if ran.returncode or not result.is_file():
        raise RuntimeError(
            f"LibreOffice could not recalculate {path} (exit {ran.returncode}):\n"
            f"{ran.stdout}\n{ran.stderr}"
        )
    return result


def _convert(
    office: str, path: Path, out_dir: Path, profile: Path
) -> subprocess.CompletedProcess[str]:
    settings = profile / "user" / "registrymodifications.xcu"
    settings.parent.mkdir(parents=True)
    settings.write_text(_SETTINGS, encoding="utf-8")
    command = [
        office,
        f"-env:UserInstallation={profile.resolve().as_uri()}",
        "--headless",
        "--norestore",
        "--nolockcheck",
        "--convert-to",
        "xlsx:Calc MS Excel 2007 XML",
        "--outdir",
        str(out_dir),
        str(path),
    ]
    return subprocess.run(command, capture_output=True, text=True, timeout=_PATIENCE_S, check=False)
