"""The numbers of one installation as the laws of flow need them, as single values or as a sampled band.

A ``Plumbing`` holds what a ``Rig`` measures and, beside it, the model's own uncertain parameters (losses of
fittings, the valve's curve, the Froude number at which gurgling starts ...). Each figure is a float or an
array of shape (n,): the same laws then give one answer or a band of n. Heights are above the box floor.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields, replace
from typing import Any, TypeAlias

import numpy as np
from numpy.random import Generator

from tuner.errors import ConfigError
from tuner.rig import MEASURED_SPREAD, Pump, Returns, Rig, ValveKind, measures, walk
from tuner.water import pipes
from tuner.water.parameters import PARAMETERS, draw_parameter, normal_draws
from tuner.water.properties import water_density_kg_m3, water_viscosity_pa_s
from tuner.water.pumps import curve_of_label, fit_curve

Figure: TypeAlias = Any  # a float, or an ndarray of float64 of shape (n,)

LABEL_SPREAD = 0.08  # a pump's label against the pump in the cabinet; common practice, no source
CURVE_SPREAD = 0.05  # a maker's published curve
LEAST_STEP_M = 0.004  # least height between crest and emergency rim, and inlet and crest, in a draw


@dataclass(frozen=True, slots=True, kw_only=True)
class Plumbing:
    """One installation for the laws of flow; each figure is a float or an array of shape (n,), SI units."""

    box_area_m2: Figure  # free surface: footprint less the three pipes
    box_depth_m: Figure
    siphon_diameter_m: Figure
    siphon_length_m: Figure
    siphon_drop_m: Figure  # crest level down to the sump surface
    siphon_loss_k: Figure  # entrance, bends, exit; without the valve
    siphon_inlet_height_m: Figure
    siphon_inlet_diameter_m: Figure
    siphon_outlet_depth_m: Figure  # minus: above the sump surface
    bleed_hole_m: Figure
    valve_kind: ValveKind
    valve_full: Figure  # turns, or 90 degrees
    valve_deviation: Figure  # of log10 K, in the handbooks' standard deviations
    valve_backlash: Figure  # turns or degrees
    gulp_share: Figure  # submergence at which the siphon draws air, as a share of Hecker's
    regain_rise_m: Figure
    broken_share: Figure
    channel_diameter_m: Figure
    channel_length_m: Figure
    channel_drop_m: Figure
    channel_loss_k: Figure
    crest_height_m: Figure
    crest_share: Figure
    channel_inlet_height_m: Figure
    channel_outlet_depth_m: Figure
    vent_hole_m: Figure
    vent_tap_turns: Figure
    vent_discharge: Figure
    film_air_ratio: Figure
    vent_siphon_head_m: Figure
    breakup_head_m: Figure
    hiss_jet_m_s: Figure
    quiet_froude: Figure
    emergency_diameter_m: Figure
    emergency_length_m: Figure
    emergency_drop_m: Figure  # rim down to the sump surface
    emergency_loss_k: Figure
    emergency_rim_height_m: Figure
    rim_share: Figure
    weir_length_m: Figure
    weir_open_share: Figure
    weir_height_m: Figure
    weir_share: Figure
    tank_area_m2: Figure
    tank_glass_above_m: Figure
    sump_area_m2: Figure
    sump_level_m: Figure
    sump_rim_m: Figure
    pump_chamber_m3: Figure
    pump_shutoff_m: tuple[Figure, ...]  # head at no flow, full speed
    pump_loss: tuple[Figure, ...]  # head lost per flow squared inside the pump, s2/m5
    pump_branch_m3_s: tuple[Figure, ...]
    static_head_m: Figure
    return_lines_m3: Figure  # water in all return lines
    line_loss: Figure  # head lost per flow squared in each pump's return line, s2/m5
    nozzle_depth_m: Figure
    siphon_break_depth_m: Figure  # NaN without an anti-siphon hole
    pump_swing: Figure
    density_kg_m3: float
    viscosity_pa_s: float

    @property
    def viscosity_m2_s(self) -> float:
        """Kinematic viscosity."""
        return self.viscosity_pa_s / self.density_kg_m3


Getter = Callable[[str], Figure]


def _build(rig: Rig, get: Getter, model: Getter) -> Plumbing:
    """Assemble a plumbing from ``get`` (a measured field by dotted name) and ``model`` (a parameter by name)."""
    pipes_m2 = sum(
        pipes.pipe_area_m2(get(f"{name}.inner_diameter_m") + 0.006) for name in ("siphon", "channel", "emergency")
    )
    footprint = get("box.length_m") * get("box.width_m")
    crest = get("channel.crest_height_m")
    nozzles_each = max(rig.returns.nozzles / len(rig.pumps), 1.0)
    shutoff, loss = zip(*(_pump(p, f"pump.{i}", get) for i, p in enumerate(rig.pumps)), strict=True)
    density = water_density_kg_m3(rig.water.kind, rig.water.temperature_c)
    viscosity = water_viscosity_pa_s(rig.water.kind, rig.water.temperature_c)
    entrance = model("entrance_k") + pipes.EXIT_K
    return Plumbing(
        box_area_m2=np.maximum(footprint - pipes_m2, 0.3 * footprint),
        box_depth_m=get("box.depth_m"),
        siphon_diameter_m=get("siphon.inner_diameter_m"),
        siphon_length_m=get("siphon.run_m"),
        siphon_drop_m=get("siphon.drop_m"),
        siphon_loss_k=entrance + get("siphon.elbows") * model("elbow_k_siphon"),
        siphon_inlet_height_m=np.minimum(get("siphon.inlet_height_m"), crest - LEAST_STEP_M),
        siphon_inlet_diameter_m=get("siphon.inlet_diameter_m"),
        siphon_outlet_depth_m=get("siphon.outlet_depth_m"),
        bleed_hole_m=get("siphon.bleed_hole_m"),
        valve_kind=rig.siphon.valve.kind,
        valve_full=get("siphon.valve.turns") if rig.siphon.valve.kind == "gate" else 90.0,
        valve_deviation=model("valve_deviation"),
        valve_backlash=get("siphon.valve.backlash"),
        gulp_share=model("gulp_share"),
        regain_rise_m=model("regain_rise_m"),
        broken_share=model("broken_share"),
        channel_diameter_m=get("channel.inner_diameter_m"),
        channel_length_m=get("channel.run_m"),
        channel_drop_m=get("channel.drop_m"),
        channel_loss_k=entrance + get("channel.elbows") * model("elbow_k_channel"),
        crest_height_m=crest,
        crest_share=model("crest_share"),
        channel_inlet_height_m=np.minimum(get("channel.inlet_height_m"), crest - LEAST_STEP_M),
        channel_outlet_depth_m=get("channel.outlet_depth_m"),
        vent_hole_m=get("channel.vent_hole_m"),
        vent_tap_turns=get("channel.vent_tap_turns"),
        vent_discharge=model("vent_discharge"),
        film_air_ratio=model("film_air_ratio"),
        vent_siphon_head_m=model("vent_siphon_head_m"),
        breakup_head_m=model("breakup_head_m"),
        hiss_jet_m_s=model("hiss_jet_m_s"),
        quiet_froude=model("quiet_froude"),
        emergency_diameter_m=get("emergency.inner_diameter_m"),
        emergency_length_m=get("emergency.run_m"),
        emergency_drop_m=get("emergency.drop_m"),
        emergency_loss_k=entrance + get("emergency.elbows") * model("elbow_k_channel"),
        emergency_rim_height_m=np.maximum(get("emergency.rim_height_m"), crest + LEAST_STEP_M),
        rim_share=model("rim_share"),
        weir_length_m=get("weir.length_m"),
        weir_open_share=np.minimum(get("weir.open_share"), 1.0),
        weir_height_m=np.maximum(get("weir.height_m"), crest + LEAST_STEP_M),
        weir_share=model("weir_share"),
        tank_area_m2=get("tank.length_m") * get("tank.width_m"),
        tank_glass_above_m=get("tank.glass_above_m"),
        sump_area_m2=get("sump.length_m") * get("sump.width_m"),
        sump_level_m=get("sump.level_m"),
        sump_rim_m=get("sump.rim_m"),
        pump_chamber_m3=get("sump.pump_chamber_m3"),
        pump_shutoff_m=shutoff,
        pump_loss=loss,
        pump_branch_m3_s=tuple(get(f"pump.{i}.branch_flow_m3_s") for i in range(len(rig.pumps))),
        static_head_m=get("returns.static_head_m"),
        return_lines_m3=len(rig.pumps) * pipes.pipe_area_m2(get("returns.line_diameter_m")) * get("returns.line_run_m"),
        line_loss=_line_loss(rig.returns, get, model("elbow_k_return"), nozzles_each, viscosity / density),
        nozzle_depth_m=get("returns.nozzle_depth_m"),
        siphon_break_depth_m=get("returns.siphon_break_depth_m"),
        pump_swing=model("pump_swing"),
        density_kg_m3=density,
        viscosity_pa_s=viscosity,
    )


def _pump(pump: Pump, name: str, get: Getter) -> tuple[Figure, Figure]:
    """Return shut-off head and loss per flow squared: H = h0 - b Q^2, through the label's two figures or the curve."""
    if not pump.curve:
        return curve_of_label(get(f"{name}.flow_m3_s"), get(f"{name}.head_m"))
    fit, scale = fit_curve(pump.curve), get(f"{name}.curve")
    return fit.shutoff_m * scale, fit.loss / scale


