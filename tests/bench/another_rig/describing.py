"""The rig file that a keeper would write of an installation: measured with a tape, so a little off, and a pump's label.

The label flatters; what cannot be measured (valve curve, play, limits of the noises) is not in it. The name counts: the
coach's chance is seeded by the whole description.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np

import tuner
from tests.bench.another_rig.hydraulics import LITRES_AN_HOUR, Installation, Valve


def describe(seed: int, built: Installation, valve: Valve, vent: float, rng: np.random.Generator) -> tuner.Rig:
    """Return the rig as read from its file."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "rig.toml"
        path.write_text(rig_text(seed, built, valve, vent, rng), encoding="utf-8")
        return tuner.load_rig(path)


def rig_text(seed: int, built: Installation, valve: Valve, vent: float, rng: np.random.Generator) -> str:
    """Return the text of the rig file; a measure is off by about 2 %, by less or more where the tape reaches so."""

    def about(measure_m: float, sd: float = 0.02) -> str:
        return f'"{measure_m * (1 + rng.normal(0, sd)) * 1e3:.0f} mm"'

    def exactly(measure_m: float, digits: int = 0) -> str:
        return f'"{measure_m * 1e3:.{digits}f} mm"'

    label = 1 / rng.uniform(0.88, 1.02)
    line, box, siphon, channel, emergency = built.line, built.box, built.siphon, built.channel, built.emergency
    gate = valve.kind == "gate"
    setting = round(valve.handle * 16) / 16 if gate else float(round(valve.handle))
    return f"""
name = "stranger {seed}"
[tank]
length = {about(box.tank_length_m, 0.005)}
width = {about(box.tank_width_m, 0.005)}
[weir]
length = {about(box.weir_length_m, 0.01)}
open_share = "{box.weir_open_share * 100 * (1 + rng.normal(0, 0.05)):.0f} %"
height = {exactly(box.weir_m)}
[box]
length = {about(box.length_m, 0.01)}
width = {about(box.width_m, 0.01)}
depth = {exactly(box.depth_m)}
[siphon]
inner_diameter = {exactly(siphon.diameter_m, 1)}
drop = {about(siphon.drop_m)}
run = {about(siphon.run_m, 0.05)}
elbows = {siphon.elbows}
inlet_height = {exactly(box.siphon_inlet_m)}
inlet_diameter = {about(siphon.inlet_diameter_m)}
outlet_depth = {exactly(built.siphon_outlet_m)}
[siphon.valve]
kind = "{valve.kind}"
{f"turns = {valve.full}" if gate else ""}
setting = {setting}
[channel]
inner_diameter = {exactly(channel.diameter_m, 1)}
drop = {about(siphon.drop_m)}
run = {about(channel.run_m, 0.05)}
elbows = {channel.elbows}
crest_height = {exactly(box.crest_m)}
inlet_height = {exactly(box.mouth_m)}
outlet_depth = {exactly(built.channel_outlet_m)}
vent_hole = {exactly(channel.vent_diameter_m, 1)}
vent_tap_turns = {channel.vent_turns}
vent_setting = {round(vent * channel.vent_turns * 8) / 8}
[emergency]
inner_diameter = {exactly(emergency.diameter_m, 1)}
drop = {about(siphon.drop_m + 0.03)}
run = {about(siphon.drop_m + 0.2, 0.05)}
elbows = {emergency.elbows}
rim_height = {exactly(box.rim_m)}
[[pump]]
flow = "{line.free_flow_m3_s * label * LITRES_AN_HOUR:.0f} L/h"
head = "{line.shutoff_head_m * (1 + rng.normal(0, 0.03)):.2f} m"
speed = "{line.speed * 100:.0f} %"
speed_step = "{line.speed_step * 100:.0f} %"
[returns]
static_head = {about(line.static_head_m)}
line_diameter = {exactly(line.line_diameter_m, 1)}
line_run = {about(line.line_run_m, 0.05)}
elbows = {line.elbows}
nozzles = {line.nozzles}
nozzle_diameter = {about(line.nozzle_diameter_m, 0.03)}
"""
