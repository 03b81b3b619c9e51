"""One unit computed: readings and limits in, values, uncertainties and verdicts out.

A change of one reading re-computes only what depends on it; a change that decides which
pages or members exist (a configuration answer) re-computes the unit.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import InitVar, dataclass, field, replace

from commission.definitions.model import Basis, Check, Field, Figure, Key, Quantity
from commission.errors import UnitError
from commission.formula.evaluate import (
    MISSING,
    Content,
    Scope,
    State,
    Value,
    chosen_branch,
    compute,
    evaluate,
    known,
    needs,
)
from commission.formula.functions import FUNCTIONS
from commission.formula.graph import (
    Index,
    all_members,
    matching_index,
    matching_members,
    touches,
)
from commission.formula.tree import Call, Node
from commission.formula.uncertainty import Budget, Instrument, budget, derivative
from commission.language import spoken
from commission.units import difference_scale
from commission.validation.plan import Plan
from commission.validation.verdict import AppliedLimit, DecisionRule, Verdict, judge


@dataclass(frozen=True, slots=True)
class Given:
    """What was read: a content, or a reason why it does not apply; by which instrument."""

    content: Content | None = None
    not_applicable: str = ""
    instrument: str = ""


@dataclass(frozen=True, slots=True)
class GivenLimit:
    """Limit parts a person entered, with where they came from, or a default confirmed."""

    parts: Mapping[str, float]
    origin: str
    confirmed: bool = False


@dataclass(frozen=True, slots=True)
class MeasuringInstrument:
    """An instrument's accuracy terms in its own unit."""

    accuracy: Instrument
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Decision:
    """How verdicts are taken and shown: the rule, the coverage factor k, the unit system."""

    rule: DecisionRule = DecisionRule.SIMPLE
    coverage_factor: float = 2.0
    unit_system: str = "IP"


class Verdicts(Mapping[Key, Verdict]):
    """The verdicts of a unit, each judged when it is first looked at after a change.

    A reading reaches checks all over the form, and what a check costs is mostly the uncertainty
    of what it judges; while a person types, only those on the open page are looked at.
    """

    def __init__(self, judged: Callable[[Key], Verdict]) -> None:
        self._judged = judged
        self._known: dict[Key, Verdict | None] = {}

    def __getitem__(self, key: Key) -> Verdict:
        known = self._known[key]
        if known is None:
            known = self._known[key] = self._judged(key)
        return known

    def __iter__(self) -> Iterator[Key]:
        return iter(self._known)

    def __len__(self) -> int:
        return len(self._known)

    def __contains__(self, key: object) -> bool:
        return key in self._known

    def judge_anew(self, key: Key) -> None:
        """Something that a verdict rests on has changed."""
        self._known[key] = None

    def clear(self) -> None:
        """Forget all of them."""
        self._known.clear()


