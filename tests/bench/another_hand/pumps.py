"""What pumps make: hum and rattle, each built in three ways."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy import signal

from tests.bench.another_hand.events import add_at, renewal_times
from tests.bench.another_hand.noise import (
    TAU,
    Floats,
    Rng,
    amplitude,
    hump,
    log_uniform,
    resonance,
    steady_noise,
    unit,
    wander,
)
from tests.bench.another_hand.pipes import ringing

Body = tuple[Floats, Floats]
"""Resonances of what the pump stands in: pitches (Hz) and qualities."""


def hum(rng: Rng, n: int, rate: int) -> Floats:
    """Return the tones of a pump over the bed of its water."""
    build, bed_db = ((_mains_pumps, (-26, -12)), (_dc_pump, (-24, -10)), (_pulled_cabinet, (-26, -12)))[rng.integers(3)]
    mains_hz = rng.choice([50.0, 60.0])
    body = log_uniform(rng, 90, 600, 4), rng.uniform(3, 12, 4)
    bed_hz = log_uniform(rng, 150, 500)
    bed = steady_noise(rng, n, rate, lambda f: hump(f, bed_hz, 1, 1))
    return build(rng, n, rate, mains_hz, body) + bed * amplitude(rng.uniform(*bed_db))


def _body_gain(body: Body, f_hz: float) -> float:
    return 0.4 + sum(resonance(f_hz, centre_hz, q) for centre_hz, q in zip(*body, strict=True))


def _mains_pumps(rng: Rng, n: int, rate: int, mains_hz: float, body: Body) -> Floats:
    """Return the steady partials of a mains pump, or of two nearly alike that beat."""
    t = np.arange(n) / rate
    y = np.zeros(n)
    mains_hz = mains_hz * (1 + rng.normal(0, 3e-4))
    common_phase = np.cumsum(wander(rng, n, rate, 0.3)) / rate * rng.uniform(0.005, 0.04) * TAU
    for pump in range(rng.integers(1, 3)):
        slip_hz = rng.uniform(0.05, 1.2) if pump else 0
        partials_hz = [(2 * mains_hz + slip_hz) * k for k in range(1, rng.integers(4, 9))]
        partials_hz += [mains_hz] + ([3 * mains_hz, 5 * mains_hz] if rng.random() < 0.5 else [])
        roll = rng.uniform(0.5, 1.6)
        for f_hz in partials_hz:
            k = f_hz / (2 * mains_hz)
            level = max(k, 0.5) ** -roll * np.exp(rng.normal(0, 0.6)) * _body_gain(body, f_hz)
            level = level * (0.4 if k < 0.9 else 1)
            y += level * np.sin(TAU * f_hz * t + k * common_phase + rng.uniform(0, TAU))
    return unit(y) * (1 + 0.04 * wander(rng, n, rate, 0.4))


def _dc_pump(rng: Rng, n: int, rate: int, _mains_hz: float, body: Body) -> Floats:
    """Return shaft, blade and commutation orders of a speed that wanders."""
    turns_hz = rng.uniform(28, 65)
    speed_hz = turns_hz * (1 + rng.uniform(0.0005, 0.006) * wander(rng, n, rate, rng.uniform(0.15, 0.8)))
    phase = TAU * np.cumsum(speed_hz) / rate
    blades, pole_pairs = rng.integers(4, 9), rng.integers(1, 4)
    orders = {
        1: 0.5, 2: 0.4, blades: 1, 2 * blades: 0.4, 6 * pole_pairs: 0.8, 12 * pole_pairs: 0.3,
        blades - 1: 0.2, blades + 1: 0.2,
    }
    y = np.zeros(n)
    for order, level in orders.items():
        loud = level * np.exp(rng.normal(0, 0.5)) * _body_gain(body, order * turns_hz)
        y += loud * np.sin(order * phase + rng.uniform(0, TAU))
    return unit(y * (1 + rng.uniform(0.02, 0.2) * np.sin(phase + rng.uniform(0, TAU))))


def _pulled_cabinet(rng: Rng, n: int, rate: int, mains_hz: float, body: Body) -> Floats:
    """Return a magnetic pull every half cycle into a resonant cabinet."""
    t = np.arange(n) / rate
    pull_hz = 2 * mains_hz * (1 + rng.normal(0, 4e-4) + 2e-4 * wander(rng, n, rate, 0.2))
    turns = np.cumsum(pull_hz) / rate
    pull = np.maximum(0, np.sin(TAU * turns)) ** rng.uniform(1, 4) + rng.uniform(0.0, 0.3) * np.sin(np.pi * turns)
    pull = pull * (1 + rng.uniform(0, 0.3) * np.sin(TAU * rng.uniform(0.1, 2) * t)) - pull.mean()
    y = unit(ringing(pull, rate, *body, rng.uniform(0.4, 1, 4)))
    return unit(y + rng.uniform(0.3, 1) * unit(pull))


@dataclass(frozen=True, slots=True)
class LoosePart:
    """What rattles: its modes, how loose it sits from moment to moment, and the mains that shakes it."""

    modes_hz: Floats
    qs: Floats
    gains: Floats
    loose: Floats
    mains_hz: float

    def ring(self, x: Floats, rate: int) -> Floats:
        return ringing(x, rate, self.modes_hz, self.qs, self.gains)


def rattle(rng: Rng, n: int, rate: int) -> Floats:
    """Return a part that knocks, over the hum that shakes it."""
    build: Callable[[Rng, int, int, LoosePart], Floats] = (_knocks, _contact, _chatter)[rng.integers(3)]
    mains_hz = rng.choice([50.0, 60.0])
    t = np.arange(n) / rate
    modes = rng.integers(5, 11)
    modes_hz, qs = log_uniform(rng, 350, 6500, modes), rng.uniform(6, 35, modes)
    gains = np.exp(rng.normal(0, 0.5, modes)) * (modes_hz / 1500) ** rng.uniform(-0.6, 0.4)
    loose = np.clip(0.6 + rng.uniform(0.2, 0.6) * wander(rng, n, rate, log_uniform(rng, 0.3, 2)), 0.05, 2)
    shaking = sum(
        np.sin(TAU * mains_hz * k * t + rng.uniform(0, TAU)) * rng.uniform(0.1, 1) / k for k in (1, 2, 4, 6)
    )
    y = unit(build(rng, n, rate, LoosePart(modes_hz, qs, gains, loose, mains_hz)))
    y = y + unit(shaking) * amplitude(rng.uniform(-22, -6))
    return y + steady_noise(rng, n, rate, lambda f: hump(f, 400, 1, 1)) * amplitude(rng.uniform(-28, -16))


def _knocks(rng: Rng, n: int, rate: int, part: LoosePart) -> Floats:
    """Return jittered blows of the vibration, with bounces."""
    mains_hz = part.mains_hz
    per_s = rng.choice([mains_hz / 2, mains_hz, 2 * mains_hz, rng.uniform(18, 60)])
    at_s = np.arange(1 / per_s, n / rate, 1 / per_s)
    at_s = at_s[rng.random(at_s.size) < rng.uniform(0.4, 0.95)]
    at_s = at_s + rng.normal(0, rng.uniform(0.03, 0.12) / per_s, at_s.size)
    level = np.exp(rng.normal(0, 0.6, at_s.size))
    all_s, levels = [at_s], [level]
    for bounce in range(rng.integers(0, 3)):
        later_s = rng.uniform(0.1, 0.35) / per_s
        at_s = at_s + later_s * 0.6**bounce
        level = level * rng.uniform(0.3, 0.7) * np.exp(rng.normal(0, 0.3, level.size))
        all_s.append(at_s)
        levels.append(level)
    start, level = (np.concatenate(all_s) * rate).astype(int), np.concatenate(levels)
    inside = (start > 0) & (start < n)
    blows = np.zeros(n)
    np.add.at(blows, start[inside], level[inside] * part.loose[start[inside]])
    contact = np.hanning(max(3, int(rng.uniform(0.0001, 0.0006) * rate)))
    return part.ring(signal.oaconvolve(blows, contact)[:n], rate)


def _contact(rng: Rng, n: int, rate: int, part: LoosePart) -> Floats:
    """Return a one-sided contact: vibration and wander pressed on a stop."""
    t = np.arange(n) / rate
    f_hz = rng.choice([part.mains_hz, 2 * part.mains_hz])
    offset = np.sin(TAU * f_hz * t) + rng.uniform(0.2, 0.6) * np.sin(TAU * f_hz / 2 * t + 1)
    offset = offset + rng.uniform(0.15, 0.4) * wander(rng, n, rate, f_hz * 0.4) + 0.5 * (part.loose - 0.6)
    force = np.maximum(0, offset - rng.uniform(0.8, 1.2)) ** 1.5
    touches = np.diff(np.sign(force), prepend=0).clip(0) * rng.uniform(0.2, 0.6) * force.max() * 0.05
    kicks = touches * np.exp(0.5 * wander(rng, n, rate, f_hz)) + np.diff(force, prepend=0)
    return part.ring(kicks, rate)


def _chatter(rng: Rng, n: int, rate: int, part: LoosePart) -> Floats:
    """Return an impeller that ticks in its bore: irregular blows, the modes a little off at each."""
    y = np.zeros(n)
    at_s = renewal_times(rng, n / rate, rng.uniform(9, 32), rng.uniform(0.12, 0.45))
    t = np.arange(int(0.04 * rate)) / rate
    decays = part.gains[:, None] * np.exp(-np.pi * (part.modes_hz / part.qs)[:, None] * t)
    for start in (at_s * rate).astype(int):
        pitches_hz = part.modes_hz * rng.normal(1, 0.015, part.modes_hz.size)
        phases = rng.uniform(0, TAU, part.modes_hz.size)
        blow = (decays * np.sin(TAU * pitches_hz[:, None] * t + phases[:, None])).sum(0)
        blow += np.exp(-t / 0.002) * rng.standard_normal(t.size) * rng.uniform(0.2, 0.8)
        loud = part.loose[start] * np.exp(rng.normal(0, 0.4))
        add_at(y, start, blow * loud * np.minimum(1, t / 0.0003))
    return y
