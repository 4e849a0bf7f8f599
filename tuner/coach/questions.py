"""Looks that tell more than another listen: the one whose answer is expected to tell most about the cause.

What an answer tells is the information between cause and answer, from how likely each cause makes each answer. A
question is asked once, that on the emergency pipe anew after a move it led to; no answer is an answer too.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from math import exp, log

from tuner.terms import Cause, CauseName, Question

ASK_BELOW = 0.6  # the best cause is sure enough above this
ASK_GAIN = 0.25  # nats that an answer must be expected to tell; certainty between two even causes is 0.69
OTHERWISE = 0.9  # chance of the answer that a cause gives which a look does not ask about


@dataclass(frozen=True, slots=True)
class Look:
    """A question, the log-odds that each answer adds to causes, and the answer that all other causes lead to."""

    question: Question
    answers: dict[str, dict[CauseName, float]]
    otherwise: str

    def chances(self, cause: CauseName) -> tuple[float, ...]:
        """Return how likely ``cause`` makes each answer, in the order of ``answers``."""
        odds = [given.get(cause) for given in self.answers.values()]
        if all(o is None for o in odds):
            others = (1.0 - OTHERWISE) / (len(odds) - 1)
            return tuple(OTHERWISE if answer == self.otherwise else others for answer in self.answers)
        raw = [exp(o or 0.0) for o in odds]
        return tuple(r / sum(raw) for r in raw)


EMERGENCY_DRY = Question(
    "emergency-dry", "Look at the emergency pipe's outlet: does water run from it?", ("yes", "no")
)
LOOKS: tuple[Look, ...] = (
    Look(
        EMERGENCY_DRY,
        {
            "yes": {"emergency carrying flow": 4.0},
            "no": {"emergency carrying flow": -4.0},
        },
        otherwise="no",
    ),
    Look(
        Question("siphon-bubbles", "Look into the sump: do bubbles come from the siphon's outlet?",
                 ("none", "in surges", "all the time")),
        {
            "none": {"siphon over-open": -2.5, "siphon not purged": -2.5, "siphon over-closed": 1.0},
            "in surges": {"siphon over-open": 2.0, "siphon not purged": -0.5, "siphon over-closed": -2.0},
            "all the time": {"siphon not purged": 2.0, "siphon over-open": 0.5, "siphon over-closed": -1.5},
        },
        otherwise="none",
    ),
    Look(
        Question("splash-where", "Where does water fall through air: from the weir into the box, or at the sump?",
                 ("box", "sump", "neither")),
        {
            "box": {"weir drop": 4.0, "outlet above water": -2.0},
            "sump": {"outlet above water": 4.0, "weir drop": -2.0},
            "neither": {"outlet above water": -3.0, "weir drop": -3.0},
        },
        otherwise="neither",
    ),
    Look(
        Question("air-where", "Do you see fine bubbles: none, at the tank's return nozzle, or in the pump's chamber?",
                 ("none", "nozzle", "pump")),
        {
            "none": {"pump drawing air": -3.0, "return drawing air": -3.0, "vent too closed": 1.0},
            "nozzle": {"return drawing air": 4.0, "pump drawing air": -1.0, "vent too closed": -2.0},
            "pump": {"pump drawing air": 4.0, "return drawing air": -1.0, "vent too closed": -2.0},
        },
        otherwise="none",
    ),
)


FIND_EDGES = Question(
    "find-edges",
    "It is silent. May the edges of this quiet be looked for? Some moves may be heard; it should end midway.",
    ("yes", "no"),
)


def worth_asking(causes: tuple[Cause, ...], asked: Collection[str], least: float = ASK_GAIN) -> Question | None:
    """Return the question that is expected to tell most, where the cause is unsure and an answer would tell enough.

    Enough is what tells ``least`` nats.
    """
    if not causes or causes[0].probability >= ASK_BELOW:
        return None
    gains = [(expected_gain(look, causes), look.question) for look in LOOKS if look.question.id not in asked]
    gain, question = max(gains, key=lambda pair: pair[0], default=(0.0, None))
    return question if gain >= least else None


def expected_gain(look: Look, causes: tuple[Cause, ...]) -> float:
    """Return the information between cause and answer in nats; the causes' probabilities are taken to sum to one.

    Mutual information, I = sum over c, a of p(c) p(a|c) ln(p(a|c) / p(a)) (Shannon 1948).
    """
    total = sum(cause.probability for cause in causes)
    if total <= 0.0:
        return 0.0
    shares = [cause.probability / total for cause in causes]
    chances = [look.chances(cause.name) for cause in causes]
    answers = [sum(s * row[a] for s, row in zip(shares, chances, strict=True)) for a in range(len(look.answers))]
    return sum(
        share * p * log(p / answers[a])
        for share, row in zip(shares, chances, strict=True) for a, p in enumerate(row) if share > 0.0
    )


def log_odds_of(question_id: str, answer: str | None) -> dict[CauseName, float] | None:
    """Return what an answer adds to the causes; empty for no answer, None when question or answer is not known."""
    if question_id == FIND_EDGES.id:
        return {} if answer is None or answer in FIND_EDGES.choices else None
    look = next((k for k in LOOKS if k.question.id == question_id), None)
    if look is None:
        return None
    return {} if answer is None else look.answers.get(answer)