@dataclass
class Calculation:
    """The live results of one unit (project pages included).

    They are there once it is made; with `at_once` false, once `computing` has been run through.
    """

    plan: Plan
    given: dict[Key, Given] = field(default_factory=dict)
    limits: dict[Key, GivenLimit] = field(default_factory=dict)
    instruments: Mapping[str, MeasuringInstrument] = field(default_factory=dict)
    decision: Decision = field(default_factory=Decision)
    at_once: InitVar[bool] = True
    values: dict[Key, Value] = field(default_factory=dict, init=False)
    verdicts: Verdicts = field(init=False)
    counts: dict[str, int] = field(default_factory=dict, init=False)
    _members: dict[str, tuple[Index, ...]] = field(default_factory=dict, init=False)
    _indexes: dict[tuple[str, ...], tuple[Index, ...]] = field(default_factory=dict, init=False)
    _asked: dict[str, tuple[Index, ...]] = field(default_factory=dict, init=False)
    _matching: dict[tuple[str, Sequence[str], Index], list[Key]] = field(
        default_factory=dict, init=False
    )
    _sensitivities: dict[Key, dict[Key, float]] = field(default_factory=dict, init=False)
    _relevant: dict[Key, bool] = field(default_factory=dict, init=False)
    _uncertainties: dict[Key, tuple[float, float]] = field(default_factory=dict, init=False)

    def __post_init__(self, at_once: bool) -> None:
        self.verdicts = Verdicts(self._judged)
        if at_once:
            self.compute_all()

    # -- computing -----------------------------------------------------------------

    def compute_all(self) -> None:
        """Compute everything from the readings."""
        for _ in self.computing():
            pass

    def computing(self) -> Iterator[None]:
        """Compute everything, in pieces of well under a millisecond."""
        self.values.clear()
        self.verdicts.clear()
        self._sensitivities.clear()
        self._relevant.clear()
        self._uncertainties.clear()
        self.counts.clear()
        self._members.clear()
        self._indexes.clear()
        self._asked.clear()
        self._matching.clear()
        for name in self.plan.order:
            for index in self.members(name):
                self._compute(Key(name, index))
            yield

    def give(self, key: Key, reading: Given | None) -> set[Key]:
        """Take in a new reading (None clears it); return the keys that were re-computed."""
        if reading is None:
            self.given.pop(key, None)
        else:
            self.given[key] = reading
        if key.name in self.plan.structural:
            self.compute_all()
            return set(self.values) | set(self.verdicts)
        # A reading of a member that is not there now is kept, for when it is there again.
        return self._recompute(key) if key.index in self.members(key.name) else set()

    def give_limit(self, key: Key, limit: GivenLimit | None) -> set[Key]:
        """Take in limit parts for a check (index () for all members); return changed checks."""
        if limit is None:
            self.limits.pop(key, None)
        else:
            self.limits[key] = limit
        changed = {Key(key.name, index) for index in self.members(key.name)}
        for check in changed:
            self._compute(check)
        return changed

    def members(self, name: str) -> tuple[Index, ...]:
        """Return the indexes of all members of an entry, in reading order."""
        found = self._members.get(name)
        if found is None:
            found = self._members[name] = self._members_over(self.plan.repeats[name])
        return found

    def _members_over(self, repeats: tuple[str, ...]) -> tuple[Index, ...]:
        """Return the indexes over some repeats, which many entries have in common."""
        found = self._indexes.get(repeats)
        if found is None:
            for repeat in repeats:
                self._count(repeat)
            found = self._indexes[repeats] = all_members(repeats, self.counts)
        return found

    def asked_members(self, name: str) -> tuple[Index, ...]:
        """Return the indexes of those members that the form asks, computes or judges."""
        found = self._asked.get(name)
        if found is None:
            members = self.members(name)
            found = tuple(index for index in members if self.relevant(Key(name, index)))
            self._asked[name] = found
        return found

    def _recompute(self, key: Key) -> set[Key]:
        dirty: dict[str, set[Index]] = {key.name: {key.index}}
        asked_anew = self.plan.relevance_reached_from(key.name)
        self._compute(key, False)
        done = {key}
        for name in self.plan.reached_from(key.name):
            for index in self.members(name):
                if self._touched(name, index, dirty):
                    self._compute(Key(name, index), name in asked_anew)
                    dirty.setdefault(name, set()).add(index)
                    done.add(Key(name, index))
        return done

    def _touched(self, name: str, index: Index, dirty: Mapping[str, set[Index]]) -> bool:
        repeats = self.plan.repeats
        own = repeats[name]
        for used in self.plan.dependencies[name]:
            changed = dirty.get(used)
            if changed is None:
                continue
            if not own or not repeats[used]:  # what is there once reaches every member
                return True
            if any(touches(repeats[used], place, own, index) for place in changed):
                return True
        return False

    def _count(self, repeat_name: str) -> int:
        if repeat_name not in self.counts:
            repeat = self.plan.form.repeats[repeat_name]
            number = evaluate(repeat.count, _Scope(self, (), ())).number or 0.0
            self.counts[repeat_name] = max(0, min(int(number), repeat.maximum))
        return self.counts[repeat_name]

    def _compute(self, key: Key, asked_anew: bool = True) -> None:
        self._sensitivities.pop(key, None)
        if asked_anew:
            self._relevant.pop(key, None)
            self._asked.pop(key.name, None)
        self._uncertainties.pop(key, None)
        entry = self.plan.entries[key.name]
        if isinstance(entry, Check):
            self.verdicts.judge_anew(key)
        elif isinstance(entry, Field):
            self.values[key] = self._field_value(entry, key)
        else:
            self.values[key] = self._quantity_value(entry, key)

    def relevant(self, key: Key) -> bool:
        """Return whether the form asks, computes or judges this member at all."""
        found = self._relevant.get(key)
        if found is None:
            found = self._relevant[key] = self._is_relevant(key)
        return found

    def _is_relevant(self, key: Key) -> bool:
        entry = self.plan.entries[key.name]
        page = self.plan.form.section_by_name[entry.section].when
        scope = self.scope(key)
        if not all(_holds(tree, scope) for tree in (page, entry.when)):
            return False
        return not isinstance(entry, Check) or self.relevant(Key(entry.judges, key.index))

    def figure_members(self, figure: Figure) -> tuple[Index, ...]:
        """Return the members of a figure that the configuration has."""
        for repeat in figure.repeat:
            self._count(repeat)
        page = self.plan.form.section_by_name[figure.section].when
        return tuple(
            index
            for index in all_members(figure.repeat, self.counts)
            if all(_holds(tree, self.figure_scope(figure, index)) for tree in (page, figure.when))
        )

    def figure_scope(self, figure: Figure, index: Index) -> _Scope:
        """Return where a figure's member finds the entries that it names."""
        return _Scope(self, figure.repeat, index)

    def scope(self, key: Key) -> _Scope:
        """Return where the formulas of `key` find their names."""
        return _Scope(self, self.plan.repeats[key.name], key.index)

    def _field_value(self, entry: Field, key: Key) -> Value:
        if not self.relevant(key):
            return _not_asked()
        reading = self.given.get(key)
        if reading is None:
            return Value(State.MISSING, reason=entry.label)
        if reading.not_applicable:
            return Value(State.NOT_APPLICABLE, reason=reading.not_applicable)
        return MISSING if reading.content is None else known(reading.content)

    def _quantity_value(self, entry: Quantity, key: Key) -> Value:
        if not self.relevant(key):
            return _not_asked()
        value = evaluate(entry.formula, self.scope(key))
        if value.state is State.MISSING and value.reason:
            return replace(value, reason=self._roots(value.reason.split(", "), self.scope(key)))
        return value

    def _roots(self, names: Sequence[str], scope: _Scope) -> str:
        """Return the labels of the readings that are wanting at the bottom of it all."""
        found: dict[str, None] = {}
        for name in names:
            label = self.plan.entries[name].label
            own = set(self.plan.repeats[name]) <= set(scope.repeats)
            for value in [scope.value(name)] if own else scope.members(name) or [MISSING]:
                if value.state is State.FAULT:
                    found[spoken("{label} (cannot be computed)", label=label)] = None
                elif value.state is State.MISSING:
                    found.update(
                        dict.fromkeys(value.reason.split("; ") if value.reason else [label])
                    )
        return "; ".join(found)

    # -- limits and verdicts -------------------------------------------------------

    def _judged(self, key: Key) -> Verdict:
        check = self.plan.entries[key.name]
        assert isinstance(check, Check)
        limit = self.limit(key)
        judged = Key(check.judges, key.index)
        value = self.values.get(judged, MISSING)
        if not self.relevant(key):
            value = _not_asked()
        expanded = self.expanded(judged) if value.number is not None else None
        decision = self.decision
        return judge(check, key.index, value, limit, expanded, decision.rule, decision.unit_system)

    def limit(self, key: Key) -> AppliedLimit:
        """Return the limit in force for a check: entered parts over the form's defaults."""
        check = self.plan.entries[key.name]
        assert isinstance(check, Check)
        entered = self.limits.get(key) or self.limits.get(Key(key.name))
        parts: dict[str, Value] = {}
        defaults = False
        for part in check.parts:
            tree: Node | None = getattr(check, part)
            if entered is not None and part in entered.parts:
                parts[part] = known(float(entered.parts[part]))
            elif tree is not None:
                parts[part] = evaluate(tree, self.scope(key))
                defaults = True
            else:
                parts[part] = MISSING
        confirmed = entered is not None and entered.confirmed
        origin = self._origin(check, entered, defaults)
        # A limit computed from the plate's own entered values is not a default of ours.
        is_default = defaults and not confirmed and check.basis is not Basis.NAMEPLATE
        return AppliedLimit(parts, origin, is_default, confirmed)

    def _origin(self, check: Check, entered: GivenLimit | None, defaults: bool) -> str:
        words = [entered.origin] if entered is not None and entered.origin else []
        if defaults and check.basis is not None:
            basis = spoken(check.basis)
            words.append(f"{basis}: {check.source}" if check.source else basis)
        return "; ".join(words)

    # -- uncertainty ---------------------------------------------------------------

    def sensitivities(self, key: Key) -> Mapping[Key, float]:
        """Return the derivative of a value to each instrument reading it rests on."""
        if key not in self._sensitivities:
            self._sensitivities[key] = self._sensitivities_of(key)
        return self._sensitivities[key]

    def _sensitivities_of(self, key: Key) -> dict[Key, float]:
        entry = self.plan.entries[key.name]
        value = self.values.get(key, MISSING)
        if value.number is None:
            return {}
        if isinstance(entry, Field):
            reading = self.given.get(key)
            return {key: 1.0} if reading and reading.instrument in self.instruments else {}
        assert isinstance(entry, Quantity)
        scope = self.scope(key)
        branch = chosen_branch(entry.formula, scope)
        if isinstance(branch, Value):
            return {}
        total: dict[Key, float] = {}
        inputs = dict.fromkeys(_inputs(branch, scope))
        one_slope = _linear_slope(branch, len(inputs))
        for used in inputs:
            below = self.sensitivities(used)
            if below:
                slope = one_slope or self._slope(branch, scope, used)
                for reading_key, sensitivity in below.items():
                    total[reading_key] = total.get(reading_key, 0.0) + slope * sensitivity
        return total

    def _slope(self, branch: Node, scope: _Scope, used: Key) -> float:
        def moved(number: float) -> float:
            where = _Scope(scope.calculation, scope.repeats, scope.index, (used, known(number)))
            return float(compute(branch, where))

        number = self.values[used].number
        assert number is not None
        try:
            return derivative(moved, number)
        except ArithmeticError:
            return 0.0

    def reading_uncertainty(self, key: Key) -> float:
        """Return the standard uncertainty of one reading, in the unit of its field."""
        return math.hypot(*self._uncertainty_parts(key))

    def _uncertainty_parts(self, key: Key) -> tuple[float, float]:
        """Return the part of u shared by all readings of the instrument, and the reading's own."""
        found = self._uncertainties.get(key)
        if found is None:
            found = self._uncertainties[key] = self._uncertainty_of(key)
        return found

    def _uncertainty_of(self, key: Key) -> tuple[float, float]:
        reading = self.given.get(key)
        number = self.values.get(key, MISSING).number
        if reading is None or number is None or reading.instrument not in self.instruments:
            return 0.0, 0.0
        measuring = self.instruments[reading.instrument]
        scale = accuracy_scale(measuring.unit, self.plan.entries[key.name].unit)
        accuracy = measuring.accuracy
        return accuracy.shared_uncertainty(number, scale), accuracy.own_uncertainty(scale)

    def budget(self, key: Key) -> Budget[str]:
        """Return the uncertainty budget of a value by instrument."""
        sensitivities = self.sensitivities(key)
        parts = {reading: self._uncertainty_parts(reading) for reading in sensitivities}
        shared = {reading: part[0] for reading, part in parts.items()}
        own = {reading: part[1] for reading, part in parts.items()}
        instruments = {reading: self.given[reading].instrument for reading in sensitivities}
        return budget(sensitivities, shared, instruments, own)

    def expanded(self, key: Key) -> float | None:
        """Return the expanded uncertainty of a value, or None where no instrument is named."""
        if not self.sensitivities(key):
            return None
        return self.budget(key).expanded(self.decision.coverage_factor)

    def dominating_reading(self, key: Key) -> Key | None:
        """Return the reading that contributes most to a value's uncertainty."""
        shares = {
            reading: abs(slope) * self.reading_uncertainty(reading)
            for reading, slope in self.sensitivities(key).items()
        }
        return max(shares, key=shares.__getitem__) if shares else None


