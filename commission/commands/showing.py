"""The command that opens the window."""

from __future__ import annotations

import argparse


def window(options: argparse.Namespace) -> int:
    """Open the window, on a project if one is named."""
    from commission.wizard.application import run

    return run(options.file, exit_when_shown=options.exit_when_shown)
