"""What is still open in a unit, in words: for the person who is about to sign for it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from commission.definitions.model import Key, Severity
from commission.validation.results import UnitResults
from commission.validation.verdict import Outcome, Verdict


@dataclass(frozen=True, slots=True)
class OpenPoints:
    """Sentences by what they are about; all empty where nothing is open."""

    stops: tuple[str, ...] = ()
    failures: tuple[str, ...] = ()
    inconclusive: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    deficiencies: tuple[str, ...] = ()

    def groups(self) -> list[tuple[str, tuple[str, ...]]]:
        """Return (heading, sentences) of what is open, the gravest first."""
        found = [
            (_counted(self.stops, "stop", "stops"), self.stops),
            (_counted(self.failures, "failure", "failures"), self.failures),
            (f"{len(self.inconclusive)} inconclusive", self.inconclusive),
            (_counted(self.missing, "page not complete", "pages not complete"), self.missing),
            (
                _counted(self.deficiencies, "open deficiency", "open deficiencies"),
                self.deficiencies,
            ),
        ]
        return [(heading, sentences) for heading, sentences in found if sentences]

    def counted(self) -> str:
        """Return the counts in one line, or "nothing"."""
        return ", ".join(heading for heading, _ in self.groups()) or "nothing"

    def statement(self) -> str:
        """Return what a signature says of it."""
        if not self.groups():
            return "Nothing was open when signed."
        said = (f"{heading}: {'; '.join(sentences)}" for heading, sentences in self.groups())
        return f"Open when signed. {'. '.join(text.rstrip('.') for text in said)}."


def open_points(results: UnitResults, deficiencies: tuple[str, ...] = ()) -> OpenPoints:
    """Return what is open in a unit, or in the project's own pages."""
    verdicts = list(results.verdicts())
    return OpenPoints(
        stops=tuple(_stops(results, verdicts)),
        failures=tuple(
            _named(results, one, one.sentence)
            for one in verdicts
            if one.outcome is Outcome.FAIL
            and not one.stops
            and one.check.severity is not Severity.NOTE
        ),
        inconclusive=tuple(
            _named(results, one, one.sentence)
            for one in verdicts
            if one.outcome is Outcome.INCONCLUSIVE
        ),
        missing=tuple(_missing(results)),
        deficiencies=deficiencies,
    )


def _stops(results: UnitResults, verdicts: list[Verdict]) -> Iterator[str]:
    for verdict in verdicts:
        if verdict.stops:
            override = results.override_of(verdict)
            past = f" {override.person_name} goes on: {override.reason}" if override else ""
            yield _named(results, verdict, f"{verdict.sentence}{past}")
    for verdict, readings in results.waivers():
        reasons = ", ".join(dict.fromkeys(reading.not_applicable for reading in readings))
        yield _named(results, verdict, f"marked not applicable ({reasons})")


def _missing(results: UnitResults) -> Iterator[str]:
    for section in results.sections():
        progress = results.progress(section)
        unjudged = progress.outcomes.get(Outcome.MISSING, 0)
        parts = [
            f"{progress.unanswered} of {progress.asked} not read" if progress.unanswered else "",
            f"{unjudged} not judged yet" if unjudged else "",
            "closed by a stop" if results.blocking(section) else "",
        ]
        said = ", ".join(part for part in parts if part)
        if said:
            yield f"{section.title}: {said}"


def _named(results: UnitResults, verdict: Verdict, sentence: str) -> str:
    return f"{results.label(Key(verdict.check.name, verdict.index))}: {sentence}"


def _counted(sentences: tuple[str, ...], one: str, more: str) -> str:
    return f"{len(sentences)} {one if len(sentences) == 1 else more}"
