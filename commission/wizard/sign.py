"""A sign: an icon's shape and a word, always together. Imports nothing, so that the first
window can be drawn before any of the program's calculation is loaded.
"""

from __future__ import annotations

from dataclasses import dataclass

from commission.language import spoken, to_say


@dataclass(frozen=True, slots=True)
class Sign:
    """An icon (by shape), a word, and the name of a palette colour."""

    icon: str
    english: str
    colour: str

    @property
    def word(self) -> str:
        """The word, in the language spoken here."""
        return spoken(self.english)


STOP_SIGN = Sign("stop", to_say("STOP"), "stop")
