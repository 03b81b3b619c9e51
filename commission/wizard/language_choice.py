"""The list of languages: each under its own name, so that whoever speaks it finds it."""

from __future__ import annotations

from PySide6.QtCore import Signal

from commission.language import OWN_NAMES, languages, spoken
from commission.wizard.appearance import Appearance
from commission.wizard.choice import Choice, fill
from commission.wizard.preferences import Preferences


def named_languages() -> list[tuple[str, str]]:
    """Return (own name, code) of the languages that can be spoken."""
    return [(OWN_NAMES.get(code, code), code) for code in languages()]


class LanguageChoice(Choice):
    """Chooses the language of the window, and remembers it.

    Signals:
        chosen: another language than before was chosen.
    """

    chosen = Signal()

    def __init__(self, appearance: Appearance, preferences: Preferences) -> None:
        super().__init__(appearance)
        self._preferences = preferences
        self.setAccessibleName(spoken("Language"))
        fill(self, named_languages(), preferences.language)
        self.activated.connect(lambda _place: self._choose())

    def _choose(self) -> None:
        code = str(self.currentData())
        if code == self._preferences.language:
            return
        self._preferences.language = code
        self._preferences.save()
        self.chosen.emit()
