"""What uncertainty costs: which assumed figure is worth a tape measure, and what measured facts have gained."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.random import Generator

from tuner.rig import Rig, measures, walk
from tuner.units import turns_text
from tuner.water.controls import WindowBands, window_bands
from tuner.water.facts import speeds_of
from tuner.water.parameters import PARAMETERS
from tuner.water.plumbing import sample_with_draws, spread_of
from tuner.water.window import quiet_window

DRAWS = 4000
LEAST_SHARE = 0.005  # of the variance: below it a correlation of so many draws is chance


@dataclass(frozen=True, slots=True)
class Cost:
    """What not knowing one figure costs.

    ``name`` is a field of the rig ("siphon.run_m") or a parameter of the model, ``variance_share`` its part in the
    uncertainty of the valve's middle setting (0-1), ``narrower`` the share by which the band would shrink if it
    were measured with a tape (0 for a parameter, which only a fact on the running rig can tell), ``how`` says how.
    """

    name: str
    variance_share: float
    narrower: float
    how: str


def costs(rig: Rig, rng: Generator, draws: int = DRAWS) -> tuple[Cost, ...]:
    """Return what each assumed field and each parameter costs in certainty of the middle setting, dearest first.

    The share of variance is the squared correlation between what was drawn and the setting that came out; inputs
    are drawn independently, so that the shares add up to at most 1.
    """
    p, drawn = sample_with_draws(rig, rng, draws)
    window = quiet_window(p, speeds_of(rig), [0.0] * len(rig.pumps))
    there = np.isfinite(window.setting_mid)
    if there.sum() < draws // 10:
        return ()
    mid = np.log(window.setting_mid[there])
    if np.std(mid) == 0.0:
        return ()
    parts = dict(walk(rig))
    found: list[Cost] = []
    for name, values in drawn.items():
        column = np.asarray(values)[there]
        if not np.isfinite(column).all() or np.std(column) == 0.0:
            continue
        share = float(np.corrcoef(column, mid)[0, 1] ** 2)
        if share < LEAST_SHARE:
            continue
        if name in PARAMETERS:
            found.append(Cost(name, share, 0.0, PARAMETERS[name].reason))
        elif name in rig.assumed:
            head, _, tail = name.rpartition(".")
            measure = measures(parts[head])[tail]
            known = spread_of(replace(rig, assumed=rig.assumed - {name}), name)
            left = min(known / measure.spread, 1.0) ** 2
            found.append(Cost(name, share, 1.0 - float(np.sqrt(1.0 - share * (1.0 - left))), measure.how))
    return tuple(sorted(found, key=lambda c: c.variance_share, reverse=True))


@dataclass(frozen=True, slots=True)
class Narrowing:
    """The quiet window before and after the rig's facts, and a sentence on what they gained."""

    before: WindowBands
    after: WindowBands
    says: str


def narrowing(rig: Rig, rng: Generator, *, us: bool = False) -> Narrowing:
    """Return what the rig's facts have gained."""
    before = window_bands(replace(rig, facts=()), rng, us=us)
    after = window_bands(rig, rng, us=us)
    if not rig.facts:
        says = "No fact has been measured yet: the setting at which the siphon just slurps tells most."
    elif after.facts_strained:
        says = (
            "The facts do not fit the description, or each other: count the valve's turns again, check bores and"
            " drops, and whether the pumps ran at the speed described. Until then the bands are stretched."
        )
    elif before.setting_mid is None or after.setting_mid is None:
        says = "There is no quiet window to narrow."
    else:
        old, new = before.setting_mid.width, after.setting_mid.width
        says = f"The middle setting is now known within {_span(new, after.unit)} instead of {_span(old, after.unit)}."
    return Narrowing(before, after, says)


def _span(width: float, unit: str) -> str:
    return turns_text(max(width, 1 / 16)) if unit == "turn" else f"{width:.0f} degrees"
