"""The deficiency log: what somebody must put right, until it is retested and accepted."""

from __future__ import annotations

from collections.abc import Mapping

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QVBoxLayout, QWidget

from commission.definitions.model import Check, Key
from commission.language import spoken, to_say
from commission.project import DEFICIENCY_STATUSES, Deficiency
from commission.validation.verdict import Outcome
from commission.wizard.appearance import Appearance
from commission.wizard.choice import Choice, fill
from commission.wizard.deficiency_tie import tie_choices, tie_data, tied_key
from commission.wizard.document import Document
from commission.wizard.finder import Finder
from commission.wizard.limit_editor import limit_words
from commission.wizard.parts import button, label, wrapping_row
from commission.wizard.record_form import Asked, ListModel, RecordForm, RecordList
from commission.wizard.room import Beside
from commission.wizard.undoing import DEFICIENCY

_EVERYWHERE = "\0all"
_TITLES = (
    to_say("No."),
    to_say("Unit"),
    to_say("What is wrong"),
    to_say("Status"),
    to_say("Due"),
    to_say("Owner"),
)
_WIDTHS = (8, 15, 42, 18, 16, 16)
_TYPED = (
    "requirement",
    "description",
    "owner",
    "due",
    "correction",
    "corrected_on",
    "retest",
    "status",
)


def _asked(document: Document) -> list[Asked]:
    units = ((spoken("Project"), ""), *((unit.tag, unit.id) for unit in document.units()))
    return [
        Asked("unit_id", spoken("Unit"), choices=units),
        Asked(
            "about",
            spoken("Belongs to"),
            spoken("A reading or verdict: type part of its name"),
            is_found=True,
        ),
        Asked(
            "requirement",
            spoken("Requirement"),
            spoken("What is asked, and by which document"),
            is_long=True,
        ),
        Asked("description", spoken("What is wrong"), is_long=True),
        Asked("owner", spoken("Owner"), spoken("Who must put it right")),
        Asked("due", spoken("Due"), "2026-03-31"),
        Asked("correction", spoken("Correction"), spoken("What was done"), is_long=True),
        Asked("corrected_on", spoken("Corrected on"), "2026-03-31"),
        Asked("retest", spoken("Retest"), spoken("What the retest showed")),
        Asked(
            "status",
            spoken("Status"),
            choices=tuple((spoken(word), word) for word in DEFICIENCY_STATUSES),
        ),
    ]


