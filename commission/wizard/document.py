"""The open project as widgets see it: a Session with signals, and refusals as sentences.

While a person types, what they typed is computed as if it were entered, so that the verdict
follows each key; it is stored when the field is left, and taken back if it is not entered. What
only asks for something (a cure, a deficiency, a stop to settle) waits until the fingers rest:
half a number is seldom the number.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from PySide6.QtCore import QObject, QTimer, Signal

from commission.definitions.model import Check, Field, Form, Key, Kind
from commission.errors import CommissionError, ReadingError
from commission.language import spoken
from commission.project import Person, Reading, Unit, pass_rank
from commission.validation.calculation import Given
from commission.validation.entry import understand
from commission.validation.noting import note_on, write_note
from commission.validation.results import UnitResults
from commission.validation.sentences import pass_words
from commission.validation.session import Entered, Session
from commission.validation.site import given_from
from commission.validation.table_entry import shown_text
from commission.validation.verdict import Verdict
from commission.wizard.pass_results import PassResults
from commission.wizard.shown_number import number_text
from commission.wizard.sister import sister_sections
from commission.wizard.undoing import redone, undone

_REMOVAL_REASON = "window.removal_reason."
_REST_MS = 200
"""So long after a key that the next one of the same number would have come."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What came of an entry, for showing beside the field."""

    refusal: str = ""
    remark: str = ""
    warning: str = ""


