"""What a person typed -> what is meant: number, unit, choice, not applicable.

Comma and point are both decimal marks; "1,234" is refused in a language whose readers do not
agree on what it says (`COMMA_OR_POINT`), and taken for thousands in the others. A value typed
with another unit is converted and says so; what cannot be understood is refused with the rule
and the cure, never guessed.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from datetime import date, time

from commission.definitions.model import Field, Kind
from commission.errors import AmbiguousNumberError, ReadingError, UnitError
from commission.formula.evaluate import Content
from commission.formula.figures import ended, figure, with_unit
from commission.language import COMMA_OR_POINT, language, near_miss, spoken, to_say
from commission.units import convert, recognised, shown_unit
from commission.validation.table_entry import understand_table

_NUMBER = re.compile(r"^\s*([+\-−]?[\d.,'\s\u00a0\u202f]*\d[.,]?)(?:[eE]([+\-]?\d+))?\s*(.*?)\s*$")
_NOT_APPLICABLE = re.compile(r"^n\s*/\s*a\b[\s:,;.\-–]*", re.IGNORECASE)
# Three digits behind a mark, one to three before it: decimals to some, thousands to others.
_ONE_COMMA = re.compile(r"[+\-]?[1-9]\d{0,2},\d{3}")
_ONE_POINT = re.compile(r"[+\-]?[1-9]\d{0,2}\.\d{3}")
_LONGEST_TEXT = 4_000


@dataclass(frozen=True, slots=True)
class Understood:
    """What an entry means. `remark` tells the person how it was understood, if need be.

    `warning` says that the value is possible but looks like a slip.
    """

    content: Content | None = None
    not_applicable: str = ""
    remark: str = ""
    warning: str = ""


def understand(field: Field, text: str, unit_system: str = "IP") -> Understood:
    """Return what `text` means in `field`; an empty text clears the field.

    A number without a unit is in the unit that the project shows ("IP" or "SI").

    Raises:
        ReadingError: The text cannot be meant here.
    """
    typed, text = text, text.strip()
    if not text:
        return Understood()
    marked = _NOT_APPLICABLE.match(text)
    if marked:
        reason = text[marked.end() :].strip()
        if not reason:
            raise ReadingError(
                spoken(
                    "{label}: 'n/a' needs its reason. Write it behind, such as 'n/a no port "
                    "fitted'.",
                    label=field.label,
                )
            )
        return Understood(not_applicable=reason)
    if field.kind in (Kind.NUMBER, Kind.INTEGER):
        return _number(field, text, unit_system)
    if field.kind is Kind.TABLE:
        content, remark = understand_table(field, typed, unit_system, parse_number)
        return Understood(content, remark=remark)
    if field.choices:
        return Understood(_choice(field, text))
    if field.kind in (Kind.DATE, Kind.TIME):
        return Understood(_moment(field, text))
    if len(text) > _LONGEST_TEXT:
        raise ReadingError(
            spoken(
                "{label}: {count:,} characters; at most {longest_text:,}. Put the rest in a "
                "document and name it here.",
                label=field.label,
                count=len(text),
                longest_text=_LONGEST_TEXT,
            )
        )
    return Understood(text)


def parse_number(text: str) -> tuple[float, str, bool]:
    """Return number, what follows it, and whether a mark could have been meant otherwise.

    Raises:
        ReadingError: There is no number at the start.
        AmbiguousNumberError: Its comma could be of decimals or of thousands.
    """
    match = _NUMBER.match(text)
    if match is None:
        raise ReadingError(
            spoken("'{value}' is not a number. Type digits, such as 118.5 or 118,5.", value=text)
        )
    digits = re.sub(r"(?<=\d)['\s](?=\d{3}(?!\d))|(?<=^[+\-−])\s+", "", match[1])
    digits = digits.replace("−", "-")
    if language() in COMMA_OR_POINT and _ONE_COMMA.fullmatch(digits):
        raise AmbiguousNumberError(
            spoken(
                "'{value}' may be {thousands} or {decimals}. Type {thousands}, or {decimals} with "
                "a point.",
                value=text.strip(),
                thousands=digits.replace(",", ""),
                decimals=digits.replace(",", "."),
            )
        )
    plain, grouped = _decimal_point(digits)
    try:
        number = float(plain + (f"e{match[2]}" if match[2] else ""))
        if not math.isfinite(number):
            raise ValueError(text)
    except ValueError:
        raise ReadingError(
            spoken(
                "'{value}' is not a number: its marks do not fit. Type it like 1234.5 or 1234,5.",
                value=text,
            )
        ) from None
    return number, match[3], grouped


def _decimal_point(digits: str) -> tuple[str, bool]:
    """Settle which mark is the decimal one: the last of two kinds, or the only one."""
    last = max(digits.rfind("."), digits.rfind(","))
    if last < 0:
        return digits, False
    mark = digits[last]
    other = "," if mark == "." else "."
    thousands = mark == "," and re.fullmatch(r"[+\-]?[1-9]\d{0,2}(,\d{3})+", digits)
    several = digits.count(mark) > 1 and re.fullmatch(r"[+\-]?\d{1,3}([.,]\d{3})+", digits)
    if thousands or several:
        return digits.replace(mark, "").replace(other, ""), True
    if digits.count(mark) > 1:
        return digits, False
    whole, _, part = digits.rpartition(mark)
    if other in whole:
        if not re.fullmatch(rf"[+\-]?\d{{1,3}}(\{other}\d{{3}})+", whole):
            return digits, False
        return f"{whole.replace(other, '')}.{part}", True
    doubtful = language() in COMMA_OR_POINT and _ONE_POINT.fullmatch(digits)
    return f"{whole}.{part}", bool(doubtful)


def _number(field: Field, text: str, unit_system: str) -> Understood:
    try:
        number, suffix, grouped = parse_number(text)
    except ReadingError as error:
        raise error.at(field.label) from None
    shown = shown_unit(field.unit, unit_system)
    given = _given_unit(field, suffix, shown)
    value = convert(number, given, field.unit) if given else number
    if field.kind is Kind.INTEGER and not value.is_integer():
        raise ReadingError(
            spoken(
                "{label}: {figure} is not a whole number. Type it without decimals.",
                label=field.label,
                figure=figure(value),
            )
        )
    _refuse_impossible(field, value, shown)
    remarks = []
    if given and given != shown:
        remarks.append(
            spoken(
                "{figure} {given} taken as {shown}",
                figure=figure(number),
                given=given,
                shown=_shown(field, value, shown, field.decimals),
            )
        )
    elif grouped:
        remarks.append(spoken("understood as {figure}", figure=f"{number:,.12g}".replace("-", "−")))
    return Understood(value, remark="; ".join(remarks), warning=_slip(field, value, shown))


def _given_unit(field: Field, suffix: str, shown: str) -> str:
    if not suffix:
        return shown
    found = suffix if suffix == field.unit else recognised(suffix)
    if found is None:
        raise ReadingError(
            spoken(
                "{label}: '{suffix}' is not a unit known here. Type the number in {shown}, "
                "without a unit.",
                label=field.label,
                suffix=suffix,
                shown=shown or spoken("plain figures"),
            )
        )
    if _is_temperature_difference(field.unit) and found in ("°F", "°C"):
        found = {"°F": "Δ°F", "°C": "K"}[found]
    if field.unit == "psia" and found in ("kPa", "psi"):
        found = {"kPa": "kPa abs", "psi": "psia"}[found]
    try:
        convert(1.0, found, field.unit)
    except UnitError:
        raise ReadingError(
            spoken(
                "{label}: {suffix} does not measure what is asked. ",
                label=field.label,
                suffix=suffix,
            )
            + ended(spoken("Type the number in {shown}", shown=shown or spoken("plain figures")))
        ) from None
    return found


def _is_temperature_difference(code: str) -> bool:
    return code in ("Δ°F", "K")


def _shown(field: Field, value: float, unit: str, decimals: int | None = None) -> str:
    """Return a value of the field in the unit the project shows."""
    if unit == field.unit:
        return with_unit(value, unit, decimals)
    return with_unit(convert(value, field.unit, unit), unit)


def _between(field: Field, bounds: tuple[float, float], unit: str, joined: str) -> str:
    low, high = (_shown(field, bound, unit) for bound in bounds)
    return spoken(joined, low=low.removesuffix(unit).rstrip(), high=high)


def _refuse_impossible(field: Field, value: float, unit: str) -> None:
    if field.possible is None or field.possible[0] <= value <= field.possible[1]:
        return
    raise ReadingError(
        spoken(
            "{label}: {shown} cannot be; it lies between {bounds} Check the number and its unit.",
            label=field.label,
            shown=_shown(field, value, unit),
            bounds=ended(_between(field, field.possible, unit, to_say("{low} and {high}"))),
        )
    )


def _slip(field: Field, value: float, unit: str) -> str:
    if field.plausible is None or field.plausible[0] <= value <= field.plausible[1]:
        return ""
    return spoken(
        "{shown} is unusual here ({bounds} is usual). A slip of unit or digit?",
        shown=_shown(field, value, unit, field.decimals),
        bounds=_between(field, field.plausible, unit, to_say("{low} to {high}")),
    )


def _choice(field: Field, text: str) -> str:
    said = {spoken(choice): choice for choice in field.choices}
    # A choice is typed as it is shown, or as it is stored.
    folded = {words.casefold(): choice for words, choice in said.items()}
    folded |= {choice.casefold(): choice for choice in field.choices}
    exact = folded.get(text.casefold())
    starts = {choice for key, choice in folded.items() if key.startswith(text.casefold())}
    if exact or len(starts) == 1:
        return exact or starts.pop()
    raise ReadingError(
        spoken(
            "{label}: '{typed}' is none of {choices}.",
            label=field.label,
            typed=text,
            choices=", ".join(said),
        )
        + near_miss(text, tuple(said))
    )


def _moment(field: Field, text: str) -> str:
    parse = date.fromisoformat if field.kind is Kind.DATE else time.fromisoformat
    example = "2026-03-31" if field.kind is Kind.DATE else "14:05"
    try:
        return parse(text).isoformat()
    except ValueError:
        raise ReadingError(
            spoken(
                "{label}: '{value}' is no {kind}. Type it like {example}.",
                label=field.label,
                value=text,
                kind=field.kind,
                example=example,
            )
        ) from None
