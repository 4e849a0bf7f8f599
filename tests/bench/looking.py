"""A keeper who looks when asked: what eyes make of the truth, with their errors.

A look lasts ``LOOK_S``, in silence ``GLANCE_S``. Heights are misjudged by what stays the same in one keeper
(``BIAS_M``, the wall of the elbow) and by what differs from look to look (``EYE_M``); one answer in ``WRONG_ONE_IN`` is
any of the choices. These are choices, no source.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tuner.coach import Coach
from tuner.coach.questions import FIND_EDGES
from tuner.coach.surface import AT_NOISE, DEEP_SHARE, IN_SILENCE, MARKS
from tuner.rehearsal.plant import TRAPPED_SHARE
from tuner.rehearsal.rehearsal import Rehearsal
from tuner.rehearsal.truth import look_ahead
from tuner.terms import Question, Step

LOOK_S, GLANCE_S = 150.0, 60.0
BIAS_M, EYE_M = 0.002, 0.002
SWING_M = 0.006  # from which a level is seen to rise and fall
SMOOTH_S = 1.0  # waves shorter than this are looked through
WRONG_ONE_IN = 30
Look = Callable[[Question], str | None]


@dataclass(frozen=True)
class Sight:
    """What there is to see: the box's level in metres over the crest for ``LOOK_S``, a value each ``step_s``.

    ``inlet_m`` is the siphon's inlet on the same scale, below zero; ``elbow_m`` the inside diameter of the elbow.
    """

    over_crest_m: NDArray[np.float64]
    step_s: float
    elbow_m: float
    inlet_m: float
    emergency: bool
    siphon_bubbles: str
    splash: str = "neither"
    air: str = "none"


class Eyes:
    """One keeper; the same seed looks in the same way."""

    def __init__(self, seed: int) -> None:
        self._rng = np.random.default_rng([seed, 4242])
        self._bias_m = float(self._rng.normal(0.0, BIAS_M))

    def answer(self, question: Question, sight: Sight) -> str | None:
        """Return the choice that fits what is seen; None for a question that no look answers."""
        seen = {
            AT_NOISE.id: self._water(sight), IN_SILENCE.id: self._surface(sight),
            "emergency-dry": "yes" if sight.emergency else "no",
            "siphon-bubbles": sight.siphon_bubbles, "splash-where": sight.splash, "air-where": sight.air,
        }.get(question.id)
        wrong = self._rng.integers(WRONG_ONE_IN) == 0
        return str(self._rng.choice(question.choices)) if wrong and seen is not None else seen

    def _water(self, sight: Sight) -> str:
        low, high = self._swing(sight, LOOK_S)
        to_elbow, below, at, over = AT_NOISE.choices[1:]
        if high - low > SWING_M:
            return to_elbow if self._judged(high) > 0.0 else AT_NOISE.choices[0]
        height_m = self._judged((low + high) / 2)
        return below if height_m < 0.0 else at if height_m < sight.elbow_m else over

    def _surface(self, sight: Sight) -> str:
        low, high = self._swing(sight, GLANCE_S)
        if high - low > SWING_M:
            return IN_SILENCE.choices[0]
        height_m = self._judged((low + high) / 2)
        steps_m = (DEEP_SHARE * sight.inlet_m, *(mark * sight.elbow_m for mark in MARKS[:-1]))
        return IN_SILENCE.choices[1 + int(np.searchsorted(steps_m, height_m))]

    def _swing(self, sight: Sight, seconds: float) -> tuple[float, float]:
        n = max(round(SMOOTH_S / sight.step_s), 1)
        level = np.convolve(sight.over_crest_m[: round(seconds / sight.step_s)], np.full(n, 1.0 / n), "valid")
        return float(level.min()), float(level.max())

    def _judged(self, height_m: float) -> float:
        return height_m + self._bias_m + float(self._rng.normal(0.0, EYE_M))


def sight_of(rehearsal: Rehearsal) -> Sight:
    """Return what there is to see at a rehearsal's installation, with nothing touched."""
    seen = look_ahead(rehearsal.installation, rehearsal.plant, LOOK_S)
    trace, drives = seen.trace, {spot: float(d.max()) for spot, d in seen.drives.items()}
    p = rehearsal.installation.plumbing
    locked = float(np.mean(trace.trapped >= TRAPPED_SHARE)) > 0.5
    at_box, at_sump = drives["weir splash"], drives["outlet splash"]
    in_pump, at_nozzle = drives["pump air hiss"], drives["return air hiss"]
    return Sight(
        trace.level_m - float(p.crest_height_m), float(trace.time_s[1] - trace.time_s[0]), float(p.channel_diameter_m),
        float(p.siphon_inlet_height_m - p.crest_height_m),
        emergency=bool((trace.emergency > 0.0).any()),
        siphon_bubbles="all the time" if locked else "in surges" if (trace.gulp > 0.0).any() else "none",
        splash="neither" if max(at_box, at_sump) <= 0.0 else "box" if at_box > at_sump else "sump",
        air="none" if max(in_pump, at_nozzle) <= 0.0 else "pump" if in_pump > at_nozzle else "nozzle",
    )


def next_step(coach: Coach, look: Look | None = None, *, agrees: bool = False) -> Step | None:
    """Return the coach's next step; questions stay open but for ``look``, and for agreeing that edges be looked for."""
    step = coach.advise()
    while isinstance(step, Question):
        may_look_for_edges = agrees and step.id == FIND_EDGES.id
        coach.look(step.id, "yes" if may_look_for_edges else look(step) if look else None)
        step = coach.advise()
    return step


def looking(seed: int, rehearsal: Rehearsal) -> Look:
    """Return a keeper who looks at a rehearsal's installation when asked."""
    eyes = Eyes(seed)
    return lambda question: eyes.answer(question, sight_of(rehearsal))
