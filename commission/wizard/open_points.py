"""What is still open in a unit, in words: for the person who is about to sign for it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from commission.definitions.model import Key, Severity
from commission.language import spoken, spoken_count
from commission.validation.results import UnitResults
from commission.validation.verdict import Outcome, Verdict
from commission.wizard.states import going_on


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
            (spoken_count("{count} stop", "{count} stops", len(self.stops)), self.stops),
            (
                spoken_count("{count} failure", "{count} failures", len(self.failures)),
                self.failures,
            ),
            (spoken("{count} inconclusive", count=len(self.inconclusive)), self.inconclusive),
            (
                spoken_count(
                    "{count} page not complete", "{count} pages not complete", len(self.missing)
                ),
                self.missing,
            ),
            (
                spoken_count(
                    "{count} open deficiency",
                    "{count} open deficiencies",
                    len(self.deficiencies),
                ),
                self.deficiencies,
            ),
        ]
        return [(heading, sentences) for heading, sentences in found if sentences]

    def counted(self) -> str:
        """Return the counts in one line, or "nothing"."""
        return ", ".join(heading for heading, _ in self.groups()) or spoken("nothing")

    def statement(self) -> str:
        """Return what a signature says of it."""
        if not self.groups():
            return spoken("Nothing was open when signed.")
        said = (f"{heading}: {'; '.join(sentences)}" for heading, sentences in self.groups())
        points = ". ".join(text.rstrip(".") for text in said)
        return spoken("Open when signed. {points}.", points=points)


def open_points(
    results: UnitResults, deficiencies: tuple[str, ...] = (), page: str = ""
) -> OpenPoints:
    """Return what is open in a unit, in the project's own pages, or in one `page` alone."""
    verdicts = [one for one in results.verdicts() if page in ("", one.check.section)]
    return OpenPoints(
        stops=tuple(_stops(results, verdicts, page)),
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
        missing=tuple(_missing(results, page)),
        deficiencies=deficiencies,
    )


def _stops(results: UnitResults, verdicts: list[Verdict], page: str) -> Iterator[str]:
    for verdict in verdicts:
        if verdict.stops:
            override = results.override_of(verdict)
            past = f" {going_on(override)}" if override else ""
            yield _named(results, verdict, f"{verdict.sentence}{past}")
    for verdict, readings in results.waivers():
        if page not in ("", verdict.check.section):
            continue
        reasons = ", ".join(dict.fromkeys(reading.not_applicable for reading in readings))
        yield _named(results, verdict, spoken("marked not applicable ({reasons})", reasons=reasons))


def _missing(results: UnitResults, page: str) -> Iterator[str]:
    for section in results.sections():
        if page not in ("", section.name):
            continue
        progress = results.progress(section)
        unjudged = progress.outcomes.get(Outcome.MISSING, 0)
        parts = [
            spoken("{count} of {asked} not read", count=progress.unanswered, asked=progress.asked)
            if progress.unanswered
            else "",
            spoken("{count} not judged yet", count=unjudged) if unjudged else "",
            spoken("closed by a stop") if results.blocking(section) else "",
        ]
        said = ", ".join(part for part in parts if part)
        if said:
            yield f"{section.title}: {said}"


def _named(results: UnitResults, verdict: Verdict, sentence: str) -> str:
    return f"{results.label(Key(verdict.check.name, verdict.index))}: {sentence}"
