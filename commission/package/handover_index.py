"""What turnover specifications ask for, group by group, and where each stands in this package.

Source of the groups: the turnover clauses of public guide specifications (UFGS 23 05 93,
15950N and 01 91 00.15 20; VA 01 91 00 and 23 05 93; the GSA commissioning record), put together.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from reportlab.platypus import Flowable

from commission.definitions.model import Level
from commission.formula.evaluate import State
from commission.package import registers, sign_off
from commission.package.flowables import Heading, words
from commission.package.look import BODY
from commission.package.tables import Cell, Column, DataTable, Row
from commission.package.turnover import Turnover
from commission.package.wording import counted
from commission.project import SIGNATURE_ROLES
from commission.validation.results import SectionState

KEY = "handover-index"
TITLE = "What a turnover is asked to hold"
_INTRO = (
    "Public turnover specifications ask for these fourteen groups of documents. The table says "
    "what this package holds of each, and what is still owed; the page is where the group begins."
)


@dataclass(frozen=True, slots=True)
class Group:
    """One group of documents; `pages` are what the names of its pages in the form begin with."""

    title: str
    asked: str
    pages: Sequence[str] = ()
    place: str = ""
    told: Callable[[Turnover], str] | None = None
    fields: Sequence[str] = ()


def _people(turnover: Turnover) -> str:
    named = [s for r in turnover.everything for s in turnover.project.signatures(r.unit_id)]
    whole = sum(not signature.section for signature in named)
    asked = len(SIGNATURE_ROLES) * len(turnover.everything)
    return f"{counted(len(turnover.people), 'person', 'people')}; {whole} of {asked} signed for."


def _instruments(turnover: Turnover) -> str:
    late = sum(bool(turnover.past_due(item)) for item in turnover.instruments)
    told = f"{counted(len(turnover.instruments), 'instrument')}; {late or 'none'} used past due."
    return told[:1].upper() + told[1:]


def _deficiencies(turnover: Turnover) -> str:
    found = [d for d in turnover.project.deficiencies() if turnover.covers(d.unit_id)]
    open_ones = sum(item.status == "open" for item in found)
    told = f"{counted(len(found), 'entry', 'entries')}; {open_ones or 'none'} open."
    return told[:1].upper() + told[1:]


def _photos(turnover: Turnover) -> str:
    photos = counted(len(registers.photos_of(turnover)), "photo")
    files = counted(turnover.embedded, "file")
    return f"{photos[:1].upper()}{photos[1:]}; {files} inside this PDF."


GROUPS: Sequence[Group] = (
    Group(
        "Identity",
        "Project, unit, make, model, serial number, location, design documents, revision",
        ("project", "configuration", "nameplate", "design"),
    ),
    Group(
        "People", "Who performed, witnessed and answers, with licence; signatures",
        place=sign_off.KEY, told=_people,
    ),
    Group(
        "Instruments", "Kind, serial number, range, accuracy, calibration and its due date",
        place=registers.INSTRUMENTS[0], told=_instruments,
    ),
    Group("Conditions", "Date and time, weather, barometer, load, season", ("visit",)),
    Group("Pre-start checks", "Each item done, not done or not applicable", ("prestart_",)),
    Group("Electrical", "Volts, imbalance, amps, rotation, protection", ("electrical_",)),
    Group(
        "Airflow", "Total, outdoor, pressure profile, fan and drive",
        ("airflow_", "outdoor_air"),
    ),
    Group(
        "Refrigerant, each circuit", "Pressures, temperatures, superheat, subcooling, charge",
        ("cooling_circuits", "superheat_chart", "refrigerant_table", "prestart_refrigerant"),
    ),
    Group(
        "Heating, economizer, controls, safeties",
        "Gas, combustion, rise; changeover; each sequence; settings as left; safeties tripped",
        (
            "gas_heat", "combustion", "electric_heat", "heat_pump", "economizer", "functional_",
            "protections_", "closeout_settings", "cooling_stages",
        ),
    ),
    Group(
        "Capacity and efficiency", "Measured, with its uncertainty and method",
        ("cooling_capacity", "compressor_map"),
    ),
    Group(
        "Deficiency log", "Each with requirement, owner, correction, retest; old readings kept",
        place=registers.DEFICIENCIES[0], told=_deficiencies,
    ),
    Group(
        "Deferred and seasonal tests", "What is deferred to which season; what is outstanding",
        fields=("deferred_tests", "deferred_tests_due", "outstanding_items"),
    ),
    Group(
        "Training, documents, spares, warranty",
        "Topics, people and hours; manuals; spares delivered; start and terms of warranty",
        fields=(
            "training_given", "operating_documents_handed_over", "spares_handed_over",
            "warranty_starts", "warranty_terms",
        ),
    ),
    Group("Attachments", "Photos, certificates, data files", place="photos", told=_photos),
)  # fmt: skip


def handover_index(turnover: Turnover) -> list[Flowable]:
    """Return the table of the groups."""
    columns = [
        Column("Group", 116),
        Column("What is asked", 196),
        Column("What this package holds", 168),
        Column("Page", 36, "right"),
    ]
    rows = []
    for number, group in enumerate(GROUPS, 1):
        place = _place(turnover, group)
        page = Cell(page_of=place) if place else Cell("–", align="right")
        rows.append(Row([f"{number}. {group.title}", group.asked, standing(turnover, group), page]))
    return [Heading(TITLE, 1, KEY), words(_INTRO, BODY), DataTable(columns, rows)]


def standing(turnover: Turnover, group: Group) -> str:
    """Return what the package holds of a group, in words."""
    if group.told is not None:
        return group.told(turnover)
    return _of_fields(turnover, group) if group.fields else _of_pages(turnover, group)


def _of_pages(turnover: Turnover, group: Group) -> str:
    states = Counter(
        turnover.state_of(results, section)
        for results in turnover.everything
        for section in turnover.sections_of(results)
        if section.name.startswith(tuple(group.pages))
    )
    whole = sum(states.values())
    if not whole:
        return "No unit here has such a page."
    done = states.pop(SectionState.DONE, 0)
    rest = ", ".join(f"{count} {state}" for state, count in states.items())
    pages = f"{done} of {counted(whole, 'page')} done"
    return f"{pages}; {rest}." if rest else f"{pages}."


def _of_fields(turnover: Turnover, group: Group) -> str:
    form = turnover.site.form
    names = [name for name in group.fields if name in form.by_name]
    if not names:
        return "The form does not ask for it."
    asked = [r for r in turnover.everything if _is_of(r.unit_id, form.section_of(names[0]).level)]
    told = []
    for name in names:
        answered = sum(r.value(name).state is not State.MISSING for r in asked if r.relevant(name))
        told.append(f"{form.by_name[name].label}: {answered} of {len(asked)}")
    return "; ".join(told) + "."


def _is_of(unit_id: str, level: Level) -> bool:
    return bool(unit_id) is (level is Level.UNIT)


def _place(turnover: Turnover, group: Group) -> str:
    """Return where a group begins: its register, or the first page of the form that it has."""
    if group.place == registers.PHOTOS[0]:
        return group.place if registers.photos_of(turnover) else ""
    if group.place:
        return group.place
    form = turnover.site.form
    of_fields = {form.section_of(n).name for n in group.fields if n in form.by_name}
    for results in turnover.everything:
        for section in turnover.sections_of(results):
            wanted = section.name in of_fields
            if wanted or (group.pages and section.name.startswith(tuple(group.pages))):
                return turnover.part(results).page_key(section)
    return ""
