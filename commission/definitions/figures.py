"""What each kind of figure draws by role, and whether a form's figures name fit entries."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from commission.definitions import schema
from commission.definitions.build import Faults
from commission.definitions.model import (
    Check,
    Entry,
    Field,
    Figure,
    FigureKind,
    FigurePoint,
    FigureProcess,
    Form,
    Kind,
    Level,
    Quantity,
    Section,
)
from commission.formula import dimensions
from commission.language import near_miss, spoken

TEXT, ANY = "text", "any"


@dataclass(frozen=True, slots=True)
class Role:
    """What may stand in a role: an entry measured in `unit`, a TEXT, or ANY value.

    `spread` entries repeat over more than the figure does, and all their members are drawn.
    """

    unit: str
    required: bool = True
    spread: bool = False


@dataclass(frozen=True, slots=True)
class Rules:
    """What a kind of figure is declared with.

    `one_of` are point roles of which each point has exactly one; `places` are where a point's
    value may stand; `least` is how many points there must be.
    """

    uses: Mapping[str, Role] = field(default_factory=dict)
    point: Mapping[str, Role] = field(default_factory=dict)
    one_of: tuple[str, ...] = ()
    places: tuple[str, ...] = ()
    least: int = 0
    processes: bool = False


_HUMIDITY = ("wet_bulb", "relative_humidity", "humidity_ratio")
PLACES = (
    "outdoor air",
    "relief air",
    "return air",
    "mixed air",
    "after filters",
    "after coil",
    "fan",
    "after fan",
    "supply air",
    "condenser entering",
    "condenser leaving",
    "suction line",
    "discharge line",
    "liquid line",
    "compressor",
    "gas supply",
    "manifold",
    "flue",
    "combustion air",
    "electric heat",
    "supply power",
)
"""Where in the unit diagram a reading may stand."""

RULES: Mapping[FigureKind, Rules] = MappingProxyType({
    FigureKind.PSYCHROMETRIC: Rules(
        uses={"barometer": Role("psia")},
        point={
            "dry_bulb": Role("°F"),
            "wet_bulb": Role("°F", required=False),
            "relative_humidity": Role("%", required=False),
            "humidity_ratio": Role("lb/lb", required=False),
        },
        one_of=_HUMIDITY,
        least=1,
        processes=True,
    ),
    FigureKind.PRESSURE_ENTHALPY: Rules(
        uses={
            "refrigerant": Role(TEXT),
            "suction": Role("psia"),
            "head": Role("psia"),
            "liquid": Role("psia"),
            "suction_line": Role("°F"),
            "liquid_line": Role("°F"),
            "discharge_line": Role("°F", required=False),
            "superheat": Role("Δ°F"),
            "subcooling": Role("Δ°F"),
        },
    ),
    FigureKind.PRESSURE_PROFILE: Rules(
        uses={
            "external": Role("in. w.c.", required=False),
            "rated_external": Role("in. w.c.", required=False),
        },
        point={"static": Role("in. w.c.")},
        least=2,
    ),
    FigureKind.TRAVERSE: Rules(
        uses={
            "shape": Role(TEXT),
            "rule": Role(TEXT),
            "width": Role("in.", required=False),
            "height": Role("in.", required=False),
            "diameter": Role("in.", required=False),
            "lines": Role(""),
            "points": Role(""),
            "velocity": Role("fpm", spread=True),
            "mean": Role("fpm", required=False),
        },
    ),
    FigureKind.MIXING: Rules(
        uses={
            "outdoor": Role("°F"),
            "return": Role("°F"),
            "mixed": Role("°F"),
            "fraction": Role("", required=False),
            "damper": Role("%", required=False),
        },
    ),
    FigureKind.UNIT: Rules(
        uses={
            "circuits": Role(""),
            "cooling_stages": Role(""),
            "compressors": Role(""),
            "compressor_circuit": Role("", required=False, spread=True),
            "condenser_fans": Role("", required=False),
            "indoor_fans": Role("", required=False),
            "metering": Role(TEXT, required=False),
            "heat_type": Role(TEXT),
            "gas_valve": Role(TEXT, required=False),
            "draft_inducers": Role("", required=False),
            "heat_stages": Role("", required=False),
            "electric_heat_stages": Role("", required=False),
            "outdoor_damper": Role(TEXT),
            "economizer": Role(TEXT, required=False),
            "relief": Role(TEXT, required=False),
        },
        point={"value": Role(ANY, spread=True)},
        places=PLACES,
    ),
})  # fmt: skip


def build_figure(
    file: str, head: schema.SectionTable, table: schema.FigureTable, faults: Faults
) -> Figure:
    """Return a figure's declaration; what it names is checked by `check_figures`."""
    return Figure(
        name=table.name,
        label=table.label,
        kind=table.kind,
        section=head.name,
        uses=MappingProxyType(dict(table.uses)),
        points=tuple(
            FigurePoint(point.name, point.label, MappingProxyType(dict(point.uses)), point.place)
            for point in table.point
        ),
        processes=tuple(
            FigureProcess(process.label, process.start, process.end) for process in table.process
        ),
        repeat=head.repeat if table.repeat is None else table.repeat,
        when=faults.formula(f"{file}, figure {table.name}", "when", table.when),
        source=table.source,
    )


