"""Where the water stands in the box: the running level and the regimes, at the described or the middle setting."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.random import Generator

from tuner.rig import Rig
from tuner.water.balance import balance
from tuner.water.band import Band, band_of, share_of
from tuner.water.facts import fit, speeds_of
from tuner.water.flood import TYPICAL_VENT_OPENING
from tuner.water.plumbing import sample_plumbing
from tuner.water.scene import weir_head_m
from tuner.water.window import quiet_window

DRAWS, DRAWS_WITH_FACTS = 1500, 8000


@dataclass(frozen=True, slots=True)
class Standing:
    """Levels as 90 % bands, and how many draws are in which state (0-1).

    ``described`` tells whether the valve stands where the description says; otherwise it stands mid-window.
    """

    level_m: Band
    over_crest_m: Band  # the running level over the open channel's crest; negative where the channel is dry
    over_weir_m: Band  # the tank's surface over the weir's edge
    supply_m3_s: Band
    described: bool
    quiet_share: float
    slurping_share: float  # open channel dry: the siphon takes all, or gulps air
    gurgling_share: float  # open channel over its limit, or flushing
    wet_emergency_share: float


def standing(rig: Rig, rng: Generator, draws: int | None = None) -> Standing:
    """Return where the water stands, over sampled plumbings narrowed by the rig's facts."""
    n = draws or (DRAWS_WITH_FACTS if rig.facts else DRAWS)
    p, speeds = sample_plumbing(rig, rng, n), speeds_of(rig)
    weights = fit(p, rig.facts, speeds).weights if rig.facts else None
    setting, vent = rig.siphon.valve.setting, rig.channel.vent_setting
    middle = quiet_window(p, speeds, [0.0] * len(speeds)).opening_mid
    opening = np.where(np.isfinite(middle), middle, 1.0) if setting is None else np.minimum(setting / p.valve_full, 1.0)
    tap = TYPICAL_VENT_OPENING if vent is None else np.minimum(vent / p.vent_tap_turns, 1.0)
    b = balance(p, speeds, opening, tap)

    def band(values: object) -> Band:
        found = band_of(np.broadcast_to(np.asarray(values, float), (n,)), weights)
        if found is None:
            raise AssertionError("a level is always finite")
        return found

    def share(condition: object) -> float:
        return share_of(np.broadcast_to(np.asarray(condition), (n,)), weights)

    return Standing(
        level_m=band(b.level_m), over_crest_m=band(b.level_m - p.crest_height_m),
        over_weir_m=band(weir_head_m(p, b.supply_m3_s)),
        supply_m3_s=band(b.supply_m3_s), described=setting is not None, quiet_share=share(b.quiet),
        slurping_share=share(b.dry), gurgling_share=share(b.gurgling | b.flushing),
        wet_emergency_share=share(np.asarray(b.emergency_m3_s) > 0),
    )
