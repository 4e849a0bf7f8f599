"""The figures of an installation as the plant's steps need them: plain floats, worked out once."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, pi, sqrt

from tuner.rehearsal.installation import Installation
from tuner.water.air import AIR_DENSITY_KG_M3, HOLE_DISCHARGE
from tuner.water.pipes import GRAVITY_M_S2, pipe_area_m2

STEP_S = 0.05
"""Length of a control step in seconds, the voices' too."""

_SURFACE_TENSION_N_M = 0.072  # water against air at 25 degrees Celsius
_STOP_S = 0.3  # run-down of a pump


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """Heights in m above the box floor, areas in m2, flows in m3/s; ``..._share`` is the approach per step of a lag."""

    tank_m2: float
    box_m2: float
    sump_m2: float
    chamber_m2: float
    weir_height_m: float
    rim_height_m: float
    crest_height_m: float
    inlet_height_m: float
    channel_inlet_m: float
    siphon_outlet_m: float
    channel_outlet_m: float
    siphon_drop_m: float
    pipe_m2: float
    froude_one_m3_s: float
    regain_rise_m: float
    lost_share: float
    gulp_share: float
    crown_height_m: float
    bleed_needs_m: float
    bleed_m3_s_per_root_m: float
    sweep_froude: float
    sweep_share: float
    surge_period_s: float
    fill_s: float
    break_s: float
    channel_break_m: float
    suction_share: float
    siphon_suction_m: float
    start_share: float
    stop_share: float
    swing: float
    swing_period_s: float
    line_m3: float
    back_flow_m3_s: float
    break_depth_m: float
    intake_m: float

    @classmethod
    def of(cls, truth: Installation) -> Figures:
        """Work out the numbers of an installation."""
        p, s, c, r = truth.plumbing, truth.siphon, truth.channel, truth.returns
        pipe_m2 = float(pipe_area_m2(p.siphon_diameter_m))
        hole = s.bleed_hole_m
        weight = float(p.density_kg_m3) * GRAVITY_M_S2
        return cls(
            tank_m2=float(p.tank_area_m2),
            box_m2=float(p.box_area_m2),
            sump_m2=float(p.sump_area_m2),
            chamber_m2=float(p.sump_area_m2) * truth.sump.chamber_share,
            weir_height_m=float(p.weir_height_m),
            rim_height_m=float(p.emergency_rim_height_m),
            crest_height_m=float(p.crest_height_m),
            inlet_height_m=float(p.siphon_inlet_height_m),
            channel_inlet_m=float(p.channel_inlet_height_m),
            siphon_outlet_m=float(p.siphon_outlet_depth_m),
            channel_outlet_m=float(p.channel_outlet_depth_m),
            siphon_drop_m=float(p.siphon_drop_m),
            pipe_m2=pipe_m2,
            froude_one_m3_s=pipe_m2 * sqrt(GRAVITY_M_S2 * float(p.siphon_diameter_m)),
            regain_rise_m=float(p.regain_rise_m),
            lost_share=1.0 - float(p.broken_share),
            gulp_share=1.0 - exp(-STEP_S / s.gulp_lag_s),
            crown_height_m=s.crown_height_m,
            # Air must overcome the surface tension in the hole: 4 sigma / d.
            bleed_needs_m=4.0 * _SURFACE_TENSION_N_M / (weight * hole) if hole > 0.0 else 1e9,
            bleed_m3_s_per_root_m=HOLE_DISCHARGE * pi / 4.0 * hole**2 * sqrt(2.0 * weight / AIR_DENSITY_KG_M3),
            sweep_froude=s.sweep_froude,
            sweep_share=s.sweep_share,
            surge_period_s=s.surge_period_s,
            fill_s=c.fill_s,
            break_s=c.break_s,
            channel_break_m=c.break_depth_m,
            suction_share=1.0 - exp(-STEP_S / c.suction_lag_s),
            siphon_suction_m=float(p.vent_siphon_head_m),
            start_share=1.0 - exp(-STEP_S / r.start_s),
            stop_share=exp(-STEP_S / _STOP_S),
            swing=float(p.pump_swing),
            swing_period_s=r.swing_period_s,
            line_m3=r.line_m3,
            back_flow_m3_s=r.back_flow_m3_s,
            break_depth_m=r.break_depth_m,
            intake_m=truth.sump.intake_m,
        )
