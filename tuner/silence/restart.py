"""The restart after a power cut, from sound alone: its phases with their times, and what they say.

Pumps on: water comes over the weir and fills the box, air is driven out of the siphon with more and more noise, the
siphon catches and the noise falls at once; the box goes on filling until the open channel takes its film, which may
be heard for a moment; then it is quiet. The end of the loudest stretch is the siphon's catch, the last rise before it
the beginning of the driving out, the end of the last stretch is quiet. Water that comes over the weir into a box that
is nearly full makes no sound of its own: its beginning is not told apart from the first sound.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tuner.errors import ConfigError
from tuner.rig import Rig
from tuner.terms import Floor, Moment
from tuner.water.laws import supply_flow_m3_s
from tuner.water.pipes import pipe_area_m2
from tuner.water.plumbing import plumbing_of

Floats = NDArray[np.float64]

LONGEST_S = 300.0
STEADY_S = 30.0  # quiet for so long after the catch: it has started
SLOWER = 1.4  # times the usual: fouling, a clogged bleed hole, a tired pump
_LOWEST_HZ = 250.0  # below, a pump's hum lies over what the water does
_BANDS = 4
_OVER_DB = 4.0
_FAINT_DB = 2.5
_BRIDGE = 3  # moments of half a second: gulps part a stretch for no longer
_MOST_STEADY_DB = 6.0
_HUM_SPREAD_DB = 0.6
_PEAK = 8  # moments
_CAUGHT_SHARE = 0.5  # of the loudest, over the steady end
_SWELL_DB = 4.0
_SHORTEST_SWELL_S, _LONGEST_SWELL_S = 7.0, 10.0
_SPREAD = 2.0  # an expectation from a description is right within a factor of two
_SWEPT_SHARE = 0.2  # share of the flow as which trapped air leaves; judgement


@dataclass(frozen=True, slots=True)
class Start:
    """One start of the pumps, in seconds from switching on; None where it did not come while one listened.

    ``water_s`` is when the water is heard, ``air_s`` when air begins to be driven out (about: the noise swells),
    ``catches_s`` when the siphon catches, ``quiet_s`` when nothing more is heard. ``emergency_s`` is for how long the
    roar of the emergency pipe was recognised.
    """

    water_s: float | None
    air_s: float | None
    catches_s: float | None
    quiet_s: float | None
    emergency_s: float
    heard_s: float

    @property
    def primed(self) -> bool:
        """Whether the siphon caught and it became quiet by itself."""
        return self.catches_s is not None and self.quiet_s is not None

    @property
    def phases(self) -> tuple[tuple[str, float, float], ...]:
        """The phases with their beginnings and ends."""
        found: list[tuple[str, float, float]] = []
        if self.water_s is None:
            return ()
        if self.water_s > 0.5:
            found.append(("pumps start, nothing is heard yet", 0.0, self.water_s))
        if self.catches_s is None or self.air_s is None:
            return (*found, ("water comes over the weir, air gurgles in the siphon", self.water_s, self.heard_s))
        found.append(("weir spills, box fills", self.water_s, self.air_s))
        found.append(("air is driven out", self.air_s, self.catches_s))
        if self.quiet_s is None:
            found.append(("siphon has caught, but it is not quiet", self.catches_s, self.heard_s))
            return tuple(found)
        if self.quiet_s > self.catches_s:
            found.append(("siphon has caught, the box fills to the open channel", self.catches_s, self.quiet_s))
        found.append(("quiet", self.quiet_s, self.heard_s))
        return tuple(found)


def loudness_db(moments: Sequence[Moment], floor: Floor) -> Floats:
    """Return how far the four loudest third-octaves from 250 Hz up stand over the room, shape (n_moments,)."""
    room = dict(zip(floor.levels.third_octave_hz, floor.levels.third_octave_db, strict=True))
    places = [i for i, hz in enumerate(moments[0].third_octave_hz) if hz >= _LOWEST_HZ and hz in room]
    quiet = np.array([room[moments[0].third_octave_hz[i]] for i in places])
    over = np.array([m.third_octave_db for m in moments])[:, places] - quiet
    top: Floats = np.sort(over, axis=1)[:, -_BANDS:].mean(axis=1)
    return top


def find_start(moments: Sequence[Moment], floor: Floor, started_s: float) -> Start:
    """Return the phases of one start from the moments since ``started_s`` (s), when the pumps were switched on.

    Raises ConfigError with less than 20 s of moments.
    """
    after = [m for m in moments if m.end_s > started_s]
    if len(after) < 40:
        raise ConfigError(f"moments={len(after)} must be at least 40: listen for 20 s after switching on")
    over = loudness_db(after, floor)
    end_s = np.array([m.end_s for m in after]) - started_s
    base = _steady_db(over)
    roars = sum(0.5 for m in after if m.probability["roar"] >= 0.5)
    first = _stretches(over > base + _OVER_DB, 1)
    if not first:
        return Start(None, None, None, None, roars, float(end_s[-1]))
    # A siphon that has caught may gulp a while, less loud than while its air was driven out.
    peak = float(np.mean(np.sort(over)[-_PEAK:]))
    stretches = _stretches(over > base + max(_OVER_DB, _CAUGHT_SHARE * (peak - base)), 1) or first
    loudest = max(stretches, key=lambda s: float(np.mean(np.sort(over[s[0] : s[1] + 1])[-4:])))
    around = next(s for s in first if s[0] <= loudest[1] and s[1] >= loudest[0])
    water_s = max(0.0, float(end_s[first[0][0]]) - 0.75)
    if len(over) - 1 - around[1] < 20:  # ten seconds: it may still be going on
        return Start(water_s, None, None, None, roars, float(end_s[-1]))
    catches_s = float(end_s[loudest[1]]) - 0.25
    air_s = min(max(_swells_s(over, loudest[1], end_s), water_s), catches_s)
    faint = [s for s in _stretches(_smooth(over) > base + _FAINT_DB, 3) if s[1] > loudest[0]]
    last = faint[-1] if faint else loudest
    quiet_s = None if len(over) - 1 - last[1] < 10 else max(catches_s, float(end_s[last[1]]) - 0.25)
    return Start(water_s, air_s, catches_s, quiet_s, roars, float(end_s[-1]))


def _steady_db(over: Floats) -> float:
    """Return what the end stands over the room: a pump's hum is steady and may be any height, water at the end not."""
    last = over[-40:]
    middle = float(np.median(last))
    return middle if float(np.std(last[-20:])) < _HUM_SPREAD_DB else min(middle, _MOST_STEADY_DB)


