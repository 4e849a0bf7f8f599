"""The plant: levels of tank, box and sump integrated in time, with the regimes of the drains and their memory.

Every control step of 0.05 s moves water between tank, box, sump, siphon pipe and return line, and nothing is lost:
``water_m3`` stays the same to rounding. What the drains carry comes from the laws (as ``Tables``); what has a memory
(a gulping siphon, a channel that has filled, trapped air, a line that runs empty) is a named state here.
Sump levels are metres above the running level of the drain chamber.
"""

from __future__ import annotations

from copy import copy, deepcopy
from dataclasses import dataclass, fields, replace
from math import pi, sin, sqrt

import numpy as np
from numpy.typing import NDArray

from tuner.rehearsal.figures import STEP_S, Figures
from tuner.rehearsal.installation import Installation, Settings
from tuner.rehearsal.tables import Tables, make_tables
from tuner.water import laws
from tuner.water.pipes import pipe_area_m2

Floats = NDArray[np.float64]

TRAPPED_SHARE = 0.01  # less air than this share of the pipe does not count as trapped
_DROWNED_EXPONENT = 0.385  # Villemonte 1947
_AIR_HARMLESS_M = 0.012  # fall over which a pump draws air and still gives its flow
_AIR_FADE_M = 0.03  # further fall of the pump chamber over which a pump that draws air loses its flow
_BARE_SHARE = 0.4  # of the gulping depth: with less water over it a siphon's mouth no longer lets its full flow in
_OUTLET_PUSH_M_S = 0.5  # speed of air that leaves through a pushed-out outlet; a choice


@dataclass(frozen=True, slots=True)
class Trace:
    """What the plant did: one value per control step, each of shape (n,); flows in m3/s, heights in m.

    ``gulp`` is how far the siphon's flow is air (0-1), ``trapped`` the share of its pipe that holds trapped air,
    ``fill`` how far the open channel runs full, ``sump_rise_m`` the drain chamber and ``chamber_fall_m`` the pump
    chamber below the baffle; ``surge`` is 1 while trapped air surges, ``pump`` the speed of the pumps as a share of
    that at the beginning, ``nozzle_cover_m`` the water over the return's mouth.
    """

    time_s: Floats
    supply: Floats
    weir: Floats
    siphon: Floats
    channel: Floats
    emergency: Floats
    level_m: Floats
    tank_head_m: Floats
    sump_rise_m: Floats
    chamber_fall_m: Floats
    suction_m: Floats
    fill: Floats
    gulp: Floats
    trapped: Floats
    surge: Floats
    pump: Floats
    nozzle_cover_m: Floats


_COLUMNS = tuple(f.name for f in fields(Trace))


