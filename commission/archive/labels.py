"""What a record's labels say in the language spoken: a record itself is always English."""

from __future__ import annotations

import re

from commission.language import ENGLISH, language, spoken

_BETWEEN = " · "
_NUMBERED = re.compile(r"(\D*)(\d+)")


def said_label(label: str, member: str = "") -> str:
    """Return a label with its member, such as "Suction pressure, Circuit 2", as said here.

    What a form of one's own says, and no catalogue has, is said as it stands in the record.
    """
    members = _BETWEEN.join(map(_said_member, member.split(_BETWEEN)))
    return ", ".join(filter(None, (spoken(label), members)))


def _said_member(member: str) -> str:
    """Return a member's label: form files write it "Circuit {n}"."""
    found = _NUMBERED.fullmatch(member)
    if found is None or language() == ENGLISH:
        return spoken(member)
    template = f"{found[1]}{{n}}"
    said = spoken(template)
    return member if said == template else said.replace("{n}", found[2])