@dataclass(frozen=True, slots=True)
class _Scope:
    """A formula's view of the calculation, from one member; one value may be moved."""

    calculation: Calculation
    repeats: Sequence[str]
    index: Index
    moved: tuple[Key, Value] | None = None

    def value(self, name: str) -> Value:
        return self._at(self.key(name))

    def members(self, name: str) -> list[Value]:
        keys = self.member_keys(name)
        values = self.calculation.values
        found = [values.get(key, MISSING) for key in keys]
        if self.moved is not None and self.moved[0] in keys:
            found[keys.index(self.moved[0])] = self.moved[1]
        return found

    def number_of(self, repeat: str) -> int:
        return self.index[list(self.repeats).index(repeat)]

    def member_keys(self, name: str) -> list[Key]:
        calculation = self.calculation
        place = (name, self.repeats, self.index)
        found = calculation._matching.get(place)
        if found is None:
            wanted = calculation.plan.repeats[name]
            for repeat in wanted:
                calculation._count(repeat)
            indexes = matching_members(wanted, self.repeats, self.index, calculation.counts)
            found = calculation._matching[place] = [Key(name, index) for index in indexes]
        return found

    def key(self, name: str) -> Key:
        plan = self.calculation.plan
        wanted = plan.repeats[name]
        if not wanted:
            return plan.only_keys[name]
        if wanted == self.repeats:
            return Key(name, self.index)
        return Key(name, matching_index(wanted, self.repeats, self.index))

    def _at(self, key: Key) -> Value:
        if self.moved is not None and self.moved[0] == key:
            return self.moved[1]
        return self.calculation.values.get(key, MISSING)


def _not_asked() -> Value:
    return Value(State.NOT_APPLICABLE, reason=spoken("not asked for this configuration"))


def _holds(tree: Node | None, scope: Scope) -> bool:
    return tree is None or evaluate(tree, scope).content is True


def _linear_slope(branch: Node, members: int) -> float:
    """Return the one slope of a bare sum or mean of many members, else 0.

    A traverse has dozens of points; moving each in turn would cost the square of that.
    """
    slope = FUNCTIONS[branch.function].member_slope if isinstance(branch, Call) else None
    return slope(members) if slope is not None else 0.0


def _inputs(branch: Node, scope: _Scope) -> Iterator[Key]:
    for name, all_of_them in needs(branch):
        yield from scope.member_keys(name.name) if all_of_them else (scope.key(name.name),)


def accuracy_scale(source: str, target: str) -> float:
    """Return how many `target` one `source` is, or 1 for an accuracy stated in no unit of it."""
    try:
        return difference_scale(source, target) if source else 1.0
    except UnitError:
        return 1.0
