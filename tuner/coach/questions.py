"""Looks that tell more than another listen: when two likely causes want different moves and a glance parts them.

A question is asked once; no answer is an answer too.
"""

from __future__ import annotations

from dataclasses import dataclass

from tuner.terms import Cause, CauseName, Question

ASK_BELOW = 0.6  # the best cause is sure enough above this
ASK_FROM = 0.2  # the second cause counts from this on


@dataclass(frozen=True, slots=True)
class Look:
    """A question, the causes that it parts, and the log-odds that each answer adds to causes."""

    question: Question
    parts: frozenset[CauseName]
    answers: dict[str, dict[CauseName, float]]


LOOKS: tuple[Look, ...] = (
    Look(
        Question("emergency-dry", "Look at the emergency pipe's outlet: does water run from it?", ("yes", "no")),
        frozenset({"emergency carrying flow"}),
        {
            "yes": {"emergency carrying flow": 4.0},
            "no": {"emergency carrying flow": -4.0},
        },
    ),
    Look(
        Question("siphon-bubbles", "Look into the sump: do bubbles come from the siphon's outlet?",
                 ("none", "in surges", "all the time")),
        frozenset({"siphon over-open", "siphon over-closed", "siphon not purged"}),
        {
            "none": {"siphon over-open": -2.5, "siphon not purged": -2.5, "siphon over-closed": 1.0},
            "in surges": {"siphon over-open": 2.0, "siphon not purged": -0.5, "siphon over-closed": -2.0},
            "all the time": {"siphon not purged": 2.0, "siphon over-open": 0.5, "siphon over-closed": -1.5},
        },
    ),
    Look(
        Question("splash-where", "Where does water fall through air: from the weir into the box, or at the sump?",
                 ("box", "sump", "neither")),
        frozenset({"outlet above water", "weir drop"}),
        {
            "box": {"weir drop": 4.0, "outlet above water": -2.0},
            "sump": {"outlet above water": 4.0, "weir drop": -2.0},
            "neither": {"outlet above water": -3.0, "weir drop": -3.0},
        },
    ),
    Look(
        Question("air-where", "Do you see fine bubbles: none, at the tank's return nozzle, or in the pump's chamber?",
                 ("none", "nozzle", "pump")),
        frozenset({"vent too closed", "pump drawing air", "return drawing air"}),
        {
            "none": {"pump drawing air": -3.0, "return drawing air": -3.0, "vent too closed": 1.0},
            "nozzle": {"return drawing air": 4.0, "pump drawing air": -1.0, "vent too closed": -2.0},
            "pump": {"pump drawing air": 4.0, "return drawing air": -1.0, "vent too closed": -2.0},
        },
    ),
)


def worth_asking(causes: tuple[Cause, ...], asked: frozenset[str]) -> Question | None:
    """Return the question that parts the two best causes, where neither is sure and one look would tell."""
    if len(causes) < 2 or causes[0].probability >= ASK_BELOW or causes[1].probability < ASK_FROM:
        return None
    pair = {causes[0].name, causes[1].name}
    for look in LOOKS:
        parted = pair & look.parts
        if look.question.id not in asked and (len(parted) == 2 or (parted and len(look.parts) == 1)):
            return look.question
    return None


def log_odds_of(question_id: str, answer: str | None) -> dict[CauseName, float] | None:
    """Return what an answer adds to the causes; empty for no answer, None when question or answer is not known."""
    look = next((k for k in LOOKS if k.question.id == question_id), None)
    if look is None:
        return None
    return {} if answer is None else look.answers.get(answer)
