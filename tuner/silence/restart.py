"""The restart after a power cut, from sound alone: its phases with their times, and what they say.

Pumps on: water comes over the weir and fills the box, air is driven out of the siphon with more and more noise, the
siphon catches and the noise falls at once; the box goes on filling until the open channel takes its film, which may
be heard for a moment; then it is quiet. ``phases`` tells the catch and the end of the last sound; when air begins to
be driven out is not heard but reckoned back from the catch (``purge_s``). Water that comes over the weir into a box
that is nearly full makes no sound of its own: its beginning is not told apart from the first sound.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tuner.errors import ConfigError
from tuner.rig import Rig
from tuner.silence.phases import (
    CAUGHT,
    SOUNDING,
    catch_quantities,
    caught_from,
    end_quantities,
    log_odds,
    loudness_db,
    sounding_until,
    steady_db,
)
from tuner.terms import Floor, Moment
from tuner.water.laws import supply_flow_m3_s
from tuner.water.pipes import pipe_area_m2
from tuner.water.plumbing import plumbing_of

LONGEST_S = 300.0
STEADY_S = 30.0  # quiet for so long after the catch: it has started
_SHORTEST_PHASE_S = 1.0  # what is shorter is the ears' width
SLOWER = 1.4  # times the usual: fouling, a clogged bleed hole, a tired pump
_OVER_DB = 4.0
_LEAST_AFTER = 20  # moments, ten seconds: before, air may still be driven out
_LEAST_QUIET = 10
# Powers of the terms of a purge, in their order, after the logarithm of the factor (``tests.bench.restarts_fit``).
_PURGE_DESCRIBED = (0.161, 1.035, 0.452, -0.597)
_PURGE_ALONE = (-0.487, 0.734)
_PURGE_SPREAD = 3.0
_SPREAD = 2.0  # an expectation from a description is right within a factor of two
_SWEPT_SHARE = 0.2  # share of the flow as which trapped air leaves; judgement


@dataclass(frozen=True, slots=True)
class Start:
    """One start of the pumps, in seconds from switching on; None where it did not come while one listened.

    ``water_s`` is when the water is heard, ``air_s`` when air begins to be driven out (reckoned),
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
        if self.quiet_s - self.catches_s >= _SHORTEST_PHASE_S:
            found.append(("siphon has caught, the box fills to the open channel", self.catches_s, self.quiet_s))
        found.append(("quiet", self.quiet_s, self.heard_s))
        return tuple(found)


def find_start(moments: Sequence[Moment], floor: Floor, started_s: float, rig: Rig | None = None) -> Start:
    """Return the phases of one start from the moments since ``started_s`` (s), when the pumps were switched on.

    ``rig`` is the keeper's description, by which the time is reckoned that driving out the air takes.

    Raises ConfigError with less than 20 s of moments.
    """
    after = [m for m in moments if m.end_s > started_s]
    if len(after) < 40:
        raise ConfigError(f"moments={len(after)} must be at least 40: listen for 20 s after switching on")
    over = loudness_db(after, floor)
    end_s = np.array([m.end_s for m in after]) - started_s
    roars = sum(0.5 for m in after if m.probability["roar"] >= 0.5)
    heard_s = float(end_s[-1])
    loud = np.flatnonzero(over > steady_db(over) + _OVER_DB)
    if not loud.size:
        return Start(None, None, None, None, roars, heard_s)
    water_s = max(0.0, float(end_s[loud[0]]) - 0.75)
    caught = caught_from(log_odds(catch_quantities(after, floor), CAUGHT))
    if len(after) - caught < _LEAST_AFTER:
        return Start(water_s, None, None, None, roars, heard_s)
    catches_s = max(0.0, float(end_s[caught]) - 0.5)
    air_s = min(max(catches_s - purge_s(catches_s, rig), water_s), catches_s)
    last = sounding_until(end_quantities(after, floor, caught), SOUNDING, caught)
    quiet_s = None if len(after) - 1 - last < _LEAST_QUIET else max(catches_s, float(end_s[last]))
    return Start(water_s, air_s, catches_s, quiet_s, roars, heard_s)


def purge_s(catches_s: float, rig: Rig | None) -> float:
    """Return how long (s) air was driven out before the siphon caught at ``catches_s``.

    The ear does not tell when it begins: water runs through the siphon's air long before, and grows louder bit by bit.
    So it is reckoned back from the catch, by powers of ``purge_terms`` that were fitted on rehearsal draws: a start
    that took longer drives its air out for longer, and the pipe's own volume tells by how much.
    """
    alone_s = _power_s(_PURGE_ALONE, purge_terms(catches_s, None))
    if rig is None:
        return min(alone_s, catches_s)
    # A description that is wrong is not trusted beyond what starts without one do.
    described_s = _power_s(_PURGE_DESCRIBED, purge_terms(catches_s, rig))
    return min(max(described_s, alone_s / _PURGE_SPREAD), _PURGE_SPREAD * alone_s, catches_s)


def purge_terms(catches_s: float, rig: Rig | None) -> tuple[float, ...]:
    """Return what a purge's length goes by (s): time to the catch; siphon's pipe and what is refilled over the flow."""
    caught_s = max(catches_s, 1.0)
    if rig is None:
        return (caught_s,)
    flow = _supply_m3_s(rig)
    refilled_m3 = (rig.tank.area_m2 * _fall_m(rig), _line_m3(rig), _box_m3(rig))
    return caught_s, _siphon_m3(rig) / flow, sum(refilled_m3) / flow


def _power_s(powers: tuple[float, ...], terms: tuple[float, ...]) -> float:
    return float(np.exp(powers[0] + np.dot(powers[1:], np.log(terms))))


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
    flow = _supply_m3_s(rig)
    # Francis: Q = 1.84 L h^1.5.
    head_m = (flow / (1.84 * rig.weir.length_m * rig.weir.open_share)) ** (2.0 / 3.0)
    volumes_m3 = (rig.tank.area_m2 * max(_fall_m(rig), head_m), _line_m3(rig), _box_m3(rig))
    likely = sum(volumes_m3) / flow + _siphon_m3(rig) / (_SWEPT_SHARE * flow)
    return Expectation(likely / _SPREAD, likely, likely * _SPREAD)


def _supply_m3_s(rig: Rig) -> float:
    flow = float(supply_flow_m3_s(plumbing_of(rig), [pump.speed for pump in rig.pumps]))
    if not flow > 0.0:
        raise ConfigError(f"supply={flow:g} m3/s must be positive: does the pump lift the water at all?")
    return flow


def _fall_m(rig: Rig) -> float:
    """Return how far the tank falls until the return line draws air."""
    hole_m = rig.returns.siphon_break_depth_m
    return rig.returns.nozzle_depth_m if hole_m is None else min(hole_m, rig.returns.nozzle_depth_m)


def _line_m3(rig: Rig) -> float:
    return float(pipe_area_m2(rig.returns.line_diameter_m)) * rig.returns.line_run_m


def _box_m3(rig: Rig) -> float:
    return rig.box.area_m2 * max(rig.channel.crest_height_m - rig.siphon.inlet_height_m, 0.0)


def _siphon_m3(rig: Rig) -> float:
    return float(pipe_area_m2(rig.siphon.inner_diameter_m)) * rig.siphon.run_m


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
