"""How deep an inlet must lie so that no air-drawing vortex forms over it."""

from __future__ import annotations

from typing import Any

from tuner.water.regimes import froude


def submergence_hecker_m(flow_m3_s: Any, opening_diameter_m: Any) -> Any:
    """Return the submergence S = D (1 + 2.3 Fr) of ANSI/HI 9.8 (Hecker), Fr at the inlet's opening.

    Limits: pump intakes with an even approach and inlet speeds of about 0.6-2.7 m/s. In a small box it is an
    advice threshold, good to 30 %: with less water over it a vortex is likely, not certain.

    >>> round(float(submergence_hecker_m(8.806 * 6.30902e-5, 0.0254)) / 0.0254, 2)
    6.05
    """
    return opening_diameter_m * (1 + 2.3 * froude(flow_m3_s, opening_diameter_m))
