"""When drops, bubbles and blows come, and how their grains are laid into a sound."""

from __future__ import annotations

import numpy as np
from scipy import signal

from tests.bench.another_hand.noise import Floats, Rng

_STEPS_PER_S = 400  # how finely a changing rate of events is followed


def poisson_times(rng: Rng, n: int, rate: int, per_s: float | Floats) -> Floats:
    """Return times in s of independent events, at one rate or at a rate for each of the ``n`` samples."""
    if np.isscalar(per_s):
        length_s = n / rate
        return np.sort(rng.uniform(0, length_s, rng.poisson(per_s * length_s)))
    step = max(1, int(rate / _STEPS_PER_S))
    r = np.maximum(per_s[::step], 0)
    expected = np.concatenate([[0], np.cumsum(r)]) * step / rate
    count = rng.poisson(expected[-1])
    return np.sort(np.interp(rng.uniform(0, expected[-1], count), expected, np.arange(expected.size) * step / rate))


def renewal_times(rng: Rng, length_s: float, per_s: float, spread: float) -> Floats:
    """Return quasi-regular times in s: gamma spaced, ``spread`` their coefficient of variation."""
    k = 1 / spread**2
    m = int(length_s * per_s * 1.5 + 40)
    t_s = np.cumsum(rng.gamma(k, 1 / (k * per_s), m)) - rng.uniform(0, 1 / per_s)
    return t_s[(t_s > 0) & (t_s < length_s)]


def add_at(out: Floats, start: int, grain: Floats) -> None:
    """Add a grain at a sample; what stands out over the end is cut, what starts outside is left out."""
    if 0 <= start < out.size:
        end = min(out.size, start + grain.size)
        out[start:end] += grain[: end - start]


def pulse_train(
    rng: Rng, n: int, rate: int, first_per_s: float, last_per_s: float, jitter: float, decay_s: float
) -> Floats:
    """Return the envelope of a rasp: jittered pulses whose rate glides."""
    out, t_s, length_s = np.zeros(n), 0.0, n / rate
    while t_s < length_s:
        out[min(n - 1, int(t_s * rate))] += np.exp(rng.normal(0, 0.4))
        t_s += np.exp(rng.normal(0, jitter)) / (first_per_s + (last_per_s - first_per_s) * t_s / length_s)
    k_s = np.arange(int(6 * decay_s * rate)) / rate
    return signal.oaconvolve(out, np.exp(-k_s / decay_s) - np.exp(-k_s / (decay_s * 0.15)))[:n]


def cycle_times(rng: Rng, heard_s: float, lead_s: float, period_s: float, length_s: float) -> Floats:
    """Return starts in s of what comes round; one at least begins inside the heard part, after the lead."""
    first_s = lead_s + rng.uniform(0, min(period_s, max(0.15, heard_s - length_s)))
    jitter = rng.uniform(0.01, 0.07)
    starts = [first_s]
    while starts[-1] < lead_s + heard_s:
        starts.append(starts[-1] + period_s * (1 + rng.normal(0, jitter)))
    if first_s - period_s > 0:
        starts.insert(0, first_s - period_s)
    return np.array(starts)
