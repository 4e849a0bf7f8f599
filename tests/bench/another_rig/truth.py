"""What is truly audible: the level of each noise at the microphone, from the water alone, against the room's.

A noise counts as audible a little under the room's own level, since its character stands out; plainly audible is what
reaches that level for a second in all. Levels are in dB(A) before the microphone's unknown gain.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from tests.bench.another_rig.hydraulics import LITRES_AN_HOUR, Installation
from tests.bench.another_rig.water import STEP_S, Course

KINDS = ("gurgle", "slurp", "trickle", "hiss", "flush", "roar", "splash")
UNDER_ROOM_DB = 5.0
AUDIBLE_S = 0.4
PLAIN_S = 1.0
ABSENT_DBA = -99.0

Levels = dict[str, NDArray[np.float64]]


@dataclass(frozen=True)
class Loudness:
    """How loud an installation's noises are, each at a reference state of its water."""

    room_dba: float
    gurgle_dba: float
    gurgle_excess: float  # of the Froude number over its limit, in which the gurgle comes to its level
    slurp_dba: float
    flush_dba: float
    flush_dip_db: float  # by which a full flush calms
    gasp: float  # amplitude at a flush's end, of its own
    hiss_dba: float
    trickle_dba: float
    roar_dba: float
    splash_drop_m: float  # at which it begins to be heard


def draw_loudness(rng: np.random.Generator) -> Loudness:
    u = rng.uniform
    return Loudness(
        room_dba=u(27, 37), gurgle_dba=u(40, 50), gurgle_excess=u(0.2, 0.4), slurp_dba=u(44, 56), flush_dba=u(47, 58),
        flush_dip_db=u(0, 8), gasp=u(0.5, 1.2), hiss_dba=u(26, 33), trickle_dba=u(37, 46), roar_dba=u(48, 58),
        splash_drop_m=u(0.12, 0.26),
    )


def fullness(course: Course) -> NDArray[np.float64]:
    """Return how far the channel runs full: a film dense enough, and the suction that it draws."""
    return np.clip((course.suction_m - 0.03) / 0.12, 0, 1) * np.clip((course.froude - 0.6) / 0.4, 0, 1)


def flush_envelopes(course: Course, loudness: Loudness) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the amplitudes of the rush (loud while it fills, calmer once it runs full) and of the gasp at its end."""
    full = fullness(course)
    share = STEP_S / 1.5
    late = signal.lfilter([share], [1, share - 1], full)
    gasping = course.broken & (course.suction_m > 0.004)
    return full * 10 ** (-loudness.flush_dip_db * late / 20), gasping * loudness.gasp


def levels_dba(course: Course, loudness: Loudness, built: Installation) -> Levels:
    """Return each kind's level at every step."""
    channel = built.channel
    excess = np.maximum(course.froude / channel.gurgle_froude - 1, 1e-6)
    gurgle = (
        loudness.gurgle_dba + 20 * np.log10(1 - np.exp(-excess / loudness.gurgle_excess))
        + 5 * np.minimum(excess, 2.0) + 20 * np.log10(1.0001 - fullness(course))
    )
    slurp = loudness.slurp_dba + 10 * np.log10(course.siphon_m3_s / built.flow_m3_s + 0.1)
    flush = np.maximum(*flush_envelopes(course, loudness))
    air_m_s = np.where(course.broken, 0.0, course.air_m_s)
    hiss = (
        loudness.hiss_dba + 60 * np.log10(np.maximum(air_m_s, 1) / 15)
        + 20 * np.log10(channel.vent_bore_m(course.vent) / 0.003)
    )
    trickle = _torn_film(course, built)
    emergency_l_h = course.emergency_m3_s * LITRES_AN_HOUR
    roar = loudness.roar_dba + 12 * np.log10(np.maximum(emergency_l_h, 1e-3) / 200)
    drop = np.maximum(course.weir_drop_m, 0.005) / loudness.splash_drop_m
    return {
        "gurgle": np.where(course.froude > channel.gurgle_froude, gurgle, ABSENT_DBA),
        "slurp": np.where(course.gulping, slurp, ABSENT_DBA),
        "flush": np.where(flush > 0.01, loudness.flush_dba + 20 * np.log10(np.maximum(flush, 1e-4)), ABSENT_DBA),
        "hiss": np.minimum(np.where(air_m_s > 3, hiss, ABSENT_DBA), 50),
        "trickle": np.where(
            trickle > 1e-3, loudness.trickle_dba + 20 * np.log10(np.maximum(trickle, 1e-4)), ABSENT_DBA
        ),
        "roar": np.where(emergency_l_h > 2, roar, ABSENT_DBA),
        "splash": loudness.room_dba - 5 + 35 * np.log10(drop),
    }


def audible(levels: Levels, room_dba: float) -> set[str]:
    return _heard_for(levels, room_dba - UNDER_ROOM_DB, AUDIBLE_S)


def plainly_audible(levels: Levels, room_dba: float) -> set[str]:
    return _heard_for(levels, room_dba, PLAIN_S)


def how_much(levels: Levels, room_dba: float) -> str:
    """Return each audible kind with the share of the time and its loudest second over the room."""
    second = round(1 / STEP_S)
    told = []
    for kind in sorted(audible(levels, room_dba)):
        over_db = levels[kind] - room_dba
        loudest_db = np.sort(over_db)[-min(second, len(over_db))]
        told.append(f"{kind} {np.mean(over_db > -UNDER_ROOM_DB):.0%} of the time, {loudest_db:+.0f} dB")
    return "; ".join(told)


def _torn_film(course: Course, built: Installation) -> NDArray[np.float64]:
    """Return the amplitude of the trickle: a tap too wide tears a film that is neither bare nor dense."""
    channel = built.channel
    wide = max(course.vent - built.vent_torn, 0.0) / (1 - built.vent_torn + 1e-6)
    film = np.clip((course.froude - 0.04) / 0.12, 0, 1)
    return (1 - math.exp(-wide / 0.3)) * film * np.clip(2.0 - course.froude / channel.gurgle_froude, 0.1, 1)


def _heard_for(levels: Levels, over_dba: float, seconds: float) -> set[str]:
    return {kind for kind in KINDS if (levels[kind] > over_dba).sum() * STEP_S >= seconds}
