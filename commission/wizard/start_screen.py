"""The first screen: a new project, an existing one, the demo site, or a recent file."""

from __future__ import annotations

import re
from functools import partial
from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from commission.language import spoken, to_say
from commission.wizard.appearance import Appearance
from commission.wizard.dialogs import PROJECT_FILTER, Dialogs
from commission.wizard.icon import pixmap
from commission.wizard.language_choice import LanguageChoice
from commission.wizard.parts import button, column, hint, label, stretch_last, wrapping_row
from commission.wizard.preferences import Preferences, projects_folder

SUFFIX = ".rtuproject"
_PURPOSE = to_say("Start-up and commissioning of packaged rooftop units")
_DEFERRAL = to_say(
    "This program does not replace the unit's literature, local codes or licensed practice."
)


class NewProject(QFrame):
    """Asks for a title and a place, no more.

    Signals:
        wanted: path and title.
    """

    wanted = Signal(Path, str)

    def __init__(self, appearance: Appearance, dialogs: Dialogs) -> None:
        super().__init__()
        self.setProperty("role", "card")
        self._dialogs = dialogs
        self._place_is_own = False
        px = appearance.px
        self.title = QLineEdit()
        self.place = QLineEdit(str(projects_folder() / f"project{SUFFIX}"))
        self.refusal = label("", "error")
        self.refusal.hide()
        grid = QGridLayout(self)
        grid.setContentsMargins(px(16), px(14), px(16), px(14))
        grid.setVerticalSpacing(px(8))
        grid.setHorizontalSpacing(px(10))
        grid.setColumnStretch(1, 1)
        for place, (words, line) in enumerate(
            ((spoken("Title"), self.title), (spoken("File"), self.place))
        ):
            named = label(words, wraps=False)
            named.setBuddy(line)
            line.setAccessibleName(spoken("{words} of the new project", words=words))
            line.returnPressed.connect(self._want)
            grid.addWidget(named, place, 0)
            grid.addWidget(line, place, 1, 1, 2 if line is self.title else 1)
        hint(self.title, spoken("The job, as it shall stand on the cover"))
        grid.addWidget(button(spoken("Choose"), self._choose), 1, 2)
        grid.addWidget(self.refusal, 2, 0, 1, 3)
        buttons = wrapping_row(px(8))
        self.make = button(spoken("Make the project"), self._want, "primary")
        buttons.addWidget(self.make)
        buttons.addWidget(button(spoken("Not now"), self.hide, "quiet"))
        grid.addLayout(stretch_last(buttons), 3, 1, 1, 2)
        self.title.textEdited.connect(self._propose)
        self.place.textEdited.connect(self._mark_own)
        self.hide()

    def ask(self) -> None:
        """Open the form."""
        self.show()
        self.title.setFocus(Qt.FocusReason.OtherFocusReason)

    def _mark_own(self) -> None:
        self._place_is_own = True

    def _propose(self, title: str) -> None:
        if not self._place_is_own:
            stem = re.sub(r"[^\w]+", "_", title).strip("_").lower() or "project"
            self.place.setText(str(projects_folder() / f"{stem[:60]}{SUFFIX}"))

    def _choose(self) -> None:
        proposed = Path(self.place.text())
        chosen = self._dialogs.choose_to_save(self, proposed, PROJECT_FILTER)
        if chosen is not None:
            self._place_is_own = True
            self.place.setText(str(chosen))

    def _want(self) -> None:
        title, place = self.title.text().strip(), self.place.text().strip()
        if not title:
            self.refuse(spoken("A project needs a title; it stands on the cover of the package."))
            self.title.setFocus(Qt.FocusReason.OtherFocusReason)
            return
        if not place:
            self.refuse(spoken("Say where to put the project file."))
            return
        path = Path(place).expanduser()
        self.refusal.hide()
        self.wanted.emit(path if path.suffix else path.with_suffix(SUFFIX), title)

    def refuse(self, sentence: str) -> None:
        """Say why the project cannot be made so."""
        self.refusal.setText(sentence)
        self.refusal.setVisible(bool(sentence))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.hide()
        else:
            super().keyPressEvent(event)


