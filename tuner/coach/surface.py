"""The look into the overflow box: where its water stands tells what the open channel carries.

Sound tells when an edge is passed; the height of the water over the channel's crest tells how far it is. Every guess
of the belief has a height of its own (``Outlook.level_m``), so an answer weighs them like a reading. Heights go by the
channel's top elbow, which everybody can see: its lowest inside is the crest, its inside diameter the measure.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import log

import numpy as np
from numpy.typing import NDArray

from tuner.coach.outlook import Outlook, soft_step, way_to_inlet_m
from tuner.coach.standing import bearing, loop_share
from tuner.terms import CauseName, Question
from tuner.water import laws
from tuner.water.plumbing import Plumbing

Floats = NDArray[np.float64]

AT_NOISE = Question(
    "box-water", "Watch the overflow box for a minute, or until the noise has come back: what does its water do?",
    ("swings below the open channel's elbow", "swings up to the elbow", "steady, below the elbow",
     "steady, at the elbow", "steady, over the elbow"),
)
IN_SILENCE = Question(
    "box-surface", "Look into the overflow box: how high does the water stand at the open channel's top elbow?",
    ("it rises or falls", "near the siphon's inlet", "below the elbow", "lowest quarter", "second quarter",
     "upper half or over"),
)
LOOKS = {question.id: question for question in (AT_NOISE, IN_SILENCE)}
_LOW = frozenset((AT_NOISE.choices[0], AT_NOISE.choices[2], *IN_SILENCE.choices[1:3]))
_OVER = AT_NOISE.choices[4]
_REACHING = frozenset((AT_NOISE.choices[1], *AT_NOISE.choices[3:]))
_GRADES: dict[str, tuple[int, ...]] = {  # the choice that each row of ``_grades`` is, in the order of the rows
    AT_NOISE.id: (0, 1, 2, 2, 3, 3, 3, 4), IN_SILENCE.id: (0, 0, 1, 2, 3, 4, 5, 5),
}
MARKS = (0.0, 0.25, 0.5, 1.0)  # of the elbow's inside diameter over the crest: from grade to grade
LOOK_SOFT = 0.075  # of that diameter, logistic: eye, wall of the elbow and model together; a deviation of 3.6 mm of 27
DEEP_SHARE, DEEP_SOFT = 0.5, 0.08  # of the way down from the crest to the siphon's inlet, and how well that is judged
TOP_SOFT_M = 0.005  # of how high a gulping siphon lets the box rise
SWING_SEEN = 0.9  # chance that a level which rises and falls is seen to
MISSEEN = 0.04  # share of the looks that tell nothing
NOTHING_HEARD: tuple[CauseName, ...] = (
    "outlet above water", "weir drop", "pump hum", "pump drawing air", "return drawing air", "outside noise",
)
_BESIDE = 1e-3  # of a state that no guess is in


@dataclass(frozen=True, slots=True)
class Seen:
    """What a look into the box showed: the question, after how many moves it was asked, the answer."""

    question_id: str
    moves: int
    answer: str

    @property
    def low(self) -> bool:
        """Whether the water stays below the crest: the open channel is dry."""
        return self.answer in _LOW

    @property
    def reaches_elbow(self) -> bool:
        """Whether the water comes up to the elbow or over it: the open channel is at work."""
        return self.answer in _REACHING

    @property
    def swings(self) -> bool:
        """Whether the water rises and falls: a siphon gulps, or the open channel flushes."""
        return self.answer in AT_NOISE.choices[:2]

    @property
    def over(self) -> bool:
        """Whether the water stands over the elbow: the open channel runs full."""
        return self.answer == _OVER


def chances(question_id: str, o: Outlook, p: Plumbing) -> Floats:
    """Return how likely each guess makes each choice of the question: shape (choices, n), summing to one."""
    grades, choice = _grades(o, p), np.array(_GRADES[question_id])
    seen = np.stack([grades[choice == i].sum(axis=0) for i in range(len(LOOKS[question_id].choices))])
    told: Floats = (1.0 - MISSEEN) * seen + MISSEEN / len(seen)
    return told


def _grades(o: Outlook, p: Plumbing) -> Floats:
    """Return the chances of what can be seen: shape (8, n).

    Swinging below the crest, and up to it; steady near the siphon's inlet, below the crest, in the elbow's lowest and
    second quarter and its upper half, over it.
    """
    gulps = o.gulping * (1.0 - o.drawing)
    top_m = laws.gulp_level_m(p, o.siphon) + p.regain_rise_m
    low = SWING_SEEN * gulps * (1.0 - o.flushing) * soft_step((p.crest_height_m - top_m) / TOP_SOFT_M)
    swings = SWING_SEEN * np.maximum(gulps, o.flushing)
    dry = o.channel < 0.0
    down = dry * o.sunk_m / way_to_inlet_m(p)
    height = np.where(dry, -o.sunk_m, o.level_m - p.crest_height_m) / p.channel_diameter_m
    reached = [soft_step((DEEP_SHARE - down) / DEEP_SOFT), *(soft_step((height - m) / LOOK_SOFT) for m in MARKS)]
    reached = [np.minimum.reduce(reached[: i + 1]) for i in range(len(reached))]
    still = np.stack([1.0 - reached[0], *(a - b for a, b in pairwise(reached)), reached[-1]])
    seen: Floats = np.concatenate([low[None], (swings - low)[None], (1.0 - swings) * still])
    return seen


def odds_of(told: Floats, o: Outlook, weights: Floats) -> dict[CauseName, float]:
    """Return the log-odds that an answer, as likely as ``told``, adds to each cause: by the state behind that."""
    mean = float(weights @ told)
    states = drains(o) | dict.fromkeys(NOTHING_HEARD, o.quiet)
    return {
        cause: log(float(weights @ (told * state) + _BESIDE * mean) / float(weights @ state + _BESIDE) / mean)
        for cause, state in states.items()
    }


def drains(o: Outlook) -> dict[CauseName, Floats]:
    """Return the state behind each cause that a control mends."""
    return {
        "siphon over-open": o.over_open, "siphon over-closed": o.gurgling, "vent too wide": o.trickling,
        "vent too closed": o.airless, "emergency carrying flow": o.roaring,
    }


def gain_of_state(o: Outlook, p: Plumbing, weights: Floats) -> float:
    """Return what the look is expected to tell of what the drains do, in nats."""
    states = np.stack([o.quiet, *drains(o).values()])
    return _information(chances(AT_NOISE.id, o, p), states / np.maximum(states.sum(axis=0), 1e-9), weights)


def gain_of_side(o: Outlook, p: Plumbing, weights: Floats) -> float:
    """Return what the look is expected to tell, in silence, of which edge is the nearer, if any is near; in nats."""
    bears = bearing(o, loop_share(p, o.supply))
    less = np.where(o.less_flow < o.more_flow, 1.0 - bears, 0.0)
    return _information(chances(IN_SILENCE.id, o, p), np.stack([bears, less, 1.0 - bears - less]), weights)


def _information(told: Floats, states: Floats, weights: Floats) -> float:
    """Return the mutual information of answers and states, I = sum p(a, s) ln(p(a, s) / p(a) p(s)) (Shannon 1948).

    ``told`` has shape (answers, n), ``states`` (states, n): chances of each guess.
    """
    both = (told * weights) @ states.T + 1e-12
    both = both / both.sum()
    apart = both.sum(axis=1, keepdims=True) * both.sum(axis=0, keepdims=True)
    return float(np.sum(both * np.log(both / apart)))
