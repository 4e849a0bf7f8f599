"""What every failure of the flood check is computed from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tuner.rig import Rig
from tuner.water.plumbing import Figure, Plumbing
from tuner.water.verdict import FloodCase, Number, Verdict, number
from tuner.water.weir import weir_head_kindsvater_carter


@dataclass(frozen=True, slots=True)
class Setup:
    """What every failure is computed from: the rig, its draws and weights, its normal supply and settings."""

    rig: Rig
    plumbing: Plumbing
    weights: NDArray[np.float64] | None
    supply_m3_s: Figure  # at the present speeds
    full_supply_m3_s: Figure  # every pump at full speed
    opening: Figure  # of the siphon valve, now or mid-window
    vent_opening: Figure
    us: bool

    def med(self, values: Any) -> float:
        """Return the median of sampled values, weighted as the draws are; NaN when none is finite."""
        return number("", values, "", self.weights).band.middle


def weir_head_m(p: Plumbing, supply: Figure) -> Figure:
    """Return the head over the tank's edge at a flow."""
    return weir_head_kindsvater_carter(supply / p.weir_share, p.weir_length_m * p.weir_open_share, p.weir_height_m)


def box_limit_m(p: Plumbing, supply: Figure) -> Figure:
    """Return the highest level that the box may reach: its rim, or the tank at the rim of its glass."""
    return np.minimum(p.box_depth_m, p.weir_height_m + weir_head_m(p, supply) + p.tank_glass_above_m)


def case_of(
    name: str,
    verdict: Verdict,
    says: str,
    numbers: list[Number],
    share: float,
    mend: list[str],
    measure: tuple[str, ...],
) -> FloodCase:
    """Return a case; what to measure is kept only where it does not plainly hold."""
    wanted = () if verdict == "holds" else measure
    return FloodCase(name, verdict, says, tuple(numbers), share, tuple(mend), wanted)
