"""The open project as the window holds it, without any window: enter, undo, read results.

Every entry is committed to the project file in the same call; there is no Save. Undo and
redo are further rows, so nothing that was ever read is lost.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from types import TracebackType

from commission.definitions.model import Check, Field, Form, Key, Level, Severity
from commission.errors import ReadingError
from commission.language import spoken
from commission.project import ProjectFile, Reading, Unit, pass_rank
from commission.project.going_back import Change
from commission.validation.entry import Understood, understand
from commission.validation.plan import Plan
from commission.validation.results import UnitResults
from commission.validation.site import (
    PROJECT,
    SiteResults,
    given_from,
    limit_from,
    refuse_other_form,
    unit_results,
)

LIMIT, OVERRIDE, BOOK = "limit", "override", "limits book"
"""What an undone step was, where it is no reading."""

NOWHERE = Key("")


@dataclass(frozen=True, slots=True)
class Entered:
    """The outcome of one entry: how it was understood, and which keys it re-computed.

    `subject` is what was undone or put again where that is no reading; anything of the unit
    may then differ, and `key` (which may be without a name) is where to look.
    """

    unit_id: str
    key: Key
    understood: Understood
    changed: frozenset[Key]
    subject: str = ""


@dataclass(frozen=True, slots=True)
class _Step:
    """One undoable entry."""

    unit_id: str
    key: Key
    entered: Reading

    @property
    def owner(self) -> str:
        """The unit in whose rows it stands, "" for the project's."""
        return self.entered.unit_id


@dataclass(frozen=True, slots=True)
class _RowsStep:
    """Undoable rows of any kind: limits, overrides, deficiencies, photos."""

    unit_id: str
    key: Key
    subject: str
    changes: tuple[Change, ...]

    @property
    def owner(self) -> str:
        """The unit in whose rows it stands, "" for the project's."""
        return self.unit_id


def _in_force(history: Sequence[Reading]) -> Reading | None:
    """Return the newest reading of the latest pass that holds one (`history` oldest first)."""
    newest = {reading.pass_name: reading for reading in history}
    standing = [reading for reading in newest.values() if not reading.withdrawn]
    return max(standing, key=lambda reading: pass_rank(reading.pass_name), default=None)


def _kept_note(standing: Reading | None, meant: Understood, pass_name: str) -> str:
    """Return the note that goes on standing: the same is entered again, by another instrument."""
    if standing is None or standing.pass_name != pass_name:
        return ""
    same = (standing.value, standing.not_applicable) == (meant.content, meant.not_applicable)
    return standing.note if same else ""


