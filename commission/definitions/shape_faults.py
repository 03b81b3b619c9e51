"""What is wrong with a key's value in a file of ours, in words: a rule of its schema broken."""

from __future__ import annotations

import re
from tomllib import TOMLDecodeError

from pydantic_core import ErrorDetails

from commission.language import listed, spoken, to_say

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
    """Return that a file is no TOML, where, and why in the words of Python's own reader."""
    found = _LINE.fullmatch(str(fault)) if isinstance(fault, TOMLDecodeError) else None
    if found is None:
        return spoken("cannot be read as TOML: {reason}. Save it as text in UTF-8.", reason=fault)
    return spoken(
        "cannot be read as TOML: line {line}, column {column}: {reason}. Put it right there.",
        line=found[2],
        column=found[3],
        reason=found[1],
    )
