"""The keeper's hand on valve, tap and pump: it errs a little, meets stops, and loses turns to free play."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tuner.errors import ConfigError
from tuner.rehearsal.installation import Installation, Settings
from tuner.terms import Control

_RELATIVE_SD = 0.06
_SD = {"gate": 0.008, "ball": 0.25, "vent": 0.02}
"""Standard deviations of a move in turns, degrees and turns; common practice, no source."""

SLOWEST = 0.3
"""The lowest speed that a variable pump can be set to."""


class Hand:
    """Moves controls by drawn, imperfect amounts and keeps the valve's free play."""

    def __init__(self, truth: Installation, rng: np.random.Generator) -> None:
        self._truth = truth
        self._rng = rng
        self._play_taken = 0.0  # how far the wheel stands from the middle of its free play, in turns or degrees

    def move(self, now: Settings, control: Control, amount: float) -> tuple[Settings, float]:
        """Return the settings after a move and what the control itself did, in turns, degrees or percent.

        Raises
        ------
        ConfigError
            When the control is unknown or the amount is not a number.
        """
        if not np.isfinite(amount):
            raise ConfigError(f"amount={amount} must be a finite number of turns, degrees or percent")
        if control == "siphon valve":
            return self._turn_valve(now, amount)
        if control == "vent tap":
            return self._turn_tap(now, amount)
        if control == "return pump":
            return self._set_pump(now, amount)
        raise ConfigError(f"control={control!r} must be 'siphon valve', 'vent tap' or 'return pump'")

    def _erring(self, amount: float, sd: float) -> float:
        if amount == 0.0:
            return 0.0
        off = self._rng.normal(0.0, _RELATIVE_SD) * amount + self._rng.normal(0.0, sd)
        turned = amount + float(off)
        # Whatever the error, nobody turns the other way.
        return turned if turned * amount > 0.0 else 0.2 * amount

    def _turn_valve(self, now: Settings, amount: float) -> tuple[Settings, float]:
        p = self._truth.plumbing
        full, half_play = float(p.valve_full), 0.5 * float(p.valve_backlash)
        wheel = self._play_taken + self._erring(amount, _SD[p.valve_kind])
        stem = wheel - half_play if wheel > half_play else wheel + half_play if wheel < -half_play else 0.0
        self._play_taken = wheel - stem
        opening = float(np.clip(now.valve + stem / full, 0.0, 1.0))
        return replace(now, valve=opening), (opening - now.valve) * full

    def _turn_tap(self, now: Settings, amount: float) -> tuple[Settings, float]:
        full = float(self._truth.plumbing.vent_tap_turns)
        opening = float(np.clip(now.vent + self._erring(amount, _SD["vent"]) / full, 0.0, 1.0))
        return replace(now, vent=opening), (opening - now.vent) * full

    def _set_pump(self, now: Settings, amount: float) -> tuple[Settings, float]:
        speeds = []
        for pump, speed in zip(self._truth.rig.pumps, now.speeds, strict=True):
            step = pump.speed_step
            if step <= 0.0:
                speeds.append(speed)
                continue
            wanted = speed + amount / 100.0
            speeds.append(float(np.clip(speed + round((wanted - speed) / step) * step, SLOWEST, 1.0)))
        done = max((b - a for a, b in zip(now.speeds, speeds, strict=True)), key=abs, default=0.0)
        return replace(now, speeds=tuple(speeds)), 100.0 * done
