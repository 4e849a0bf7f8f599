"""Friction of pipes and losses of fittings.

Loss coefficients are multiples of V^2/2g. Published values of one fitting differ by -20 to +30 % and more
(a 90 degree elbow: 0.25 to 1.5 across handbooks), so that a sum of them is a band until one flow is measured.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from tuner.water.band import Estimate

GRAVITY_M_S2 = 9.80665
PVC_ROUGHNESS_M = 1.5e-6  # drawn tubing and PVC, as tables of roughness give it
ELBOW_K, ELBOW_K_SPREAD = 0.9, 0.30  # median of handbooks 0.25-1.5, relative standard deviation
ENTRANCE_K, ENTRANCE_K_SPREAD = 0.65, 0.25  # sharp 0.5 to projecting 0.8, a strainer included
EXIT_K = 1.0
LOWEST_REYNOLDS = 1000.0  # friction is held at its value there: below it a nearly closed valve makes all the loss


def pipe_area_m2(diameter_m: Any) -> Any:
    """Return the cross-section of a round pipe."""
    return np.pi / 4 * diameter_m**2


def friction_factor_swamee_jain(reynolds: Any, relative_roughness: Any) -> Any:
    """Return Darcy's friction factor by Swamee and Jain (1976), explicit.

    Limits: Reynolds 5e3 to 1e8, roughness/diameter 1e-6 to 5e-2, within 1 % of Colebrook. Reynolds numbers
    below ``LOWEST_REYNOLDS`` are held there (0.062, against 0.064 of laminar flow).

    >>> round(float(friction_factor_swamee_jain(1e5, 1e-4)), 7)
    0.0184524
    """
    re = np.maximum(reynolds, LOWEST_REYNOLDS)
    return 0.25 / np.log10(relative_roughness / 3.7 + 5.74 / re**0.9) ** 2


def full_pipe_flow_m3_s(
    head_m: Any, diameter_m: Any, length_m: Any, loss_k: Any, viscosity_m2_s: Any, roughness_m: float = PVC_ROUGHNESS_M
) -> Any:
    """Return the flow of a pipe running full under ``head_m``; 0 where the head is not positive.

    H = V^2/2g (sum K + f L/D) (Darcy and Weisbach), f by Swamee and Jain at the resulting speed (two passes,
    which leave less than 0.1 %). ``loss_k`` includes entrance, bends, valve and the exit; it may be infinite.
    """
    head = np.maximum(head_m, 0.0)
    rough = roughness_m / diameter_m
    slender = length_m / diameter_m
    speed = np.sqrt(2 * GRAVITY_M_S2 * head / (loss_k + 0.02 * slender))
    for _ in range(2):
        f = friction_factor_swamee_jain(speed * diameter_m / viscosity_m2_s, rough)
        speed = np.sqrt(2 * GRAVITY_M_S2 * head / (loss_k + f * slender))
    return speed * pipe_area_m2(diameter_m)


def loss_k_for_flow(flow_m3_s: Any, head_m: Any, diameter_m: Any, length_m: Any, viscosity_m2_s: Any) -> Any:
    """Return the sum of loss coefficients that lets ``flow_m3_s`` through under ``head_m`` (negative: impossible)."""
    speed = flow_m3_s / pipe_area_m2(diameter_m)
    f = friction_factor_swamee_jain(speed * diameter_m / viscosity_m2_s, PVC_ROUGHNESS_M / diameter_m)
    return 2 * GRAVITY_M_S2 * head_m / np.maximum(speed, 1e-9) ** 2 - f * length_m / diameter_m


def friction_factor_colebrook(reynolds: float, relative_roughness: float) -> float:
    """Return Darcy's friction factor by Colebrook, laminar below a Reynolds number of 2040 (``fluids``).

    The exact form behind ``friction_factor_swamee_jain``, for single values; ``fluids`` is imported on first use.

    >>> round(friction_factor_colebrook(1e5, 1e-4), 6)
    0.018514
    """
    import fluids

    return float(fluids.friction_factor(Re=reynolds, eD=relative_roughness))


def elbow_loss_k(diameter_m: float, bend_diameters: float, reynolds: float) -> Estimate:
    """Return the loss of one 90 degree elbow with the band of the handbooks, 0.5 to 1.5.

    ``bend_diameters`` is the bend's radius in pipe diameters: a smooth bend of that radius (``fluids``, Rennels) is
    the least that a fitting can lose; plastic elbows turn sharply inside and have lips, so that the value of the
    model is the handbooks' middle, never less than that of the smooth bend.
    """
    import fluids

    friction = friction_factor_colebrook(reynolds, PVC_ROUGHNESS_M / diameter_m)
    smooth = float(fluids.fittings.bend_rounded(diameter_m, 90.0, friction, bend_diameters=bend_diameters))
    low, high = max(0.5, smooth), max(1.5, smooth)
    return Estimate(max(ELBOW_K, smooth), low, high, True, "handbooks give 0.25 to 1.5; one measured flow settles it")
