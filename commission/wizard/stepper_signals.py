"""The signals table on the screen: each terminal, and what it energises on this unit."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QHBoxLayout, QVBoxLayout

from commission.language import spoken, to_say
from commission.sequence.functional_tests import signals
from commission.wizard.appearance import Appearance
from commission.wizard.document import Document
from commission.wizard.parts import label, wrapping_row

_HEADINGS = (
    to_say("Terminal"),
    to_say("Call"),
    to_say("What it energises"),
    to_say("Note"),
)
_ROLES = ("heading", "", "", "muted")
_WIDTHS = (64, 132, 164)
_WHERE = to_say(
    "Terminals as thermostats commonly have them; the unit's diagram governs. Where the "
    "control has none, make the calls in its test mode."
)


class SignalsView(QFrame):
    """For the person who holds the jumper wire."""

    def __init__(self, document: Document, unit_id: str, appearance: Appearance) -> None:
        super().__init__()
        self.setProperty("role", "card")
        self._appearance = appearance
        px = appearance.px
        lines = QVBoxLayout(self)
        lines.setContentsMargins(px(16), px(12), px(16), px(12))
        lines.setSpacing(px(10))
        lines.addLayout(self._line(tuple(spoken(words) for words in _HEADINGS), ("muted",) * 4))
        for one in signals(document.results(unit_id).calculation):
            told = (one.terminal, one.title, one.energises or "–", one.note)
            lines.addLayout(self._line(told, _ROLES))
        lines.addWidget(label(spoken(_WHERE), "muted"))

    def _line(self, told: tuple[str, ...], roles: tuple[str, ...]) -> QHBoxLayout:
        """Return one row; fixed widths, so that wrapped words get the height they need."""
        made = wrapping_row(self._appearance.px(14))
        for place, (words, role) in enumerate(zip(told, roles, strict=True)):
            named = label(words, role)
            if place < len(_WIDTHS):
                named.setFixedWidth(self._appearance.px(_WIDTHS[place]))
            made.addWidget(named, place == len(_WIDTHS), Qt.AlignmentFlag.AlignTop)
        return made
