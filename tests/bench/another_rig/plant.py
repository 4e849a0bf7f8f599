"""A drawn installation as a keeper meets it: controls to turn, a microphone before it, and the truth on the side."""

from __future__ import annotations

import copy

import numpy as np
from numpy.typing import NDArray

from tests.bench.another_rig import truth
from tests.bench.another_rig.describing import describe
from tests.bench.another_rig.drawing import Start, draw_installation, draw_start
from tests.bench.another_rig.hydraulics import gurgle_share
from tests.bench.another_rig.sounding import draw_sounds, render
from tests.bench.another_rig.water import Course, Water

SETTLED_S = 240.0
NOISY_WITHIN_S = 180.0
TAP_SD_TURNS = 0.01
LEAST_SPEED = 0.3


class Plant:
    """One drawn installation, out of tune and noisy; its seed fixes all that it does, and sounds like."""

    def __init__(self, seed: int) -> None:
        self.seed = seed
        self._rng = np.random.default_rng([seed, 90210])
        self.installation, valve = draw_installation(self._rng)
        self.sounds = draw_sounds(self._rng)
        for _ in range(200):
            start = draw_start(self._rng, self.installation, valve)
            if start is not None and self._is_noisy(start):
                break
        else:
            raise RuntimeError(f"seed {seed}: no start out of 200 is noisy")
        self.fault = start.fault
        self.rig = describe(seed, self.installation, start.valve, start.vent, self._rng)

    def _is_noisy(self, start: Start) -> bool:
        self.water = Water(self.installation, copy.copy(start.valve), start.vent, self.installation.line.speed)
        self.water.run(SETTLED_S, self._rng)
        return bool(self.audible(self.peek(NOISY_WITHIN_S)))

    def move(self, control: str, amount: float, unit: str) -> float:
        """Turn a control as a hand does, and return by how much it really went, in the same unit."""
        water, line, tap_turns = self.water, self.installation.line, self.installation.channel.vent_turns
        units = {
            "siphon valve": "turn" if water.valve.kind == "gate" else "degree", "vent tap": "turn",
            "return pump": "percent",
        }
        if unit != units[control]:
            raise ValueError(f"the {control} goes by the {units[control]}, not by the {unit}")
        if amount == 0:
            return 0.0
        if control == "siphon valve":
            return water.valve.turn(amount + self._rng.normal(0, water.valve.hand_sd))
        if control == "vent tap":
            before = water.vent
            turned = (amount + self._rng.normal(0, TAP_SD_TURNS)) / tap_turns
            water.vent = float(np.clip(before + turned, 0, 1))
            return (water.vent - before) * tap_turns
        if not line.variable:
            return 0.0
        before = water.speed
        steps = round(amount / 100 / line.speed_step)
        water.speed = float(np.clip(round(before + steps * line.speed_step, 4), LEAST_SPEED, 1.0))
        return (water.speed - before) * 100

    def wait(self, seconds: float) -> float:
        """Let the water run, and return the highest flow in the emergency meanwhile, in m3/s."""
        return float(self.water.run(seconds, self._rng).emergency_m3_s.max()) if seconds > 0 else 0.0

    def listen(self, seconds: float, sample_rate: int) -> NDArray[np.float32]:
        return self._render(self.water.run(seconds, self._rng), seconds, sample_rate)

    def room(self, seconds: float, sample_rate: int) -> NDArray[np.float32]:
        """Return the room with the pumps off."""
        return self._render(None, seconds, sample_rate)

    def sounding(self, seconds: float) -> tuple[truth.Levels, float]:
        """Let the water run; return by how much each kind is over what is audible, and the level of all, in dB(A)."""
        levels, room_dba = self._levels(self.water.run(seconds, self._rng)), self.sounds.room.level_dba
        power = 10 ** (room_dba / 10) + sum(np.mean(10 ** (level / 10)) for level in levels.values())
        over_db = {kind: level - room_dba + truth.UNDER_ROOM_DB for kind, level in levels.items()}
        return over_db, float(10 * np.log10(power))

    def peek(self, seconds: float) -> Course:
        """Return what the water would do if nothing were touched."""
        elapsed = int(self.water.elapsed_s * 25)
        return self.water.twin().run(seconds, np.random.default_rng([self.seed, elapsed, 7]))

    def with_flow(self, factor: float) -> Plant:
        """Return a copy whose pump gives ``factor`` times the flow, settled; it is for looking at, not for moves."""
        twin = copy.copy(self)
        twin.water = self.water.twin()
        twin.water.flow_factor *= factor
        twin.water.run(SETTLED_S, np.random.default_rng([self.seed, 11]))
        return twin

    def quiet_window(self) -> tuple[float, float]:
        """Return between which siphon capacities, as shares of what the pump gives now, nothing sounds.

        Where the pump gives nothing there are no shares: (nan, nan).
        """
        built = self.installation
        if self.water.pump_m3_s() <= 0:
            return float("nan"), float("nan")
        return gurgle_share(built.channel, built.unrest, self.water.pump_m3_s()), built.overfull_share

    def audible(self, course: Course) -> set[str]:
        return truth.audible(self._levels(course), self.sounds.room.level_dba)

    def plainly_audible(self, course: Course) -> set[str]:
        return truth.plainly_audible(self._levels(course), self.sounds.room.level_dba)

    def how_much(self, course: Course) -> str:
        return truth.how_much(self._levels(course), self.sounds.room.level_dba)

    def _levels(self, course: Course) -> truth.Levels:
        return truth.levels_dba(course, self.sounds.loudness, self.installation)

    def _render(self, course: Course | None, seconds: float, sample_rate: int) -> NDArray[np.float32]:
        rng = np.random.default_rng(self._rng.integers(2**63))
        return render(self.sounds, self.installation, course, seconds, sample_rate, self.seed, rng)
