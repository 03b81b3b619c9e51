"""Which deficiency was made of a trend finding, whatever language it was written in."""

from __future__ import annotations

from collections.abc import Iterable

from commission.language import languages, speaking
from commission.project import Deficiency
from commission.sequence.findings import Finding
from commission.sequence.rules import rule_book


def deficiency_made_of(
    finding: Finding, log_name: str, deficiencies: Iterable[Deficiency]
) -> Deficiency | None:
    """Return the deficiency whose description `deficiency_texts` wrote of this finding.

    Args:
        finding: as judged now, in any language.
        log_name: the log it was found in; "" for one that is not kept.
        deficiencies: those of the unit.
    """
    openings = tuple(f"{title}:" for title in _titles(finding))
    for one in deficiencies:
        if one.description.startswith(openings) and log_name in one.description:
            return one
    return None


def load_titles() -> None:
    """Load the rules in each language, before anybody looks at a finding."""
    for code in languages():
        with speaking(code):
            rule_book()


def _titles(finding: Finding) -> set[str]:
    """Return the finding's title in each language that the program speaks."""
    titles = {finding.title}
    for code in languages():
        with speaking(code):
            rule = next((one for one in rule_book().rules if one.name == finding.rule), None)
        if rule is not None:
            number = str(finding.member)
            before = str(finding.member - 1)
            titles.add(rule.title.replace("{n}", number).replace("{previous}", before))
    return titles
