"""Whether a form makes sense as a whole: names, repeats, units, rings, guards."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from commission.definitions.build import Faults
from commission.definitions.dependencies import dependencies
from commission.definitions.figures import check_figures, place_of_figure
from commission.definitions.model import (
    Check,
    Entry,
    Field,
    Form,
    Kind,
    Level,
    LimitKind,
    Quantity,
    Severity,
)
from commission.errors import CommissionError, FormulaError, UnitError
from commission.formula import dimensions
from commission.formula.functions import FUNCTIONS, FunctionKind
from commission.formula.graph import computing_order
from commission.formula.parse import unparse
from commission.formula.tree import (
    Call,
    Comparison,
    Name,
    Node,
    Text,
    children,
    names_in,
    numbered_repeats,
    walk,
)
from commission.language import listed, near_miss, spoken
from commission.units import unit


def check_meaning(form: Form, faults: Faults) -> None:
    """Add every fault of the form's meaning to `faults`."""
    _unique_names(form, faults)
    for entry in form.entries():
        _entry(form, entry, faults)
    for section in form.sections:
        place = f"{section.file}, section {section.name}"
        if section.when is not None:
            use = _Use(form, place, "when", (), section.level, faults)
            use.check(section.when, "condition")
        _guards(form, section.guarded_by, place, faults)
    for repeat in form.repeats.values():
        use = _Use(form, f"repeat {repeat.name}", "count", (), Level.UNIT, faults)
        use.check(repeat.count, "number")
    check_figures(form, faults)
    for section in form.sections:
        for figure in section.figures:
            if figure.when is not None and set(figure.repeat) <= set(form.repeats):
                place = place_of_figure(section, figure)
                use = _Use(form, place, "when", figure.repeat, section.level, faults)
                use.check(figure.when, "condition")
    _rings(form, faults)


def check_across(form: Form, form_file: str, faults: Faults) -> None:
    """Add every fault of the names that are set beside one another, unit by unit."""
    place = f"{form_file}, across"
    for name, count in Counter(form.across).items():
        if count > 1:
            rule = spoken("'{name}' is named {count} times; name it once.", name=name, count=count)
            faults.add(place, rule)
        entry = form.by_name.get(name)
        if entry is None and not faults.is_lost(name):
            hint = near_miss(name, form.by_name)
            rule = spoken("'{name}' is not declared in this form.{hint}", name=name, hint=hint)
            faults.add(place, rule)
        elif entry is not None and not _is_number_of_a_unit(form, entry):
            rule = spoken(
                "'{name}' is not a number of a unit, so units cannot be compared by it. Name a "
                "field of kind number, or a quantity that is no text, of a page of the unit.",
                name=name,
            )
            faults.add(place, rule)


def _is_number_of_a_unit(form: Form, entry: Entry) -> bool:
    if form.section_by_name[entry.section].level is not Level.UNIT or isinstance(entry, Check):
        return False
    if isinstance(entry, Field):
        return entry.kind in (Kind.NUMBER, Kind.INTEGER)
    return not entry.text


def place_of(form: Form, entry: Entry) -> str:
    """Return where an entry stands, as faults name it."""
    kind = type(entry).__name__.lower()
    return f"{form.section_by_name[entry.section].file}, {kind} {entry.name}"


def _unique_names(form: Form, faults: Faults) -> None:
    places: dict[str, list[str]] = {}
    for entry in form.entries():
        places.setdefault(entry.name, []).append(place_of(form, entry))
    for name, declared in places.items():
        if len(declared) > 1:
            rule = spoken(
                "'{name}' is declared {count} times; one name, one meaning.",
                name=name,
                count=len(declared),
            )
            faults.add(listed(declared), rule)
        elif name in FUNCTIONS:
            rule = spoken("'{name}' is the name of a function; choose another.", name=name)
            faults.add(declared[0], rule)
    for name, count in Counter(section.name for section in form.sections).items():
        if count > 1:
            rule = spoken("'{name}' is declared {count} times.", name=name, count=count)
            faults.add(f"section {name}", rule)


def _entry(form: Form, entry: Entry, faults: Faults) -> None:
    place = place_of(form, entry)
    level = form.section_by_name[entry.section].level
    for repeat in entry.repeat:
        if repeat not in form.repeats and faults.is_lost(repeat):
            return
        if repeat not in form.repeats:
            hint = near_miss(repeat, form.repeats)
            rule = spoken("'{name}' is not a repeat of this form.{hint}", name=repeat, hint=hint)
            faults.add(place, rule)
            return
    try:
        for code in _units_of(entry):
            unit(code)
    except UnitError as error:
        faults.add(place, str(error))
        return
    use = _Use(form, place, "when", entry.repeat, level, faults)
    if entry.when is not None:
        use.check(entry.when, "condition")
    if isinstance(entry, Quantity):
        use.named("formula").check(entry.formula, "value", entry.unit, entry.text)
    elif isinstance(entry, Check):
        _check(form, entry, use, faults)


