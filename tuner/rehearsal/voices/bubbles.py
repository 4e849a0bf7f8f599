"""The note of an air bubble in water, and clouds of such notes.

Pitch after Minnaert (1933): f = sqrt(3 γ p / ρ) / (2 π r). Damping and the rising note after van den Doel,
"Physically-based models for liquid sounds", ACM Transactions on Applied Perception 2 (2005): the pressure of a
bubble is r^α sin(2π f t (1 + ξ d t)) exp(-d t) with d = 0.13/r + 0.0072 r^-1.5 for r >= 0.15 mm. Bubbles in a
drain sit near walls and near one another and ring shorter than a lone one; a cloud therefore takes a damping
factor above 1.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tuner.errors import ConfigError
from tuner.rehearsal.voices.grains import GrainBank, GrainStream

Floats = NDArray[np.float64]

SMALLEST_RADIUS_M = 0.15e-3
"""Below this radius van den Doel gives no damping."""

_HEARD_DB = 50.0  # a note is cut when it has fallen this far
_GRAINS = 384


def bubble_frequency_minnaert(
    radius_m: float, *, pressure_pa: float = 101_325.0, density_kg_m3: float = 998.2
) -> float:
    """Return the resonance in Hz of a bubble of ``radius_m`` (Minnaert 1933, γ = 1.4, no surface tension).

    >>> round(bubble_frequency_minnaert(1e-3))
    3286
    """
    if not radius_m > 0.0:
        raise ConfigError(f"radius_m={radius_m} must be > 0: a bubble has a size")
    return float(np.sqrt(3.0 * 1.4 * pressure_pa / density_kg_m3) / (2.0 * np.pi * radius_m))


def bubble_damping_van_den_doel(radius_m: float) -> float:
    """Return the decay rate d in 1/s of a bubble of ``radius_m`` (van den Doel 2005, radius >= 0.15 mm).

    >>> round(bubble_damping_van_den_doel(1e-3), 1)
    357.7
    """
    if not radius_m >= SMALLEST_RADIUS_M:
        raise ConfigError(f"radius_m={radius_m} must be >= {SMALLEST_RADIUS_M}: the formula ends there")
    return float(0.13 / radius_m + 0.0072 * radius_m**-1.5)


def bubble_note(radius_m: float, *, sample_rate: int, damping_factor: float, rise: float) -> Floats:
    """Return one bubble's note with unit starting amplitude, cut at -50 dB; shape (n,).

    ``rise`` is the relative pitch rise over one decay time (van den Doel's 2 ξ); 0 for a steady note. The note
    is silent when its pitch lies above 0.45 times the sample rate.
    """
    pitch = bubble_frequency_minnaert(radius_m)
    damping = damping_factor * bubble_damping_van_den_doel(radius_m)
    t = np.arange(max(8, int(_HEARD_DB / 8.686 / damping * sample_rate))) / sample_rate
    if pitch * (1.0 + 2.0 * rise) > 0.45 * sample_rate:
        return np.zeros(len(t))
    onset = np.minimum(1.0, t * pitch * 2.0)
    fade = np.minimum(1.0, (len(t) - np.arange(len(t))) / (0.2 * len(t)))
    out: Floats = (
        onset * fade * np.sin(2.0 * np.pi * pitch * t * (1.0 + 0.5 * rise * damping * t)) * np.exp(-damping * t)
    )
    return out


@dataclass(frozen=True, slots=True)
class BubbleSizes:
    """Which bubbles a cloud holds.

    Radii in metres follow a power law ``radius**-exponent`` between the two ends; amplitudes grow as
    ``radius**growth`` with a log-normal spread of ``spread`` nepers; ``rising`` is the share of rising notes.
    """

    smallest_m: float
    largest_m: float
    exponent: float
    growth: float
    spread: float
    rising: float
    damping_factor: float


Span = tuple[float, float]


def drawn_sizes(
    rng: np.random.Generator,
    *,
    smallest_mm: Span,
    largest_mm: Span,
    exponent: Span,
    growth: Span,
    spread: Span,
    rising: Span,
    damping_factor: Span,
) -> BubbleSizes:
    """Draw a population, each number evenly from its span."""
    return BubbleSizes(
        smallest_m=float(rng.uniform(*smallest_mm)) * 1e-3,
        largest_m=float(rng.uniform(*largest_mm)) * 1e-3,
        exponent=float(rng.uniform(*exponent)),
        growth=float(rng.uniform(*growth)),
        spread=float(rng.uniform(*spread)),
        rising=float(rng.uniform(*rising)),
        damping_factor=float(rng.uniform(*damping_factor)),
    )


def power_law_radii(share: Floats, smallest_m: float, largest_m: float, exponent: float) -> Floats:
    """Return the radii at the shares (0 to 1) of a population with density ~ radius**-exponent.

    >>> power_law_radii(np.array([0.0, 1.0]), 1e-3, 4e-3, 2.0).tolist()
    [0.001, 0.004]
    """
    power = 1.0 - exponent
    if abs(power) < 1e-6:
        out: Floats = smallest_m * (largest_m / smallest_m) ** share
        return out
    low, high = smallest_m**power, largest_m**power
    out = (low + share * (high - low)) ** (1.0 / power)
    return out


def bubble_cloud(sizes: BubbleSizes, *, sample_rate: int, rng: np.random.Generator) -> GrainStream:
    """Return a stream of bubble notes whose sizes are drawn once from the population."""
    share = (np.arange(_GRAINS) + rng.random(_GRAINS)) / _GRAINS
    radii = power_law_radii(share, sizes.smallest_m, sizes.largest_m, sizes.exponent)
    middle = np.sqrt(sizes.smallest_m * sizes.largest_m)
    notes = []
    for radius in radii.tolist():
        rise = float(rng.uniform(0.15, 0.6)) if rng.random() < sizes.rising else 0.0
        damping = sizes.damping_factor * float(np.exp(0.25 * rng.standard_normal()))
        note = bubble_note(radius, sample_rate=sample_rate, damping_factor=damping, rise=rise)
        notes.append(note * (radius / middle) ** sizes.growth)
    return GrainStream(GrainBank(notes), rng.spawn(1)[0], sizes.spread)