class StartScreen(QScrollArea):
    """What there is to begin with.

    Signals:
        new_wanted: path and title.
        open_wanted: a path.
        demo_wanted: the demo site.
        language_changed: another language was chosen.
    """

    new_wanted = Signal(Path, str)
    open_wanted = Signal(Path)
    demo_wanted = Signal()
    language_changed = Signal()

    def __init__(self, appearance: Appearance, preferences: Preferences, dialogs: Dialogs) -> None:
        super().__init__()
        self._appearance = appearance
        self._preferences = preferences
        self._dialogs = dialogs
        self.new_form = NewProject(appearance, dialogs)
        self.new_form.wanted.connect(self.new_wanted)
        self.said = label("", "error")
        self.said.hide()
        self.recent_buttons: list[QPushButton] = []
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setWidget(self._content())

    def _content(self) -> QWidget:
        px = self._appearance.px
        content = QWidget()
        content.setObjectName("ground")
        outer = QHBoxLayout(content)
        outer.setContentsMargins(px(32), px(28), px(32), px(20))
        middle = QWidget()
        middle.setMaximumWidth(px(1060))
        lines = QVBoxLayout(middle)
        lines.setContentsMargins(0, 0, 0, 0)
        lines.setSpacing(px(16))
        lines.addLayout(self._head())
        lines.addWidget(self.new_form)
        lines.addWidget(self.said)
        both = wrapping_row(px(28))
        both.addLayout(self._actions(), 4)
        both.addLayout(self._recent(), 5)
        lines.addLayout(both)
        lines.addStretch(1)
        lines.addWidget(label(spoken(_DEFERRAL), "muted"))
        outer.addStretch(1)
        outer.addWidget(middle, 100)
        outer.addStretch(1)
        return content

    def _head(self) -> QHBoxLayout:
        px = self._appearance.px
        head = wrapping_row(px(18))
        picture = QLabel()
        size = px(64)
        colour = self._appearance.palette["accent"]
        picture.setPixmap(pixmap("program", colour, size, self.devicePixelRatioF()))
        picture.setFixedSize(size, size)
        head.addWidget(picture)
        words = column(px(2))
        words.addWidget(label(spoken("Commission"), "product"))
        words.addWidget(label(spoken(_PURPOSE), "intro"))
        head.addLayout(words, 1)
        self.language_box = LanguageChoice(self._appearance, self._preferences)
        self.language_box.chosen.connect(self.language_changed)
        self.language_box.setFixedWidth(px(130))
        head.addWidget(self.language_box, 0, Qt.AlignmentFlag.AlignTop)
        return head

    def _actions(self) -> QVBoxLayout:
        px = self._appearance.px
        colour = self._appearance.palette["accent"]
        actions = column(px(10))
        actions.addWidget(label(spoken("Begin"), "heading"))
        self.new_button = button(spoken("New project"), self.new_form.ask, "big", "new", colour)
        self.open_button = button(
            spoken("Open a project file"), self.ask_open, "big", "open", colour
        )
        self.demo_button = button(
            spoken("Open the demo site"), self.demo_wanted.emit, "big", "demo", colour
        )
        for made in (self.new_button, self.open_button, self.demo_button):
            actions.addWidget(made)
        actions.addWidget(
            label(
                spoken("A project file can also be dropped here. Keys: F1 shows them all."), "muted"
            )
        )
        actions.addStretch(1)
        return actions

    def _recent(self) -> QVBoxLayout:
        px = self._appearance.px
        recent = column(px(8))
        recent.addWidget(label(spoken("Recent projects"), "heading"))
        paths = [Path(name) for name in self._preferences.recent]
        for path in paths:
            made = button(_short(path), partial(self.open_wanted.emit, path), "big")
            made.setAccessibleName(spoken("Open {path}", path=path))
            made.setToolTip(str(path))
            if not path.exists():
                made.setText(
                    spoken(
                        "{name}\nis not there any more: {folder}",
                        name=path.stem,
                        folder=_folder(path),
                    )
                )
                made.setEnabled(False)
            self.recent_buttons.append(made)
            recent.addWidget(made)
        if not paths:
            recent.addWidget(
                label(
                    spoken("None yet. The demo site shows what a finished job looks like."), "muted"
                )
            )
        recent.addStretch(1)
        return recent

    def ask_open(self) -> None:
        """Ask for a file to open."""
        chosen = self._dialogs.choose_to_open(self, projects_folder())
        if chosen is not None:
            self.open_wanted.emit(chosen)

    def say(self, sentence: str) -> None:
        """Say what went wrong, in place."""
        if self.new_form.isVisibleTo(self):
            self.new_form.refuse(sentence)
        else:
            self.said.setText(sentence)
            self.said.setVisible(bool(sentence))


def _short(path: Path) -> str:
    return f"{path.stem}\n{_folder(path)}"


def _folder(path: Path) -> str:
    text = str(path.parent)
    home = str(Path.home())
    text = text.replace(home, "~", 1) if text.startswith(home) else text
    return text if len(text) <= 52 else f"…{text[-51:]}"
