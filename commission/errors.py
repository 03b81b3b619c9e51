"""Every fault the program can name, one class for each thing a person can put right.

Inner code says what is wrong; code further out adds where (`at`). A message reads
place, rule with the values, cure.
"""

from __future__ import annotations

from collections.abc import Sequence


class CommissionError(Exception):
    """Root of all errors that are shown to a person as a sentence, never as a traceback."""

    def at(self, place: str) -> CommissionError:
        """Return the same error with `place` set before its message."""
        return type(self)(f"{place}: {self}")


class ReadingError(CommissionError):
    """A reading or a computed value cannot be what it says; the cure is to read again."""


class AmbiguousNumberError(ReadingError):
    """A mark in a number could be the decimal one or that of the thousands."""


class UnitError(CommissionError):
    """A unit is unknown, or two quantities of different kinds are mixed."""


class FormulaError(CommissionError):
    """A formula in a form file cannot be read or used."""


class FormError(CommissionError):
    """One or more faults in form files. `faults` holds them all, one sentence each."""

    def __init__(self, faults: str | Sequence[str]) -> None:
        self.faults = (faults,) if isinstance(faults, str) else tuple(faults)
        super().__init__("\n".join(self.faults))

    def at(self, place: str) -> FormError:
        """Return the same faults, each with `place` set before it."""
        return FormError([f"{place}: {fault}" for fault in self.faults])


class ProjectFileError(CommissionError):
    """A project file cannot be opened, read or written."""


class StoreError(CommissionError):
    """A portfolio store cannot be reached, read or added to."""


class OutputError(CommissionError):
    """An output (workbook, package, record) cannot be written; the project is untouched."""


class IncomingFileError(CommissionError):
    """A file that came back cannot be taken: hostile, damaged, foreign, or no workbook of ours."""
