"""Draws whole rehearsals: a case with one cause, a quiet one, or a detuned system for a closed loop."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from tuner.errors import ConfigError
from tuner.rehearsal.cabinet import Cabinet
from tuner.rehearsal.draw import draw_installation, opening_for, vent_for_film
from tuner.rehearsal.drives import SPOTS, Spot
from tuner.rehearsal.faults import RECIPES, quiet
from tuner.rehearsal.figures import STEP_S
from tuner.rehearsal.installation import Installation, Settings
from tuner.rehearsal.rehearsal import Rehearsal
from tuner.rehearsal.truth import HEALTHY_HUM, Ahead, look_ahead
from tuner.rehearsal.voices import TYPICAL_LEVEL_DB
from tuner.terms import CAUSE_NAMES, CauseName, Samples
from tuner.water import laws

Floats = NDArray[np.float64]

_TRIES = 400
_AHEAD_S = 120.0  # longer than the longest cycle that a recipe allows
_SETTLE_S = (60.0, 110.0)
_RESTART_S = 90.0  # beyond the usual time of a purge
_CURABLE: frozenset[CauseName] = frozenset(
    {"siphon over-open", "siphon over-closed", "vent too wide", "vent too closed", "emergency carrying flow"}
)
_EMERGENCY_SHARE = 0.5  # of the time in which an emergency that counts as carrying does carry
_BACKGROUND_DB = (22.0, 34.0)
_LEAST_OVER_FLOOR_DB = -4.0
"""A case is kept when its sound is at least this much over room and microphone noise, both A-weighted: its own
octaves then stand clear of noise that lies mostly elsewhere."""


def draw_case(
    cause: CauseName | None,
    seed: int,
    *,
    sample_rate: int,
    household: Samples | None = None,
    household_db: float = 45.0,
) -> Rehearsal:
    """Draw a rehearsal in which exactly ``cause`` is heard, or nothing at all for None; settled and running.

    Raises
    ------
    ConfigError
        When the cause is none that a plant can have, or no case was found.
    """
    if cause is not None and cause not in RECIPES:
        raise ConfigError(f"cause={cause!r} must be None or one of {', '.join(RECIPES)}: what a plant can have")
    which = 0 if cause is None else 1 + CAUSE_NAMES.index(cause)
    wanted = frozenset() if cause is None else frozenset({cause})
    rng = np.random.default_rng([seed, which])
    for _ in range(_TRIES):
        made = (quiet if cause is None else RECIPES[cause])(draw_installation(rng), rng)
        again = int(rng.integers(2**62))
        background_db = float(rng.uniform(*_BACKGROUND_DB))
        settle_s = float(rng.uniform(*_SETTLE_S))
        if made is None:
            continue
        rehearsal = Rehearsal(
            made,
            sample_rate=sample_rate,
            seed=again,
            background_db=background_db,
            household=household,
            household_db=household_db,
            cause=cause,
        )
        if cause == "siphon not purged":
            settle_s += _RESTART_S
        rehearsal.wait(settle_s)
        ahead = look_ahead(made, rehearsal.plant, _AHEAD_S)
        if ahead.causes != wanted:
            continue
        if cause is None:
            return rehearsal
        if cause == "emergency carrying flow" and np.mean(ahead.trace.emergency > 0.0) < _EMERGENCY_SHARE:
            continue
        if over_floor_db(rehearsal.cabinet, ahead) > _LEAST_OVER_FLOOR_DB:
            _wait_for_sound(rehearsal, ahead, float(rng.uniform(0.5, 8.0)))
            return rehearsal
    raise ConfigError(f"seed={seed} must lead to a case of {cause!r} within {_TRIES} tries: widen its recipe")


def draw_any(seed: int, *, sample_rate: int) -> Rehearsal:
    """Draw a rehearsal with one cause, whichever the seed brings: what a keeper who knows nothing may meet."""
    which = int(np.random.default_rng([seed, 98]).integers(len(RECIPES)))
    return draw_case(tuple(RECIPES)[which], seed, sample_rate=sample_rate)


def draw_noisy(
    seed: int, *, sample_rate: int, household: Samples | None = None, household_db: float = 45.0
) -> Rehearsal:
    """Draw a tunable installation that is out of tune in a way that valve, tap (and pump speed) can cure.

    Raises
    ------
    ConfigError
        When no such rehearsal was found.
    """
    rng = np.random.default_rng([seed, 99])
    for _ in range(_TRIES):
        truth = draw_installation(rng)
        made = replace(truth, settings=_detuned(truth, rng))
        again = int(rng.integers(2**62))
        background_db = float(rng.uniform(*_BACKGROUND_DB))
        settle_s = float(rng.uniform(*_SETTLE_S))
        rehearsal = Rehearsal(
            made, sample_rate=sample_rate, seed=again, background_db=background_db, household=household,
            household_db=household_db,
        )
        rehearsal.wait(settle_s)
        ahead = look_ahead(made, rehearsal.plant, _AHEAD_S)
        curable = bool(ahead.causes) and ahead.causes <= _CURABLE
        if curable and over_floor_db(rehearsal.cabinet, ahead) > _LEAST_OVER_FLOOR_DB:
            return rehearsal
    raise ConfigError(f"seed={seed} must lead to a noisy rehearsal within {_TRIES} tries")


def _detuned(truth: Installation, rng: np.random.Generator) -> Settings:
    """Return settings off in the valve (mostly), the tap (often) and the speed (some variable pumps)."""
    p, s = truth.plumbing, truth.settings
    supply = float(laws.supply_flow_m3_s(p, s.speeds))
    valve, vent, speeds = s.valve, s.vent, s.speeds
    way = rng.choice(["open", "closed", "tap"], p=[0.3, 0.5, 0.2])
    if way == "open":
        wanted = supply * (1.0 + float(np.exp(rng.uniform(np.log(0.012), np.log(0.25)))))
        valve = opening_for(p, wanted, float(laws.gulp_level_m(p, wanted)))
    elif way == "closed":
        surplus = float(laws.gurgle_flow_m3_s(p)) * float(np.exp(rng.uniform(np.log(1.1), np.log(4.0))))
        surplus = min(surplus, 0.5 * supply)
        valve = max(0.04, opening_for(p, supply - surplus, p.crest_height_m))
        if rng.random() < 0.6:
            # A keeper who heard it flush has opened the tap for this flow already; it goes on gurgling.
            vent = min(1.0, max(vent, vent_for_film(p, surplus)))
    if way == "tap" or rng.random() < 0.25:
        factor = float(np.exp(rng.uniform(np.log(1.2), np.log(3.0))))
        vent = float(np.clip(vent * factor ** float(rng.choice([-1.0, 1.0])), 0.02, 1.0))
    if truth.rig.pumps[0].speed_step > 0.0 and rng.random() < 0.25:
        change = 1.0 + float(rng.uniform(-0.06, 0.06))
        speeds = tuple(float(np.clip(v * change, 0.3, 1.0)) for v in speeds)
    return Settings(valve=valve, vent=vent, speeds=speeds)


def _wait_for_sound(rehearsal: Rehearsal, ahead: Ahead, lead_s: float) -> None:
    """Let the quiet part of a long cycle pass, up to ``lead_s`` before the plant is heard again."""
    heard = np.any([d > 0.1 for d in _heard(ahead).values()], axis=0)
    first_s = float(np.argmax(heard)) * STEP_S
    if first_s > lead_s:
        rehearsal.wait(first_s - lead_s)


def _heard(ahead: Ahead) -> dict[Spot, Floats]:
    """Return the drives of what sounds, a healthy pump's hum left out."""
    hum = float(ahead.drives["pump hum"].mean())
    return {spot: d for spot, d in ahead.drives.items() if spot != "pump hum" or hum > HEALTHY_HUM}


def over_floor_db(cabinet: Cabinet, ahead: Ahead) -> float:
    """Return about how far the plant's sound is over room and microphone noise, in its louder moments.

    From the voices' typical levels, the drives, the doors and the distance; no sound is rendered.
    """
    power = np.zeros(len(ahead.trace.time_s))
    for spot, drive in _heard(ahead).items():
        power += 10.0 ** ((TYPICAL_LEVEL_DB[SPOTS[spot]] + cabinet.loss_db(spot)) / 10.0) * drive**2
    sounding = power[power > 0.0]
    if not sounding.size:
        return float("-inf")
    level_db = 10.0 * np.log10(float(np.quantile(sounding, 0.75))) - 14.0 * np.log10(max(cabinet.distance_m, 0.3))
    return float(level_db - cabinet.floor_db)