def _units_of(entry: Entry) -> list[str]:
    axes = (entry.rows, entry.columns, entry.body) if isinstance(entry, Field) else ()
    return [entry.unit, *(axis.unit for axis in axes if axis is not None)]


def _check(form: Form, check: Check, use: _Use, faults: Faults) -> None:
    judged = form.by_name.get(check.judges)
    if judged is None and faults.is_lost(check.judges):
        return
    if judged is None or isinstance(judged, Check):
        known = [entry.name for entry in form.entries() if not isinstance(entry, Check)]
        hint = near_miss(check.judges, known)
        rule = spoken(
            "judges '{name}', which is no field or quantity.{hint}", name=check.judges, hint=hint
        )
        faults.add(use.place, rule)
        return
    if check.limit is LimitKind.IS:
        choices = judged.choices if isinstance(judged, Field) else ()
        if choices and check.expected not in choices:
            rule = spoken(
                "expected '{answer}' is none of {choices}.{hint}",
                answer=check.expected,
                choices=_quoted(choices),
                hint=near_miss(check.expected, choices),
            )
            faults.add(use.place, rule)
        elif isinstance(_sort(judged), dimensions.Measure):
            rule = spoken(
                "holds the number '{name}' to a text; use limit 'range', 'at most', 'at least' or "
                "'target'.",
                name=check.judges,
            )
            faults.add(use.place, rule)
            return
    elif isinstance(_sort(judged), dimensions.TextSort):
        rule = spoken("holds the text '{name}' to numbers; use limit 'is'.", name=check.judges)
        faults.add(use.place, rule)
        return
    if isinstance(_sort(judged), dimensions.TableSort):
        rule = spoken("'{name}' is a table; judge a quantity read from it.", name=check.judges)
        faults.add(use.place, rule)
        return
    for part in check.parts:
        tree = getattr(check, part)
        if tree is not None:
            code = "%" if part == "tolerance_percent" else check.unit
            difference = part == "tolerance"
            use.named(part).check(tree, "value", code, difference=difference)


def _guards(form: Form, guards: Sequence[str], place: str, faults: Faults) -> None:
    for name in guards:
        guard = form.by_name.get(name)
        if guard is None and faults.is_lost(name):
            continue
        if not isinstance(guard, Check) or guard.severity is not Severity.STOP:
            stops = [
                entry.name
                for entry in form.entries()
                if isinstance(entry, Check) and entry.severity is Severity.STOP
            ]
            rule = spoken(
                "guarded_by '{name}' is no stop check.{hint}",
                name=name,
                hint=near_miss(name, stops),
            )
            faults.add(place, rule)


def _sort(entry: Entry) -> dimensions.Sort:
    if isinstance(entry, Field) and entry.rows is not None and entry.body is not None:
        columns = None if entry.columns is None else entry.columns.unit
        return dimensions.TableSort(entry.rows.unit, columns, entry.body.unit)
    if isinstance(entry, Field) and entry.kind not in (Kind.NUMBER, Kind.INTEGER):
        return dimensions.TextSort()
    if isinstance(entry, Quantity) and entry.text:
        return dimensions.TextSort()
    return dimensions.measure_of(entry.unit)


