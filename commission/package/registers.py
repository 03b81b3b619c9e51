"""What belongs to the whole project: deficiencies, overrides, instruments, people, photos."""

from __future__ import annotations

from collections.abc import Iterator

from reportlab.platypus import Flowable

from commission.definitions.model import Check, Key
from commission.language import spoken, to_say
from commission.package.flowables import Heading, Picture, words
from commission.package.look import ALARM, BODY, BOLD, INK, NOTE
from commission.package.tables import Cell, Column, DataTable, Row
from commission.package.turnover import Turnover
from commission.package.wording import counted, day, minute
from commission.project import Deficiency, Instrument, Photo

DEFICIENCIES = ("deficiencies", to_say("Deficiency log"))
OVERRIDES = ("overrides", to_say("Stops passed over"))
INSTRUMENTS = ("instruments", to_say("Instruments"))
PEOPLE = ("people", to_say("People"))
PHOTOS = ("photos", to_say("Photos"))


def deficiency_log(turnover: Turnover) -> list[Flowable]:
    """Return every deficiency with requirement, owner, correction and retest."""
    found = [d for d in turnover.project.deficiencies() if turnover.covers(d.unit_id)]
    heading = Heading(spoken(DEFICIENCIES[1]), 1, DEFICIENCIES[0])
    if not found:
        return [heading, words(spoken("No deficiency has been entered."), BODY)]
    columns = [
        Column(spoken("No."), 24, "right"),
        Column(spoken("Unit"), 48),
        Column(spoken("What is wrong, and against which requirement"), 170),
        Column(spoken("Owner, due"), 74),
        Column(spoken("Correction"), 90),
        Column(spoken("Retest"), 62),
        Column(spoken("Status"), 48),
    ]
    rows = [_deficiency_row(turnover, deficiency) for deficiency in found]
    return [heading, DataTable(columns, rows)]


def _tied_to(turnover: Turnover, deficiency: Deficiency) -> str:
    """Return the verdict or reading that a deficiency belongs to, with its member; "" for none."""
    entry = turnover.site.form.by_name.get(deficiency.check)
    if entry is None:
        return ""
    own = [one for one in turnover.site.units if one.unit_id == deficiency.unit_id]
    key = Key(deficiency.check, deficiency.index)
    label = (own[0] if own else turnover.site.pages).label(key)
    if isinstance(entry, Check):
        return spoken("Check: {label}", label=label)
    return spoken("Reading: {label}", label=label)


def _deficiency_row(turnover: Turnover, deficiency: Deficiency) -> Row:
    what = deficiency.description
    tied = _tied_to(turnover, deficiency)
    if tied:
        what += "\n" + tied
    if deficiency.requirement:
        what += "\n" + spoken("Required: {what}", what=deficiency.requirement)
    by = turnover.people.get(deficiency.person_id)
    when = day(deficiency.at)
    what += "\n" + (
        spoken("Found {date} by {name}", date=when, name=by.name)
        if by
        else spoken("Found {date}", date=when)
    )
    done = filter(None, (deficiency.correction, deficiency.corrected_on))
    return Row(
        [
            str(deficiency.number),
            Cell(turnover.tag_of(deficiency.unit_id), BOLD),
            what,
            "\n".join(
                filter(
                    None,
                    (
                        deficiency.owner,
                        deficiency.due and spoken("due {date}", date=deficiency.due),
                    ),
                )
            ),
            "\n".join(done) or spoken("none yet"),
            deficiency.retest or spoken("none yet"),
            Cell(spoken(deficiency.status), BOLD, ALARM if deficiency.status == "open" else INK),
        ],
        key=turnover.deficiency_key(deficiency),
    )


def override_list(turnover: Turnover) -> list[Flowable]:
    """Return every decision to go on past a stop."""
    heading = Heading(spoken(OVERRIDES[1]), 1, OVERRIDES[0])
    found = turnover.overrides()
    if not found:
        return [heading, words(spoken("Nobody has gone on past a stop."), BODY)]
    columns = [
        Column(spoken("Unit"), 56),
        Column(spoken("Stop"), 150),
        Column(spoken("By"), 90),
        Column(spoken("When"), 90),
    ]
    columns.append(Column(spoken("Reason"), 130))
    rows = []
    for part, override in found:
        key = Key(override.check, tuple(override.index))
        label = part.results.label(key) if key.name in part.results.form.by_name else key.name
        rows.append(
            Row(
                [
                    Cell(part.results.tag or spoken("Project"), BOLD),
                    label,
                    override.person_name,
                    minute(override.at),
                    override.reason,
                ]
            )
        )
    return [heading, DataTable(columns, rows)]


