"""Settings: how verdicts are decided in this project, and how the window looks."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QLineEdit,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from commission.errors import CommissionError
from commission.language import spoken
from commission.project import SETTINGS
from commission.validation.entry import parse_number
from commission.wizard.appearance import PALETTES, SCALES, Appearance, set_role
from commission.wizard.choice import Choice, fill
from commission.wizard.document import Document
from commission.wizard.parts import bounded, label
from commission.wizard.preferences import Preferences

_RULE = (
    "Simple acceptance: a value within its limit passes. Guarded acceptance: a value nearer its "
    "limit than its expanded uncertainty is inconclusive (JCGM 106:2012, clause 8)."
)
_FACTOR = "Expanded uncertainty is this times the standard uncertainty; 2 covers about 95 %."
_UNITS = "Units in which values are typed and shown. What is stored does not change."


class SettingsPlace(QScrollArea):
    """What can be chosen.

    Signals:
        look_changed: palette or size was changed.
    """

    look_changed = Signal()

    def __init__(
        self, document: Document | None, appearance: Appearance, preferences: Preferences
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
        layout.addStretch(1)
        self.setWidget(content)

    def _card(self, title: str) -> tuple[QFrame, QGridLayout]:
        px = self._appearance.px
        card = QFrame()
        card.setProperty("role", "card")
        grid = QGridLayout(card)
        grid.setContentsMargins(px(16), px(12), px(16), px(14))
        grid.setVerticalSpacing(px(10))
        grid.setHorizontalSpacing(px(12))
        grid.setColumnMinimumWidth(0, px(170))
        grid.setColumnStretch(1, 1)
        grid.addWidget(label(title, "heading"), 0, 0, 1, 2)
        return card, grid

    def _add(
        self, grid: QGridLayout, words: str, widget: QWidget, why: str, width: int = 220
    ) -> None:
        place = grid.rowCount()
        named = label(words)
        named.setBuddy(widget)
        widget.setAccessibleName(words)
        widget.setAccessibleDescription(why)
        widget.setFixedWidth(self._appearance.px(width))
        grid.addWidget(named, place, 0)
        side_by_side = QHBoxLayout()
        side_by_side.setSpacing(self._appearance.px(12))
        side_by_side.addWidget(widget)
        side_by_side.addWidget(label(why, "muted"), 1)
        grid.addLayout(side_by_side, place, 1)

    def _project_card(self, document: Document) -> QFrame:
        card, grid = self._card("This project")
        project = document.session.project
        self.rule = self._setting_box("decision_rule", project.decision_rule)
        self.units = self._setting_box("unit_system", project.unit_system)
        self.factor = QLineEdit(f"{project.coverage_factor:g}")
        self.factor.editingFinished.connect(self._factor_typed)
        self.title = QLineEdit(project.title)
        self.title.editingFinished.connect(self._title_typed)
        cover = "Stands on the cover of the turnover package."
        self._add(grid, "Title", self.title, cover, width=420)
        self._add(grid, "Decision rule", self.rule, _RULE)
        self._add(grid, "Coverage factor", self.factor, _FACTOR)
        self._add(grid, "Unit system", self.units, _UNITS)
        self.refusal = label("", "error")
        self.refusal.hide()
        grid.addWidget(self.refusal, grid.rowCount(), 1)
        return card

    def _setting_box(self, name: str, chosen: str) -> Choice:
        box = Choice(self._appearance)
        fill(box, [(word, word) for word in SETTINGS[name].choices], chosen)
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
            self.refusal.setText(spoken("Coverage factor: {rest}", rest=rest))
            self.refusal.show()
            set_role(self.factor, "error", "tone")
            return
        set_role(self.factor, "", "tone")
        if number != self._document.session.project.coverage_factor:
            self._set("coverage_factor", number)

    def _window_card(self) -> QFrame:
        card, grid = self._card("This window")
        self.palette_box = Choice(self._appearance)
        pairs = [(palette.title, name) for name, palette in PALETTES.items()]
        fill(self.palette_box, pairs, self._preferences.palette)
        self.scale_box = Choice(self._appearance)
        sizes = [(f"{percent} %", str(percent)) for percent in SCALES]
        fill(self.scale_box, sizes, str(self._preferences.percent))
        for box in (self.palette_box, self.scale_box):
            box.activated.connect(lambda _place: self._look_chosen())
        sun = "Bright sun is black on white with thick lines, for the roof at noon."
        self._add(grid, "Appearance", self.palette_box, sun)
        self._add(grid, "Size", self.scale_box, "Of text and of everything to be touched.")
        return card

    def _look_chosen(self) -> None:
        self._preferences.palette = str(self.palette_box.currentData())
        self._preferences.percent = int(self.scale_box.currentData())
        self._preferences.save()
        self.look_changed.emit()
