"""The model's own uncertain parameters: what no tape measures, with how far the sources disagree."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.random import Generator

from tuner.water import pipes

FARTHEST = 2.5  # draws lie within this many standard deviations


@dataclass(frozen=True, slots=True)
class Parameter:
    """A model parameter: its median, its spread (log-normal when ``relative``), and why that wide."""

    median: float
    spread: float
    relative: bool
    reason: str


PARAMETERS: dict[str, Parameter] = {
    "elbow_k_siphon": Parameter(pipes.ELBOW_K, pipes.ELBOW_K_SPREAD, True, "handbooks give 0.25 to 1.5"),
    "elbow_k_channel": Parameter(pipes.ELBOW_K, pipes.ELBOW_K_SPREAD, True, "handbooks give 0.25 to 1.5"),
    "elbow_k_return": Parameter(pipes.ELBOW_K, pipes.ELBOW_K_SPREAD, True, "handbooks give 0.25 to 1.5"),
    "entrance_k": Parameter(pipes.ENTRANCE_K, pipes.ENTRANCE_K_SPREAD, True, "sharp 0.5 to projecting 0.8, strainer"),
    "valve_deviation": Parameter(0.0, 1.0, False, "spread between handbooks and makes, in standard deviations"),
    "crest_share": Parameter(1.0, 0.15, True, "bores under 50 mm lie outside every test of a round crest"),
    "rim_share": Parameter(1.0, 0.12, True, "drop-inlet forms are good to 25 %"),
    "weir_share": Parameter(1.0, 0.12, True, "heads of 5-20 mm lie below every standard: 15-25 %"),
    "quiet_froude": Parameter(0.30, 0.10, True, "self-venting limit 0.3, uncertain by 20 % in small pipes"),
    "film_air_ratio": Parameter(2.5, 0.45, True, "at most (1-r)/r, 6 at the self-venting limit; slip lowers it"),
    "vent_discharge": Parameter(0.61, 0.12, True, "sharp hole 0.61, short tube 0.8, low Reynolds numbers less"),
    "vent_siphon_head_m": Parameter(0.018, 0.28, True, "suction that fills the elbow; common practice, no source"),
    "breakup_head_m": Parameter(0.0007, 0.5, True, "suction below which the film breaks up; no source"),
    "hiss_jet_m_s": Parameter(11.0, 0.18, True, "jet speed from which a tap is heard; no source"),
    "gulp_share": Parameter(0.15, 0.35, True, "small boxes draw air far later than pump intakes; no source"),
    "regain_rise_m": Parameter(0.02, 0.5, True, "rise of the level from drawing air to full again; no source"),
    "broken_share": Parameter(0.5, 0.3, True, "flow of a siphon that draws air, of its full flow; no source"),
    "pump_swing": Parameter(0.003, 0.6, True, "slow swing of a pump's flow, 0 to 1 %; no source"),
}


def normal_draws(rng: Generator, n: int) -> Any:
    """Draw (n,) standard normal figures within ``FARTHEST``; those beyond are drawn again."""
    z = rng.standard_normal(n)
    while (far := np.abs(z) > FARTHEST).any():
        z[far] = rng.standard_normal(int(far.sum()))
    return z


def draw_parameter(name: str, rng: Generator, n: int) -> Any:
    """Draw (n,) values of one model parameter."""
    p = PARAMETERS[name]
    z = normal_draws(rng, n)
    return p.median * np.exp(p.spread * z) if p.relative else p.median + p.spread * z