def instrument_list(turnover: Turnover) -> list[Flowable]:
    """Return the instruments with accuracy and calibration; those past due are marked."""
    heading = Heading(spoken(INSTRUMENTS[1]), 1, INSTRUMENTS[0])
    if not turnover.instruments:
        return [heading, words(spoken("No instrument has been entered."), BODY)]
    columns = [
        Column(spoken("Tag"), 30),
        Column(spoken("Kind"), 96),
        Column(spoken("Make, model"), 100),
        Column(spoken("Serial no."), 64),
        Column(spoken("Range and accuracy"), 116),
        Column(spoken("Calibrated, due"), 110),
    ]
    late = sum(bool(turnover.past_due(item)) for item in turnover.instruments)
    told = spoken(
        "{instruments} used past the day its calibration was due.",
        instruments=counted(late, "instrument", "instruments"),
    )
    rows = [_instrument_row(turnover, item) for item in turnover.instruments]
    return [heading, words(told[0].upper() + told[1:], NOTE), DataTable(columns, rows)]


def _instrument_row(turnover: Turnover, item: Instrument) -> Row:
    late = turnover.past_due(item)
    calibrated = "\n".join(
        filter(
            None,
            (
                item.calibrated_on,
                item.calibration_due and spoken("due {date}", date=item.calibration_due),
                f"▲ {spoken('past due on {date}', date=late[0])}" if late else "",
                spoken("no calibration entered") if not item.calibration_due else "",
                spoken("not used in this package") if turnover.unused(item) else "",
            ),
        )
    )
    return Row(
        [
            Cell(turnover.instrument_tags[item.id], BOLD),
            spoken(item.kind),
            "\n".join(filter(None, (item.make, item.model))),
            item.serial,
            "\n".join(filter(None, (item.range_text, accuracy(item)))),
            Cell(calibrated, BOLD if late else Cell().font, ALARM if late else INK),
        ]
    )


def accuracy(item: Instrument) -> str:
    """Return an instrument's accuracy terms in words: "±(1 % of reading + 0.5 V)"."""
    terms = []
    if item.percent_of_reading:
        terms.append(spoken("{percent} % of reading", percent=f"{item.percent_of_reading:g}"))
    if item.percent_of_span:
        span = f"{item.span or 0.0:g} {item.unit}".rstrip()
        terms.append(
            spoken(
                "{percent} % of the span of {span}",
                percent=f"{item.percent_of_span:g}",
                span=span,
            )
        )
    if item.plus_minus:
        terms.append(f"{item.plus_minus:g} {item.unit}".rstrip())
    shared = f"±({' + '.join(terms)})" if len(terms) > 1 else "".join(f"±{t}" for t in terms)
    return ", ".join(filter(None, (shared, *_noise(item))))


def _noise(item: Instrument) -> tuple[str, str]:
    """Return what differs from one reading to the next, in words; "" for what is not stated."""
    repeats = spoken(
        "repeatability ±{number}", number=f"{item.repeatability:g} {item.unit}"
    ).rstrip()
    step = spoken("resolution {number}", number=f"{item.resolution:g} {item.unit}").rstrip()
    return repeats if item.repeatability else "", step if item.resolution else ""


def people_list(turnover: Turnover) -> list[Flowable]:
    """Return who took part, with company, role and licence."""
    heading = Heading(spoken(PEOPLE[1]), 1, PEOPLE[0])
    if not turnover.people:
        return [heading, words(spoken("Nobody has been entered."), BODY)]
    columns = [
        Column(spoken("Name"), 120),
        Column(spoken("Company"), 130),
        Column(spoken("Role"), 110),
    ]
    columns += [Column(spoken("Licence"), 76), Column(spoken("E-mail"), 100)]
    rows = [
        Row([Cell(p.name, BOLD), p.company, p.role, p.licence, p.email])
        for p in turnover.people.values()
    ]
    return [heading, DataTable(columns, rows)]


def photos_of(turnover: Turnover) -> list[Photo]:
    """Return the photos that belong into this package."""
    return [photo for photo in turnover.project.photos() if turnover.covers(photo.unit_id)]


def photo_pages(turnover: Turnover) -> Iterator[Flowable]:
    """Yield the photos with their captions; bytes are read when a photo is set."""
    yield Heading(spoken(PHOTOS[1]), 1, PHOTOS[0])
    for photo in photos_of(turnover):
        entry = turnover.site.form.by_name.get(photo.name)
        about = [turnover.tag_of(photo.unit_id), entry.label if entry else "", photo.caption]
        caption = " – ".join(filter(None, [*about, minute(photo.at)]))
        yield Picture(photo.read_data, caption, turnover.width, 270)
