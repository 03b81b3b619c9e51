"""The command that opens the window."""

from __future__ import annotations

import argparse

from commission.language import known_language


def window(options: argparse.Namespace) -> int:
    """Open the window, on a project if one is named; a language asked for is kept for it."""
    from commission.wizard.application import run

    if options.language:
        _keep(known_language(options.language))
    return run(options.file, exit_when_shown=options.exit_when_shown)


def _keep(code: str) -> None:
    """Choose the window's language, as the person does in its settings."""
    from commission.wizard.preferences import Preferences

    preferences = Preferences.load()
    preferences.language = code
    preferences.save()