class Plant:
    """The water of one installation; ``rng`` draws the phase of the pump's swing and the surges of trapped air."""

    def __init__(self, truth: Installation, rng: np.random.Generator) -> None:
        self.truth = truth
        self._rng = rng
        p = truth.plumbing
        self.settings = truth.settings
        self._tables: Tables = make_tables(p, self.settings.valve, self.settings.vent)
        self._pipe_m3 = float(pipe_area_m2(p.siphon_diameter_m) * p.siphon_length_m)
        self._gulp_level_m = 0.0
        self._target_m3_s = 0.0
        self._nozzle_m = truth.returns.nozzle_depth_m
        self._phase = float(rng.uniform(0.0, 2.0 * pi))
        self._fixed = Figures.of(truth)
        self._refigure()
        # Running as tuned: the level a film above the crest, the tank at the head that carries the flow.
        self.steps = 0
        self.powered = True
        tuned_m = self.level_m = float(p.crest_height_m) + 0.01
        if self._tables.siphon.at(float(p.crest_height_m)) > self._target_m3_s:
            self.level_m = min(self.level_m, self._gulp_level_m + float(p.regain_rise_m))
        self.tank_head_m = _head_for(self._tables, self._target_m3_s)
        self.running_head_m = self.tank_head_m
        # What the box holds less than when tuned is in the sump.
        self.sump_m3 = (tuned_m - self.level_m) * self._fixed.box_m2 - truth.sump.short_m3
        self.air_m3 = truth.siphon.trapped_share * self._pipe_m3
        self.line_air_m3 = 0.0
        self.pump_share = 1.0
        self._line_broken = False
        self._gulping = False
        self._void = 0.0
        self._fill = 0.0
        self._siphoning = False
        self._suction_m = 0.0
        self._surge_left_s = 0.0
        self._surge_gap_s = 0.0
        self.ever_emergency = False

    # -- what a keeper does ---------------------------------------------------------------------------------------

    def set(self, settings: Settings) -> None:
        """Turn valve, vent and pump to ``settings``."""
        before, self.settings = self.settings, settings
        if settings.valve != before.valve:
            self._tables.turn_valve(settings.valve)
        if settings.vent != before.vent:
            self._tables.turn_vent(settings.vent)
        self._refigure()

    def power(self, on: bool) -> None:
        """Cut or restore the pumps' power."""
        self.powered = on

    def _refigure(self) -> None:
        p, s = self.truth.plumbing, self.settings
        self._target_m3_s = float(laws.supply_flow_m3_s(p, s.speeds))
        self._speed = sum(s.speeds) / sum(self.truth.settings.speeds)
        full = self._tables.siphon.at(float(p.crest_height_m))
        self._mouth_m3_s = max(full, 1e-6)
        self._gulp_level_m = float(laws.gulp_level_m(p, full))
        self._bare_m = _BARE_SHARE * (self._gulp_level_m - float(p.siphon_inlet_height_m))

    def fork(self) -> Plant:
        """Return a plant in the same state that runs on by itself, to look ahead without disturbing this one."""
        twin = copy(self)
        twin._tables = replace(self._tables)
        twin._rng = deepcopy(self._rng)
        return twin

    # -- books ----------------------------------------------------------------------------------------------------

    @property
    def water_m3(self) -> float:
        """All water above the reference levels, for the balance of the books."""
        f = self._fixed
        in_pipes = (self._pipe_m3 - self.air_m3) + (f.line_m3 - self.line_air_m3)
        return f.tank_m2 * self.tank_head_m + f.box_m2 * self.level_m + self.sump_m3 + in_pipes

    # -- time -----------------------------------------------------------------------------------------------------

    def advance(self, n_steps: int) -> Trace:
        """Advance by control steps and return what happened; each row is the state at the end of a step."""
        rows = np.array([self._step() for _ in range(n_steps)], dtype=np.float64).reshape(n_steps, len(_COLUMNS))
        return Trace(**dict(zip(_COLUMNS, np.ascontiguousarray(rows.T), strict=True)))

    def _step(self) -> tuple[float, ...]:
        f, t = self._fixed, self._tables
        rise, fall = _sump_levels(self.sump_m3, f)
        drawn, arriving, back, drained = self._return_line(fall)
        weir = t.weir.at(self.tank_head_m)
        over_m = self.level_m - f.weir_height_m
        if over_m > 0.0:
            share = min(1.0, over_m / max(self.tank_head_m, 1e-6))
            weir *= max(0.0, 1.0 - share**1.5) ** _DROWNED_EXPONENT
        siphon_in, siphon_out = self._siphon(rise)
        channel = self._channel(rise)
        emergency = t.emergency.at(self.level_m - f.rim_height_m)
        if emergency > 0.0:
            self.ever_emergency = True

        self.tank_head_m += (arriving - weir - back) * STEP_S / f.tank_m2
        self.level_m += (weir - siphon_in - channel - emergency) * STEP_S / f.box_m2
        self.sump_m3 += (siphon_out + channel + emergency + back + drained - drawn) * STEP_S
        self.steps += 1
        rise, fall = _sump_levels(self.sump_m3, f)
        trapped = self.air_m3 / self._pipe_m3
        return (
            self.steps * STEP_S, arriving, weir, siphon_out, channel, emergency, self.level_m, self.tank_head_m,
            rise, fall, self._suction_m, self._fill, self._void, trapped, self._surge(trapped),
            self.pump_share * self._speed, self._nozzle_m + self.tank_head_m - self.running_head_m,
        )  # fmt: skip

    def _return_line(self, chamber_fall_m: float) -> tuple[float, float, float, float]:
        """Return flows in m3/s: out of the sump, into the tank, back from the tank, and back out of the line."""
        f = self._fixed
        if self.powered:
            self.pump_share += (1.0 - self.pump_share) * f.start_share
            swing = 1.0 + f.swing * sin(2.0 * pi * self.steps * STEP_S / f.swing_period_s + self._phase)
            flow = self._target_m3_s * self.pump_share * swing
            short_m = chamber_fall_m - f.intake_m - _AIR_HARMLESS_M
            if short_m > 0.0:
                flow *= max(0.0, 1.0 - short_m / _AIR_FADE_M)
            self._line_broken = False
            if self.line_air_m3 > 0.0:
                filled = min(self.line_air_m3, flow * STEP_S)
                self.line_air_m3 -= filled
                return flow, flow - filled / STEP_S, 0.0, 0.0
            return flow, flow, 0.0, 0.0
        self.pump_share *= f.stop_share
        if not self._line_broken:
            above_m = self.tank_head_m - (self.running_head_m - f.break_depth_m)
            if above_m > 0.0:
                return 0.0, 0.0, min(f.back_flow_m3_s, above_m * f.tank_m2 / STEP_S), 0.0
            self._line_broken = True
        drained = min(f.back_flow_m3_s, (f.line_m3 - self.line_air_m3) / STEP_S)
        self.line_air_m3 += drained * STEP_S
        return 0.0, 0.0, 0.0, drained

    def _siphon(self, rise_m: float) -> tuple[float, float]:
        """Return the siphon's flow in m3/s out of the box and into the sump."""
        f, t = self._fixed, self._tables
        cover_m = self.level_m - f.inlet_height_m
        under_m = f.siphon_outlet_m + rise_m
        # The laws know the outlet at its running depth; what the sump's level changes is taken off the head.
        head_shift_m = rise_m if f.siphon_outlet_m > 0.0 else max(0.0, under_m)
        column_lost_m = f.siphon_drop_m * self.air_m3 / self._pipe_m3
        through = t.siphon.at(self.level_m - head_shift_m - column_lost_m)
        if self._gulping:
            self._gulping = self.level_m < self._gulp_level_m + f.regain_rise_m
        else:
            self._gulping = self.level_m < self._gulp_level_m and through > 0.0
        target = f.lost_share if self._gulping else 0.0
        self._void += (target - self._void) * f.gulp_share
        through *= 1.0 - self._void
        mouth = self._mouth_m3_s * (cover_m / self._bare_m) ** 1.5 if cover_m > 0.0 else 0.0
        purged = self._purge(through, cover_m, under_m) if self.air_m3 > 0.0 else 0.0
        entering = min(through + purged, mouth)
        self.air_m3 += (through - entering) * STEP_S
        if self.air_m3 > self._pipe_m3:
            through -= (self.air_m3 - self._pipe_m3) / STEP_S
            self.air_m3 = self._pipe_m3
        elif self.air_m3 < 0.0:
            entering += self.air_m3 / STEP_S
            self.air_m3 = 0.0
        return entering, through

    def _purge(self, through: float, cover_m: float, outlet_under_m: float) -> float:
        """Return the rate in m3/s at which water takes the place of trapped air."""
        f = self._fixed
        swept = 0.0
        froude = through / f.froude_one_m3_s
        if froude > f.sweep_froude:
            swept = f.sweep_share * through * min(1.0, froude / f.sweep_froude - 1.0)
        over_crown_m = self.level_m - f.crown_height_m
        spare = self._tables.spill.at(over_crown_m) - through
        if spare <= 0.0:
            return swept
        leaving = 0.0
        if over_crown_m > f.bleed_needs_m:
            leaving = f.bleed_m3_s_per_root_m * sqrt(over_crown_m - f.bleed_needs_m)
        pushed_m = cover_m - max(0.0, outlet_under_m)
        if pushed_m > 0.0:
            leaving += _OUTLET_PUSH_M_S * f.pipe_m2 * min(1.0, pushed_m / 0.02)
        return swept + min(spare, leaving)

    def _channel(self, rise_m: float) -> float:
        """Return the open channel's flow in m3/s."""
        f, t = self._fixed, self._tables
        over_mouth_m = self.level_m - f.channel_inlet_m
        if over_mouth_m <= 0.0:
            self._siphoning = False
        # A film holds no more suction than fills the elbow; what a full leg pulls does not lift the film.
        lift_m = min(self._suction_m, f.siphon_suction_m)
        film = t.film.at(self.level_m - f.crest_height_m + lift_m) if over_mouth_m > 0.0 else 0.0
        wanted_m = min(t.suction.at(film), 1.5 * f.siphon_suction_m)
        self._suction_m += (wanted_m - self._suction_m) * f.suction_share
        if self._siphoning:
            self._siphoning = over_mouth_m > f.channel_break_m
        else:
            self._siphoning = self._fill <= 0.0 and film > 0.0 and self._suction_m > f.siphon_suction_m
        if self._siphoning:
            self._fill = min(1.0, self._fill + STEP_S / f.fill_s)
        elif self._fill > 0.0:
            self._fill = max(0.0, self._fill - STEP_S / f.break_s)
            if self._fill == 0.0:
                self._suction_m = 0.0
        if self._fill <= 0.0 or over_mouth_m <= 0.0:
            return film
        shift_m = rise_m if f.channel_outlet_m > 0.0 else max(0.0, f.channel_outlet_m + rise_m)
        full = min(t.full_channel.at(self.level_m - shift_m), over_mouth_m * f.box_m2 / STEP_S)
        return film + (full - film) * self._fill

    def _surge(self, trapped: float) -> float:
        """Return 1 while trapped air surges, else 0; draws when the next surge comes."""
        if trapped < TRAPPED_SHARE or not self.powered:
            self._surge_left_s = 0.0
            return 0.0
        if self._surge_left_s > 0.0:
            self._surge_left_s -= STEP_S
            return 1.0
        self._surge_gap_s -= STEP_S
        if self._surge_gap_s <= 0.0:
            self._surge_left_s = float(self._rng.uniform(0.3, 1.2))
            self._surge_gap_s = float(self._rng.gamma(2.0)) / 2.0 * self._fixed.surge_period_s
        return 0.0


def _sump_levels(sump_m3: float, f: Figures) -> tuple[float, float]:
    """Return the drain chamber's rise and the pump chamber's fall for the water above a sump filled to the baffle."""
    if sump_m3 >= 0.0:
        return sump_m3 / f.sump_m2, 0.0
    return 0.0, -sump_m3 / f.chamber_m2


def _head_for(tables: Tables, flow_m3_s: float) -> float:
    """Return the head over the weir that carries a flow."""
    low, high = 0.0, 0.4
    for _ in range(40):
        middle = 0.5 * (low + high)
        if tables.weir.at(middle) < flow_m3_s:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)
