"""What a description says that can hardly be so, or should not be so: slips of the tape, and plumbing that asks for it.

A doubt is about the figure ("is that the size printed on the pipe?"); a fault is about the plumbing and says what
would mend it. Limits without a source are common practice.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from tuner.rig import Rig
from tuner.rigfile import key_of
from tuner.units import flow_text, length_text
from tuner.water.capacity import PartCheck
from tuner.water.controls import WindowBands
from tuner.water.flood import FloodCheck
from tuner.water.standing import Standing
from tuner.water.verdict import VERDICTS

RemarkKind = Literal["fault", "doubt"]
# Printed on the pipe -> true bore. Inches: schedule 40 PVC (ASTM D1785, from memory); mm: the outside diameter of
# metric pressure pipe, whose bore is 4 to 8 mm less.
SCHEDULE_40_M = {
    0.75: 0.0209, 1.0: 0.0266, 1.25: 0.0351, 1.5: 0.0409, 2.0: 0.0525, 3.0: 0.0779,
}
METRIC_OUTSIDE_M = (0.020, 0.025, 0.032, 0.040, 0.050, 0.063, 0.075)
SAME_M = 0.00005
TAPE_SLACK_M = 0.10  # by how much lengths that have to agree may differ
DEEP_OUTLET_M = 0.06
CLOSE_RIM_M = 0.010
COOL_C, WARM_C = 18.0, 32.0


@dataclass(frozen=True, slots=True)
class Remark:
    """One doubt or fault: the fields it rests on (dotted), what is wrong, and what to do."""

    kind: RemarkKind
    fields: tuple[str, ...]
    says: str
    fix: str

    def rests_on(self, assumed: frozenset[str]) -> tuple[str, ...]:
        """Return those of its fields that are only assumed."""
        return tuple(name for name in self.fields if name in assumed)


def shown(dotted: str) -> str:
    """Return a field as a rig file writes it.

    >>> shown("siphon.drop_m"), shown("pump.0.flow_m3_s")
    ('siphon.drop', 'pump.flow')
    """
    head, _, tail = dotted.rpartition(".")
    return f"{head.removesuffix('.0')}.{key_of(tail)}"


def remarks(
    rig: Rig, parts: tuple[PartCheck, ...], window: WindowBands, flood: FloodCheck, stand: Standing, *, us: bool = False
) -> tuple[Remark, ...]:
    """Return everything that is implausible in a description, faults first."""
    found = [
        *_bores(rig, us), *_lengths(rig, us), *_box(rig, stand, us), *_outlets(rig, us), *_air(rig, window, us),
        *_valve(rig, window, stand), *_flows(rig, parts, window, us), *_floods(rig, flood, us), *_sump(rig, us),
    ]
    return tuple(sorted(found, key=lambda remark: remark.kind != "fault"))


def _doubt(says: str, fix: str, *names: str) -> Remark:
    return Remark("doubt", names, says, fix)


def _fault(says: str, fix: str, *names: str) -> Remark:
    return Remark("fault", names, says, fix)


def _bores(rig: Rig, us: bool) -> Iterator[Remark]:
    bores = {
        "siphon.inner_diameter_m": rig.siphon.inner_diameter_m,
        "channel.inner_diameter_m": rig.channel.inner_diameter_m,
        "emergency.inner_diameter_m": rig.emergency.inner_diameter_m,
        "returns.line_diameter_m": rig.returns.line_diameter_m,
    }
    for name, bore in bores.items():
        if name in rig.assumed:
            continue
        for inches, inside in SCHEDULE_40_M.items():
            if abs(bore - inches * 0.0254) < SAME_M:
                yield _doubt(
                    f"{length_text(bore, us=us)} is the size printed on a {inches:g} inch pipe; its bore is about"
                    f" {length_text(inside, us=us)} in schedule 40",
                    "measure the inside of a cut end, or use the bore of your pipe's table", name,
                )
        if any(abs(bore - outside) < SAME_M for outside in METRIC_OUTSIDE_M):
            yield _doubt(
                f"{length_text(bore, us=us)} is the outside of a common metric pipe; its bore is 4 to 8 mm less",
                "measure the inside of a cut end", name,
            )


def _lengths(rig: Rig, us: bool) -> Iterator[Remark]:
    for name in ("siphon", "channel", "emergency"):
        pipe = getattr(rig, name)
        if pipe.run_m < pipe.drop_m - TAPE_SLACK_M:
            yield _doubt(
                f"the pipe is {length_text(pipe.run_m, us=us)} long and falls {length_text(pipe.drop_m, us=us)}",
                "the run is the whole pipe, its fall included", f"{name}.run_m", f"{name}.drop_m",
            )
    if abs(rig.channel.drop_m - rig.siphon.drop_m) > TAPE_SLACK_M:
        yield _doubt(
            f"siphon and open channel fall from the same water into the same sump, but by"
            f" {length_text(rig.siphon.drop_m, us=us)} and {length_text(rig.channel.drop_m, us=us)}",
            "both are measured from the water in the box down to the sump's surface", "siphon.drop_m", "channel.drop_m",
        )
    rise = rig.weir.height_m - rig.channel.crest_height_m
    if abs(rig.returns.static_head_m - rig.siphon.drop_m - rise) > 2 * TAPE_SLACK_M:
        yield _doubt(
            f"the pump lifts {length_text(rig.returns.static_head_m, us=us)}, but box and weir stand only"
            f" {length_text(rig.siphon.drop_m + rise, us=us)} over the sump's water",
            "the lift is from the sump's surface to the tank's; the drop from the box's water to the sump's surface",
            "returns.static_head_m", "siphon.drop_m", "weir.height_m", "channel.crest_height_m",
        )
    widest = max(rig.siphon.inner_diameter_m, rig.channel.inner_diameter_m, rig.emergency.inner_diameter_m)
    if rig.box.width_m < widest + 0.006 or rig.box.length_m < 3 * (widest + 0.006):
        yield _doubt("three pipes of these bores do not fit into the box", "measure the box inside, and the bores",
                     "box.length_m", "box.width_m")


def _box(rig: Rig, stand: Standing, us: bool) -> Iterator[Remark]:
    crest, mouth, rim = rig.channel.crest_height_m, rig.channel.inlet_height_m, rig.emergency.rim_height_m
    if mouth >= crest:
        yield _fault("the mouth of the open channel is not under water: it draws air from the surface",
                     "turn its inlet down, so that its mouth lies under the crest",
                     "channel.inlet_height_m", "channel.crest_height_m")
    if stand.level_m.middle > rim:
        yield _fault(
            f"the running water, near {length_text(stand.level_m.middle, us=us)}, is over the emergency pipe's rim",
            "open the siphon valve, slow the pump, or raise the rim", "emergency.rim_height_m",
        )
    elif rim - crest < CLOSE_RIM_M:
        yield _fault(
            f"the emergency pipe's rim is only {length_text(rim - crest, us=us)} over the crest: any ripple wets it",
            "raise the rim to 20 mm or more over the crest, as far as the flood check allows",
            "emergency.rim_height_m", "channel.crest_height_m",
        )


def _outlets(rig: Rig, us: bool) -> Iterator[Remark]:
    for name, words in (("siphon", "siphon"), ("channel", "open channel")):
        depth = getattr(rig, name).outlet_depth_m
        if depth < 0:
            yield _fault(
                f"the {words}'s outlet ends {length_text(-depth, us=us)} above the sump's surface: it splashes",
                "lower the outlet, or raise the sump's level, until it ends a little under the surface",
                f"{name}.outlet_depth_m",
            )
        elif depth > DEEP_OUTLET_M:
            yield _fault(
                f"the {words}'s outlet lies {length_text(depth, us=us)} deep: trapped air has to push that much aside",
                "let it end 10 to 30 mm under the surface (common practice)", f"{name}.outlet_depth_m",
            )


def _air(rig: Rig, window: WindowBands, us: bool) -> Iterator[Remark]:
    channel = rig.channel
    if channel.vent_hole_m <= 0:
        yield _fault("the open channel has no vent: it turns into a second siphon, flushes, and breaks off again",
                     "a hole at its top elbow with an air tap", "channel.vent_hole_m")
    elif window.vent_low_turns is None or window.vent_low_turns.middle > channel.vent_tap_turns:
        yield _fault(
            f"even fully open, a vent of {length_text(channel.vent_hole_m, us=us)} hardly lets in the air that the film"
            " takes along", "a wider vent", "channel.vent_hole_m", "channel.vent_tap_turns",
        )
    if rig.siphon.bleed_hole_m <= 0:
        yield _fault("the siphon has no bleed hole: after a power cut trapped air has to leave by the outlet",
                     "a hole of about 3 mm at its top, over the running level of the water", "siphon.bleed_hole_m")
    if rig.returns.siphon_break_depth_m is not None and rig.returns.siphon_break_depth_m >= rig.returns.nozzle_depth_m:
        yield _doubt("the anti-siphon hole lies as deep as the nozzle: it breaks nothing earlier",
                     "its depth is measured under the tank's running surface",
                     "returns.siphon_break_depth_m", "returns.nozzle_depth_m")


def _valve(rig: Rig, window: WindowBands, stand: Standing) -> Iterator[Remark]:
    valve = rig.siphon.valve
    if valve.setting == 0:
        yield _doubt("the siphon valve is described as closed", "count its setting from closed", "siphon.valve.setting")
    elif stand.described and max(stand.slurping_share, stand.gurgling_share) > 0.9:
        slurps = stand.slurping_share > stand.gurgling_share
        what = "siphon takes it all and draws air" if slurps else "open channel carries too much"
        yield _fault(
            f"as it is set now the {what}",
            f"{'close' if slurps else 'open'} the siphon valve a little: 'hushweir flow' tells the middle setting",
            "siphon.valve.setting",
        )
    if window.exists_share > 0.2 and window.controls and window.controls[0].fineness != "fine enough":
        if valve.kind == "ball":
            sure = "is" if window.controls[0].fineness == "too coarse" else "may be"
            yield _fault(f"a ball valve {sure} too coarse for this window",
                         "park with the pump's speed steps, or fit a gate valve", "siphon.valve.kind")
        elif window.controls[0].fineness == "too coarse":
            yield _fault("the gate valve is too coarse for this window", "park with the pump's speed steps",
                         "siphon.valve.turns")
    if window.facts_strained:
        yield _doubt("the measured facts do not fit the description, or each other",
                     "count the valve's turns again; check bores, drops and the pumps' speed")


def _flows(rig: Rig, parts: tuple[PartCheck, ...], window: WindowBands, us: bool) -> Iterator[Remark]:
    sizes = {part.part: part.size for part in parts}
    supply = window.supply_m3_s
    if supply.high <= 0 or all(pump.head_m <= rig.returns.static_head_m for pump in rig.pumps if not pump.curve):
        yield _fault("no pump lifts water as high as the tank",
                     "the rated head must be greater than the height from sump to tank",
                     "pump.0.head_m", "returns.static_head_m")
        return
    if sizes["siphon"] in ("too small", "cannot tell"):
        sure = "is too small" if sizes["siphon"] == "too small" else "may be too small"
        yield _fault(f"the siphon {sure} for the {flow_text(supply.middle, us=us)} that the pump gives",
                     "slow the pump, or a wider siphon", "siphon.inner_diameter_m", "pump.0.flow_m3_s")
    elif window.exists_share < 0.2:
        yield _fault("there is hardly a quiet window", window.advice.partition(". ")[2] or "slow the pump",
                     "channel.inner_diameter_m")
    if sizes["open channel"] == "too small":
        yield _fault("the open channel carries too small a share of the flow quietly", "a wider open channel",
                     "channel.inner_diameter_m")
    if sizes["weir"] == "too small":
        yield _fault("the glass is too low over the weir: clogged teeth would flood",
                     "lower the weir's edge, or give it more teeth", "tank.glass_above_m", "weir.length_m")
    if sizes["siphon inlet"] == "too small":
        yield _fault("too little water stands over the siphon's inlet: it draws air",
                     "a lower inlet, or a higher crest", "siphon.inlet_height_m", "channel.crest_height_m")


def _floods(rig: Rig, flood: FloodCheck, us: bool) -> Iterator[Remark]:
    back, _, blocked, alone = flood.cases[:4]
    depth = length_text(rig.returns.nozzle_depth_m, us=us)
    stop = ("returns.nozzle_depth_m", "sump.level_m", "sump.rim_m", "sump.length_m", "sump.width_m")
    if back.verdict == "cannot tell":
        yield _doubt("what runs back when the pumps stop may not fit into the sump",
                     f"measure the sump and the nozzles' depth ({depth})", *stop)
    elif back.verdict != "holds":
        fits = "does not fit" if back.verdict == "does not hold" else "only just fits"
        yield _fault(f"with the return nozzles {depth} deep, what runs back when the pumps stop {fits} into the sump",
                     back.mend[0] if back.mend else "a shallower nozzle", *stop)
    worst = max((blocked, alone), key=lambda case: VERDICTS.index(case.verdict))
    if worst.verdict in ("does not hold", "cannot tell"):
        pipes = "emergency pipe and open channel" if worst is blocked else "emergency pipe alone"
        verb = "cannot be counted on to take" if worst.verdict == "cannot tell" else "cannot take"
        yield _fault(f"when the siphon blocks, the {pipes} {verb} the pump's full flow", worst.mend[0],
                     "emergency.inner_diameter_m", "emergency.rim_height_m", "box.depth_m")


def _sump(rig: Rig, us: bool) -> Iterator[Remark]:
    sump = rig.sump
    if sump.level_m >= sump.rim_m:
        yield _fault(f"the sump's water, {length_text(sump.level_m, us=us)}, stands at its rim or over it",
                     "measure both from the sump's floor", "sump.level_m", "sump.rim_m")
    if sump.pump_chamber_m3 > sump.area_m2 * sump.level_m:
        yield _doubt("the pump's chamber holds more than the whole sump",
                     "the chamber's part of the sump down to the pump's inlet", "sump.pump_chamber_m3", "sump.level_m")
    if not COOL_C <= rig.water.temperature_c <= WARM_C:
        yield _doubt(f"{rig.water.temperature_c:g} C is unusual for an aquarium in a living space",
                     "check whether it is Celsius or Fahrenheit", "water.temperature_c")
