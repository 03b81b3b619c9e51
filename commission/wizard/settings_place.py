"""Settings: how verdicts are decided in this project, and how the window looks."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QFrame,
    QLineEdit,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from commission.errors import CommissionError
from commission.language import spoken, to_say
from commission.project import SETTINGS
from commission.validation.entry import parse_number
from commission.wizard.appearance import PALETTES, SCALES, Appearance, set_role
from commission.wizard.choice import Choice, fill
from commission.wizard.dialogs import Dialogs
from commission.wizard.document import Document
from commission.wizard.language_choice import LanguageChoice
from commission.wizard.limits_book_card import LimitsBookCard
from commission.wizard.parts import bounded, label, wrapping_row
from commission.wizard.preferences import Preferences

_RULE = to_say(
    "Simple acceptance: a value within its limit passes. Guarded acceptance: a value nearer its "
    "limit than its expanded uncertainty is inconclusive (JCGM 106:2012, clause 8)."
)
_FACTOR = to_say(
    "Expanded uncertainty is this times the standard uncertainty; 2 covers about 95 %."
)
_NAMES, _LEAST_BOX = 140, 150
_UNITS = to_say("Units in which values are typed and shown. What is stored does not change.")


class SettingsPlace(QScrollArea):
    """What can be chosen.

    Signals:
        look_changed: palette or size was changed.
        language_changed: another language was chosen.
    """

    look_changed = Signal()
    language_changed = Signal()

    def __init__(
        self,
        document: Document | None,
        appearance: Appearance,
        preferences: Preferences,
        dialogs: Dialogs | None = None,
    ) -> None:
        super().__init__()
        self._document = document
        self._appearance = appearance
        self._preferences = preferences
        self.setWidgetResizable(True)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        px = appearance.px
        content = QWidget()
        content.setObjectName("ground")
        layout = QVBoxLayout(content)
        layout.setContentsMargins(px(20), px(14), px(20), px(14))
        layout.setSpacing(px(12))
        layout.addWidget(label(spoken("Settings"), "title"))
        if document is not None:
            layout.addLayout(bounded(self._project_card(document), px(900)))
        layout.addLayout(bounded(self._window_card(), px(900)))
        if document is not None:
            self.book = LimitsBookCard(document, appearance, dialogs or Dialogs())
            layout.addLayout(bounded(self.book, px(900)))
        layout.addStretch(1)
        self.setWidget(content)

    def _card(self, title: str) -> tuple[QFrame, QVBoxLayout]:
        pad = self._appearance.pad
        card = QFrame()
        card.setProperty("role", "card")
        lines = QVBoxLayout(card)
        lines.setContentsMargins(pad(16), pad(12), pad(16), pad(14))
        lines.setSpacing(pad(10))
        lines.addWidget(label(title, "heading"))
        return card, lines

    def _add(
        self, lines: QVBoxLayout, words: str, widget: QWidget, why: str, width: int = 220
    ) -> None:
        px = self._appearance.px
        named = label(words)
        named.setFixedWidth(px(_NAMES))
        named.setBuddy(widget)
        widget.setAccessibleName(words)
        widget.setAccessibleDescription(why)
        widget.setMinimumWidth(px(_LEAST_BOX))
        if isinstance(widget, Choice):
            widget.hold_longest(px(width))
        widget.setMaximumWidth(max(px(width), widget.minimumWidth()))
        side_by_side = wrapping_row(self._appearance.pad(12))
        side_by_side.addWidget(named)
        side_by_side.addWidget(widget, 3)
        side_by_side.addWidget(label(why, "muted"), 2)
        lines.addLayout(side_by_side)

    def _project_card(self, document: Document) -> QFrame:
        card, lines = self._card(spoken("This project"))
        project = document.session.project
        self.rule = self._setting_box("decision_rule", project.decision_rule)
        self.units = self._setting_box("unit_system", project.unit_system)
        self.factor = QLineEdit(f"{project.coverage_factor:g}")
        self.factor.editingFinished.connect(self._factor_typed)
        self.title = QLineEdit(project.title)
        self.title.editingFinished.connect(self._title_typed)
        cover = spoken("Stands on the cover of the turnover package.")
        self._add(lines, spoken("Title"), self.title, cover, width=420)
        self._add(lines, spoken("Decision rule"), self.rule, spoken(_RULE))
        self._add(lines, spoken("Coverage factor"), self.factor, spoken(_FACTOR))
        self._add(lines, spoken("Unit system"), self.units, spoken(_UNITS))
        self.refusal = label("", "error")
        self.refusal.hide()
        lines.addWidget(self.refusal)
        return card

    def _setting_box(self, name: str, chosen: str) -> Choice:
        box = Choice(self._appearance)
        fill(box, [(spoken(word), word) for word in SETTINGS[name].choices], chosen)
        box.activated.connect(lambda _place: self._set(name, str(box.currentData())))
        return box

    def _set(self, name: str, value: float | str) -> None:
        assert self._document is not None
        refusal = self._document.set_setting(name, value)
        self.refusal.setText(refusal)
        self.refusal.setVisible(bool(refusal))

    def _title_typed(self) -> None:
        assert self._document is not None
        if self.title.text().strip() != self._document.session.project.title:
            self._set("title", self.title.text().strip())

    def _factor_typed(self) -> None:
        assert self._document is not None
        try:
            number, rest, _ = parse_number(self.factor.text())
        except CommissionError as error:
            number, rest = 0.0, str(error)
        if rest:
            self.refusal.setText(spoken("Coverage factor: {fault}", fault=rest))
            self.refusal.show()
            set_role(self.factor, "error", "tone")
            return
        set_role(self.factor, "", "tone")
        if number != self._document.session.project.coverage_factor:
            self._set("coverage_factor", number)

    def _window_card(self) -> QFrame:
        card, lines = self._card(spoken("This window"))
        self.palette_box = Choice(self._appearance)
        pairs = [(spoken(palette.title), name) for name, palette in PALETTES.items()]
        fill(self.palette_box, pairs, self._preferences.palette)
        self.scale_box = Choice(self._appearance)
        sizes = [(f"{percent} %", str(percent)) for percent in SCALES]
        fill(self.scale_box, sizes, str(self._preferences.percent))
        for box in (self.palette_box, self.scale_box):
            box.activated.connect(lambda _place: self._look_chosen())
        sun = spoken("Bright sun is black on white with thick lines, for the roof at noon.")
        self._add(lines, spoken("Appearance"), self.palette_box, sun)
        touched = spoken("Of text and of everything to be touched.")
        self._add(lines, spoken("Size"), self.scale_box, touched)
        self.language_box = LanguageChoice(self._appearance, self._preferences)
        self.language_box.chosen.connect(self.language_changed)
        anew = spoken(
            "Applied at once; the project is opened anew. A file's language is chosen where it is "
            "written."
        )
        self._add(lines, spoken("Language"), self.language_box, anew)
        return card

    def _look_chosen(self) -> None:
        self._preferences.palette = str(self.palette_box.currentData())
        self._preferences.percent = int(self.scale_box.currentData())
        self._preferences.save()
        self.look_changed.emit()
