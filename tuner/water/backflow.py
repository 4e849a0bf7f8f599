"""What runs back when the pumps stop."""

from __future__ import annotations

from typing import Any

import numpy as np

from tuner.water.pipes import GRAVITY_M_S2, full_pipe_flow_m3_s

TAIL_DISCHARGE = 2 / 3 * 0.611


def tank_drop_m(weir_head_m: Any, break_depth_m: Any) -> Any:
    """Return how far the tank's surface falls: to the weir's edge, or to the mouth that breaks the back-siphon.

    Both are measured down from the running surface; the deeper one counts.
    """
    return np.maximum(weir_head_m, break_depth_m)


def back_siphon_volume_m3(tank_area_m2: Any, drop_m: Any) -> Any:
    """Return the water that leaves the tank as its surface falls by ``drop_m``.

    >>> round(back_siphon_volume_m3(1.2 * 0.6, 0.025) * 1e3, 1)
    18.0
    """
    return tank_area_m2 * drop_m


def weir_tail_time_s(tank_area_m2: Any, weir_length_m: Any, start_head_m: Any, end_head_m: Any) -> Any:
    """Return how long the tank drains over its weir from one head to another with no inflow.

    t = 2A/(C b) (h1^-1/2 - h0^-1/2), C = (2/3) 0.611 sqrt(2g): the weir's own law integrated. It never ends
    quite, so a power-failure test takes five minutes or more.

    >>> round(float(weir_tail_time_s(0.72, 0.3, 0.015, 0.002)))
    38
    """
    c = TAIL_DISCHARGE * np.sqrt(2 * GRAVITY_M_S2)
    return 2 * tank_area_m2 / (c * weir_length_m) * (end_head_m**-0.5 - start_head_m**-0.5)


def back_siphon_flow_m3_s(nozzle_diameter_m: Any, net_head_m: Any, loss_k: Any, viscosity_m2_s: float) -> Any:
    """Return the flow running back through a return line, counted in its narrowest bore (the nozzle)."""
    return full_pipe_flow_m3_s(net_head_m, nozzle_diameter_m, 0.0, loss_k, viscosity_m2_s)
