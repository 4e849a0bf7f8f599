"""What each place of the plant gives off: from the state of the water to the drives of the voices.

A drive is 0 when the place is silent, 1 at the typical strength of its voice and about 3 when violent. Onsets come
from the regimes (the Froude number at which the channel gurgles, the suction at which its film breaks up ...);
the slopes above an onset are choices, made so that a mild fault gives about 0.3 and a gross one about 3.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from tuner.rehearsal.draw import REAL_FILM_SHARE
from tuner.rehearsal.installation import Installation
from tuner.rehearsal.plant import TRAPPED_SHARE, Trace
from tuner.terms import SoundKind
from tuner.water import laws
from tuner.water.regimes import flow_at_froude_m3_s

Floats = NDArray[np.float64]

Spot = Literal[
    "channel gurgle", "siphon gurgle", "siphon slurp", "channel trickle", "vent hiss", "channel flush",
    "emergency roar", "outlet splash", "weir splash", "pump air hiss", "pump air crackle", "return air hiss",
    "return air crackle", "pump hum", "pump rattle",
]  # fmt: skip

SPOTS: dict[Spot, SoundKind] = {
    "channel gurgle": "gurgle",
    "siphon gurgle": "gurgle",
    "siphon slurp": "slurp",
    "channel trickle": "trickle",
    "vent hiss": "hiss",
    "channel flush": "flush",
    "emergency roar": "roar",
    "outlet splash": "splash",
    "weir splash": "splash",
    "pump air hiss": "hiss",
    "pump air crackle": "trickle",
    "return air hiss": "hiss",
    "return air crackle": "trickle",
    "pump hum": "hum",
    "pump rattle": "rattle",
}
"""Every place that can sound, and the voice that it has."""

MOST = 4.0
LEAST = 0.02
"""Drives below this are silence: 34 dB under the typical level."""

_LITRE_M3 = 1e-3
_FALL_REFERENCE_W = 1.0  # 1 L/s falling 0.1 m, a plain splash
_EMERGENCY_REFERENCE_M3_S = 0.25 * _LITRE_M3
_PUMP_AIR_FADE_M = 0.015


def drives_of(truth: Installation, trace: Trace) -> dict[Spot, Floats]:
    """Return the drive of every spot for every control step of ``trace``, each of shape (n,)."""
    p = truth.plumbing
    gurgle_m3_s = float(laws.gurgle_flow_m3_s(p))
    film = np.where(trace.fill > 0.0, 0.0, trace.channel)
    over = np.maximum(film / gurgle_m3_s - 1.0, 0.0)
    air_laden = (trace.trapped >= TRAPPED_SHARE) & (trace.siphon > 0.0)
    siphon_fr = trace.siphon / float(flow_at_froude_m3_s(1.0, p.siphon_diameter_m))
    rumble = 1.4 * np.maximum(siphon_fr / 0.3, 0.0) ** 0.6 * np.minimum(1.0, trace.trapped / 0.2) ** 0.5
    drives: dict[Spot, Floats] = {
        "channel gurgle": 1.4 * over**0.6,
        "siphon gurgle": np.where(air_laden, 0.6 * rumble, 0.0),
        "siphon slurp": _slurp(truth, trace, air_laden & (trace.surge > 0.0)),
        "channel trickle": _breaking_up(truth, trace, film, gurgle_m3_s),
        "vent hiss": _hissing(truth, trace),
        "channel flush": _flushing(trace),
        "emergency roar": (trace.emergency / _EMERGENCY_REFERENCE_M3_S) ** 0.5,
        "outlet splash": _outlets(truth, trace),
        "weir splash": _weir(truth, trace),
    }
    drives.update(_pump(truth, trace))
    return {spot: _audible(drive) for spot, drive in drives.items()}


def _audible(drive: Floats) -> Floats:
    out: Floats = np.where(drive < LEAST, 0.0, np.minimum(drive, MOST))
    return out


def _slurp(truth: Installation, trace: Trace, surging: NDArray[np.bool_]) -> Floats:
    p = truth.plumbing
    strength = (trace.siphon / _LITRE_M3) ** 0.3
    lost = max(0.05, 1.0 - float(p.broken_share))
    gulping = np.where(trace.gulp > 0.25 * lost, (trace.gulp / lost) ** 0.5 * strength, 0.0)
    return np.maximum(1.2 * gulping, np.where(surging, 0.8 * strength, 0.0))


def _breaking_up(truth: Installation, trace: Trace, film: Floats, gurgle_m3_s: float) -> Floats:
    share = film / gurgle_m3_s
    missing = np.maximum(1.0 - trace.suction_m / float(truth.plumbing.breakup_head_m), 0.0)
    heard = (share > REAL_FILM_SHARE) & (trace.fill <= 0.0) & (share < 1.0)
    out: Floats = np.where(heard, 2.2 * missing**0.7 * np.maximum(share - REAL_FILM_SHARE, 0.0) ** 0.6, 0.0)
    return out


def _hissing(truth: Installation, trace: Trace) -> Floats:
    jet = laws.vent_jet_m_s(truth.plumbing, np.maximum(trace.suction_m, 0.0))
    excess = np.maximum(jet / float(truth.plumbing.hiss_jet_m_s) - 1.0, 0.0)
    # A channel that runs full lets no air down: its tap is drowned out by the torrent.
    out: Floats = np.where(trace.fill > 0.0, 0.0, 2.0 * excess**0.6)
    return out


def _flushing(trace: Trace) -> Floats:
    out: Floats = np.where(trace.fill > 0.15, trace.fill * (trace.channel / _LITRE_M3) ** 0.4, 0.0)
    return out


def _outlets(truth: Installation, trace: Trace) -> Floats:
    p = truth.plumbing
    power_w = np.zeros(len(trace.time_s))
    for flow, depth_m in ((trace.siphon, p.siphon_outlet_depth_m), (trace.channel, p.channel_outlet_depth_m)):
        fall_m = np.maximum(-(float(depth_m) + trace.sump_rise_m), 0.0)
        # The jet of a full pipe brings its own speed; 20 mm of fall stand for it.
        power_w += np.where(fall_m > 0.0, 9.81 * 1000.0 * flow * (fall_m + 0.02), 0.0)
    out: Floats = (power_w / _FALL_REFERENCE_W) ** 0.5
    return out


def _weir(truth: Installation, trace: Trace) -> Floats:
    fall_m = float(truth.plumbing.weir_height_m) - trace.level_m
    free_m = np.maximum(fall_m - truth.weir.cling_m, 0.0)
    power_w = 9.81 * 1000.0 * trace.weir * free_m
    out: Floats = (power_w / _FALL_REFERENCE_W) ** 0.5
    return out


def _pump(truth: Installation, trace: Trace) -> dict[Spot, Floats]:
    r = truth.returns
    at_pump = np.clip((trace.chamber_fall_m - truth.sump.intake_m) / _PUMP_AIR_FADE_M, 0.0, 1.0) * (trace.pump > 0.2)
    at_nozzle = np.clip(1.0 - trace.nozzle_cover_m / r.entrain_depth_m, 0.0, 1.0) * (trace.supply > 0.0)
    # Air comes through the rotor in gusts; at the nozzle it is dragged in steadily.
    turns = 2.0 * np.pi * trace.time_s / r.gust_s
    gust = 1.0 + 0.35 * np.sin(turns) * np.sin(turns / 2.53)
    pump_air = 2.0 * at_pump**0.5 * gust
    return_air = 2.0 * at_nozzle**0.5
    # 50 lg(N2/N1) decibels with speed (fans and pumps, from memory).
    running = trace.pump**2.5
    return {
        "pump air hiss": pump_air,
        "pump air crackle": 1.1 * pump_air * gust,
        "return air hiss": return_air,
        "return air crackle": 0.8 * return_air,
        "pump hum": r.hum * running,
        "pump rattle": r.rattle * running,
    }