def _swells_s(over: Floats, caught: int, end_s: Floats) -> float:
    """Return when the noise that ends at ``caught`` began its last swell (s); never far from what purges take."""
    smooth = np.convolve(np.pad(over, 2, mode="edge"), np.ones(5) / 5.0, mode="valid")
    from_index = max(0, caught - round(2 * _LONGEST_SWELL_S))
    top = from_index + int(np.argmax(smooth[from_index : caught + 1]))
    below = np.flatnonzero(smooth[: top + 1] < smooth[top] - _SWELL_DB)
    began = int(below[-1]) if below.size else 0
    length_s = min(max(0.5 * (caught - began), _SHORTEST_SWELL_S), _LONGEST_SWELL_S)
    return float(end_s[caught]) - length_s


def _smooth(values: Floats) -> Floats:
    padded = np.concatenate([values[:1], values, values[-1:]])
    mean: Floats = (padded[:-2] + padded[1:-1] + padded[2:]) / 3.0
    return mean


def _stretches(on: NDArray[np.bool_], shortest: int) -> list[tuple[int, int]]:
    """Return first and last index of every stretch of at least ``shortest``; short gaps are bridged."""
    found: list[list[int]] = []
    for i in np.flatnonzero(on):
        if found and i - found[-1][1] <= _BRIDGE:
            found[-1][1] = int(i)
        else:
            found.append([int(i), int(i)])
    return [(first, last) for first, last in found if last - first + 1 >= shortest]


