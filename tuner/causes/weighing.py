"""Adding the evidence up: log-odds for each cause, probabilities over all of them, reasons in words.

Each cause starts from the logarithm of its prior; each entry adds ``weight`` times the degree to which its
conditions hold, plus ``against`` times the degree to which they do not. The conditions of one entry are joined by
the smallest degree. The scores become probabilities by a softmax over all causes, so that they sum to 1: it is
the posterior of a naive Bayes model whose entries are taken as independent.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log

from tuner.causes.facts import Facts, LastMove, facts_of
from tuner.causes.location import Scan
from tuner.causes.rules import CauseRules, Evidence, Rule, load_causes
from tuner.rig import Rig
from tuner.terms import Cause, Floor, Reading

_SPOKEN_FROM = 0.4  # an entry is told as a reason from this degree on: below, it hardly counted
_MOST_REASONS = 4


@dataclass(frozen=True, slots=True)
class Weighed:
    """One cause after weighing: its log-odds score and, strongest first, its reasons."""

    rule: Rule
    score: float
    because: tuple[str, ...]


def degree_of(entry: Evidence, facts: Facts) -> float | None:
    """Return how far all conditions of ``entry`` hold (0-1), or None when a fact is not known."""
    degrees = []
    for condition in entry.conditions:
        if condition.looks_at not in facts:
            return None
        degrees.append(condition.degree(facts[condition.looks_at]))
    return min(degrees)


def weigh_cause(rule: Rule, facts: Facts) -> Weighed:
    """Return the score of one cause with its reasons."""
    score = log(rule.prior)
    spoken: list[tuple[float, str]] = []
    lacking: list[str] = []
    for entry in rule.evidence:
        degree = degree_of(entry, facts)
        if degree is None:
            if entry.lacking:
                lacking.append(f"not known: {entry.lacking}")
            continue
        share = degree * entry.weight + (1.0 - degree) * entry.against
        score += share
        if entry.because and degree >= _SPOKEN_FROM and entry.weight > 0:
            spoken.append((share, in_words(entry.because, facts)))
    spoken.sort(key=lambda item: -item[0])
    reasons = tuple(dict.fromkeys(text for _, text in spoken))[:_MOST_REASONS]
    return Weighed(rule, score, (reasons or (rule.seen,)) + tuple(lacking[:1]))


def in_words(template: str, facts: Facts) -> str:
    """Fill the facts named in braces into a sentence: ``{slurp.period_s}`` in seconds, ``{slurp.share}`` in percent.

    >>> in_words("gulps return every {slurp.period_s}", {"slurp.period_s": 12.34})
    'gulps return every 12 s'
    >>> in_words("heard in {gurgle.share} of the time", {"gurgle.share": 0.5})
    'heard in 50 % of the time'
    """
    text = template
    for name, value in facts.items():
        if "{" + name + "}" in text:
            text = text.replace("{" + name + "}", _figure(name, value))
    return text


def _figure(name: str, value: float) -> str:
    if ".at_" in name:
        return f"{100 * min(value, 0.99):.0f} %"  # nothing that was heard is certain
    if name.endswith(("share", "probability", "presence", "lead")):
        return f"{100 * value:.0f} %"
    if name.endswith("_db"):
        return f"{value:.0f} dB"
    if name.endswith("_s"):
        return f"{value:.0f} s" if value >= 10 else f"{value:.2g} s"
    if name.endswith("_m"):
        return f"{1e3 * value:.0f} mm"
    return f"{value:.3g}"


def softmax(scores: tuple[float, ...]) -> tuple[float, ...]:
    """Return probabilities that sum to 1 from log-odds scores."""
    top = max(scores)
    parts = [exp(score - top) for score in scores]
    total = sum(parts)
    return tuple(part / total for part in parts)


def weigh(
    reading: Reading, *, rig: Rig | None, last_move: LastMove | None, floor: Floor | None,
    rules: CauseRules | None = None, scan: Scan | None = None, in_a_row: bool = False,
) -> tuple[Cause, ...]:
    """Return every cause with its probability and reasons, best first; the probabilities sum to 1.

    Without a ``floor`` the level over the room is not a fact that counts, because the window's own background
    stands in for the room; with ``in_a_row`` a bout that did not come back in this window is none either: whoever takes
    reading after reading waits for it.
    """
    rules = load_causes() if rules is None else rules
    facts = facts_of(reading, rig=rig, last_move=last_move, scan=scan)
    if floor is None:
        facts.pop("excess_db", None)
    if in_a_row:
        facts.pop("bouts", None)
    weighed = [weigh_cause(rule, facts) for rule in rules.rules]
    probabilities = softmax(tuple(w.score for w in weighed))
    causes = [Cause(w.rule.name, p, w.because) for w, p in zip(weighed, probabilities, strict=True)]
    return tuple(sorted(causes, key=lambda cause: -cause.probability))
