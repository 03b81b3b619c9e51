"""The shape of a form file, key by key; an unknown key or a wrong kind is a fault."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from commission.definitions.model import Basis, FigureKind, Kind, Level, LimitKind, Severity

FormulaText = Annotated[str, BeforeValidator(lambda v: repr(v) if _is_number(v) else v)]
Repeats = Annotated[tuple[str, ...], BeforeValidator(lambda v: (v,) if isinstance(v, str) else v)]
Identifier = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*$", max_length=60)]
Sentence = Annotated[str, Field(min_length=1)]
Strict = Field(strict=True)
Bounds = tuple[Annotated[float, Strict], Annotated[float, Strict]]
Decimals = Annotated[int, Field(strict=True, ge=0, le=8)]
Flag = Annotated[bool, Strict]


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class RepeatTable(_Table):
    """`[[repeat]]`"""

    name: Identifier
    label: Sentence
    count: FormulaText
    maximum: Annotated[int, Field(strict=True, ge=1, le=200)]
    members: tuple[str, ...] = ()


class FormTable(_Table):
    """The file that puts a form together."""

    id: Identifier
    version: Sentence
    title: Sentence
    sections: tuple[str, ...]
    across: tuple[Identifier, ...] = ()
    repeat: tuple[RepeatTable, ...] = ()


class SectionTable(_Table):
    """`[section]`"""

    name: Identifier
    title: Sentence
    stage: str = ""
    level: Level = Level.UNIT
    repeat: Repeats = ()
    when: FormulaText | None = None
    intro: str = ""
    cautions: tuple[Sentence, ...] = ()
    guarded_by: tuple[Identifier, ...] = ()


class AxisTable(_Table):
    """`rows`, `columns` and `body` of a table."""

    label: Sentence
    unit: str = ""
    decimals: Decimals | None = None


class FieldTable(_Table):
    """`[[field]]`"""

    name: Identifier
    label: Sentence
    kind: Kind = Kind.NUMBER
    repeat: Repeats | None = None
    unit: str = ""
    symbol: str = ""
    decimals: Decimals | None = None
    choices: tuple[Sentence, ...] = ()
    when: FormulaText | None = None
    required: Flag = True
    how: str = ""
    caution: str = ""
    instrument: str = ""
    photo: Flag = False
    possible: Bounds | None = None
    plausible: Bounds | None = None
    rows: AxisTable | None = None
    columns: AxisTable | None = None
    body: AxisTable | None = None
    severity: Severity | None = None
    cure: str = ""


class QuantityTable(_Table):
    """`[[quantity]]`"""

    name: Identifier
    label: Sentence
    formula: FormulaText
    source: Sentence
    repeat: Repeats | None = None
    unit: str = ""
    symbol: str = ""
    decimals: Decimals | None = None
    when: FormulaText | None = None
    text: Flag = False


class CheckTable(_Table):
    """`[[check]]`"""

    name: Identifier
    label: Sentence
    judges: Identifier
    limit: LimitKind
    severity: Severity = Severity.FAIL
    when: FormulaText | None = None
    low: FormulaText | None = None
    high: FormulaText | None = None
    target: FormulaText | None = None
    tolerance: FormulaText | None = None
    tolerance_percent: FormulaText | None = None
    expected: str = ""
    basis: Basis | None = None
    source: str = ""
    cure: str = ""


class FigurePointTable(_Table):
    """`[[figure.point]]`"""

    name: Identifier
    label: Sentence
    uses: dict[Identifier, Identifier]
    place: str = ""


class FigureProcessTable(_Table):
    """`[[figure.process]]`"""

    label: Sentence
    start: Identifier
    end: Identifier


class FigureTable(_Table):
    """`[[figure]]`"""

    name: Identifier
    label: Sentence
    kind: FigureKind
    repeat: Repeats | None = None
    when: FormulaText | None = None
    source: str = ""
    uses: dict[Identifier, Identifier] = {}
    point: tuple[FigurePointTable, ...] = ()
    process: tuple[FigureProcessTable, ...] = ()


class SectionFile(_Table):
    """A whole section file. Its entries keep the order in which the file has them."""

    section: SectionTable
    field: tuple[FieldTable, ...] = ()
    quantity: tuple[QuantityTable, ...] = ()
    check: tuple[CheckTable, ...] = ()
    figure: tuple[FigureTable, ...] = ()