def check_figures(form: Form, faults: Faults) -> None:
    """Add every fault of the form's figures but those of their `when`."""
    counts = Counter(figure.name for section in form.sections for figure in section.figures)
    for section in form.sections:
        for figure in section.figures:
            place = place_of_figure(section, figure)
            if counts[figure.name] > 1:
                rule = spoken(
                    "'{name}' is declared {count} times.",
                    name=figure.name,
                    count=counts[figure.name],
                )
                faults.add(place, rule)
            if any(_unknown_repeat(form, repeat, place, faults) for repeat in figure.repeat):
                continue
            _Check(form, section, figure, place, faults).check()


def place_of_figure(section: Section, figure: Figure) -> str:
    """Return where a figure stands, as faults name it."""
    return f"{section.file}, figure {figure.name}"


def _unknown_repeat(form: Form, repeat: str, place: str, faults: Faults) -> bool:
    if repeat in form.repeats:
        return False
    if not faults.is_lost(repeat):
        hint = near_miss(repeat, form.repeats)
        rule = spoken("'{name}' is not a repeat of this form.{hint}", name=repeat, hint=hint)
        faults.add(place, rule)
    return True


@dataclass(frozen=True)
class _Check:
    form: Form
    section: Section
    figure: Figure
    place: str
    faults: Faults

    @property
    def rules(self) -> Rules:
        return RULES[self.figure.kind]

    def add(self, rule: str) -> None:
        self.faults.add(self.place, rule)

    def check(self) -> None:
        figure, rules = self.figure, self.rules
        self._roles("uses", figure.uses, rules.uses)
        if figure.points and not rules.point:
            self.add(
                spoken("kind '{kind}' has no points; take [[figure.point]] away.", kind=figure.kind)
            )
            return
        if len(figure.points) < rules.least:
            self.add(
                spoken(
                    "has {count} points; kind '{kind}' needs {least}.",
                    count=len(figure.points),
                    kind=figure.kind,
                    least=rules.least,
                )
            )
        for name, count in Counter(point.name for point in figure.points).items():
            if count > 1:
                self.add(
                    spoken("point '{name}' is declared {count} times.", name=name, count=count)
                )
        for point in figure.points:
            self._point(point)
        self._processes()

    def _point(self, point: FigurePoint) -> None:
        rules = self.rules
        where = spoken("point '{name}'", name=point.name)
        self._roles(where, point.uses, rules.point)
        if rules.one_of:
            given = [role for role in rules.one_of if role in point.uses]
            if len(given) != 1:
                rule = spoken(
                    "uses {count} of {roles}; give exactly one.",
                    count=len(given),
                    roles=", ".join(rules.one_of),
                )
                self.add(f"{where}: {rule}")
        if rules.places and point.place not in rules.places:
            rule = spoken(
                "place '{place}' is none of {places}.{hint}",
                place=point.place,
                places=", ".join(rules.places),
                hint=near_miss(point.place, rules.places) if point.place else "",
            )
            self.add(f"{where}: {rule}")
        if point.place and not rules.places:
            rule = spoken("kind '{kind}' has no places.", kind=self.figure.kind)
            self.add(f"{where}: {rule}")

    def _processes(self) -> None:
        names = [point.name for point in self.figure.points]
        if self.figure.processes and not self.rules.processes:
            self.add(
                spoken(
                    "kind '{kind}' has no processes; take [[figure.process]] away.",
                    kind=self.figure.kind,
                )
            )
            return
        for process in self.figure.processes:
            for end in (process.start, process.end):
                if end not in names:
                    rule = spoken(
                        "process '{label}': '{name}' is no point of it.{hint}",
                        label=process.label,
                        name=end,
                        hint=near_miss(end, names),
                    )
                    self.add(rule)

    def _roles(self, where: str, uses: Mapping[str, str], roles: Mapping[str, Role]) -> None:
        for role in uses:
            if role not in roles:
                self.add(f"{where}: {self._no_role(role, roles)}")
        for role, wanted in roles.items():
            if role in uses:
                self._entry(f"{where}: {role}", uses[role], wanted)
            elif wanted.required:
                rule = spoken("'{role}' is missing; name the entry that is drawn.", role=role)
                self.add(f"{where}: {rule}")

    def _no_role(self, role: str, roles: Mapping[str, Role]) -> str:
        kind = self.figure.kind
        if not roles:
            return spoken("'{role}' is no role of kind '{kind}', which has none.",
                          role=role, kind=kind)  # fmt: skip
        return spoken(
            "'{role}' is no role of kind '{kind}'; it has {roles}.{hint}",
            role=role,
            kind=kind,
            roles=", ".join(roles),
            hint=near_miss(role, roles),
        )

    def _entry(self, where: str, name: str, role: Role) -> None:
        entry = self.form.by_name.get(name)
        if entry is None or isinstance(entry, Check):
            if not self.faults.is_lost(name):
                known = [e.name for e in self.form.entries() if not isinstance(e, Check)]
                rule = spoken(
                    "'{name}' is no field or quantity.{hint}",
                    name=name,
                    hint=near_miss(name, known),
                )
                self.add(f"{where}: {rule}")
            return
        level = self.form.section_by_name[entry.section].level
        if self.section.level is Level.PROJECT and level is Level.UNIT:
            rule = spoken(
                "'{name}' is asked for each unit; a project page cannot draw it.", name=name
            )
            self.add(f"{where}: {rule}")
        extra = [repeat for repeat in entry.repeat if repeat not in self.figure.repeat]
        if extra and not role.spread:
            rule = spoken(
                "'{name}' repeats over {repeats}, the figure does not; repeat the figure as well.",
                name=name,
                repeats=", ".join(extra),
            )
            self.add(f"{where}: {rule}")
        self._measure(where, entry, role)

    def _measure(self, where: str, entry: Field | Quantity, role: Role) -> None:
        if role.unit == ANY:
            return
        if role.unit == TEXT:
            if not _is_text(entry):
                rule = spoken("'{name}' is a number; a text is wanted.", name=entry.name)
                self.add(f"{where}: {rule}")
            return
        if _is_text(entry):
            rule = spoken("'{name}' is a text; a number is wanted.", name=entry.name)
            self.add(f"{where}: {rule}")
            return
        own, wanted = dimensions.measure_of(entry.unit), dimensions.measure_of(role.unit)
        if (own.dimension, own.datum) != (wanted.dimension, wanted.datum):
            rule = spoken(
                "'{name}' is in {unit}; {wanted} is wanted.",
                name=entry.name,
                unit=entry.unit or spoken("a plain number"),
                wanted=role.unit or spoken("a count"),
            )
            self.add(f"{where}: {rule}")


def _is_text(entry: Entry) -> bool:
    if isinstance(entry, Field):
        return entry.kind not in (Kind.NUMBER, Kind.INTEGER)
    return isinstance(entry, Quantity) and entry.text
