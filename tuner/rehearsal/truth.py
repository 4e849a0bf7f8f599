"""The truth of a rehearsal, for benches: what flows, what sounds, why, and where the quiet window lies."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tuner.rehearsal.draw import Window, window_of
from tuner.rehearsal.drives import Spot, drives_of
from tuner.rehearsal.figures import STEP_S
from tuner.rehearsal.installation import Installation, Settings
from tuner.rehearsal.plant import TRAPPED_SHARE, Plant, Trace
from tuner.terms import CauseName

Floats = NDArray[np.float64]

AHEAD_S = 180.0
"""How far the truth looks ahead: longer than the longest cycle."""

HEALTHY_HUM = 0.2
"""A hum up to this drive is a healthy pump's: 14 dB under the typical, under the room in nearly every household."""


@dataclass(frozen=True, slots=True)
class Truth:
    """A snapshot. Flows in m3/s; ``drives`` are mean drives over the next ``AHEAD_S`` seconds, untouched.

    ``causes`` are those that sound in that time; ``window`` the quiet window in valve openings (0-1) and
    ``valve_full`` the turns or degrees of the whole travel, so that ``middle`` and ``setting`` are in turns or degrees.
    """

    time_s: float
    settings: Settings
    supply: float
    siphon: float
    channel: float
    emergency: float
    level_m: float
    trapped: float
    drives: dict[Spot, float]
    causes: frozenset[CauseName]
    cause: CauseName | None
    quiet: bool
    emergency_ever_carried: bool
    window: Window
    valve_full: float

    def is_quiet(self) -> bool:
        """Tell whether nothing of plumbing or pump sounds, now and for the next minutes."""
        return self.quiet

    @property
    def setting(self) -> float:
        """The valve's setting in turns or degrees open."""
        return self.settings.valve * self.valve_full

    @property
    def middle(self) -> float:
        """The setting in the middle of the quiet window, in turns or degrees."""
        return self.window.middle * self.valve_full

    @property
    def margins(self) -> tuple[float, float]:
        """Turns or degrees from the setting down to the gurgle edge and up to the slurp edge; minus: beyond it."""
        return (
            (self.settings.valve - self.window.gurgle_edge) * self.valve_full,
            (self.window.slurp_edge - self.settings.valve) * self.valve_full,
        )


@dataclass(frozen=True, slots=True)
class Ahead:
    """The next seconds of a plant that nobody touches: its trace, its drives and what causes them."""

    trace: Trace
    drives: dict[Spot, Floats]
    causes: frozenset[CauseName]


def look_ahead(installation: Installation, plant: Plant, seconds: float) -> Ahead:
    """Run a copy of the plant ahead; the plant itself stays where it is."""
    trace = plant.fork().advance(round(seconds / STEP_S))
    drives = drives_of(installation, trace)
    means = {spot: float(d.mean()) for spot, d in drives.items()}
    return Ahead(trace, drives, causes_of(means, trace, built_low=installation.falls_far))


def truth_of(installation: Installation, plant: Plant, cause: CauseName | None) -> Truth:
    """Take a snapshot of a plant; it runs on undisturbed."""
    seen = look_ahead(installation, plant, AHEAD_S)
    ahead, causes = seen.trace, seen.causes
    drives = {spot: float(d.mean()) for spot, d in seen.drives.items()}
    return Truth(
        time_s=plant.steps * STEP_S,
        settings=plant.settings,
        supply=float(ahead.supply[0]),
        siphon=float(ahead.siphon[0]),
        channel=float(ahead.channel[0]),
        emergency=float(ahead.emergency[0]),
        level_m=plant.level_m,
        trapped=float(ahead.trapped[0]),
        drives=drives,
        causes=causes,
        cause=cause,
        quiet=not causes,
        emergency_ever_carried=plant.ever_emergency,
        window=window_of(installation.plumbing, plant.settings),
        valve_full=float(installation.plumbing.valve_full),
    )


def causes_of(drives: dict[Spot, float], trace: Trace, *, built_low: bool) -> frozenset[CauseName]:
    """Return what causes the sound of a stretch, its consequences left out.

    Trapped air explains whatever the siphon, the channel and the emergency do meanwhile; an emergency that carries
    flow explains a gurgling channel; an over-open siphon explains a box that stands low, and so does a flush.
    ``built_low`` tells that water falls far from the weir also where the box stands as it should.
    """
    on = {spot for spot, drive in drives.items() if drive > 0.0}
    found = _in_the_box(on, bool(np.mean(trace.trapped >= TRAPPED_SHARE) > 0.5), built_low)
    if "outlet splash" in on:
        found.add("outlet above water")
    if "pump air hiss" in on:
        found.add("pump drawing air")
    if "return air hiss" in on:
        found.add("return drawing air")
    if drives["pump hum"] > HEALTHY_HUM or "pump rattle" in on:
        found.add("pump hum")
    return frozenset(found)


def _in_the_box(on: set[Spot], trapped: bool, built_low: bool) -> set[CauseName]:
    found: set[CauseName] = set()
    if trapped and "siphon gurgle" in on:
        found.add("siphon not purged")
    elif "siphon slurp" in on:
        found.add("siphon over-open")
    elif "emergency roar" in on:
        found.add("emergency carrying flow")
    elif "channel gurgle" in on and "channel flush" not in on:
        found.add("siphon over-closed")
    if not found & {"siphon not purged", "emergency carrying flow"}:
        if on & {"channel flush", "vent hiss"}:
            found.add("vent too closed")
        if "channel trickle" in on and "siphon slurp" not in on and "channel flush" not in on:
            found.add("vent too wide")
    if "weir splash" in on and "siphon slurp" not in on:
        if built_low:
            found.add("weir drop")
        elif "channel flush" not in on:
            found.add("siphon over-open")
    return found
