"""The sentences of verdicts, with their numbers in the units that the project shows."""

from __future__ import annotations

from dataclasses import dataclass

from commission.definitions.model import Check
from commission.formula.figures import ended, figure, told_apart, uncertainty_figure, with_unit
from commission.language import spoken, to_say
from commission.project.records import pass_words as pass_words
from commission.units import convert, difference_scale, shown_unit

_BELOW = to_say("{shown} is below the low limit {bound} by {excess}.")
_ABOVE = to_say("{shown} is above the high limit {bound} by {excess}.")

# Words that are stored and judged as they are, and said where they are shown.
PASSES = (to_say("as found"), to_say("as left"))
OUTCOMES = (
    to_say("pass"),
    to_say("fail"),
    to_say("inconclusive"),
    to_say("missing"),
    to_say("not applicable"),
)
STATES = (
    to_say("stopped"),
    to_say("blocked"),
    to_say("failing"),
    to_say("not started"),
    to_say("done"),
    to_say("not yet done"),
    to_say("limit missing"),
    to_say("begun"),
    to_say("stop"),
)
STATUSES = (
    to_say("open"),
    to_say("corrected"),
    to_say("accepted"),
    to_say("deferred"),
    to_say("withdrawn"),
)
ROLES = (to_say("recorded"), to_say("witnessed"), to_say("accepted"))
SETTINGS_WORDS = (to_say("simple acceptance"), to_say("guarded acceptance"))
BASES = (to_say("common practice"), to_say("published"), to_say("nameplate"))
LOG_WORDS = (to_say("not known"), to_say("unchanged"))


@dataclass(frozen=True, slots=True)
class Sentences:
    """What is said of one check in one unit system ("IP" or "SI").

    Numbers come in the form's own unit and are converted here, for showing alone.
    """

    check: Check
    unit_system: str = "IP"

    @property
    def unit(self) -> str:
        """The unit in which the numbers stand."""
        return shown_unit(self.check.unit, self.unit_system)

    @property
    def decimals(self) -> int | None:
        """The form's decimals, which fit its own unit only."""
        return self.check.decimals if self.unit == self.check.unit else None

    def number(self, value: float) -> float:
        """Return a number of the form's unit in the unit shown."""
        return convert(value, self.check.unit, self.unit)

    def with_unit(self, value: float) -> str:
        """Return a number with the unit shown."""
        return with_unit(self.number(value), self.unit, self.decimals)

    def outside(self, number: float, limit: float, side: str) -> str:
        """Say by how much the "low" or "high" limit is missed; the numbers read differently."""
        ours, theirs = self.number(number), self.number(limit)
        shown, bound = told_apart(ours, theirs, self.decimals)
        excess = figure(abs(ours - theirs), len(bound.partition(".")[2]))
        if not any(digit in "123456789" for digit in excess):
            excess = figure(abs(ours - theirs))
        suffix = f" {self.unit}" if self.unit else ""
        said = _BELOW if side == "low" else _ABOVE
        return spoken(said, shown=f"{shown}{suffix}", bound=f"{bound}{suffix}", excess=excess)

    def inside(self, number: float, low: float | None, high: float | None) -> str:
        """Say that a number keeps its limit."""
        shown = self.with_unit(number)
        if low is not None and high is not None:
            within, top = figure(self.number(low), self.decimals), self.with_unit(high)
            return ended(
                spoken("{shown} is within {low} to {high}", shown=shown, low=within, high=top)
            )
        if low is not None:
            return ended(spoken("{shown} is at least {low}", shown=shown, low=self.with_unit(low)))
        top = self.with_unit(high or 0.0)
        return ended(spoken("{shown} is at most {high}", shown=shown, high=top))

    def near(self, expanded: float) -> str:
        """Say that the result is nearer its limit than its uncertainty."""
        scale = difference_scale(self.check.unit, self.unit)
        shown = f"±{uncertainty_figure(expanded * scale)} {self.unit}".rstrip()
        return ended(
            spoken("That is nearer the limit than the uncertainty of {shown}", shown=shown)
        )

    def crossed(self, low: float, high: float) -> str:
        """Say that a low limit stands above its high one."""
        return spoken(
            "No limit yet: its low {low} is above its high {high}; put one of them right.",
            low=self.with_unit(low),
            high=self.with_unit(high),
        )
