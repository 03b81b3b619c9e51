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
from commission.language import spoken, to_say
from commission.package import registers, sign_off
from commission.package.flowables import Heading, words
from commission.package.look import BODY
from commission.package.tables import Cell, Column, DataTable, Row
from commission.package.turnover import Turnover
from commission.package.wording import counted
from commission.project import SIGNATURE_ROLES
from commission.validation.results import SectionState

KEY = "handover-index"
TITLE = to_say("What a turnover is asked to hold")
_INTRO = to_say(
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
    return spoken(
        "{people}; {signed} of {asked} signed for.",
        people=counted(len(turnover.people), "person", "people"),
        signed=whole,
        asked=asked,
    )


def _instruments(turnover: Turnover) -> str:
    late = sum(bool(turnover.past_due(item)) for item in turnover.instruments)
    told = spoken(
        "{instruments}; {count} used past due.",
        instruments=counted(len(turnover.instruments), "instrument", "instruments"),
        count=late or spoken("none"),
    )
    return told[:1].upper() + told[1:]


def _deficiencies(turnover: Turnover) -> str:
    found = [d for d in turnover.project.deficiencies() if turnover.covers(d.unit_id)]
    open_ones = sum(item.status == "open" for item in found)
    told = spoken(
        "{entries}; {count} open.",
        entries=counted(len(found), "entry", "entries"),
        count=open_ones or spoken("none"),
    )
    return told[:1].upper() + told[1:]


def _photos(turnover: Turnover) -> str:
    photos = counted(len(registers.photos_of(turnover)), "photo", "photos")
    files = counted(turnover.embedded, "file", "files")
    told = spoken("{photos}; {files} inside this PDF.", photos=photos, files=files)
    if turnover.embedded and len(turnover.units) < len(turnover.site.units):
        told += " " + spoken("They hold the units covered and the project's own pages alone.")
    return told[:1].upper() + told[1:]


GROUPS: Sequence[Group] = (
    Group(
        to_say("Identity"),
        to_say("Project, unit, make, model, serial number, location, design documents, revision"),
        ("project", "configuration", "nameplate", "design"),
    ),
    Group(
        to_say("People"),
        to_say("Who performed, witnessed and answers, with licence; signatures"),
        place=sign_off.KEY,
        told=_people,
    ),
    Group(
        to_say("Instruments"),
        to_say("Kind, serial number, range, accuracy, calibration and its due date"),
        place=registers.INSTRUMENTS[0],
        told=_instruments,
    ),
    Group(
        to_say("Conditions"), to_say("Date and time, weather, barometer, load, season"), ("visit",)
    ),
    Group(
        to_say("Pre-start checks"),
        to_say("Each item done, not done or not applicable"),
        ("prestart_",),
    ),
    Group(
        to_say("Electrical"),
        to_say("Volts, imbalance, amps, rotation, protection"),
        ("electrical_",),
    ),
    Group(
        to_say("Airflow"),
        to_say("Total, outdoor, pressure profile, fan and drive"),
        ("airflow_", "outdoor_air"),
    ),
    Group(
        to_say("Refrigerant, each circuit"),
        to_say("Pressures, temperatures, superheat, subcooling, charge"),
        ("cooling_circuits", "superheat_chart", "refrigerant_table", "prestart_refrigerant"),
    ),
    Group(
        to_say("Heating, economizer, controls, safeties"),
        to_say(
            "Gas, combustion, rise; changeover; each sequence; settings as left; safeties tripped"
        ),
        (
            "gas_heat",
            "combustion",
            "electric_heat",
            "heat_pump",
            "economizer",
            "functional_",
            "protections_",
            "closeout_settings",
            "cooling_stages",
        ),
    ),
    Group(
        to_say("Capacity and efficiency"),
        to_say("Measured, with its uncertainty and method"),
        ("cooling_capacity", "compressor_map"),
    ),
    Group(
        to_say("Deficiency log"),
        to_say("Each with requirement, owner, correction, retest; old readings kept"),
        place=registers.DEFICIENCIES[0],
        told=_deficiencies,
    ),
    Group(
        to_say("Deferred and seasonal tests"),
        to_say("What is deferred to which season; what is outstanding"),
        fields=("deferred_tests", "deferred_tests_due", "outstanding_items"),
    ),
    Group(
        to_say("Training, documents, spares, warranty"),
        to_say("Topics, people and hours; manuals; spares delivered; start and terms of warranty"),
        fields=(
            "training_given",
            "operating_documents_handed_over",
            "spares_handed_over",
            "warranty_starts",
            "warranty_terms",
        ),
    ),
    Group(
        to_say("Attachments"),
        to_say("Photos, certificates, data files"),
        place="photos",
        told=_photos,
    ),
)


def handover_index(turnover: Turnover) -> list[Flowable]:
    """Return the table of the groups."""
    columns = [
        Column(spoken("Group"), 116),
        Column(spoken("What is asked"), 196),
        Column(spoken("What this package holds"), 168),
        Column(spoken("Page"), 36, "right"),
    ]
    rows = []
    for number, group in enumerate(GROUPS, 1):
        place = _place(turnover, group)
        page = Cell(page_of=place) if place else Cell("–", align="right")
        rows.append(
            Row(
                [
                    f"{number}. {spoken(group.title)}",
                    spoken(group.asked),
                    standing(turnover, group),
                    page,
                ]
            )
        )
    return [Heading(spoken(TITLE), 1, KEY), words(spoken(_INTRO), BODY), DataTable(columns, rows)]


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
        return spoken("No unit here has such a page.")
    done = states.pop(SectionState.DONE, 0)
    rest = ", ".join(f"{count} {spoken(state)}" for state, count in states.items())
    pages = spoken("{done} of {pages} done", done=done, pages=counted(whole, "page", "pages"))
    return f"{pages}; {rest}." if rest else f"{pages}."


def _of_fields(turnover: Turnover, group: Group) -> str:
    form = turnover.site.form
    names = [name for name in group.fields if name in form.by_name]
    if not names:
        return spoken("The form does not ask for it.")
    asked = [r for r in turnover.everything if _is_of(r.unit_id, form.section_of(names[0]).level)]
    told = []
    for name in names:
        answered = sum(r.value(name).state is not State.MISSING for r in asked if r.relevant(name))
        told.append(
            spoken(
                "{label}: {answered} of {asked}",
                label=form.by_name[name].label,
                answered=answered,
                asked=len(asked),
            )
        )
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