@dataclass(frozen=True, slots=True)
class Expectation:
    """When the siphon is expected to catch (s after switching on), with the band of an honest guess."""

    low_s: float
    likely_s: float
    high_s: float


def expected_restart(rig: Rig) -> Expectation:
    """Return when the siphon of an installation should catch.

    The pumps refill what drained back (tank down to the nozzle, return line), raise the weir's head, fill the box from
    the siphon's inlet to the crest, and sweep the siphon's air out. A sum of volumes over the flow, taken to be right
    within a factor of two: levels settle ever more slowly, and how fast air leaves is hardly known.
    """
    flow = float(supply_flow_m3_s(plumbing_of(rig), [pump.speed for pump in rig.pumps]))
    if not flow > 0.0:
        raise ConfigError(f"supply={flow:g} m3/s must be positive: does the pump lift the water at all?")
    hole_m = rig.returns.siphon_break_depth_m
    back_m = rig.returns.nozzle_depth_m if hole_m is None else min(hole_m, rig.returns.nozzle_depth_m)
    # Francis: Q = 1.84 L h^1.5.
    head_m = (flow / (1.84 * rig.weir.length_m * rig.weir.open_share)) ** (2.0 / 3.0)
    volumes_m3 = (
        rig.tank.area_m2 * max(back_m, head_m),
        float(pipe_area_m2(rig.returns.line_diameter_m)) * rig.returns.line_run_m,
        rig.box.area_m2 * max(rig.channel.crest_height_m - rig.siphon.inlet_height_m, 0.0),
    )
    air_m3 = float(pipe_area_m2(rig.siphon.inner_diameter_m)) * rig.siphon.run_m
    likely = sum(volumes_m3) / flow + air_m3 / (_SWEPT_SHARE * flow)
    return Expectation(likely / _SPREAD, likely, likely * _SPREAD)


def findings(starts: Sequence[Start], expected: Expectation | None, earlier_s: Sequence[float]) -> tuple[str, ...]:
    """Return what the starts say, in words; ``earlier_s`` are the times to the catch of earlier runs."""
    words: list[str] = []
    failed = [n for n, start in enumerate(starts, 1) if start.catches_s is None]
    caught = [start.catches_s for start in starts if start.catches_s is not None]
    if failed:
        listed = ", ".join(map(str, failed))
        words.append(
            f"start {listed}: the siphon did not catch by itself: free the bleed hole, raise the outlet towards the"
            " sump's surface; do not start in a loop"
        )
    unquiet = [n for n, s in enumerate(starts, 1) if s.catches_s is not None and s.quiet_s is None]
    if unquiet:
        words.append(f"start {', '.join(map(str, unquiet))}: it did not become quiet while one listened: tune it first")
    roaring = max((s.emergency_s for s in starts), default=0.0)
    if roaring > 20.0:
        words.append(
            f"a roar as of the emergency pipe was heard for about {roaring:.0f} s: look whether it carries water at a"
            " start; if it does, the siphon primes too slowly"
        )
    if caught:
        middle = float(np.median(caught))
        if len(caught) > 1 and max(caught) > SLOWER * min(caught) and max(caught) - min(caught) > 10.0:
            words.append(f"the times differ much ({min(caught):.0f} to {max(caught):.0f} s): watch one start yourself")
        if expected is not None and middle > expected.high_s:
            words.append(f"slower than this installation should be (at most {expected.high_s:.0f} s): air leaves badly")
        if earlier_s and middle > SLOWER * float(np.median(earlier_s)) and middle - float(np.median(earlier_s)) > 5.0:
            words.append(
                f"slower than before ({middle:.0f} s against {float(np.median(earlier_s)):.0f} s): fouling, a clogged"
                " bleed hole, or a tired pump"
            )
    if not words:
        words.append(f"it restarts by itself: the siphon caught in {len(caught)} of {len(starts)} starts")
        if earlier_s:
            now_s, then_s = float(np.median(caught)), float(np.median(earlier_s))
            count = len(earlier_s)
            words.append(f"about as before: {now_s:.0f} s to the catch, {then_s:.0f} s in {count} earlier starts")
    return tuple(words)