def _line_loss(returns: Returns, get: Getter, elbow_k: Figure, nozzles_each: float, viscosity_m2_s: float) -> Figure:
    """Return the head lost per flow squared in one return line: friction, bends, entrance, and the nozzles' jet."""
    diameter, run = get("returns.line_diameter_m"), get("returns.line_run_m")
    area = pipes.pipe_area_m2(diameter)
    reynolds = 1.5 * diameter / viscosity_m2_s  # friction hardly varies between 1 and 2 m/s
    friction = pipes.friction_factor_swamee_jain(reynolds, pipes.PVC_ROUGHNESS_M / diameter)
    in_line = (pipes.ENTRANCE_K + returns.elbows * elbow_k + friction * run / diameter) / area**2
    jet = 1.0 / (nozzles_each * pipes.pipe_area_m2(get("returns.nozzle_diameter_m"))) ** 2
    return (in_line + jet) / (2 * pipes.GRAVITY_M_S2)


def _mean_of(rig: Rig) -> Getter:
    parts = dict(walk(rig))

    def get(dotted: str) -> Figure:
        head, _, tail = dotted.rpartition(".")
        if tail == "curve":
            return 1.0
        value = getattr(parts[head], tail)
        return np.nan if value is None else value

    return get


def spread_of(rig: Rig, dotted: str) -> float:
    """Return the relative standard uncertainty of a field of the rig, measured or assumed."""
    head, _, tail = dotted.rpartition(".")
    if tail == "curve":
        return CURVE_SPREAD
    measure = measures(dict(walk(rig))[head])[tail]
    if dotted in rig.assumed:
        return measure.spread
    if head.startswith("pump.") and tail in ("flow_m3_s", "head_m"):
        return LABEL_SPREAD
    return 0.0 if measure.spread == 0.0 else MEASURED_SPREAD


