"""What is wrong with a key's value in a file of ours, in words: a rule of its schema broken."""

from __future__ import annotations

import re
from tomllib import TOMLDecodeError

from pydantic_core import ErrorDetails

from commission.language import listed, spoken, spoken_again, to_say

# By pydantic's own names of its rules; in the places stand the values of the rule.
_RULES = {
    "string_type": to_say("must be a text"),
    "string_too_short": to_say("must have at least {min_length} characters"),
    "string_too_long": to_say("must have at most {max_length} characters"),
    "string_pattern_mismatch": to_say("does not fit the pattern {pattern}"),
    "int_type": to_say("must be a whole number"),
    "int_from_float": to_say("must be a whole number"),
    "float_type": to_say("must be a number"),
    "bool_type": to_say("must be true or false"),
    "greater_than": to_say("must be above {gt}"),
    "greater_than_equal": to_say("must be at least {ge}"),
    "less_than_equal": to_say("must be at most {le}"),
    "enum": to_say("must be {expected}"),
    "literal_error": to_say("must be {expected}"),
    "tuple_type": to_say("must be a list"),
    "too_long": to_say("has {actual_length} items; at most {max_length} may stand here"),
    "too_short": to_say("has {actual_length} items; at least {min_length} must stand here"),
    "dict_type": to_say("must be a table of keys"),
    "model_type": to_say("must be a table of keys"),
}
_QUOTED = re.compile(r"'[^']*'")
_LINE = re.compile(r"(.*) \(at line (\d+), column (\d+)\)", re.DOTALL)
_END = " (at end of document)"
# What Python's reader of TOML says.
_READER_WORDS = (
    to_say("Invalid statement"),
    to_say("Invalid value"),
    to_say("Invalid date or datetime"),
    to_say("Invalid hex value"),
    to_say("Invalid initial character for a key part"),
    to_say("Illegal character {value}"),
    to_say("Found invalid character {value}"),
    to_say("Expected '=' after a key in a key/value pair"),
    to_say("Expected newline or end of document after a statement"),
    to_say("Expected ']' at the end of a table declaration"),
    to_say("Expected ']]' at the end of an array declaration"),
    to_say("Expected {value}"),
    to_say("Unclosed array"),
    to_say("Unclosed inline table"),
    to_say("Unterminated string"),
    to_say("Unescaped '\\' in a string"),
    to_say("Cannot declare {value} twice"),
    to_say("Cannot overwrite a value"),
    to_say("Cannot redefine namespace {value}"),
    to_say("Cannot mutate immutable namespace {value}"),
    to_say("Duplicate inline table key {value}"),
)


def broken_rule(fault: ErrorDetails) -> str:
    """Return which rule a value breaks, and the value: "must be a number (it is 'many')."."""
    values = dict(fault.get("ctx", {}))
    if "expected" in values:
        values["expected"] = listed(_QUOTED.findall(str(values["expected"])), "or")
    # A rule that no schema here has yet is told in pydantic's own words.
    text = _RULES.get(fault["type"])
    rule = spoken(text, **values) if text else fault["msg"]
    return spoken("{rule} (it is {value}).", rule=rule, value=repr(fault["input"])[:60])


def unreadable(fault: Exception) -> str:
    """Return that a file is no TOML, where and why."""
    if isinstance(fault, TOMLDecodeError) and str(fault).endswith(_END):
        reason = spoken_again(str(fault).removesuffix(_END), _READER_WORDS)
        return spoken("cannot be read as TOML: at its end: {reason}. Put it right there.",
                      reason=reason)  # fmt: skip
    found = _LINE.fullmatch(str(fault)) if isinstance(fault, TOMLDecodeError) else None
    if found is None:
        return spoken("cannot be read as TOML: {reason}. Save it as text in UTF-8.", reason=fault)
    return spoken(
        "cannot be read as TOML: line {line}, column {column}: {reason}. Put it right there.",
        line=found[2],
        column=found[3],
        reason=spoken_again(found[1], _READER_WORDS),
    )