@dataclass(frozen=True)
class _Use:
    """One formula in its place: who may be named in it, and what it must give."""

    form: Form
    place: str
    key: str
    repeats: Sequence[str]
    level: Level
    faults: Faults

    def named(self, key: str) -> _Use:
        return _Use(self.form, self.place, key, self.repeats, self.level, self.faults)

    def check(
        self, node: Node, wanted: str, code: str = "", text: bool = False, difference: bool = False
    ) -> None:
        before = len(self.faults.sentences)
        self._names(node)
        self._choices(node)
        if len(self.faults.sentences) > before or self._uses_lost(node):
            return
        try:
            sort = dimensions.sort_of(node, lambda name: _sort(self.form.by_name[name]))
            wrong = self._unfit(sort, wanted, code, text, difference)
        except CommissionError as error:
            wrong = str(error)
        if wrong:
            self.faults.add(self.place, f"{self.key} '{unparse(node)}': {wrong}")

    def _unfit(
        self, sort: dimensions.Sort, wanted: str, code: str, text: bool, difference: bool
    ) -> str:
        if wanted == "condition":
            return "" if isinstance(sort, dimensions.Condition) else spoken("is not a condition.")
        if wanted == "number":
            return "" if isinstance(sort, dimensions.Measure) else spoken("is not a number.")
        if difference and isinstance(sort, dimensions.Measure):
            declared = dimensions.measure_of(code)
            same = sort.literal or (sort.dimension == declared.dimension and sort.datum == 0)
            return "" if same else spoken("is no difference in {unit}.", unit=code)
        return dimensions.fits(sort, code, text)

    def _uses_lost(self, node: Node) -> bool:
        return any(name not in self.form.by_name for name in names_in(node))

    def _names(self, node: Node) -> None:
        for name in names_in(node):
            entry = self.form.by_name.get(name)
            if entry is None and self.faults.is_lost(name):
                continue
            if entry is None or isinstance(entry, Check):
                known = [e.name for e in self.form.entries() if not isinstance(e, Check)]
                hint = near_miss(name, known)
                self._fault(spoken("'{name}' is not defined.{hint}", name=name, hint=hint))
            elif self.level is Level.PROJECT and self._level(entry) is Level.UNIT:
                self._fault(
                    spoken(
                        "'{name}' is asked for each unit; a project page cannot use it.", name=name
                    )
                )
        for part, aggregated in _named_parts(node):
            self._repeat(part, aggregated)
        for repeat in numbered_repeats(node):
            if repeat not in self.repeats:
                self._fault(self._no_number_of(repeat))

    def _no_number_of(self, repeat: str) -> str:
        if not self.repeats:
            return spoken(
                "number_of({repeat}) needs a repeat of the entry itself, which has no repeat.",
                repeat=repeat,
            )
        return spoken(
            "number_of({repeat}) needs a repeat of the entry itself, which repeats over "
            "{own}.{hint}",
            repeat=repeat,
            own=", ".join(self.repeats),
            hint=near_miss(repeat, self.repeats),
        )

    def _level(self, entry: Entry) -> Level:
        return self.form.section_by_name[entry.section].level

    def _repeat(self, part: Node, aggregated: bool) -> None:
        if not isinstance(part, Name):
            self._fault(
                spoken(
                    "'{part}': an aggregate and 'known' take one plain name.", part=unparse(part)
                )
            )
            return
        entry = self.form.by_name.get(part.name)
        extra = [repeat for repeat in entry.repeat if repeat not in self.repeats] if entry else []
        if extra and not aggregated:
            self._fault(
                spoken(
                    "'{name}' repeats over {repeats}, this does not. Use an aggregate such as "
                    "sum_of or mean_of, or repeat this as well.",
                    name=part.name,
                    repeats=", ".join(extra),
                )
            )
        if entry and not extra and aggregated:
            self._fault(
                spoken("'{name}' has one value here; an aggregate needs several.", name=part.name)
            )

    def _choices(self, node: Node) -> None:
        for part in walk(node):
            if not isinstance(part, Comparison):
                continue
            for side, other in ((part.left, part.right), (part.right, part.left)):
                self._choice(side, other)

    def _choice(self, side: Node, other: Node) -> None:
        if not (isinstance(side, Name) and isinstance(other, Text)):
            return
        entry = self.form.by_name.get(side.name)
        if isinstance(entry, Field) and entry.choices and other.value not in entry.choices:
            self._fault(
                spoken(
                    "'{answer}' is no choice of {name}: {choices}.{hint}",
                    answer=other.value,
                    name=side.name,
                    choices=_quoted(entry.choices),
                    hint=near_miss(other.value, entry.choices),
                )
            )

    def _fault(self, rule: str) -> None:
        self.faults.add(self.place, f"{self.key}: {rule}")


def _quoted(words: Sequence[str]) -> str:
    return ", ".join(f"'{word}'" for word in words)


def _named_parts(node: Node) -> Iterator[tuple[Node, bool]]:
    """Yield each name (or what stands where one must), and whether an aggregate holds it."""
    if isinstance(node, Call):
        kind = FUNCTIONS[node.function].kind
        if kind in (FunctionKind.AGGREGATE, FunctionKind.PRESENCE):
            for argument in node.arguments:
                yield argument, kind is FunctionKind.AGGREGATE
            return
    if isinstance(node, Name):
        yield node, False
    for child in children(node):
        yield from _named_parts(child)


def _rings(form: Form, faults: Faults) -> None:
    try:
        computing_order(dependencies(form))
    except FormulaError as error:
        faults.add(spoken("form"), str(error))