def plumbing_of(rig: Rig, parameters: Mapping[str, float] | None = None) -> Plumbing:
    """Return the mean plumbing of a rig: every field as described or assumed, every parameter at its median.

    ``parameters`` replaces some of the medians by name (see ``PARAMETERS``).
    """
    given = parameters or {}
    for name in given:
        if name not in PARAMETERS:
            raise ConfigError(f"parameter {name!r} must be one of {', '.join(PARAMETERS)}")
    return _build(rig, _mean_of(rig), lambda name: given.get(name, PARAMETERS[name].median))


def sample_plumbing(rig: Rig, rng: Generator, n: int) -> Plumbing:
    """Draw ``n`` plumbings that the description allows; sampled figures have shape (n,).

    Measured fields vary by ``MEASURED_SPREAD``, assumed fields by the spread of their default, parameters by
    the spread between sources; draws are independent and lie within ``FARTHEST`` standard deviations.
    """
    mean = _mean_of(rig)
    drawn: dict[str, Figure] = {}

    def get(dotted: str) -> Figure:
        if dotted not in drawn:
            drawn[dotted] = mean(dotted) * np.maximum(1.0 + spread_of(rig, dotted) * normal_draws(rng, n), 0.05)
        return drawn[dotted]

    def model(name: str) -> Figure:
        if name not in drawn:
            drawn[name] = draw_parameter(name, rng, n)
        return drawn[name]

    return _build(rig, get, model)


def one_of(plumbing: Plumbing, index: int) -> Plumbing:
    """Return the draw number ``index`` of a sampled plumbing, every figure a float."""

    def pick(value: Any) -> Any:
        if isinstance(value, tuple):
            return tuple(pick(v) for v in value)
        if isinstance(value, str):
            return value
        array = np.asarray(value, dtype=float)
        return float(array[index]) if array.ndim else float(array)

    return replace(plumbing, **{f.name: pick(getattr(plumbing, f.name)) for f in fields(plumbing)})