class Document(QObject):
    """One open project. Every method that can be refused says so and returns it.

    Signals:
        recomputed: unit id and the keys that were computed anew (while typing, too).
        committed: unit id and keys, after something was stored.
        replaced: everything may differ (a setting, an instrument, a person, a pass).
        units_changed: units were added, renamed or filled from a sister unit.
        said: a sentence for the status strip, and whether it is a refusal.
        recording_changed: another pass or person goes with what is recorded.
        photos_changed: a unit's photos were added to or taken from.
        instrument_chosen: an instrument of this kind was named for a reading.
        typing: something is being typed that is not stored yet.
        rested: nothing more was typed for a moment.
        closing: the project file is about to be given free.
    """

    recomputed = Signal(str, object)
    committed = Signal(str, object)
    replaced = Signal()
    units_changed = Signal()
    deficiencies_changed = Signal()
    recording_changed = Signal()
    photos_changed = Signal(str)
    said = Signal(str, bool)
    closing = Signal()
    instrument_chosen = Signal(str)
    typing = Signal()
    rested = Signal()

    def __init__(
        self, session: Session, original: Form | None = None, parent: QObject | None = None
    ) -> None:
        super().__init__(parent)
        self.session = session
        self.original_form = original or session.form
        """The form in English, which the workbook and other languages are made from."""
        self._chosen_instruments: dict[str, str] = {}
        self.last_reason = ""
        self.keys_told = False
        self.is_preview = False
        """What is being told as recomputed is typed and not stored."""
        self._rest = QTimer(self)
        self._rest.setSingleShot(True)
        self._rest.setInterval(_REST_MS)
        self._rest.timeout.connect(self.rested)
        self.closing.connect(self._rest.stop)
        # Kept, since every painted cell asks for a tag, after the file was closed as well.
        self._units: list[Unit] | None = None
        self.passes = PassResults(session)
        # Connected first, so that whoever follows these signals sees no earlier state.
        self.committed.connect(lambda unit_id, _keys: self.passes.entered(unit_id))
        self.replaced.connect(self.passes.forget)
        self._removed_tags: dict[str, str] = {}

    @classmethod
    def open(cls, path: Path, form: Form) -> Document:
        """Open a project file."""
        return cls(Session.open(path, form))

    @property
    def form(self) -> Form:
        """The form that the project answers."""
        return self.session.form

    def close(self) -> None:
        """Give the file free; everything is in it already."""
        self.closing.emit()
        self.session.close()

    # -- reading -------------------------------------------------------------------

    def results(self, unit_id: str) -> UnitResults:
        """Return the live results of a unit, or of the project pages ("")."""
        return self.session.results(unit_id)

    def units(self) -> list[Unit]:
        """Return the units in order."""
        if self._units is None:
            self._units = self.session.units()
            removed = self.session.project.units(removed=True)
            self._removed_tags = {
                unit.id: spoken("{tag} (removed)", tag=unit.tag) for unit in removed
            }
        return self._units

    def tag(self, unit_id: str) -> str:
        """Return a unit's tag, or "Project"."""
        present = next((unit.tag for unit in self.units() if unit.id == unit_id), "")
        return present or self._removed_tags.get(unit_id, spoken("Project"))

    def shown_text(self, unit_id: str, key: Key) -> str:
        """Return what a field's input shows: as typed where that still says the same."""
        results = self.results(unit_id)
        reading = results.reading(key.name, key.index)
        if reading is None or reading.is_unread:
            return ""
        if reading.not_applicable:
            return f"n/a {reading.not_applicable}"
        field = self.session.plan.entries[key.name]
        if isinstance(reading.value, str):
            if isinstance(field, Field) and field.kind is Kind.TABLE:
                return shown_text(field, reading.value, results.unit_system)
            return reading.value
        return number_text(field, reading, results.shown_unit(key.name))

    def said_text(self, unit_id: str, key: Key) -> str:
        """Return what a field holds, a choice in the language spoken here."""
        text = self.shown_text(unit_id, key)
        field = self.session.plan.entries[key.name]
        if isinstance(field, Field) and text in field.choices:
            return spoken(text)
        return text

    @cached_property
    def _guarding(self) -> dict[str, set[str]]:
        guarding: dict[str, set[str]] = {}
        for section in self.form.sections:
            for check in section.guarded_by:
                guarding.setdefault(check, set()).add(section.name)
        return guarding

    def touched_sections(self, keys: Iterable[Key]) -> set[str]:
        """Return the names of the pages whose state these keys can change."""
        touched: set[str] = set()
        for name in {key.name for key in keys}:
            touched.add(self.session.plan.entries[name].section)
            touched |= self._guarding.get(name, set())
        return touched

    def is_structural(self, name: str) -> bool:
        """Return whether a field decides which pages or members exist."""
        return name in self.session.plan.structural

    # -- entering ------------------------------------------------------------------

    def preview(self, unit_id: str, key: Key, text: str) -> Answer:
        """Compute as if `text` were entered, without storing it."""
        self.typing.emit()
        field = self._field(key.name)
        results = self.results(unit_id)
        try:
            meant = understand(field, text, results.unit_system)
        except CommissionError as error:
            return Answer(refusal=str(error))
        if not self.is_structural(key.name):
            given = Given(meant.content, meant.not_applicable, self._instrument_of(unit_id, key))
            changed = results.calculation.give(key, given)
            self._rest.start()
            self.is_preview = True
            try:
                self.recomputed.emit(unit_id, frozenset(changed))
            finally:
                self.is_preview = False
        return Answer(remark=meant.remark, warning=meant.warning)

    @property
    def is_typing(self) -> bool:
        """Whether the next key of a number may still come."""
        return self._rest.isActive()

    def rest(self) -> None:
        """Show now what waits until the fingers rest."""
        if self.is_typing:
            self._rest.stop()
            self.rested.emit()

    def drop_preview(self, unit_id: str, key: Key) -> None:
        """Compute from the stored reading again."""
        self.rest()
        results = self.results(unit_id)
        stored = results.reading(key.name, key.index)
        given = given_from(stored) if stored is not None else None
        if results.calculation.given.get(key) != given:
            changed = results.calculation.give(key, given)
            self.recomputed.emit(unit_id, frozenset(changed))

    def enter(self, unit_id: str, key: Key, text: str, instrument_id: str | None = None) -> Answer:
        """Store what was typed; return how it was understood, or why it was refused."""
        if instrument_id is None:
            instrument_id = self._instrument_of(unit_id, key)
        stored = self.results(unit_id).reading(key.name, key.index)
        self._rest.stop()  # what is entered is told to all, with all that follows from it
        try:
            entered = self.session.enter(unit_id, key.name, key.index, text, instrument_id)
        except CommissionError as error:
            self.drop_preview(unit_id, key)
            if not isinstance(error, ReadingError):
                self.said.emit(str(error), True)  # not kept: graver than a slip of the finger
            return Answer(refusal=str(error))
        if stored is not None and pass_rank(stored.pass_name) > pass_rank(self.session.pass_name):
            self._say_later_pass(stored)
        self.last_reason = entered.understood.not_applicable or self.last_reason
        self._tell(entered)
        return Answer(remark=entered.understood.remark, warning=entered.understood.warning)

    def note(self, unit_id: str, key: Key) -> str:
        """Return the note on a reading, "" for none."""
        return note_on(self.session, unit_id, key)

    def write_note(self, unit_id: str, key: Key, note: str) -> str:
        """Write, change or take away the note on a reading; return the refusal, or ""."""
        made: list[object] = []
        refusal = self.attempt(
            lambda: made.append(write_note(self.session, unit_id, key, note)),
            spoken("The note is kept.") if note.strip() else spoken("There is no note any more."),
        )
        if made and made[0] is not None:
            self.committed.emit(unit_id, frozenset({key}))
        return refusal

    def waives_for_nobody(self, unit_id: str, key: Key) -> bool:
        """Return whether a field is marked n/a by nobody, while somebody records now."""
        stored = self.results(unit_id).reading(key.name, key.index)
        nameless = stored is not None and stored.not_applicable and not stored.person_id
        return bool(nameless and self.session.person_id)

    def _say_later_pass(self, stored: Reading) -> None:
        """Say that a reading of an earlier pass is kept, but the later one counts."""
        self.said.emit(
            spoken(
                "Kept as '{here}'. The reading '{later}' is later and stays in force.",
                here=pass_words(self.session.pass_name),
                later=pass_words(stored.pass_name),
            ),
            False,
        )

    def _tell(self, entered: Entered) -> None:
        self.recomputed.emit(entered.unit_id, entered.changed)
        self.committed.emit(entered.unit_id, entered.changed)

    def undo(self) -> Entered | None:
        """Take back the last entry; return it, so that the window can go there."""
        return undone(self)

    def redo(self) -> Entered | None:
        """Put the last undone entry again."""
        return redone(self)

    def _field(self, name: str) -> Field:
        field = self.session.plan.entries[name]
        assert isinstance(field, Field)
        return field

    # -- instruments ---------------------------------------------------------------

    def _instrument_of(self, unit_id: str, key: Key) -> str:
        """Return the instrument that a new reading of this field is taken with."""
        stored = self.results(unit_id).reading(key.name, key.index)
        if stored is not None and not stored.is_unread:
            return stored.instrument_id
        return self._chosen_instruments.get(self._field(key.name).instrument, "")

    def instrument_id(self, unit_id: str, key: Key) -> str:
        """Return the instrument named for a reading, or proposed for the next one."""
        return self._instrument_of(unit_id, key)

    def chosen_instruments(self) -> dict[str, str]:
        """Return the instrument that is proposed for each kind of reading."""
        return dict(self._chosen_instruments)

    def recall_instruments(self, chosen: dict[str, str]) -> None:
        """Propose what was proposed last time, as far as these instruments are still there."""
        there = {one.id for one in self.session.project.instruments()}
        self._chosen_instruments |= {k: one for k, one in chosen.items() if one in there}

    def choose_instrument(self, unit_id: str, keys: Iterable[Key], instrument_id: str) -> None:
        """Name the instrument of readings; it is proposed for others of its kind."""
        kinds = set()
        for key in keys:
            kind = self._field(key.name).instrument
            kinds.add(kind)
            self._chosen_instruments[kind] = instrument_id
            stored = self.results(unit_id).reading(key.name, key.index)
            if stored is not None and stored.value is not None:
                text = self.shown_text(unit_id, key)
                if stored.instrument_id != instrument_id:
                    self.enter(unit_id, key, text, instrument_id)
        for kind in kinds:
            self.instrument_chosen.emit(kind)

    # -- limits, stops, units ------------------------------------------------------

    def attempt(self, action: Callable[[], object], done: str = "") -> str:
        """Run something that can be refused; return the refusal, or ""."""
        try:
            action()
        except CommissionError as error:
            self.said.emit(str(error), True)
            return str(error)
        if done:
            self.said.emit(done, False)
        return ""

    def set_limit(
        self, unit_id: str, key: Key, parts: dict[str, float], origin: str, confirmed: bool = False
    ) -> str:
        """Store a limit; return the refusal, or ""."""
        changed: frozenset[Key] = frozenset()

        def act() -> None:
            nonlocal changed
            changed = self.session.set_limit(unit_id, key.name, key.index, parts, origin, confirmed)

        refusal = self.attempt(
            act, spoken("The limit is kept.") if parts else spoken("The default is confirmed.")
        )
        if not refusal:
            self._limit_changed(unit_id, changed)
        return refusal

    def clear_limit(self, unit_id: str, key: Key) -> str:
        """Go back to the form's default limit, or to none."""
        changed: frozenset[Key] = frozenset()

        def act() -> None:
            nonlocal changed
            changed = self.session.clear_limit(unit_id, key.name, key.index)

        refusal = self.attempt(act, spoken("The entered limit is taken back."))
        if not refusal:
            self._limit_changed(unit_id, changed)
        return refusal

    def _limit_changed(self, unit_id: str, changed: frozenset[Key]) -> None:
        self.passes.forget()
        self.recomputed.emit(unit_id, changed)
        self.committed.emit(unit_id, changed)

    def override_stop(self, unit_id: str, verdict: Verdict, name: str, reason: str) -> str:
        """Record who goes on past a stop and why; return the refusal, or ""."""
        key = Key(verdict.check.name, verdict.index)
        refusal = self.attempt(
            lambda: self.session.override_stop(unit_id, *key, name, reason),
            spoken(
                "Recorded: {person} goes on in spite of '{label}'.",
                person=name.strip(),
                label=verdict.check.label,
            ),
        )
        if not refusal:
            self.recomputed.emit(unit_id, frozenset({key}))
            self.committed.emit(unit_id, frozenset({key}))
        return refusal

    def add_unit(self, tag: str, like: str = "") -> Unit | str:
        """Add a unit, filled from the sister unit `like` if one is named; or the refusal."""
        made: list[Unit] = []

        def act() -> None:
            unit = self.session.add_unit(tag)
            made.append(unit)
            if like:
                self.session.copy_configuration(like, unit.id, self.sister_sections())

        refusal = self.attempt(act, spoken("Unit {tag} is added.", tag=tag.strip()))
        if made:
            self._units_differ()
        return made[0] if made and not refusal else refusal

    def sister_sections(self) -> tuple[str, ...]:
        """Return the pages that a sister unit is filled from."""
        return sister_sections(self.form)

    def rename_unit(self, unit_id: str, tag: str) -> str:
        """Give a unit another tag; return the refusal, or ""."""
        refusal = self.attempt(
            lambda: self.session.project.rename_unit(unit_id, tag),
            spoken("Now called {tag}.", tag=tag.strip()),
        )
        if not refusal:
            self.session.refresh()
            self._units_differ()
        return refusal

    def remove_unit(self, unit_id: str, reason: str) -> str:
        """Remove a unit, which can be put back; return the refusal, or ""."""
        tag = self.tag(unit_id)

        def act() -> None:
            if not reason.strip():
                raise ReadingError(
                    spoken("Say why {tag} is removed; the reason stays with it.", tag=tag)
                )
            with self.session.project.transaction(spoken("The removal of {tag}", tag=tag)):
                self.session.remove_unit(unit_id)
                setting = f"{_REMOVAL_REASON}{unit_id}"
                self.session.project.set_setting(setting, reason.strip())

        refusal = self.attempt(
            act, spoken("{tag} is removed. Its readings stay; it can be put back.", tag=tag)
        )
        if not refusal:
            self._units_differ()
        return refusal

    def removed_units(self) -> list[tuple[Unit, str]]:
        """Return the removed units, each with the reason given."""
        project = self.session.project
        return [
            (unit, project.text_setting(f"{_REMOVAL_REASON}{unit.id}"))
            for unit in project.units(removed=True)
        ]

    def restore_unit(self, unit_id: str) -> str:
        """Put a removed unit back; return the refusal, or ""."""
        tag = self.session.project.unit(unit_id).tag
        refusal = self.attempt(
            lambda: self.session.restore_unit(unit_id), spoken("{tag} is back.", tag=tag)
        )
        if not refusal:
            self._units_differ()
        return refusal

    def move_unit(self, unit_id: str, by: int) -> str:
        """Move a unit up (-1) or down (1) in the order; return the refusal, or ""."""
        ids = [unit.id for unit in self.units()]
        if unit_id not in ids:
            return spoken("The project's own pages stand first.")
        place = ids.index(unit_id)
        if not 0 <= place + by < len(ids):
            tag = self.tag(unit_id)
            if by < 0:
                return spoken("{tag} is first already.", tag=tag)
            return spoken("{tag} is last already.", tag=tag)
        ids.insert(place + by, ids.pop(place))
        refusal = self.attempt(lambda: self.session.project.reorder_units(ids))
        if not refusal:
            self._units_differ()
        return refusal

    def units_added(self) -> None:
        """Tell that units were added to the session directly."""
        self._units_differ()

    def _units_differ(self) -> None:
        self._units = None
        self.units_changed.emit()

    # -- what goes with every entry --------------------------------------------------

    def choose_pass(self, name: str) -> None:
        """Record what follows under this pass."""
        self.session.pass_name = name
        self.recording_changed.emit()
        self.replaced.emit()

    def choose_person(self, person_id: str) -> None:
        """Record what follows under this person's name."""
        self.session.person_id = person_id
        self.session.project.person_id = person_id
        self.recording_changed.emit()

    def person_name(self, person_id: str) -> str:
        """Return a person's name, or "" for nobody."""
        people = {person.id: person.name for person in self.session.project.people()}
        return people.get(person_id, "")

    def record_as(self, name: str) -> str:
        """Record what follows in this name, added to the people if it is new."""
        people = self.session.project.people()
        wanted = name.strip().casefold()
        known = next((one for one in people if one.name.casefold() == wanted), None)
        made: list[Person] = [known] if known is not None else []
        refusal = ""
        if known is None:
            refusal = self.attempt(lambda: made.append(self.session.project.add_person(name)))
        if made:
            self.choose_person(made[0].id)
            self.replaced.emit()
            name = made[0].name
            self.said.emit(
                spoken("Readings are kept in the name of {name} from now on.", name=name), False
            )
        return refusal

    def set_setting(self, name: str, value: float | str) -> str:
        """Change a setting of the project; return the refusal, or ""."""
        refusal = self.attempt(lambda: self.session.project.set_setting(name, value))
        if not refusal:
            self.refresh()
        return refusal

    def refresh(self) -> None:
        """Compute everything anew: instruments, people or settings have changed."""
        self.session.refresh()
        self.replaced.emit()

    def check_of(self, name: str) -> Check:
        """Return a check by its name."""
        check = self.session.plan.entries[name]
        assert isinstance(check, Check)
        return check
