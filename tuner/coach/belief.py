"""The belief: weighted guesses over what cannot be seen, updated by every reading and shifted by every move."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import inf

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from tuner.coach import surface
from tuner.coach.beside import MISSED, THINGS
from tuner.coach.guesses import Guesses, after_move, draw_guesses, jittered, moved, speeds_after
from tuner.coach.handwork import hand_for, hands_of
from tuner.coach.hearing_odds import Evidence, log_likelihoods
from tuner.coach.loudness import graded, usual_loudness, without_room
from tuner.coach.marks import Told
from tuner.coach.outlook import Outlook
from tuner.coach.shares import Word
from tuner.rig import Rig
from tuner.terms import CauseName, Control, SoundKind
from tuner.water import laws

Floats = NDArray[np.float64]

GUESSES = 6000
RESAMPLE_BELOW = 0.35  # of the guesses, as the effective number
CONTRADICTED_BELOW = 2e-3  # mean likelihood of a reading below which belief and evidence disagree
LEAST_FLOW = 0.35  # share of the flow at the start that must be left to the animals, however far a pump is slowed
LEAST_FLOW_MISSED = 0.2  # share of the guesses that may have less
HEARD_SURELY = 0.95  # that a noise which came with a move was the drains'
MISLED_FROM = 0.9  # belief in what moves have ruled out from which nothing is left to go by
LOOKING = 250  # guesses that a lookahead works with


@dataclass(frozen=True, slots=True)
class Expected:
    """What is thought now: probabilities and flow margins (shares of the supply; medians over quiet guesses)."""

    quiet: float
    roaring: float
    less_flow: float
    more_flow: float
    mismatch_m3_s: float


class Belief:
    """Guesses with weights.

    ``rng`` is the only source of chance: the same seed and inputs give the same belief. ``over_room`` tells that levels
    are over a measured room.
    """

    def __init__(self, rig: Rig, rng: Generator, *, over_room: bool) -> None:
        self._rig = rig
        self._rng = rng
        self._speeds = tuple(pump.speed for pump in rig.pumps)
        self.guesses = draw_guesses(rig, rng, GUESSES, self._speeds)
        self.weights: Floats = np.full(GUESSES, 1.0 / GUESSES)
        self.loudness, self._room_db = usual_loudness(GUESSES, over_room=over_room), inf
        self._over_room = over_room
        self.slowest_change = self._slowest_change()
        self._readings = 0  # since the last move, and the mean of what they say of steady sounds, as log-likelihood
        self._steady: Floats = np.zeros(GUESSES)

    def outlook(self) -> Outlook:
        """Return what every guess expects at the settings as they are."""
        return self.guesses.outlook()

    def _slowest_change(self) -> float:
        """Return by how many percent of full speed the pumps may be slowed from where they stood (at most 0).

        A pump that is slowed to half its speed lifts a quarter as high, and may then send nothing at all.
        """
        if not any(pump.speed_step > 0 for pump in self._rig.pumps):
            return -100.0  # no step slows them
        plumbing = self.guesses.plumbing
        begun = np.broadcast_to(laws.supply_flow_m3_s(plumbing, self._speeds), (GUESSES,))
        flowing = begun >= 0.5 * np.median(begun)  # a guess that hardly lifts as it stands is a wrong one
        for percent in range(-5, -100, -5):
            flow = laws.supply_flow_m3_s(plumbing, speeds_after(self._speeds, self._rig, float(percent)))
            if float(np.mean((flow < LEAST_FLOW * begun)[flowing])) > LEAST_FLOW_MISSED:
                return percent + 5.0
        return -100.0

    def heard(self, evidence: Evidence) -> bool:
        """Take a reading in. Return False when no guess explains it: the belief then starts afresh from it."""
        o = self.outlook()
        steady, cyclic = log_likelihoods(o, evidence, self.guesses.beside)
        if float(self.weights @ np.exp(steady + cyclic)) < CONTRADICTED_BELOW:
            self._start_afresh(evidence)
            return False
        likelihood = np.exp(cyclic + self._news(steady))
        if evidence.room_db is not None:
            self._room_db = min(self._room_db, evidence.room_db)
        by_level, self.loudness = graded(self.loudness, o, without_room(evidence.level_db, self._room_db))
        self._weigh(likelihood * np.exp(by_level))
        return True

    def _weigh(self, likelihood: Floats) -> None:
        """Weigh the guesses by a likelihood; where few are left that count, draw them anew and move them apart."""
        self.weights = self.weights * likelihood
        self.weights = self.weights / self.weights.sum()
        if 1.0 / float(np.sum(self.weights**2)) < RESAMPLE_BELOW * self.guesses.n:
            index = self._drawn(self.guesses.n)
            self.guesses, self.loudness = jittered(self.guesses.taken(index), self._rng), self.loudness.taken(index)
            self._steady = self._steady[index]
            self.weights = np.full(self.guesses.n, 1.0 / self.guesses.n)

    def seen(self, question_id: str, answer: str) -> dict[CauseName, float]:
        """Take in what the water in the box does; return the log-odds that this adds to the causes."""
        o = self.outlook()
        choice = surface.LOOKS[question_id].choices.index(answer)
        told = surface.chances(question_id, o, self.guesses.plumbing)[choice]
        odds = surface.odds_of(told, o, self.weights)
        self._weigh(told)
        return odds

    def worth_of_looking(self, *, silent: bool) -> float:
        """Return what a look at the box's water would tell, in nats: in silence of the edges, else of the cause."""
        gain = surface.gain_of_side if silent else surface.gain_of_state
        return gain(self.outlook(), self.guesses.plumbing, self.weights)

    def _news(self, steady: Floats) -> Floats:
        """Return what a reading adds to those heard since the last move, as a log-likelihood.

        A steady sound that is heard, or missed, where nothing was moved is so for the same reason as before: all the
        readings at one setting together count as their mean.
        """
        self._readings += 1
        news: Floats = (steady - self._steady) / self._readings
        self._steady = self._steady + news
        return news

    def _start_afresh(self, evidence: Evidence) -> None:
        self._forget()
        self._steady, cyclic = log_likelihoods(self.outlook(), evidence, self.guesses.beside)
        self._readings = 1
        likelihood = np.exp(self._steady + cyclic) + 1e-6
        self.weights = likelihood / likelihood.sum()

    def _forget(self) -> None:
        """Begin with guesses as of a noisy installation, whatever was noted of it and heard so far."""
        fresh = draw_guesses(self._rig, self._rng, GUESSES, self._speeds, trust_notes=False)
        # what sounds beside the drains has nothing to do with a wrong note of the plumbing
        known = self.guesses.beside[self._drawn(fresh.n)]
        fresh = replace(fresh, beside=np.where(self._rng.random(fresh.n) < MISSED, fresh.beside, known))
        self.guesses, self.loudness = fresh, usual_loudness(fresh.n, over_room=self._over_room)
        self._readings, self._steady = 0, np.zeros(fresh.n)
        self.weights = np.full(fresh.n, 1.0 / fresh.n)

    def not_quiet(self) -> None:
        """Take in that the drains were heard, whatever it was that was heard of them."""
        self._rule_out(self.outlook().quiet)

    def told_by_moves(self, told: Told) -> None:
        """Take in what moves of the siphon say of what is heard.

        A belief that holds hardly anything else than what is ruled out has been misled, and begins anew.
        """
        if not told.anything:
            return

        def contrary() -> Floats:
            o = self.outlook()
            if told.splash_follows:
                return 1.0 - o.splashing
            return o.gulping if told.closed_in_vain else 1.0 - o.gulping

        if float(self.weights @ contrary()) > MISLED_FROM:
            self._forget()
        self._rule_out(contrary())

    def _rule_out(self, activity: Floats) -> None:
        """Make the guesses less likely by how much they are in a state that is not the true one."""
        self.weights = self.weights * (1.0 - HEARD_SURELY * activity)
        self.weights = self.weights / self.weights.sum()

    def moved(self, control: Control, amount: float) -> None:
        """Shift every guess by a move that was made."""
        self.guesses = moved(self.guesses, self._rig, control, amount, self._rng)
        self._readings, self._steady = 0, np.zeros(self.guesses.n)
        if control == "return pump":
            self._speeds = tuple(float(s) for s in speeds_after(self._speeds, self._rig, amount))

    def _drawn(self, n: int) -> NDArray[np.intp]:
        """Draw n indices by weight, systematically (one random number, least variance)."""
        at = (np.arange(n) + self._rng.random()) / n
        return np.minimum(np.searchsorted(np.cumsum(self.weights), at), self.guesses.n - 1)

    def few(self) -> Guesses:
        """Return equally likely guesses for a lookahead: the same ones until the next reading or move."""
        at = (np.arange(LOOKING) + 0.5) / LOOKING
        return self.guesses.taken(np.minimum(np.searchsorted(np.cumsum(self.weights), at), self.guesses.n - 1))

    def least_opening(self) -> float:
        """Return a cautious estimate of the siphon valve's opening: one guess in ten is smaller."""
        order = np.argsort(self.guesses.opening)
        return float(self.guesses.opening[order][np.searchsorted(np.cumsum(self.weights[order]), 0.1)])

    def most_closed(self, share: float) -> float:
        """Return by how much, in the valve's unit, the siphon may be closed until it takes too much less of the flow.

        By not more than ``share`` of it in nine guesses of ten, in whole finest steps.
        """
        hand = hands_of(self._rig)[0]
        closings = [-amount for amount in hand.choices() if amount < 0]
        few = self.few()
        after = after_move(few, self._rig, hand.control, -np.array(closings))
        level_m = few.plumbing.crest_height_m
        now = laws.siphon_flow_m3_s(few.plumbing, level_m, few.opening)
        left = laws.siphon_flow_m3_s(few.plumbing, level_m, after.opening) / now
        allowed = np.quantile(left, 0.1, axis=1) >= 1.0 - share
        return max((size for size, fits in zip(closings, allowed, strict=True) if fits), default=0.0)

    def most_sped(self, share: float) -> float:
        """Return by how many percent of full speed the pump may be sped up until it sends too much more.

        By not more than ``share`` of the flow in nine guesses of ten, in whole steps of the pump.
        """
        hand = hand_for(hands_of(self._rig), "return pump")
        if hand is None:
            return 0.0
        few = self.few()
        percents = np.array([amount for amount in hand.choices() if amount > 0])
        flow = laws.supply_flow_m3_s(few.plumbing, after_move(few, self._rig, hand.control, percents).speeds)
        more = flow / np.maximum(laws.supply_flow_m3_s(few.plumbing, few.speeds), 1e-9)
        allowed = np.quantile(np.broadcast_to(more, (percents.size, few.n)), 0.9, axis=1) <= 1.0 + share
        return max((float(p) for p, fits in zip(percents, allowed, strict=True) if fits), default=0.0)

    def causes(self) -> dict[CauseName, float]:
        """Return how probable the regime behind each mendable cause is now."""
        return _regimes(self.outlook(), self.weights)

    def word(self, *, may_have_sunk: bool) -> Word:
        """Return what this belief says of causes, with no word on a box that sank where it cannot be one."""
        o = self.outlook()
        w = self.weights if may_have_sunk else self.weights * (1.0 - o.splashing)
        w = w / max(float(w.sum()), 1e-12)
        return Word(_regimes(o, w), float(w @ o.quiet), float(w @ o.splashing) if may_have_sunk else 0.0)

    def makes_beside(self, kind: SoundKind) -> float:
        """Return how probable it is that something beside the drains makes such a sound."""
        able = np.array([kind in thing.makes for thing in THINGS])
        return float(self.weights @ able[self.guesses.beside])

    def expected(self) -> Expected:
        """Return the belief in figures."""
        o = self.outlook()
        w = self.weights
        quiet = w * o.quiet
        inside = quiet / max(float(quiet.sum()), 1e-12)
        return Expected(
            quiet=float(quiet.sum()), roaring=float(w @ o.roaring),
            less_flow=_weighted_median(o.less_flow, inside), more_flow=_weighted_median(o.more_flow, inside),
            mismatch_m3_s=_weighted_median(o.supply - o.siphon, w),
        )


def _regimes(o: Outlook, w: Floats) -> dict[CauseName, float]:
    states = surface.drains(o) | {"vent too closed": np.maximum(o.flushing, o.hissing)}
    return {cause: float(w @ state) for cause, state in states.items()}


def _weighted_median(values: Floats, weights: Floats) -> float:
    order = np.argsort(values)
    total = np.cumsum(weights[order])
    return float(values[order][np.searchsorted(total, 0.5 * total[-1])])
