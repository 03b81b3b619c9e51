"""Sign-off: for each unit who recorded, who witnessed, who accepted, and room to sign."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.platypus import Flowable

from commission.language import spoken, to_say
from commission.package.flowables import Heading, SignatureBlock, kept, words
from commission.package.look import BODY, BOLD, NOTE
from commission.package.signature_field import field_name
from commission.package.tables import Cell, Column, DataTable, Row
from commission.package.turnover import Turnover
from commission.package.wording import counted, day, minute
from commission.project import HASH_OF_READINGS, SIGNATURE_ROLES, Signature
from commission.project.signatures import signed_names
from commission.validation.results import UnitResults

KEY = "sign-off"
TITLE = to_say("Sign-off")
_ROLES = {
    "recorded": to_say("Recorded by"),
    "witnessed": to_say("Witnessed by"),
    "accepted": to_say("Accepted by"),
}
_INTRO = to_say(
    "A signature stands for the readings as they were when it was given. A name printed here was "
    "entered in the project file; sign on the line where ink is asked for."
)


def sign_off(turnover: Turnover) -> list[Flowable]:
    """Return three boxes for the project and each unit, and the signatures of single pages."""
    flowables: list[Flowable] = [Heading(spoken(TITLE), 1, KEY), words(spoken(_INTRO), BODY)]
    for results in turnover.everything:
        flowables += _block(turnover, results)
    return flowables


def _block(turnover: Turnover, results: UnitResults) -> list[Flowable]:
    signatures = turnover.project.signatures(results.unit_id)
    whole = {s.role: s for s in signatures if not s.section}
    stops = len(results.stops())
    heading = Heading(
        results.tag or spoken("Project"),
        2,
        f"sign-off-{results.unit_id}",
        outlined=False,
        aside=counted(stops, "stop", "stops") if stops else "",
    )
    block = SignatureBlock(
        [(spoken(_ROLES[role]), _lines(turnover, whole.get(role))) for role in SIGNATURE_ROLES],
        [_field(turnover, results, role) for role in SIGNATURE_ROLES],
    )
    said = [s for s in whole.values() if s.statement or _changed(turnover, s)]
    parts: list[Flowable] = [words(_statement(turnover, s), NOTE) for s in said]
    flowables = kept(turnover.width, heading, *parts, block)
    of_pages = [s for s in signatures if s.section]
    if of_pages:
        flowables.append(_page_signatures(turnover, of_pages))
    return flowables


def _field(turnover: Turnover, results: UnitResults, role: str) -> tuple[str, str]:
    """Return the name of a role's signature field, and what it is for."""
    part = turnover.part(results)
    # The name of a field is for programs: it is the same in every language.
    name = field_name(results.tag or "Project", role)
    purpose = spoken(_ROLES[role]).lower()
    return name, spoken("Signature: {purpose}, {title}", purpose=purpose, title=part.title)


def _lines(turnover: Turnover, signature: Signature | None) -> Sequence[tuple[str, str]]:
    person = turnover.people.get(signature.person_id) if signature else None
    return [
        (spoken("Name"), signature.printed_name if signature else ""),
        (spoken("Company"), person.company if person else ""),
        (spoken("Licence"), person.licence if person else ""),
        (spoken("Signature"), ""),
        (spoken("Date"), day(signature.at) if signature else ""),
    ]


def _statement(turnover: Turnover, signature: Signature) -> str:
    changed = f" {_changed(turnover, signature)}".rstrip()
    said = f"“{signature.statement}”" if signature.statement else spoken("signed.")
    who = f"{spoken(_ROLES[signature.role])} {signature.printed_name}, {minute(signature.at)}"
    return f"{who}: {said}{changed}"


def _changed(turnover: Turnover, signature: Signature) -> str:
    """Return that what was signed is no longer as it was, or ""."""
    signed = signed_names(turnover.site.form, signature.section)
    if turnover.project.is_signed_still(signature, *signed):
        return ""
    if signature.hash_kind == HASH_OF_READINGS:
        return spoken("Readings have changed since.")
    return spoken("Readings, limits or overrides have changed since.")


def _page_signatures(turnover: Turnover, signatures: Sequence[Signature]) -> DataTable:
    columns = [
        Column(spoken("Page of the form"), 130),
        Column(spoken("Role"), 66),
        Column(spoken("Name"), 110),
    ]
    columns += [Column(spoken("When"), 96), Column(spoken("Statement"), 114)]
    rows = []
    for signature in signatures:
        section = turnover.site.form.section_by_name.get(signature.section)
        title = section.title if section is not None else signature.section
        changed = _changed(turnover, signature)
        rows.append(
            Row(
                [
                    title,
                    spoken(signature.role),
                    Cell(signature.printed_name, BOLD),
                    minute(signature.at),
                    " ".join(filter(None, (signature.statement, changed))),
                ]
            )
        )
    return DataTable(columns, rows)
