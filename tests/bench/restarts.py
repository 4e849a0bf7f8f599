"""Restarts after a power cut: phases from sound alone against the simulated water; starts that do not prime.

The true times are the water's: air is driven out from when a twentieth of the trapped air is gone, the siphon has
caught when less than a hundredth of its pipe holds air, and it is quiet when nothing but the pump's hum is driven
louder than 20 dB under a voice's typical level. A siphon that kept its water through the cut has neither of the first
two, and counts as missed. All is told twice: with the keeper's description of the installation, and without.
"""

from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from tuner.rehearsal.cases import draw_case
from tuner.rehearsal.drives import drives_of
from tuner.rehearsal.rehearsal import Rehearsal
from tuner.rig import Rig
from tuner.signatures.listener import Listener, measure_floor
from tuner.silence.restart import Start, find_start
from tuner.terms import CauseName, Floor, Moment

RATE = 16_000
MOST_STARTS = 100
CLOGGED_SHARE = 5
OFF_S, START_S = 60.0, 180.0
STEPS_A_SECOND = 20
WITHIN_S = 5.0
AUDIBLE_DRIVE = 0.1  # 20 dB under a voice's typical level
TRAPPED = 0.01
PURGING = 0.95  # of the air that was trapped at the beginning

Phase = Literal["air is driven out", "siphon catches", "quiet"]


@dataclass(frozen=True, slots=True)
class Heard:
    """One start: what the ears said of it, the room, the description, and what the water did at each control step.

    ``trapped`` is the share of the siphon's pipe that holds air, ``sounds`` whether anything but the pump's hum is
    driven audibly; both of shape (n_steps,).
    """

    moments: tuple[Moment, ...]
    floor: Floor
    rig: Rig
    trapped: NDArray[np.float64]
    sounds: NDArray[np.bool_]

    @property
    def true_s(self) -> dict[Phase, float | None]:
        """When each phase begins (s after switching on); None for one that never does."""
        purging = np.flatnonzero(self.trapped < PURGING * self.trapped[0])[:1]
        caught = np.flatnonzero(self.trapped >= TRAPPED)[-1:] + 1
        quiet = np.flatnonzero(self.sounds)[-1:] + 1
        return {
            "air is driven out": _first_s(purging), "siphon catches": _first_s(caught), "quiet": _first_s(quiet),
        }


def _first_s(at: NDArray[np.intp]) -> float | None:
    return float(at[0]) / STEPS_A_SECOND if at.size else None


def stopped(cause: CauseName | None, seed: int) -> Rehearsal:
    rehearsal = draw_case(cause, seed, sample_rate=RATE)
    rehearsal.pumps(False)
    rehearsal.wait(OFF_S)
    rehearsal.pumps(True)
    return rehearsal


def hear(cause: CauseName | None, seed: int) -> Heard:
    rehearsal = stopped(cause, seed)
    trace = rehearsal.plant.fork().advance(round(START_S * STEPS_A_SECOND))
    drives = drives_of(rehearsal.installation, trace)
    sounds = np.any([d >= AUDIBLE_DRIVE for spot, d in drives.items() if spot != "pump hum"], axis=0)
    floor = measure_floor(rehearsal.floor(30.0), RATE)
    listener = Listener(RATE, rehearsal.rig, floor)
    moments: list[Moment] = []
    for _ in range(int(START_S // 20)):
        listener.feed(rehearsal.listen(20.0))
        moments.extend(listener.moments())
    return Heard(tuple(moments), floor, rehearsal.rig, trace.trapped, sounds)


def errors_of(heard: Heard, start: Start) -> dict[Phase, float | None]:
    """Return the errors (s) of the phases; None where a phase was not found."""
    seen: dict[Phase, float | None] = {
        "air is driven out": start.air_s, "siphon catches": start.catches_s, "quiet": start.quiet_s,
    }
    errors: dict[Phase, float | None] = {}
    for phase, true_s in heard.true_s.items():
        seen_s = seen[phase]
        errors[phase] = None if seen_s is None or true_s is None else round(seen_s - true_s, 1)
    return errors


def restart(seed: int) -> tuple[int, dict[Phase, float | None], dict[Phase, float | None]]:
    """Return the errors with the description of the installation, and without it."""
    heard = hear(None, seed)
    described, alone = (find_start(heard.moments, heard.floor, 0.0, rig) for rig in (heard.rig, None))
    return seed, errors_of(heard, described), errors_of(heard, alone)


def clogged(seed: int) -> bool:
    heard = hear("siphon not purged", seed)
    return find_start(heard.moments, heard.floor, 0.0, heard.rig).primed


def run(draws: int, workers: int, first_seed: int) -> None:
    starts = min(draws, MOST_STARTS)
    with ProcessPoolExecutor(workers) as pool:
        results = list(pool.map(restart, range(first_seed, first_seed + starts)))
        for place, words in ((1, "installation described"), (2, "from sound alone")):
            tell(words, {result[0]: result[place] for result in results})
        primed = list(pool.map(clogged, range(first_seed, first_seed + starts // CLOGGED_SHARE)))
        print(f"restarts: clogged bleed holes taken for a start by itself: {sum(primed)} of {len(primed)}")


def tell(words: str, errors: dict[int, dict[Phase, float | None]]) -> None:
    for phase in next(iter(errors.values())):
        missed = {s: e[phase] for s, e in errors.items() if e[phase] is None or abs(e[phase] or 0.0) > WITHIN_S}
        print(f"restarts: {words}: {phase}: within {WITHIN_S:g} s in {len(errors) - len(missed)} of {len(errors)};"
              f" misses: {missed}", flush=True)