class DeficiencyLog(QWidget):
    """List and form.

    Signals:
        go_wanted: unit id and key of the reading or verdict that a deficiency belongs to.
    """

    go_wanted = Signal(str, object)

    def __init__(self, document: Document, appearance: Appearance) -> None:
        super().__init__()
        self.setObjectName("ground")
        self._document = document
        self._appearance = appearance
        self._edited = ""
        px = appearance.px
        self.filter = Choice(appearance)
        self.filter.setAccessibleName(spoken("Show the deficiencies of"))
        self.filter.setFixedWidth(px(200))
        self.filter.activated.connect(lambda _place: self.refresh())
        self.model = ListModel(tuple(spoken(title) for title in _TITLES))
        self.list = RecordList(self.model, _WIDTHS, spoken("Deficiencies"), appearance, (4, 5))
        self.go_button = button(spoken("Go there"), self._go, "quiet")
        self.go_button.setToolTip(spoken("Go to the reading or verdict that it belongs to"))
        self.form = RecordForm(_asked(document), appearance, ((2, self.go_button),))
        self.form.chosen.connect(self._chosen)
        self.form.hide()
        self.nothing = label(
            spoken("No deficiency is recorded. A failed verdict on a page offers to make one."),
            "muted",
        )
        self.add_button = button(spoken("New deficiency"), self.ask_new)
        self._lay_out(px)
        self.list.opened.connect(self._open)
        self.form.kept.connect(self._keep)
        self.form.given_up.connect(self._close)
        self.form.typed.connect(document.typing)
        document.deficiencies_changed.connect(self.refresh)
        self.refresh()

    def _lay_out(self, px) -> None:
        layout = QVBoxLayout(self)
        layout.setContentsMargins(px(20), px(14), px(20), px(14))
        layout.setSpacing(px(10))
        head = wrapping_row(px(10))
        head.addWidget(label(spoken("Deficiencies"), "title"), 1)
        head.addWidget(label(spoken("Unit"), wraps=False))
        head.addWidget(self.filter)
        head.addWidget(self.add_button)
        layout.addLayout(head)
        layout.addWidget(self.nothing)
        layout.addWidget(Beside(self.list, (self.form,), 390, self._appearance), 1)

    def refresh(self) -> None:
        """Show the log as it is now."""
        chosen = self.filter.currentData() or _EVERYWHERE
        if self.filter.count() and self.filter.currentData() == "":
            chosen = ""
        pairs = [(spoken("All units"), _EVERYWHERE), (spoken("Project"), "")]
        pairs += [(unit.tag, unit.id) for unit in self._document.units()]
        fill(self.filter, pairs, chosen)
        if self.form.is_built:
            self._fill_units()
        shown = self._document.session.project.deficiencies(
            None if chosen == _EVERYWHERE else chosen
        )
        self.model.fill([(one.id, self._texts(one)) for one in shown])
        self.nothing.setVisible(not shown)

    def _texts(self, one: Deficiency) -> tuple[str, ...]:
        tag = self._document.tag(one.unit_id)
        return (str(one.number), tag, one.description, spoken(one.status), one.due, one.owner)

    @property
    def about(self) -> Finder:
        """Which reading or verdict it belongs to."""
        about = self.form.inputs["about"]
        assert isinstance(about, Finder)
        return about

    @property
    def _unit_box(self) -> Choice:
        unit_box = self.form.inputs["unit_id"]
        assert isinstance(unit_box, Choice)
        return unit_box

    def _unit(self) -> str:
        return str(self._unit_box.currentData() or "")

    def _chosen(self, name: str) -> None:
        if name == "unit_id":
            self._offer(self._unit())

    def _fill_units(self) -> None:
        pairs = [(unit.tag, unit.id) for unit in self._document.units()]
        fill(self._unit_box, [(spoken("Project"), ""), *pairs], self._unit())

    def _offer(self, unit_id: str, about: str = "") -> None:
        """Offer the readings and verdicts of a unit to tie a deficiency to."""
        self.about.offer(tie_choices(self._document, unit_id, about), about)

    def _show(self, title: str, unit_id: str, values: Mapping[str, str], *, is_new: bool) -> None:
        """Show the form, with what a unit has to tie a deficiency to."""
        about = values.get("about", "")
        if not self.form.is_built:
            self._fill_units()  # others may have come since the place was made
        self._offer(unit_id, about)
        self._unit_box.setEnabled(is_new)
        self.go_button.setVisible(bool(about))
        words = spoken("Record it") if not self._edited else spoken("Keep the changes")
        self.form.show_record(title, {"unit_id": unit_id, **values}, words)

    def _go(self) -> None:
        data = self.about.data()
        if data:
            self.go_wanted.emit(self._unit(), tied_key(data))

    def ask_new(self, unit_id: str = "") -> None:
        """Ask for a new deficiency."""
        self._edited = ""
        self._show(spoken("New deficiency"), unit_id, {"status": "open"}, is_new=True)
        self.form.start("unit_id" if self._document.units() else "description")

    def ask_about(self, unit_id: str, key: Key) -> None:
        """Ask for a new deficiency of a reading or verdict."""
        entry = self._document.session.plan.entries[key.name]
        wrong = (Outcome.FAIL, Outcome.INCONCLUSIVE)
        results = self._document.results(unit_id)
        if isinstance(entry, Check) and results.verdict(*key).outcome in wrong:
            self.ask_for_verdict(unit_id, key)
            return
        self._edited = ""
        values = {"about": tie_data(key), "status": "open"}
        self._show(spoken("New deficiency"), unit_id, values, is_new=False)
        self.form.start("requirement")

    def ask_for_verdict(self, unit_id: str, key: Key) -> None:
        """Ask for a deficiency of a failed verdict, with what is known filled in."""
        results = self._document.results(unit_id)
        verdict = results.verdict(*key)
        name = results.label(key)
        requirement = limit_words(self._document, unit_id, key)
        cure = verdict.check.cure
        values = {
            "about": tie_data(key),
            "requirement": f"{name}. {requirement}",
            "description": f"{name}: {verdict.sentence}",
            "correction": spoken("To do: {cure}", cure=cure) if cure else "",
            "status": "open",
        }
        self._edited = ""
        self._show(spoken("New deficiency"), unit_id, values, is_new=False)
        self.form.start("owner")

    def ask_with(self, unit_id: str, texts: Mapping[str, str]) -> None:
        """Ask for a deficiency of a unit, some of its texts filled in."""
        self._edited = ""
        values = {"status": "open"} | dict(texts)
        self._show(spoken("New deficiency"), unit_id, values, is_new=False)
        self.form.start("owner")

    def _open(self, record: str) -> None:
        if self.form.is_changed and self._edited != record:
            self._keep(self.form.values())
        everyone = self._document.session.project.deficiencies()
        one = next(found for found in everyone if found.id == record)
        self._edited = record
        values = {name: getattr(one, name) for name in _TYPED}
        if one.check:
            values["about"] = tie_data(Key(one.check, one.index))
        title = spoken("Deficiency {number}", number=one.number)
        self._show(title, one.unit_id, values, is_new=False)
        self.form.start("owner")

    def _keep(self, values: dict[str, str]) -> None:
        session = self._document.session
        unit_id = values.pop("unit_id")
        check, index = tied_key(values.pop("about"))
        if self._edited:
            edited = self._edited

            def act() -> None:
                with session.undoable(unit_id, DEFICIENCY, "deficiency"):
                    session.project.update_deficiency(edited, check=check, index=index, **values)

            refusal = self._document.attempt(act, spoken("The deficiency is kept."))
        else:
            description = values.pop("description")

            def act() -> None:
                with session.undoable(unit_id, DEFICIENCY, "deficiency"):
                    session.project.add_deficiency(
                        unit_id, description, check=check, index=index, **values
                    )

            refusal = self._document.attempt(act, spoken("The deficiency is recorded."))
        self.form.refuse(refusal)
        if not refusal:
            self._document.deficiencies_changed.emit()
            self.refresh()
            self._close()

    def half_typed(self) -> dict[str, str]:
        """Return what stands in the form and is not recorded yet."""
        typed = self.form.half_typed()
        return typed and {**typed, "record": self._edited}

    def put_half_typed(self, typed: Mapping[str, str]) -> None:
        """Open the form with what was typed once."""
        known = {one.id for one in self._document.session.project.deficiencies()}
        if typed.get("record") in known:
            self._open(typed["record"])
        else:
            self.ask_new()
            self._offer(typed.get("unit_id", ""))
        self.form.put_half_typed(typed)

    def _close(self) -> None:
        self.form.hide()
        self.list.setFocus(Qt.FocusReason.OtherFocusReason)
