"""Which pages describe a unit before anything is measured on it."""

from __future__ import annotations

from commission.definitions.model import Form, Kind, Section


def sister_sections(form: Form) -> tuple[str, ...]:
    """Return the unit pages before the first one that judges something done or measured.

    These are its configuration, nameplate and design; a sister unit shares them.
    """
    names: list[str] = []
    for section in form.sections:
        if section.level == "unit":
            if _is_measured(section):
                break
            names.append(section.name)
    return tuple(names)


def _is_measured(section: Section) -> bool:
    return any(field.instrument or field.kind is Kind.ITEM for field in section.fields)
