"""Notes of air bubbles in water, one by one and in clouds: pitch after Minnaert, damping after van den Doel."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tests.bench.another_hand.noise import TAU, Floats, Rng

MINNAERT_HZ_M = 3.25
"""Pitch of a bubble in Hz times its radius in m."""

_TEMPLATES = 500

Span = tuple[float, float]


def radii_m(rng: Rng, smallest_m: float, largest_m: float, exponent: float, size: int) -> Floats:
    """Return radii with a density as r^-exponent, the exponent above 1."""
    a, b = smallest_m ** (1 - exponent), largest_m ** (1 - exponent)
    return (a + rng.random(size) * (b - a)) ** (1 / (1 - exponent))


def bubble_note(radius_m: float, rate: int, damping: float, rise: float, attack: float) -> NDArray[np.float32]:
    """Return one bubble's note; ``attack`` is in periods, ``damping`` a factor on that of a lone bubble."""
    pitch_hz = MINNAERT_HZ_M / radius_m
    decay_per_s = (0.13 / radius_m + 0.0072 * radius_m**-1.5) * damping
    t = np.arange(min(int(5.5 / decay_per_s * rate) + 8, int(0.6 * rate))) / rate
    # pitch drift saturates: a bubble near the surface gains some 10-40 %, not octaves
    phase = TAU * pitch_hz * (t + rise * (t - (1 - np.exp(-decay_per_s * t)) / decay_per_s))
    attack_s = attack / pitch_hz
    return (np.exp(-decay_per_s * t) * (1 - np.exp(-t / attack_s)) * np.sin(phase)).astype(np.float32)


def bubble_cloud(
    rng: Rng, n: int, rate: int, at_s: Floats, radius_m: Floats, level: Floats, *,
    rise: Span = (0.0, 0.25), attack: Span = (0.1, 1.0), damping: Span = (0.8, 1.8),
) -> Floats:
    """Return the notes of many bubbles; those whose pitch the sampling cannot hold are left out."""
    out = np.zeros(n)
    fits = (MINNAERT_HZ_M / radius_m < 0.44 * rate) & (MINNAERT_HZ_M / radius_m > 30)
    at_s, radius_m, level = at_s[fits], radius_m[fits], level[fits]
    count = at_s.size
    if count == 0:
        return out
    templates = min(count, _TEMPLATES)
    order = np.argsort(radius_m)
    which = np.empty(count, int)
    which[order] = np.arange(count) * templates // count
    # neighbours in size share a template, shuffled a little so that twins differ
    which = np.clip(which + rng.integers(-3, 4, count), 0, templates - 1)
    typical_m = radius_m[order][(np.arange(templates) * count) // templates]
    notes = [bubble_note(r, rate, rng.uniform(*damping), rng.uniform(*rise), rng.uniform(*attack)) for r in typical_m]
    starts = (at_s * rate).astype(int)
    level = level.astype(np.float32) * rng.choice([-1, 1], count)
    for start, k, gain in zip(starts, which, level, strict=True):
        if 0 <= start < n:
            end = min(n, start + notes[k].size)
            out[start:end] += gain * notes[k][: end - start]
    return out
