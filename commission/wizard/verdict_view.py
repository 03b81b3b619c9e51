"""One verdict as a person reads it: icon, word, why, against which limit, what to do."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QMouseEvent, QResizeEvent
from PySide6.QtWidgets import QGridLayout, QLabel, QPushButton, QWidget

from commission.definitions.model import Key, Kind, LimitKind
from commission.language import spoken
from commission.validation.verdict import Outcome, Verdict
from commission.wizard.appearance import Appearance
from commission.wizard.document import Document
from commission.wizard.limit_editor import LimitEditor, limit_words, origin_words
from commission.wizard.parts import SignLabel, bring_into_view, button, label, reveal, row
from commission.wizard.states import sign_of
from commission.wizard.verdict_why import WhyView

_TIGHT_BELOW = 420  # pixels at 100 %
_TOP = Qt.AlignmentFlag.AlignTop


class VerdictView(QWidget):
    """A verdict, followed live; its limit can be edited in place.

    Signals:
        deficiency_wanted: unit id and the check's key.
    """

    deficiency_wanted = Signal(str, object)

    def __init__(
        self,
        document: Document,
        unit_id: str,
        key: Key,
        appearance: Appearance,
        *,
        named: bool = True,
        with_member: bool = False,
        sign_width: int = 100,
    ) -> None:
        super().__init__()
        self.document = document
        self.unit_id = unit_id
        self.key = key
        self._appearance = appearance
        self._shown: object = None
        self._cure: QLabel | None = None
        self._deficiency: QPushButton | None = None
        self._offer_is_due = False
        self.editor: LimitEditor | None = None
        check = document.check_of(key.name)
        results = document.results(unit_id)
        self.sign = SignLabel(appearance)
        self._sign_width = appearance.px(sign_width)
        self.sign.setMinimumWidth(self._sign_width)
        title = results.label(key) if with_member else check.label
        self.name = label(title) if named else None
        self.sentence = label("")
        self.limit = label("", "muted")
        self.change = button(spoken("Limit"), self.edit_limit, "quiet")
        self.change.setAccessibleName(spoken("Change the limit: {label}", label=results.label(key)))
        self.why: WhyView | None = None
        self.why_button = button(spoken("Why"), self.toggle_why, "quiet")
        self.why_button.setCheckable(True)
        self.why_button.setToolTip(spoken("The work, and which readings would explain it (Space)"))
        self.why_button.setAccessibleName(spoken("Why: {label}", label=results.label(key)))
        self._build()
        self.refresh()

    def _build(self) -> None:
        px = self._appearance.px
        self.grid = QGridLayout(self)
        self.grid.setContentsMargins(0, px(4), 0, px(4))
        self.grid.setHorizontalSpacing(px(10))
        self.grid.setVerticalSpacing(px(2))
        self.grid.setColumnStretch(1, 1)
        if self.name is not None:
            self.grid.addWidget(self.name, 1, 1, _TOP)
        self.grid.addWidget(self.sentence, 2 if self.name is not None else 1, 1, _TOP)
        self.grid.addWidget(self.limit, 3, 1, _TOP)
        self._tools = row(px(10))
        self._tools.addWidget(self.why_button)
        self._tools.addWidget(self.change)
        self._tools.addStretch(1)
        self._is_tight = False
        self._place_ends()
        self.change.setVisible(bool(self.document.check_of(self.key.name).parts))

    def _place_ends(self) -> None:
        """Put sign and buttons at the left and right of the words, or above and below them."""
        self.grid.removeWidget(self.sign)
        self.grid.removeItem(self._tools)
        self._tools.setParent(None)  # a layout is laid into another only once
        if self._is_tight:
            self.grid.addWidget(self.sign, 0, 1, _TOP)
            self.grid.addLayout(self._tools, 6, 1)
        else:
            self.grid.addWidget(self.sign, 1, 0, _TOP)
            self.grid.addLayout(self._tools, 1, 2, 3, 1, _TOP)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        is_tight = event.size().width() < self._appearance.px(_TIGHT_BELOW)
        if is_tight != self._is_tight:
            self._is_tight = is_tight
            self._place_ends()

    def set_narrow(self, narrow: bool) -> None:
        """Let the sign take only the width of its word, or line it up with the inputs."""
        self.sign.setMinimumWidth(0 if narrow else self._sign_width)

    def is_asked(self) -> bool:
        """Return whether the configuration has this check."""
        results = self.document.results(self.unit_id)
        exists = self.key.index in results.members(self.key.name)
        return exists and results.relevant(*self.key)

    def refresh(self) -> None:
        """Show the verdict as it stands now."""
        if not self.is_asked():
            self.hide()
            self._shown = None
            return
        results = self.document.results(self.unit_id)
        verdict = results.verdict(*self.key)
        words = limit_words(self.document, self.unit_id, self.key)
        state = (verdict.outcome, verdict.sentence, words, results.override_of(verdict))
        reveal(self, True)
        if state == self._shown:
            self.offer_due()
            return
        self._shown = state
        self.sign.show_sign(sign_of(verdict))
        self.why_button.setVisible(verdict.margin is not None)
        self._follow_why(verdict)
        self._say(verdict, words)
        if self.document.is_typing:
            self._offer_is_due = True
        else:
            self._offer(verdict)

    def _say(self, verdict: Verdict, words: str) -> None:
        waiting = verdict.outcome is Outcome.MISSING
        sentence = "" if waiting else verdict.sentence
        override = self.document.results(self.unit_id).override_of(verdict)
        if override is not None and verdict.stops:
            sentence += " " + spoken(
                "{person} goes on in spite of it: {reason}",
                person=override.person_name,
                reason=override.reason,
            )
        self.sentence.setText(sentence)
        self.sentence.setVisible(bool(sentence))
        if self.name is None and waiting:
            self.grid.addWidget(self.limit, 1, 1)
        elif self.name is None:
            self.grid.addWidget(self.limit, 3, 1)
        plain = verdict.check.limit is LimitKind.IS and not waiting
        if verdict.margin is not None:
            words = origin_words(self.document, self.unit_id, self.key)
        self.limit.setText(words)
        self.limit.setVisible(bool(words) and not plain)

    def offer_due(self) -> None:
        """Offer what a failure calls for, once the number is whole."""
        if self._offer_is_due and not self.document.is_typing and self.is_asked():
            self._offer(self.document.results(self.unit_id).verdict(*self.key))

    def _offer(self, verdict: Verdict) -> None:
        self._offer_is_due = False
        wrong = verdict.outcome in (Outcome.FAIL, Outcome.INCONCLUSIVE)
        if wrong and verdict.check.cure and self._cure is None:
            self._cure = label(spoken("What to do: {cure}", cure=verdict.check.cure))
            self.grid.addWidget(self._cure, 4, 1, 1, 2)
        if wrong and self._deficiency is None:
            self._deficiency = button(spoken("Make deficiency"), self._want_deficiency)
            name = self.document.results(self.unit_id).label(self.key)
            self._deficiency.setAccessibleName(spoken("Make a deficiency of: {name}", name=name))
            self.grid.addWidget(self._deficiency, 5, 1, Qt.AlignmentFlag.AlignLeft)
        for widget in (self._cure, self._deficiency):
            if widget is not None:
                widget.setVisible(wrong)

    def toggle_why(self) -> None:
        """Show the work and what would explain it, or hide them."""
        if self.why is not None:
            self._close_why()
            return
        self.why = WhyView(self.document, self.unit_id, self.key, self._appearance)
        self.grid.addWidget(self.why, 8, 0, 1, 3)
        self.why.show()
        self.why_button.setChecked(True)
        bring_into_view(self.why)

    def _close_why(self) -> None:
        if self.why is not None:
            self.why.end()
            self.why.hide()
            self.why.deleteLater()
            self.why = None
        self.why_button.setChecked(False)

    def _follow_why(self, verdict: Verdict) -> None:
        if self.why is not None and verdict.margin is None:
            self._close_why()
        elif self.why is not None:
            self.why.refresh()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """A click on the words of a verdict shows its work."""
        under = self.childAt(event.position().toPoint())
        words = (self.sentence, self.limit, self.sign, self.sign.word, self.sign.picture)
        if under in words and self.why_button.isVisibleTo(self):
            self.toggle_why()
        super().mousePressEvent(event)

    def _want_deficiency(self) -> None:
        self.deficiency_wanted.emit(self.unit_id, self.key)

    def edit_limit(self) -> None:
        """Open the limit editor below, or close it again."""
        if self.editor is not None:
            self._close_editor()
            return
        self.editor = LimitEditor(self.document, self.unit_id, self.key, self._appearance, self)
        self.editor.done.connect(self._close_editor)
        self.grid.addWidget(self.editor, 7, 0, 1, 3)
        self.editor.show()
        bring_into_view(self.editor)
        self.editor.start()

    def _close_editor(self) -> None:
        if self.editor is not None:
            had_focus = self.editor.isAncestorOf(self.window().focusWidget() or self)
            self.editor.hide()
            self.editor.deleteLater()
            self.editor = None
            if had_focus:
                self.change.setFocus(Qt.FocusReason.OtherFocusReason)


def is_answer_itself(verdict: Verdict, kind: Kind | None) -> bool:
    """Return whether a verdict only repeats what was answered (a thing done is done)."""
    return kind is Kind.ITEM and verdict.outcome is not Outcome.FAIL
