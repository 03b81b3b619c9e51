"""The sentences of verdicts, with their numbers in the units that the project shows."""

from __future__ import annotations

from dataclasses import dataclass

from commission.definitions.model import Check
from commission.formula.figures import ended, figure, told_apart, uncertainty_figure, with_unit
from commission.units import convert, difference_scale, shown_unit


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
        """Say by how much a limit is missed; the two numbers always read differently."""
        ours, theirs = self.number(number), self.number(limit)
        shown, bound = told_apart(ours, theirs, self.decimals)
        excess = figure(abs(ours - theirs), len(bound.partition(".")[2]))
        if not any(digit in "123456789" for digit in excess):
            excess = figure(abs(ours - theirs))
        suffix = f" {self.unit}" if self.unit else ""
        return f"{shown}{suffix} is {side} limit {bound}{suffix} by {excess}."

    def inside(self, number: float, low: float | None, high: float | None) -> str:
        """Say that a number keeps its limit."""
        if low is not None and high is not None:
            within = figure(self.number(low), self.decimals)
            words = f"within {within} to {self.with_unit(high)}"
        elif low is not None:
            words = f"at least {self.with_unit(low)}"
        else:
            words = f"at most {self.with_unit(high or 0.0)}"
        return ended(f"{self.with_unit(number)} is {words}")

    def near(self, expanded: float) -> str:
        """Say that the result is nearer its limit than its uncertainty."""
        scale = difference_scale(self.check.unit, self.unit)
        shown = f"±{uncertainty_figure(expanded * scale)} {self.unit}".rstrip()
        return ended(f"That is nearer the limit than the uncertainty of {shown}")

    def crossed(self, low: float, high: float) -> str:
        """Say that a low limit stands above its high one."""
        return (
            f"No limit yet: its low {self.with_unit(low)} is above its high "
            f"{self.with_unit(high)}; put one of them right."
        )