class Session:
    """One open project with live results.

    `person_id` and `pass_name` go with every entry until they are changed.
    """

    def __init__(self, project: ProjectFile, form: Form) -> None:
        refuse_other_form(project, form)
        self.project = project
        self.form = form
        self.plan = Plan(form)
        self.person_id = ""
        self.pass_name = "as found"
        self.source = "window"
        self._results: dict[str, UnitResults] = {}
        self._undo: list[_Step | _RowsStep] = []
        self._redo: list[_Step | _RowsStep] = []

    @classmethod
    def create(cls, path: Path, form: Form, title: str) -> Session:
        """Make a new project file and open it."""
        project = ProjectFile.create(
            path,
            form_id=form.id,
            form_version=form.version,
            form_hash=form.content_hash,
            title=title,
        )
        return cls(project, form)

    @classmethod
    def open(cls, path: Path, form: Form) -> Session:
        """Open a project file."""
        project = ProjectFile.open(path)
        try:
            return cls(project, form)
        except BaseException:
            project.close()
            raise

    def close(self) -> None:
        """Close the project file; everything is already in it."""
        self.project.close()

    def __enter__(self) -> Session:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    # -- results -------------------------------------------------------------------

    def units(self) -> list[Unit]:
        """Return the units in order."""
        return self.project.units()

    def results(self, unit_id: str = PROJECT) -> UnitResults:
        """Return the live results of a unit, or of the project pages ("")."""
        if unit_id not in self._results:
            unit = next((unit for unit in self.units() if unit.id == unit_id), None)
            self._results[unit_id] = unit_results(self.project, self.plan, unit)
        return self._results[unit_id]

    def computing(self, unit_id: str) -> Iterator[None]:
        """Compute a unit's results piece by piece, so that a window can answer in between.

        Whoever asks for `results` before the end gets them at once; so does whoever asks after
        something was stored meanwhile.
        """
        if unit_id in self._results:
            return
        made = self._results_to_compute(unit_id)
        revision = self.project.revision
        for _ in made.calculation.computing():
            yield
        if unit_id not in self._results and self.project.revision == revision:
            self._results[unit_id] = made

    def _results_to_compute(self, unit_id: str, up_to_pass: str | None = None) -> UnitResults:
        unit = next((unit for unit in self.units() if unit.id == unit_id), None)
        return unit_results(self.project, self.plan, unit, up_to_pass, at_once=False)

    def computing_of_pass(
        self, unit_id: str, pass_name: str, found: Callable[[UnitResults], object]
    ) -> Iterator[None]:
        """Compute `results_of_pass` piece by piece; `found` is given them at the end."""
        made = self._results_to_compute(unit_id, pass_name)
        revision = self.project.revision
        for _ in made.calculation.computing():
            yield
        if self.project.revision == revision:
            found(made)

    def results_of_pass(self, unit_id: str, pass_name: str) -> UnitResults:
        """Return a unit's results from the readings up to one pass."""
        unit = next((unit for unit in self.units() if unit.id == unit_id), None)
        return unit_results(self.project, self.plan, unit, pass_name)

    def site(self) -> SiteResults:
        """Return the results of the whole project for an output."""
        units = tuple(self.results(unit.id) for unit in self.units())
        return SiteResults(self.project, self.form, self.results(PROJECT), units)

    def refresh(self) -> None:
        """Forget computed results; instruments, people or settings have changed."""
        self._results.clear()

    # -- entering ------------------------------------------------------------------

    def enter(
        self, unit_id: str, name: str, index: tuple[int, ...], text: str, instrument_id: str = ""
    ) -> Entered:
        """Understand, store and compute one entry as typed.

        Raises:
            ReadingError: The text cannot be meant here; nothing is stored.
            ProjectFileError: The reading could not be written; nothing is stored.
        """
        field = self.plan.entries.get(name)
        if not isinstance(field, Field):
            raise ReadingError(spoken("'{name}' is not something that is asked.", name=name))
        results = self.results(unit_id)
        if tuple(index) not in results.members(name):
            shown = "".join(f"[{number}]" for number in index) or "without a number"
            raise ReadingError(
                spoken(
                    "{label}: there is no member {shown}; the unit's configuration says how many "
                    "there are. Correct it there first.",
                    label=field.label,
                    shown=shown,
                )
            )
        meant = understand(field, text, results.unit_system)
        reading = self.project.record(
            self._owner(field, unit_id),
            name,
            index,
            meant.content,
            not_applicable=meant.not_applicable,
            pass_name=self.pass_name,
            entered=text.strip(),
            note=_kept_note(results.reading(name, index), meant, self.pass_name),
            instrument_id=instrument_id,
            person_id=self.person_id,
            source=self.source,
        )
        step = _Step(unit_id, Key(name, index), reading)
        self._undo.append(step)
        self._redo.clear()
        return self._taken(step, meant)

    def _owner(self, field: Field, unit_id: str) -> str:
        section = self.form.section_by_name[field.section]
        return PROJECT if section.level is Level.PROJECT else unit_id

    def _taken(self, step: _Step, meant: Understood) -> Entered:
        """Bring the live results up to what the file now holds for one field."""
        owner = step.entered.unit_id
        if owner == PROJECT:
            for unit_id in [other for other in self._results if other != step.unit_id]:
                del self._results[unit_id]
        results = self.results(step.unit_id)
        assert isinstance(results.readings, dict)
        reading = _in_force(self.project.history(owner, *step.key))
        if reading is None:
            results.readings.pop(step.key, None)
        else:
            results.readings[step.key] = reading
        given = None if reading is None else given_from(reading)
        changed = results.calculation.give(step.key, given)
        return Entered(step.unit_id, step.key, meant, frozenset(changed))

    def history(self, unit_id: str, name: str, index: tuple[int, ...] = ()) -> list[Reading]:
        """Return every reading ever entered for a field, of all passes, oldest first."""
        field = self.plan.entries[name]
        assert isinstance(field, Field)
        return self.project.history(self._owner(field, unit_id), name, index)

    def can_undo(self) -> bool:
        """Return whether there is an entry to take back."""
        return bool(self._undo)

    def can_redo(self) -> bool:
        """Return whether there is an entry to put again."""
        return bool(self._redo)

    def undo(self) -> Entered | None:
        """Take back the last entry: what its pass held before is in force again."""
        if not self._undo:
            return None
        step = self._undo[-1]
        if isinstance(step, _RowsStep):
            self.project.take_back(step.changes)
            self._redo.append(self._undo.pop())
            return self._rows_differ(step)
        taken_back = step.entered
        owner, pass_name = taken_back.unit_id, taken_back.pass_name
        history = self.project.history(owner, *step.key)
        before = next((old for old in history if old.id == taken_back.supersedes), None)
        if before is None or before.withdrawn:
            note = "taken back by undo"
            self.project.withdraw(owner, *step.key, pass_name=pass_name, note=note)
            meant = Understood()
        else:
            self._record_again(before)
            meant = Understood(before.value, before.not_applicable)
        self._redo.append(self._undo.pop())
        return self._taken(step, meant)

    def redo(self) -> Entered | None:
        """Put the last undone entry again."""
        if not self._redo:
            return None
        step = self._redo[-1]
        if isinstance(step, _RowsStep):
            self.project.put_again(step.changes)
            self._undo.append(self._redo.pop())
            return self._rows_differ(step)
        step = replace(step, entered=self._record_again(step.entered))
        self._redo.pop()
        self._undo.append(step)
        return self._taken(step, Understood(step.entered.value, step.entered.not_applicable))

    @contextmanager
    def undoable(
        self, unit_id: str, subject: str, *kinds: str, key: Key = NOWHERE
    ) -> Iterator[None]:
        """Make what is committed inside one step of undo.

        Args:
            subject: What it is, in a word, for telling what was undone.
            kinds: The tables it goes into.
            key: Where to look when it is undone.
        """
        revision = self.project.revision
        yield
        changes = self.project.changes_since(revision, kinds)
        if changes:
            self._undo.append(_RowsStep(unit_id, key, subject, changes))
            self._redo.clear()

    def forget(self, unit_id: str) -> None:
        """Forget a unit's computed results (the project's: all): its rows have changed."""
        if unit_id == PROJECT:
            self._results.clear()
        self._results.pop(unit_id, None)

    def _rows_differ(self, step: _RowsStep) -> Entered:
        self.forget(step.unit_id)
        return Entered(step.unit_id, step.key, Understood(), frozenset(), step.subject)

    def _record_again(self, reading: Reading) -> Reading:
        return self.project.record(
            reading.unit_id,
            reading.name,
            reading.index,
            reading.value,
            not_applicable=reading.not_applicable,
            pass_name=reading.pass_name,
            entered=reading.entered,
            note=reading.note,
            instrument_id=reading.instrument_id,
            person_id=self.person_id,
            source=self.source,
        )

    # -- limits, overrides -----------------------------------------------------------

    def set_limit(
        self,
        unit_id: str,
        check: str,
        index: tuple[int, ...],
        parts: dict[str, float],
        origin: str,
        confirmed: bool = False,
    ) -> frozenset[Key]:
        """Store limit parts (in the form's unit) with their origin; return changed checks.

        Raises:
            ReadingError: A part is not one of the check's, low is above high, or the
                origin is missing.
        """
        entry = self.plan.entries[check]
        assert isinstance(entry, Check)
        self._refuse_limit(entry, parts, origin, confirmed)
        with self.undoable(unit_id, LIMIT, "limit_entry", key=Key(check, index)):
            stored = self.project.set_limit(
                unit_id,
                check,
                index,
                parts,
                origin=origin.strip(),
                confirmed=confirmed,
                person_id=self.person_id,
            )
        calculation = self.results(unit_id).calculation
        if unit_id == PROJECT:  # it holds for every unit that has none of its own
            self._results = {PROJECT: self._results[PROJECT]}
        return frozenset(calculation.give_limit(Key(check, index), limit_from(stored)))

    def clear_limit(self, unit_id: str, check: str, index: tuple[int, ...] = ()) -> frozenset[Key]:
        """Take an entered limit back; return changed checks.

        What counts then is the project's limit (for a unit), else the form's default, or none.

        Raises:
            ReadingError: No limit is entered there.
        """
        entry = self.plan.entries.get(check)
        label = entry.label if isinstance(entry, Check) else check
        if not isinstance(entry, Check) or (check, index) not in self.project.limits(unit_id):
            raise ReadingError(
                spoken("{label}: no limit is entered here, so none can be taken back.", label=label)
            )
        with self.undoable(unit_id, LIMIT, "limit_entry", key=Key(check, index)):
            self.project.clear_limit(unit_id, check, index)
        calculation = self.results(unit_id).calculation
        if unit_id == PROJECT:
            self._results = {PROJECT: self._results[PROJECT]}
        shared = self.project.limits(PROJECT).get((check, index))
        remaining = limit_from(shared) if shared is not None else None
        return frozenset(calculation.give_limit(Key(check, index), remaining))

    def _refuse_limit(
        self, check: Check, parts: dict[str, float], origin: str, confirmed: bool
    ) -> None:
        wrong = [part for part in parts if part not in check.parts]
        if wrong:
            raise ReadingError(
                spoken(
                    "{label}: {wrong} does not belong to a limit '{limit}'.",
                    label=check.label,
                    wrong=", ".join(wrong),
                    limit=check.limit,
                )
            )
        if {"low", "high"} <= set(parts) and parts["low"] > parts["high"]:
            raise ReadingError(
                spoken(
                    "{label}: low {low:g} is above high {high:g}. Are the two swapped?",
                    label=check.label,
                    low=parts["low"],
                    high=parts["high"],
                )
            )
        negative = [part for part in parts if part.startswith("tolerance") and parts[part] < 0]
        if negative:
            raise ReadingError(
                spoken("{label}: a tolerance cannot be negative.", label=check.label)
            )
        if parts and not origin.strip() and not confirmed:
            raise ReadingError(
                spoken(
                    "{label}: say where the limit comes from (document, page, date).",
                    label=check.label,
                )
            )

    def override_stop(
        self, unit_id: str, check: str, index: tuple[int, ...], person_name: str, reason: str
    ) -> None:
        """Record that a named person goes past a stop, and why.

        Raises:
            ReadingError: Name or reason is missing, or the check is no stop.
        """
        entry = self.plan.entries.get(check)
        if not isinstance(entry, Check) or entry.severity is not Severity.STOP:
            raise ReadingError(
                spoken("'{check}' is no stop, so there is nothing to go past.", check=check)
            )
        if not person_name.strip() or not reason.strip():
            raise ReadingError(
                spoken("Going past a stop needs a name and a reason; both are recorded.")
            )
        with self.undoable(unit_id, OVERRIDE, "override_entry", key=Key(check, index)):
            self.project.add_override(
                unit_id=unit_id,
                check=check,
                index=index,
                person_name=person_name.strip(),
                reason=reason.strip(),
            )
        results = self.results(unit_id)
        overrides = [other for other in self.project.overrides() if other.unit_id == unit_id]
        self._results[unit_id] = replace(results, overrides=overrides)

    # -- units ---------------------------------------------------------------------

    def add_unit(self, tag: str) -> Unit:
        """Add a unit by its tag.

        Raises:
            ReadingError: The tag is empty or taken.
        """
        tag = tag.strip()
        taken = {unit.tag.casefold() for unit in self.units()}
        if not tag or tag.casefold() in taken:
            raise ReadingError(
                spoken("'{tag}' is already a unit; give each its own tag.", tag=tag)
                if tag
                else spoken("A unit needs a tag.")
            )
        return self.project.add_unit(tag)

    def remove_unit(self, unit_id: str) -> None:
        """Mark a unit as removed: its readings stay in the file, and it can be restored."""
        self.project.remove_unit(unit_id)
        self._results.pop(unit_id, None)
        # What was entered into it can be neither undone nor put again while it is away.
        self._undo = [step for step in self._undo if step.owner != unit_id]
        self._redo = [step for step in self._redo if step.owner != unit_id]

    def restore_unit(self, unit_id: str) -> Unit:
        """Take a removal back.

        Raises:
            ProjectFileError: Its tag has been given to another unit by now.
        """
        unit = self.project.restore_unit(unit_id)
        self._results.pop(unit_id, None)
        return unit

    def copy_configuration(self, source_id: str, target_id: str, sections: tuple[str, ...]) -> int:
        """Copy a sister unit's answers on the named pages (never measured readings)."""
        copied = 0
        results = self.results(source_id)
        for key, reading in (results.readings or {}).items():
            if reading.unit_id == source_id and self.plan.entries[key.name].section in sections:
                self.project.record(
                    target_id,
                    key.name,
                    key.index,
                    reading.value,
                    not_applicable=reading.not_applicable,
                    pass_name="as found",
                    entered=reading.entered,
                    person_id=self.person_id,
                    source="copy of a sister unit",
                )
                copied += 1
        self._results.pop(target_id, None)
        return copied
