"""How likely a reading is under each guess: which sounds, with which period, in how long a window.

Every active regime makes its own sound heard, most of the time, and sometimes another, and so does what sounds beside
the drains: a noisy-or over both. The shares are near those measured with the shipped ears on training draws, where
there were enough, and wider, so that one wrong reading does not end a belief; none comes from a publication. How much
of a sound was heard says how far to trust it: a false alarm and a confusion seldom fill a window.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp, pi, sqrt

import numpy as np
from numpy.typing import NDArray

from tuner.causes.facts import presence
from tuner.coach.beside import THINGS
from tuner.coach.loudness import heard_level
from tuner.coach.outlook import Outlook
from tuner.signatures.reading import PAUSES
from tuner.terms import CYCLIC_KINDS, Heard, Reading, SoundKind

Floats = NDArray[np.float64]

JUDGED: tuple[SoundKind, ...] = ("slurp", "gurgle", "trickle", "splash", "hiss", "flush", "roar")

# Rows: the regime that is active; columns: the sound that it makes heard, in the order of JUDGED.
CONFUSION: dict[str, tuple[float, ...]] = {
    "gulping": (0.94, 0.45, 0.05, 0.10, 0.15, 0.45, 0.05),
    "drawing": (0.90, 0.80, 0.10, 0.08, 0.08, 0.20, 0.10),
    "gurgling": (0.45, 0.95, 0.10, 0.25, 0.05, 0.05, 0.06),
    "splashing": (0.01, 0.12, 0.30, 0.90, 0.05, 0.01, 0.20),
    "trickling": (0.01, 0.06, 0.95, 0.08, 0.45, 0.01, 0.02),
    "hissing": (0.01, 0.01, 0.10, 0.05, 0.90, 0.01, 0.03),
    "flushing": (0.55, 0.50, 0.20, 0.10, 0.30, 0.90, 0.25),
    "roaring": (0.08, 0.60, 0.25, 0.10, 0.10, 0.05, 0.92),
}
FALSE_ALARM = (0.015, 0.015, 0.02, 0.02, 0.03, 0.01, 0.01)
LIVELY_ALARM = (0.1, 0.1, 0.1, 0.1, 0.12, 0.05, 0.03)  # share of windows in which household sound is taken for each
LEAST_ALARM, LEAST_LIVELY_ALARM = 0.002, 0.005  # however much of a window it fills
ALARM_HALVES, CROSS_HALVES = 0.1, 0.5  # presence beyond the onset that halves such windows
OWN_FROM = 0.5  # chance from which a sound is one of the regime's own, which may fill the window
HEARD_AT, HEARD_WIDTH = 0.12, 0.03  # presence at which a sound is as likely heard as not, and how soft that is
CYCLIC_AT, CYCLIC_WIDTH = 0.025, 0.008  # the same for gulps and flushes, which fill little of a window
LIVELY_CYCLIC_AT, LIVELY_CYCLIC_WIDTH = 0.08, 0.02  # among other sound, of which a little is often taken for them
RETURN_EVENTS = 3
HEARD_ENOUGH = 0.5  # how surely anything must have been heard for its pauses to tell of it
SUREST, SUREST_MISSED = 0.996, 0.97  # no reading counts as surer than this that a sound was there, or was not
ROAR_COVERS = 0.5  # share of the gurgle that a roar covers
GULP_S = 1.5
PAUSED_AT = 0.32  # share of a window in pauses: of training draws, gulps and flushes 0.46 on, gurgles up to 0.21
REST_SPREAD, STEADY_REST = 0.2, 0.1  # of the share in pauses: about what a cycle leaves quiet, and of what never rests
REST_DOUBT, LIVELY_REST_DOUBT = 0.15, 0.6  # share of windows whose pauses tell nothing
PERIOD_SPREAD = 0.35  # of the logarithm of a period, model and measurement together
PERIOD_DOUBT = 0.15  # share of periods that are something else


@dataclass(frozen=True, slots=True)
class Evidence:
    """What of a reading the belief uses.

    How surely each judged sound was heard, the periods, the window's length, its level and that of the room where it
    can be told, and for how long it had been silent without a break: a cycle that was not heard so far is due the
    sooner. ``settled_s`` is the time since the last move at the window's start: a box that drains slowly stays silent
    meanwhile; ``waited_s`` is that time also where the box stood low before. ``alarms`` are the chances that something
    else makes each sound heard as much, ``crossing`` the shares of confusions that fill as much of a window. ``pauses``
    is the share of the window in pauses, None where nothing was heard or it hardly changed, and ``rest_doubt`` the
    share of windows in which that tells nothing.
    """

    heard: tuple[float, ...]
    slurp_period_s: float | None
    flush_period_s: float | None
    clean_s: float
    level_db: float | None
    room_db: float | None
    silent_before_s: float
    settled_s: float
    waited_s: float
    alarms: tuple[float, ...]
    crossing: tuple[float, ...]
    pauses: float | None
    rest_doubt: float


def evidence_of(
    reading: Reading, silent_before_s: float, settled_s: float, waited_s: float, *, over_room: bool,
    lively: bool = False, doubtful: bool = False,
) -> Evidence:
    """Return the evidence in a reading.

    ``silent_before_s`` is the unbroken silence before it, ``settled_s`` the time since the box began to settle,
    ``waited_s`` that since the last move; ``over_room`` tells that the room was measured, ``lively`` that other sound
    is about: then much of what is heard, the less of it the more, is taken for something else, and levels tell nothing,
    as those of a ``doubtful`` reading.
    """
    heard, alarms, crossing = [], [], []
    unsure = lively or doubtful
    for kind, still, household in zip(JUDGED, FALSE_ALARM, LIVELY_ALARM, strict=True):
        cyclic = (LIVELY_CYCLIC_AT, LIVELY_CYCLIC_WIDTH) if lively else (CYCLIC_AT, CYCLIC_WIDTH)
        at, width = cyclic if kind in CYCLIC_KINDS else (HEARD_AT, HEARD_WIDTH)
        beyond = presence(reading, kind) - at
        heard.append(min(max(1 / (1 + exp(-beyond / width)), 1 - SUREST_MISSED), SUREST))
        as_much = (household if unsure else still) * 0.5 ** (max(beyond, 0.0) / ALARM_HALVES)
        alarms.append(max(as_much, LEAST_LIVELY_ALARM if unsure else LEAST_ALARM))
        crossing.append(0.5 ** (max(beyond, 0.0) / CROSS_HALVES))
    slurp, flush = (None if lively and not returns(h) else h for h in (reading.of("slurp"), reading.of("flush")))
    pauses = reading.features.get(PAUSES) if max(heard) >= HEARD_ENOUGH else None
    return Evidence(
        tuple(heard), slurp.period_s if slurp else None, flush.period_s if flush else None,
        max(reading.clean_s, 1.0), None if unsure else heard_level(reading, over_room=over_room),
        0.0 if over_room else _room_level(reading, heard, pauses), silent_before_s, settled_s, waited_s,
        tuple(alarms), tuple(crossing), pauses, LIVELY_REST_DOUBT if unsure else REST_DOUBT,
    )


def _room_level(reading: Reading, heard: Sequence[float], pauses: float | None) -> float | None:
    """Return the level of the room, which is heard in silence and in long pauses, None where it is not."""
    bare = max(heard) < HEARD_ENOUGH or (pauses is not None and pauses >= PAUSED_AT)
    return reading.levels.la90_db if bare else None


def returns(heard: Heard | None) -> bool:
    """Tell whether a sound was heard to come back twice at the same distance: two onsets alone always have one."""
    return heard is not None and heard.period_s is not None and heard.events >= RETURN_EVENTS


def cycles(reading: Reading) -> bool:
    """Tell whether a gulp or flush was heard, whoever made it: a slow cycle may begin anew from here."""
    return any(presence(reading, kind) >= LIVELY_CYCLIC_AT for kind in CYCLIC_KINDS)


def due_chance(period_s: Floats, clean_s: float, silent_before_s: float) -> Floats:
    """Return the chance that a cycle shows within ``clean_s`` when it did not in the seconds before.

    Of a cycle with an unknown phase the share T/period shows within T, and all of it once T reaches the period.
    """
    before = np.minimum(silent_before_s / period_s, 0.97)
    by_then = np.minimum((silent_before_s + clean_s + GULP_S) / period_s, 1.0)
    chance: Floats = np.clip((by_then - before) / (1 - before), 0.0, 1.0)
    return chance


def heard_chances(o: Outlook, e: Evidence, beside: NDArray[np.intp]) -> tuple[Floats, Floats]:
    """Return the chance that each judged sound is heard in the window of the evidence, each of shape (7, n).

    The first is that by all that sounds, the second that without gulps and flushes, which come and go. ``beside`` is
    what each guess takes to sound beside the drains, as places in ``beside.THINGS``.
    """
    drained = np.clip((e.settled_s + e.clean_s - o.drain_s) / e.clean_s, 0.0, 1.0)
    in_window = due_chance(o.slurp_period_s, e.clean_s, e.silent_before_s) * drained
    # a box that stood low fills only in the course of time
    refilling = np.clip((o.refill_s - e.waited_s) / e.clean_s, 0.0, 1.0)
    flush_in_window = due_chance(o.flush_period_s, e.clean_s, e.silent_before_s)
    steady = {
        "drawing": o.drawing, "gurgling": o.gurgling * (1 - ROAR_COVERS * o.roaring),
        "trickling": o.trickling, "hissing": o.hissing, "roaring": o.roaring,
        "splashing": np.maximum(o.splashing * drained * (1 - o.covered * o.gulping), refilling),
    }
    cyclic = {
        "gulping": o.gulping * (1 - o.drawing) * in_window, "flushing": o.flushing * flush_in_window,
    }
    made = np.array([_as_much(np.array([thing.makes.get(kind, 0.0) for kind in JUDGED]), e) for thing in THINGS])
    missed = (1 - made[beside].T) * (1 - np.array(e.alarms))[:, None] * _missed(steady, e, len(beside))
    return 1 - missed * _missed(cyclic, e, len(beside)), 1 - missed


def _missed(activity: Mapping[str, Floats], e: Evidence, n: int) -> Floats:
    """Return the chance that none of these regimes makes each judged sound heard as much; shape (7, n)."""
    silent = np.ones((len(JUDGED), n))
    for regime, active in activity.items():
        silent = silent * (1 - _as_much(np.array(CONFUSION[regime]), e)[:, None] * active)
    return silent


def _as_much(chances: Floats, e: Evidence) -> Floats:
    """Return the chances (7,) of hearing each judged sound at all as those of hearing as much as the window held."""
    as_much: Floats = np.where(chances >= OWN_FROM, chances, chances * np.array(e.crossing))
    return as_much


def log_likelihoods(o: Outlook, e: Evidence, beside: NDArray[np.intp]) -> tuple[Floats, Floats]:
    """Return the logarithms of the likelihood of the evidence under each guess, each of shape (n,).

    The first is that of the steady sounds, heard or not; the second what gulps and flushes, which come and go, and
    their periods add to it.
    """
    surely = np.array(e.heard)[:, None]
    by_all, by_steady = (np.log(surely * c + (1 - surely) * (1 - c)).sum(axis=0) for c in heard_chances(o, e, beside))
    steady, cyclic = by_steady, by_all - by_steady
    for period, expected, active in (
        (e.slurp_period_s, o.slurp_period_s, o.gulping), (e.flush_period_s, o.flush_period_s, o.flushing),
    ):
        if period is not None:
            z = np.log(period / expected) / PERIOD_SPREAD
            fits = (1 - PERIOD_DOUBT) * np.exp(-0.5 * z * z) + PERIOD_DOUBT * 0.3
            cyclic = cyclic + np.log(active * fits + (1 - active) * PERIOD_DOUBT * 0.3)
    if e.pauses is not None:  # that it never rests is as true of the next reading; a rest is heard anew
        told = rest_log_likelihood(o, e.pauses, e.rest_doubt)
        steady, cyclic = (steady + told, cyclic) if e.pauses < PAUSED_AT else (steady, cyclic + told)
    return steady, cyclic


def rest_log_likelihood(o: Outlook, pauses: float, doubt: float) -> Floats:
    """Return the logarithm of the likelihood of such a share of a window in pauses under each guess, shape (n,).

    Whatever a sound is taken for: gulps and flushes rest between their bouts, for the share of their cycle in which
    the box fills or falls, and what a pipe does all the time does not. Where a guess expects both, or neither, it
    tells nothing.
    """
    gulps = o.gulping * (1 - o.drawing)
    steady = (o.drawing, o.gurgling, o.trickling, o.hissing, o.roaring, o.splashing)
    calm = np.prod([1 - activity for activity in steady], axis=0)
    rest = np.where(gulps >= o.flushing, o.slurp_rest, o.flush_rest)
    comes_and_goes = 1 - (1 - gulps) * (1 - o.flushing)
    by_cycle = np.exp(-0.5 * ((pauses - rest) / REST_SPREAD) ** 2) / (REST_SPREAD * sqrt(2 * pi))
    by_steady = exp(-0.5 * (pauses / STEADY_REST) ** 2) * 2 / (STEADY_REST * sqrt(2 * pi))
    only_rests, only_steady = comes_and_goes * calm, (1 - comes_and_goes) * (1 - calm)
    density = only_rests * by_cycle + only_steady * by_steady + (1 - only_rests - only_steady)
    told: Floats = np.log(doubt + (1 - doubt) * density)
    return told
