"""The shape of `forms/sequence.toml`, key by key; an unknown key or a wrong kind is a fault."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

Identifier = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*$", max_length=60)]
Sentence = Annotated[str, Field(min_length=1)]
Flag = Annotated[bool, Field(strict=True)]


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class PartTable(_Table):
    """`[[part]]` and `[[protection]]`"""

    name: Identifier
    label: Sentence
    when: Sentence | None = None


class TerminalTable(_Table):
    """`[[terminal]]`"""

    name: Sentence
    title: Sentence
    energises: tuple[Identifier, ...] = ()
    note: str = ""
    repeat: str = ""
    when: Sentence | None = None


class MarkTable(_Table):
    """An entry of `marks`; a plain name is a field that is answered, not timed."""

    field: str = ""
    event: str = ""
    after: tuple[Sentence, ...] = ("call",)
    moment: str = ""


Mark = Annotated[MarkTable, BeforeValidator(lambda v: {"field": v} if isinstance(v, str) else v)]


Events = Annotated[
    tuple[Identifier, ...], BeforeValidator(lambda v: (v,) if isinstance(v, str) else v)
]


class SpanTable(_Table):
    """An entry of a lane's `spans`"""

    on: Events
    off: Events


class LaneTable(_Table):
    """`[[test.lane]]`"""

    name: Sentence
    spans: Annotated[tuple[SpanTable, ...], Field(min_length=1)]
    part: str = ""


class StepTable(_Table):
    """`[[test.step]]`"""

    name: Identifier
    do: Sentence
    call: str = ""
    signals: tuple[Sentence, ...] = ()
    run: tuple[Identifier, ...] = ()
    rest: tuple[Identifier, ...] = ()
    ordered: Flag = False
    marks: tuple[Mark, ...] = ()
    danger: str = ""
    reset: str = ""
    when: Sentence | None = None


class TestTable(_Table):
    """`[[test]]`"""

    __test__ = False

    name: Identifier
    title: Sentence
    section: Identifier
    proves: Annotated[tuple[Identifier, ...], Field(min_length=1)]
    step: Annotated[tuple[StepTable, ...], Field(min_length=1)]
    repeat: str = ""
    when: Sentence | None = None
    cautions: tuple[Sentence, ...] = ()
    lane: tuple[LaneTable, ...] = ()


class SequenceFile(_Table):
    """The whole file."""

    form: Identifier
    version: Sentence
    part: tuple[PartTable, ...] = ()
    protection: tuple[PartTable, ...] = ()
    terminal: tuple[TerminalTable, ...] = ()
    test: tuple[TestTable, ...] = ()
