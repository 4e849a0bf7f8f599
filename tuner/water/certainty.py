"""What measured facts have gained: the quiet window before and after them."""

from __future__ import annotations

from dataclasses import dataclass, replace

from numpy.random import Generator

from tuner.rig import Rig
from tuner.units import turns_text
from tuner.water.controls import WindowBands, window_bands


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
