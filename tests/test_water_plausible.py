"""Doubts and faults: each is found in a rig that has it, and none in a sound rig that is fully described."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tuner.rig import (
    Box,
    Channel,
    Emergency,
    Fact,
    Pump,
    Returns,
    Rig,
    Siphon,
    Sump,
    Tank,
    Valve,
    Water,
    Weir,
)
from tuner.rigfile import typical_rig
from tuner.water.capacity import capacities
from tuner.water.controls import window_bands
from tuner.water.flood import flood_check
from tuner.water.plausible import Remark, remarks
from tuner.water.standing import standing

DRAWS = 300
SOUND = Rig(
    tank=Tank(glass_above_m=0.08), weir=Weir(length_m=0.6, height_m=0.25), box=Box(length_m=0.6, depth_m=0.32),
    siphon=Siphon(inner_diameter_m=0.0351, inlet_diameter_m=0.06),
    channel=Channel(inner_diameter_m=0.0351),
    emergency=Emergency(inner_diameter_m=0.0525, rim_height_m=0.19),
    pumps=(Pump(flow_m3_s=4000 / 3.6e6, head_m=3.0),),
    returns=Returns(static_head_m=1.0, line_diameter_m=0.0266),
)


def found(rig: Rig) -> tuple[Remark, ...]:
    def rng() -> np.random.Generator:
        return np.random.default_rng(3)

    return remarks(
        rig, capacities(rig, rng(), DRAWS), window_bands(rig, rng(), draws=DRAWS if not rig.facts else 4000),
        flood_check(rig, rng(), DRAWS), standing(rig, rng(), DRAWS),
    )


def test_a_sound_and_fully_described_rig_is_left_in_peace() -> None:
    assert found(SOUND) == ()


@pytest.mark.parametrize(("change", "kind", "says"), [
    ({"siphon": replace(SOUND.siphon, outlet_depth_m=-0.02)}, "fault", "siphon's outlet ends 20 mm above the sump"),
    ({"channel": replace(SOUND.channel, outlet_depth_m=-0.01)}, "fault", "open channel's outlet ends 10 mm above"),
    ({"siphon": replace(SOUND.siphon, outlet_depth_m=0.15)}, "fault", "lies 150 mm deep"),
    ({"emergency": replace(SOUND.emergency, inner_diameter_m=0.0209)}, "fault", "emergency pipe alone cannot take"),
    ({"emergency": replace(SOUND.emergency, rim_height_m=0.165)}, "fault", "only 5 mm over the crest"),
    ({"siphon": replace(SOUND.siphon, valve=Valve(kind="ball"))}, "fault", "ball valve"),
    ({"siphon": replace(SOUND.siphon, valve=Valve(setting=5.0))}, "fault", "siphon takes it all and draws air"),
    ({"siphon": replace(SOUND.siphon, valve=Valve(setting=0.3))}, "fault", "open channel carries too much"),
    ({"siphon": replace(SOUND.siphon, valve=Valve(setting=0.0))}, "doubt", "described as closed"),
    ({"channel": replace(SOUND.channel, vent_hole_m=0.0)}, "fault", "no vent"),
    ({"channel": replace(SOUND.channel, vent_hole_m=0.0015)}, "fault", "hardly lets in the air"),
    ({"channel": replace(SOUND.channel, inlet_height_m=0.16)}, "fault", "mouth of the open channel is not under water"),
    ({"siphon": replace(SOUND.siphon, bleed_hole_m=0.0)}, "fault", "no bleed hole"),
    ({"returns": replace(SOUND.returns, nozzle_depth_m=0.2)}, "fault", "200 mm deep, what runs back .* does not fit"),
    ({"returns": replace(SOUND.returns, siphon_break_depth_m=0.05)}, "doubt", "anti-siphon hole lies as deep"),
    ({"siphon": replace(SOUND.siphon, inner_diameter_m=0.0209)}, "fault", "siphon (is|may be) too small"),
    ({"pumps": (Pump(head_m=0.9),)}, "fault", "no pump lifts water as high"),
    ({"siphon": replace(SOUND.siphon, inner_diameter_m=0.0381)}, "doubt", "printed on a 1.5 inch pipe"),
    ({"siphon": replace(SOUND.siphon, inner_diameter_m=0.040)}, "doubt", "outside of a common metric pipe"),
    ({"siphon": replace(SOUND.siphon, run_m=0.5)}, "doubt", "500 mm long and falls 900 mm"),
    ({"channel": replace(SOUND.channel, drop_m=1.6)}, "doubt", "fall from the same water into the same sump"),
    ({"returns": replace(SOUND.returns, static_head_m=2.0)}, "doubt", "the pump lifts 2 m"),
    ({"box": replace(SOUND.box, width_m=0.06), "emergency": replace(SOUND.emergency, inner_diameter_m=0.0779)},
     "doubt", "three pipes of these bores do not fit"),
    ({"sump": Sump(level_m=0.40, rim_m=0.40)}, "fault", "stands at its rim"),
    ({"sump": Sump(pump_chamber_m3=0.2)}, "doubt", "holds more than the whole sump"),
    ({"water": Water(temperature_c=10.0)}, "doubt", "10 C is unusual"),
    ({"facts": (Fact(kind="just slurps", setting=4.9), Fact(kind="just gurgles", setting=0.2))}, "doubt",
     "facts do not fit"),
])
def test_what_is_wrong_is_found(change: dict[str, object], kind: str, says: str) -> None:
    import re

    told = [remark for remark in found(replace(SOUND, **change)) if re.search(says, remark.says)]
    assert [remark.kind for remark in told] == [kind]
    assert told[0].fix


def test_faults_stand_first() -> None:
    kinds = [r.kind for r in found(replace(SOUND, siphon=replace(SOUND.siphon, run_m=0.5, outlet_depth_m=-0.02)))]
    assert kinds == ["fault", "doubt"]


def test_a_remark_tells_which_of_its_figures_are_only_assumed() -> None:
    rig = replace(typical_rig(), channel=Channel(vent_hole_m=0.0))
    remark = next(r for r in found(rig) if "no vent" in r.says)
    assert remark.rests_on(rig.assumed) == ("channel.vent_hole_m",)
    assert remark.rests_on(frozenset()) == ()


def test_an_assumed_bore_is_not_taken_for_a_printed_size() -> None:
    rig = replace(typical_rig(), siphon=Siphon(inner_diameter_m=0.0254))
    assert not [r for r in found(rig) if "printed" in r.says]
