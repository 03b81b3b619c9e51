"""What `forms/sequence.toml` declares, frozen, and the tests that a configuration makes of it.

A test proves parts or protections; its steps say what to do, what is called, what must run
and what must not, what is marked and what resets it. Marks are fields of the form.
"""

from __future__ import annotations

from dataclasses import dataclass

from commission.definitions.model import Key
from commission.formula.graph import Index
from commission.formula.tree import Node

CALL = "call"
"""What a time is counted from where nothing else is named: the step's own call."""


# -- declared ------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Part:
    """Something that runs or acts. `when` None: every unit has it."""

    name: str
    label: str
    when: Node | None = None
    is_protection: bool = False


@dataclass(frozen=True, slots=True)
class TerminalRow:
    """A terminal of the control circuit; "{n}" in its name is the member's number."""

    name: str
    title: str
    energises: tuple[str, ...] = ()
    note: str = ""
    repeat: str = ""
    when: Node | None = None


@dataclass(frozen=True, slots=True)
class MarkRow:
    """What is marked: a field, or a moment that only later times are counted from.

    Attributes:
        field: The form's field that takes the reading; "" for a bare moment.
        event: What is seen at that moment; "" for what is answered, not timed.
        after: What the time is counted from: the first of these that the unit has.
        moment: Name of a bare moment.
    """

    field: str = ""
    event: str = ""
    after: tuple[str, ...] = (CALL,)
    moment: str = ""

    @property
    def name(self) -> str:
        """The field's name, or the moment's."""
        return self.field or self.moment


@dataclass(frozen=True, slots=True)
class StepRow:
    """One step. `danger`: what to do at once when a mark that stops the work fails."""

    name: str
    do: str
    call: str = ""
    signals: tuple[str, ...] = ()
    run: tuple[str, ...] = ()
    rest: tuple[str, ...] = ()
    ordered: bool = False
    marks: tuple[MarkRow, ...] = ()
    danger: str = ""
    reset: str = ""
    when: Node | None = None


@dataclass(frozen=True, slots=True)
class LaneSpan:
    """On from one event to another: each the first of these marks or steps that is known.

    A step's name stands for its call.
    """

    on: tuple[str, ...]
    off: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LaneRow:
    """One row of a test's timeline; `label` is its name as it is said."""

    name: str
    spans: tuple[LaneSpan, ...]
    part: str = ""
    label: str = ""


@dataclass(frozen=True, slots=True)
class TestRow:
    """One test; it applies where its page is asked and `when` holds."""

    __test__ = False  # for pytest: a name, not a test of the program

    name: str
    title: str
    section: str
    proves: tuple[str, ...]
    steps: tuple[StepRow, ...]
    repeat: str = ""
    when: Node | None = None
    cautions: tuple[str, ...] = ()
    lanes: tuple[LaneRow, ...] = ()


@dataclass(frozen=True, slots=True)
class SequenceBook:
    """Everything in the file. An empty one belongs to a form without such a file."""

    parts: tuple[Part, ...] = ()
    terminals: tuple[TerminalRow, ...] = ()
    tests: tuple[TestRow, ...] = ()
    version: str = ""
    content_hash: str = ""


# -- made of a configuration -----------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class StepMark:
    """One mark of one step, for one member.

    Attributes:
        name: The field's or moment's name.
        key: The field member that takes the reading; None for a bare moment.
        event: What is seen at that moment; "" for what is answered, not timed.
        after: Name of the mark, in this step, that the time is counted from, or "call".
        checks: Checks of the form that judge it.
        stops: Whether one of them stops the work.
    """

    name: str
    key: Key | None
    event: str
    after: str
    checks: tuple[Key, ...] = ()
    stops: bool = False

    @property
    def is_timed(self) -> bool:
        """Whether a key press at the event marks it."""
        return bool(self.event)


@dataclass(frozen=True, slots=True)
class FunctionalStep:
    """One step as this unit has it: only parts, terminals and marks that are there."""

    name: str
    do: str
    call: str
    signals: tuple[str, ...]
    run: tuple[Part, ...]
    rest: tuple[Part, ...]
    ordered: bool
    marks: tuple[StepMark, ...]
    danger: str
    reset: str


@dataclass(frozen=True, slots=True)
class FunctionalTest:
    """One test as this unit has it."""

    name: str
    index: Index
    title: str
    section: str
    proves: tuple[Part, ...]
    cautions: tuple[str, ...]
    guarded_by: tuple[str, ...]
    steps: tuple[FunctionalStep, ...]
    lanes: tuple[LaneRow, ...] = ()

    @property
    def marks(self) -> tuple[StepMark, ...]:
        """All marks, in order."""
        return tuple(mark for step in self.steps for mark in step.marks)

    @property
    def keys(self) -> tuple[Key, ...]:
        """The field members that this test marks, in order."""
        return tuple(mark.key for mark in self.marks if mark.key is not None)


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A test that this configuration does not have, and why."""

    title: str
    why: str


@dataclass(frozen=True, slots=True)
class Signal:
    """One line of the signals table."""

    terminal: str
    title: str
    energises: str
    note: str
