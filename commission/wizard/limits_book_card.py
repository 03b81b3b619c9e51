"""The limits book as a whole: its models, sharing it as a file, and taking in another person's."""

from __future__ import annotations

from functools import partial
from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QVBoxLayout, QWidget

from commission.language import spoken, spoken_count, to_say
from commission.project.limits_book import BookEntry, Joined, ModelKey, read_shared, same_model
from commission.validation.site import PROJECT
from commission.wizard.appearance import Appearance
from commission.wizard.book_keeper import BookKeeper
from commission.wizard.book_words import name_of, numbers_of, whence
from commission.wizard.dialogs import Dialogs
from commission.wizard.document import Document
from commission.wizard.parts import button, clear, column, label, reveal, stretch_last, wrapping_row

_WORDS = to_say(
    "Limits and tables that you enter in a unit whose make and model are known are kept on this "
    "computer, with where they come from, and offered for the next unit of that model. None "
    "counts until you take it."
)
_FILES = to_say("Limits books (*.limits.json)")


class LimitsBookCard(QFrame):
    """A card of the settings: what the book holds, by model."""

    def __init__(self, document: Document, appearance: Appearance, dialogs: Dialogs) -> None:
        super().__init__()
        self.setProperty("role", "card")
        self._document = document
        self._dialogs = dialogs
        self._keeper = BookKeeper.of(document)
        px = self._px = appearance.px
        self.share_button = button(spoken("Share as a file"), self.share)
        self.take_button = button(spoken("Take in a file"), self.take_in)
        self.said = label("", "muted")
        self.refusal = label("", "error")
        self.lines, self.conflicts = column(px(6)), column(px(8))
        layout = QVBoxLayout(self)
        layout.setContentsMargins(px(16), px(12), px(16), px(14))
        layout.setSpacing(px(8))
        layout.addWidget(label(spoken("Limits book"), "heading"))
        layout.addWidget(label(spoken(_WORDS), "muted"))
        layout.addLayout(self.lines)
        tools = wrapping_row(px(8))
        tools.addWidget(self.share_button)
        tools.addWidget(self.take_button)
        layout.addLayout(stretch_last(tools))
        for words in (self.said, self.refusal):
            layout.addWidget(words)
            words.hide()
        layout.addLayout(self.conflicts)
        self._keeper.changed.connect(self.refresh)
        self.refresh()

    def refresh(self) -> None:
        """Show the models as they are now."""
        clear(self.lines)
        entries = self._keeper.entries()
        models: dict[tuple[str, str], ModelKey] = {one.model.folded(): one.model for one in entries}
        for _, model in sorted(models.items()):
            count = sum(same_model(one.model, model) for one in entries)
            self.lines.addWidget(self._model_line(model, count))
        if not models:
            self.lines.addWidget(label(spoken("Nothing is in it yet."), "muted"))
        self.share_button.setEnabled(bool(models))

    def _model_line(self, model: ModelKey, count: int) -> QWidget:
        held = spoken_count("one limit or table", "{count} limits and tables", count)
        name = f"{model.make} {model.model}"
        forget = button(spoken("Forget"), partial(self._forget, model), "quiet")
        forget.setAccessibleName(spoken("Forget {name}", name=name))
        line = wrapping_row(self._px(8))
        line.addWidget(label(f"{name}: {held}"), 1)
        line.addWidget(forget)
        made = QWidget()
        made.setLayout(line)
        return made

    # -- files ---------------------------------------------------------------------

    def share(self) -> None:
        """Write the book to a file for others."""
        folder = self._document.session.project.path.parent
        path = self._dialogs.choose_to_save(self, folder / "limits_book.limits.json", _FILES)
        if path is None:
            return
        count: list[int] = []
        refusal = self._keeper.change(lambda: count.append(self._keeper.book.share(path)))
        self._tell(
            refusal,
            spoken_count(
                "One entry is in {name}.",
                "{count} entries are in {name}.",
                sum(count),
                name=path.name,
            ),
        )

    def take_in(self) -> None:
        """Add another person's book; what disagrees is shown side by side."""
        path = self._dialogs.choose_limits_book(self)
        if path is not None:
            self.take_in_file(path)

    def take_in_file(self, path: Path) -> None:
        """Add the book in a file."""
        joined: list[Joined] = []
        refusal = self._keeper.change(
            lambda: joined.append(self._keeper.book.take_in(read_shared(path)))
        )
        clear(self.conflicts)
        words = ""
        for one in joined:
            words = spoken(
                "{added} new, {known} known already, {conflicts} that disagree.",
                added=one.added,
                known=one.known,
                conflicts=len(one.conflicts),
            )
            for ours, theirs in one.conflicts:
                self.conflicts.addWidget(self._conflict_line(ours, theirs))
        self._tell(refusal, words)

    def _conflict_line(self, ours: BookEntry, theirs: BookEntry) -> QWidget:
        made = QFrame()
        made.setProperty("role", "nested")
        name = name_of(self._document, PROJECT, ours)
        lines = column(self._px(4))
        lines.setContentsMargins(*(self._px(10) for _ in range(4)))
        lines.addWidget(label(f"{ours.model.make} {ours.model.model}, {name}"))
        for words, one in (
            (to_say("In your book: {numbers}, {whence}"), ours),
            (to_say("In the file: {numbers}, {whence}"), theirs),
        ):
            numbers = numbers_of(self._document, PROJECT, one)
            lines.addWidget(label(spoken(words, numbers=numbers, whence=whence(one)), "muted"))
        tools = wrapping_row(self._px(8))
        for words, act in (
            (spoken("Keep ours"), lambda: self._settle(made, None)),
            (spoken("Take the file's"), lambda: self._settle(made, theirs)),
        ):
            choose = button(words, act)
            choose.setAccessibleName(f"{words}: {name}")
            tools.addWidget(choose)
        lines.addLayout(stretch_last(tools))
        made.setLayout(lines)
        return made

    def _settle(self, line: QWidget, taken: BookEntry | None) -> None:
        if taken is not None and self._keeper.change(lambda: self._keeper.book.put(taken)):
            return
        self.conflicts.removeWidget(line)
        line.hide()
        line.deleteLater()
        self.take_button.setFocus(Qt.FocusReason.OtherFocusReason)

    def _forget(self, model: ModelKey) -> None:
        count: list[int] = []
        refusal = self._keeper.change(lambda: count.append(self._keeper.book.forget(model)))
        self._tell(refusal, spoken("{model} is forgotten.", model=f"{model.make} {model.model}"))
        self.take_button.setFocus(Qt.FocusReason.OtherFocusReason)

    def _tell(self, refusal: str, words: str) -> None:
        self.refusal.setText(refusal)
        reveal(self.refusal, bool(refusal))
        self.said.setText(words)
        reveal(self.said, bool(words) and not refusal)
