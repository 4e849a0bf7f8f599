"""The keeper's installation: tank, weir, box, three drains, pumps, returns, sump, water.

Conventions: SI; heights inside the overflow box are measured from the box floor; ``drop_m`` of a drain is
the height from the running water level in the box down to the sump surface. Every field has a default, the
figure of a middling installation; ``Rig.assumed`` names the fields that were not given, as dotted paths
such as ``"siphon.run_m"``, so that every output can mark them. Each field carries its dimension, its
plausible range and the relative standard uncertainty of its default in its metadata (see ``Measure``).
Reading and writing files is the work of ``rigfile``.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from typing import Any, Literal

from tuner.errors import ConfigError
from tuner.units import (
    FLOW,
    LENGTH,
    SHARE,
    TIME,
    TURN,
    VOLUME,
    Dimension,
    flow_text,
    length_text,
    volume_text,
)

ValveKind = Literal["gate", "ball"]
WaterKind = Literal["fresh", "marine"]
FactKind = Literal["just slurps", "just gurgles", "slurp period", "return flow", "siphon flow", "channel flow"]
MEASURED_SPREAD = 0.03  # relative standard uncertainty of a measure taken with a tape


@dataclass(frozen=True, slots=True)
class Measure:
    """What a field is: dimension, plausible range (SI), spread of its default, and how to measure it."""

    dimension: Dimension
    lowest: float
    highest: float
    spread: float
    how: str
    may_be_absent: bool = False


def _q(default: float | None, dim: Dimension, lowest: float, highest: float, spread: float, how: str) -> Any:
    return field(
        default=default, metadata={"measure": Measure(dim, lowest, highest, spread, how, default is None)}
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Tank:
    """The display tank."""

    length_m: float = _q(1.2, LENGTH, 0.3, 6.0, 0.2, "inside length of the display tank")
    width_m: float = _q(0.6, LENGTH, 0.2, 3.0, 0.2, "inside width, front to back")
    glass_above_m: float = _q(0.04, LENGTH, 0.0, 0.3, 0.3, "from the running water surface up to the rim of the glass")

    @property
    def area_m2(self) -> float:
        """Water surface of the tank."""
        return self.length_m * self.width_m


@dataclass(frozen=True, slots=True, kw_only=True)
class Weir:
    """The edge over which water leaves the tank."""

    length_m: float = _q(0.30, LENGTH, 0.05, 4.0, 0.2, "length of the edge that the water runs over")
    open_share: float = _q(0.6, SHARE, 0.1, 1.0, 0.15, "open share of a toothed edge; 100 % for a plain edge")
    height_m: float = _q(0.25, LENGTH, 0.05, 1.5, 0.1, "from the box floor up to the edge (the bottom of the slots)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """The overflow box in which the three pipes stand."""

    length_m: float = _q(0.30, LENGTH, 0.08, 4.0, 0.2, "inside length of the overflow box")
    width_m: float = _q(0.15, LENGTH, 0.06, 1.0, 0.2, "inside width of the overflow box")
    depth_m: float = _q(0.30, LENGTH, 0.10, 1.5, 0.15, "inside depth of the box, floor to rim")

    @property
    def area_m2(self) -> float:
        """Gross floor area of the box, pipes included."""
        return self.length_m * self.width_m


@dataclass(frozen=True, slots=True, kw_only=True)
class Valve:
    """The siphon's valve. ``setting`` counts from closed: turns open (gate) or degrees open (ball)."""

    kind: ValveKind = "gate"
    turns: float = _q(5.0, TURN, 1.0, 30.0, 0.2, "turns of the wheel from closed to open (gate valve)")
    setting: float | None = _q(None, TURN, 0.0, 90.0, 0.1, "turns (gate) or degrees (ball) open, from closed")
    backlash: float = _q(0.03, TURN, 0.0, 1.0, 0.7, "free play of the handle when the direction changes")

    @property
    def full(self) -> float:
        """The setting of the fully open valve: its turns, or 90 degrees."""
        return self.turns if self.kind == "gate" else 90.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Siphon:
    """The full siphon: a pipe that runs full, throttled by a valve."""

    inner_diameter_m: float = _q(0.0266, LENGTH, 0.010, 0.15, 0.04, "inside diameter of the pipe")
    drop_m: float = _q(0.90, LENGTH, 0.2, 4.0, 0.1, "from the water level in the box down to the sump surface")
    run_m: float = _q(1.2, LENGTH, 0.2, 15.0, 0.2, "whole length of the pipe")
    elbows: float = _q(3.0, SHARE, 0.0, 12.0, 0.3, "number of 90 degree bends; count a 45 as a half")
    inlet_height_m: float = _q(0.05, LENGTH, 0.0, 1.0, 0.2, "from the box floor to the opening of the inlet")
    inlet_diameter_m: float = _q(0.035, LENGTH, 0.010, 0.30, 0.15, "diameter of the inlet opening, strainer included")
    outlet_depth_m: float = _q(0.02, LENGTH, -0.5, 0.5, 0.5, "depth of the outlet under the sump surface; minus: above")
    bleed_hole_m: float = _q(0.003, LENGTH, 0.0, 0.02, 0.4, "hole at the top that lets air out, diameter; 0 for none")
    valve: Valve = field(default_factory=Valve)


@dataclass(frozen=True, slots=True, kw_only=True)
class Channel:
    """The open channel: its crest sets the water level in the box; its vent keeps it from becoming a siphon."""

    inner_diameter_m: float = _q(0.0266, LENGTH, 0.010, 0.15, 0.04, "inside diameter of the pipe")
    drop_m: float = _q(0.90, LENGTH, 0.2, 4.0, 0.1, "from the water level in the box down to the sump surface")
    run_m: float = _q(1.2, LENGTH, 0.2, 15.0, 0.2, "whole length of the pipe")
    elbows: float = _q(3.0, SHARE, 0.0, 12.0, 0.3, "number of 90 degree bends; count a 45 as a half")
    crest_height_m: float = _q(0.16, LENGTH, 0.02, 1.4, 0.06, "from the box floor to the crest, which sets the level")
    inlet_height_m: float = _q(0.10, LENGTH, 0.0, 1.3, 0.2, "from the box floor to the mouth of the turned-down inlet")
    outlet_depth_m: float = _q(0.02, LENGTH, -0.5, 0.5, 0.5, "depth of the outlet under the sump surface; minus: above")
    vent_hole_m: float = _q(0.006, LENGTH, 0.0, 0.05, 0.3, "inside diameter of the vent at the top elbow; 0 for none")
    vent_tap_turns: float = _q(4.0, TURN, 0.25, 20.0, 0.3, "turns of the air tap from closed to open")
    vent_setting: float | None = _q(None, TURN, 0.0, 20.0, 0.2, "turns that the air tap is open now")


@dataclass(frozen=True, slots=True, kw_only=True)
class Emergency:
    """The dry emergency pipe: open, without a valve, dry when all is well."""

    inner_diameter_m: float = _q(0.0266, LENGTH, 0.010, 0.15, 0.04, "inside diameter of the pipe")
    drop_m: float = _q(0.90, LENGTH, 0.2, 4.0, 0.1, "from its rim down to the sump surface")
    run_m: float = _q(1.2, LENGTH, 0.2, 15.0, 0.2, "whole length of the pipe")
    elbows: float = _q(2.0, SHARE, 0.0, 12.0, 0.3, "number of 90 degree bends; count a 45 as a half")
    rim_height_m: float = _q(0.20, LENGTH, 0.03, 1.5, 0.06, "from the box floor to the rim of the pipe")


@dataclass(frozen=True, slots=True, kw_only=True)
class Pump:
    """A return pump: flow at zero head and head at zero flow, or points of its curve as (head m, flow m3/s).

    ``speed_step`` is the finest change of speed as a share of full speed (0: fixed speed); ``branch_flow_m3_s``
    is taken off the line by a part-time loop while that loop runs.
    """

    name: str = "return pump"
    flow_m3_s: float = _q(4200 / 3.6e6, FLOW, 100 / 3.6e6, 60000 / 3.6e6, 0.12, "rated flow at no head, from the label")
    head_m: float = _q(3.0, LENGTH, 0.3, 20.0, 0.12, "rated head at no flow, from the label")
    curve: tuple[tuple[float, float], ...] = ()
    speed: float = _q(1.0, SHARE, 0.1, 1.0, 0.05, "speed setting now")
    speed_step: float = _q(0.0, SHARE, 0.0, 0.5, 0.0, "finest step of the speed control; 0 for a fixed speed")
    on_backup: bool = False
    branch_flow_m3_s: float = _q(0.0, FLOW, 0.0, 20000 / 3.6e6, 0.2, "flow of a part-time loop, such as a steriliser")


@dataclass(frozen=True, slots=True, kw_only=True)
class Returns:
    """The return line from pump to tank."""

    static_head_m: float = _q(1.3, LENGTH, 0.2, 6.0, 0.1, "from the sump surface up to the tank surface")
    line_diameter_m: float = _q(0.0266, LENGTH, 0.008, 0.15, 0.06, "inside diameter of the return line")
    line_run_m: float = _q(1.8, LENGTH, 0.2, 20.0, 0.2, "length of the return line")
    elbows: float = _q(4.0, SHARE, 0.0, 20.0, 0.3, "number of 90 degree bends; count a 45 as a half")
    nozzles: float = _q(1.0, SHARE, 1.0, 8.0, 0.0, "number of return nozzles")
    nozzle_diameter_m: float = _q(0.020, LENGTH, 0.005, 0.10, 0.15, "inside diameter of a nozzle")
    nozzle_depth_m: float = _q(0.0127, LENGTH, 0.0, 1.0, 0.4, "how deep the nozzle mouth lies under the tank surface")
    siphon_break_depth_m: float | None = _q(None, LENGTH, 0.0, 0.5, 0.3, "depth of an anti-siphon hole, if any")


@dataclass(frozen=True, slots=True, kw_only=True)
class Sump:
    """The sump under the tank."""

    length_m: float = _q(0.90, LENGTH, 0.2, 4.0, 0.2, "inside length of the sump")
    width_m: float = _q(0.40, LENGTH, 0.15, 2.0, 0.2, "inside width of the sump")
    level_m: float = _q(0.22, LENGTH, 0.05, 1.2, 0.12, "running water level above the sump floor")
    rim_m: float = _q(0.40, LENGTH, 0.1, 1.5, 0.1, "height of the sump rim above its floor")
    pump_chamber_m3: float = _q(0.030, VOLUME, 0.002, 1.0, 0.3, "water in the pump's chamber that the pump can take")

    @property
    def area_m2(self) -> float:
        """Water surface of the sump."""
        return self.length_m * self.width_m


@dataclass(frozen=True, slots=True, kw_only=True)
class Water:
    """The water itself."""

    kind: WaterKind = "marine"
    temperature_c: float = 25.0


FACT_NEEDS: dict[FactKind, tuple[str, ...]] = {
    "just slurps": ("setting",),
    "just gurgles": ("setting",),
    "slurp period": ("setting", "period_s"),
    "return flow": ("flow_m3_s",),
    "siphon flow": ("setting", "flow_m3_s"),
    "channel flow": ("setting", "flow_m3_s"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """One thing measured on the running installation; it narrows every band.

    ``setting`` is the siphon valve's at that moment, ``speed`` that of the pumps (left out: as described now).
    Kinds: the setting at which the siphon just slurps, or the channel just gurgles; the time between two gulps;
    a flow caught in a bucket, of the return, the siphon or the open channel.
    """

    kind: FactKind
    setting: float | None = _q(None, TURN, 0.0, 90.0, 0.0, "turns (gate) or degrees (ball) open, from closed")
    speed: float | None = _q(None, SHARE, 0.1, 1.0, 0.0, "speed of the pumps when it was measured")
    flow_m3_s: float | None = _q(None, FLOW, 1 / 3.6e6, 60000 / 3.6e6, 0.0, "volume caught, divided by the time")
    period_s: float | None = _q(None, TIME, 0.5, 3600.0, 0.0, "from one gulp to the next")


@dataclass(frozen=True, slots=True, kw_only=True)
class Rig:
    """A whole installation. ``assumed`` holds the dotted names of the fields that were not given.

    >>> Rig().siphon.valve.kind
    'gate'
    """

    name: str = "my tank"
    tank: Tank = field(default_factory=Tank)
    weir: Weir = field(default_factory=Weir)
    box: Box = field(default_factory=Box)
    siphon: Siphon = field(default_factory=Siphon)
    channel: Channel = field(default_factory=Channel)
    emergency: Emergency = field(default_factory=Emergency)
    pumps: tuple[Pump, ...] = (Pump(),)
    returns: Returns = field(default_factory=Returns)
    sump: Sump = field(default_factory=Sump)
    water: Water = field(default_factory=Water)
    facts: tuple[Fact, ...] = ()
    assumed: frozenset[str] = frozenset()

    def __post_init__(self) -> None:
        if not self.pumps:
            raise ConfigError("pump must be given at least once: describe the return pump in a [[pump]] table")
        check_ranges(self)
        _check_heights(self)
        for i, fact in enumerate(self.facts):
            _check_fact(f"fact.{i}", fact, self.siphon.valve)


PARTS: tuple[str, ...] = (
    "tank", "weir", "box", "siphon", "channel", "emergency", "returns", "sump", "water",
)


def measures(part: Any) -> dict[str, Measure]:
    """Return the ``Measure`` of every measured field of a part, by field name."""
    return {f.name: f.metadata["measure"] for f in fields(part) if "measure" in f.metadata}


def walk(rig: Rig) -> tuple[tuple[str, Any], ...]:
    """Return every part of the rig with its dotted name: ("siphon", ...), ("siphon.valve", ...), ("pump.0", ...)."""
    parts: list[tuple[str, Any]] = [(name, getattr(rig, name)) for name in PARTS]
    parts.insert(4, ("siphon.valve", rig.siphon.valve))
    parts.extend((f"pump.{i}", pump) for i, pump in enumerate(rig.pumps))
    return tuple(parts)


def check_ranges(rig: Rig) -> None:
    """Raise ConfigError for the first value outside its plausible range."""
    for part_name, part in walk(rig):
        for name, measure in measures(part).items():
            check_value(f"{part_name}.{name}", getattr(part, name), measure)
    if rig.siphon.valve.kind not in ("gate", "ball"):
        raise ConfigError(f"siphon.valve.kind={rig.siphon.valve.kind!r} must be \"gate\" or \"ball\"")
    if rig.water.kind not in ("fresh", "marine"):
        raise ConfigError(f"water.kind={rig.water.kind!r} must be \"fresh\" or \"marine\"")
    if not 5.0 <= rig.water.temperature_c <= 40.0:
        raise ConfigError(
            f"water.temperature_c={rig.water.temperature_c:g} must be 5 to 40 degrees Celsius:"
            ' give it like "25 C" or "77 F"'
        )


def check_value(name: str, value: float | None, measure: Measure, written: object = None) -> None:
    """Raise ConfigError when ``value``, that stands as ``written`` in a file, is outside its plausible range."""
    if value is None and measure.may_be_absent:
        return
    is_number = isinstance(value, (int, float)) and not isinstance(value, bool)
    if not is_number or not measure.lowest <= float(value or 0.0) <= measure.highest:
        shown = repr(value if written is None else written)
        raise ConfigError(
            f"{name}={shown} must be {range_text(measure)} ({measure.how}): check the unit and measure again"
        )


def value_text(value: float, measure: Measure, *, us: bool = False) -> str:
    """Return a measured value for people.

    >>> value_text(0.6, measures(Weir())["open_share"]), value_text(5.0, measures(Valve())["turns"])
    ('60 %', '5 turns')
    """
    texts = {LENGTH.name: length_text, FLOW.name: flow_text, VOLUME.name: volume_text}
    if text := texts.get(measure.dimension.name):
        return text(value, us=us)
    if measure.dimension is SHARE and measure.highest <= 1:
        return f"{100 * value:g} %"
    return f"{value:g}" + {TIME.name: " s", TURN.name: " turns"}.get(measure.dimension.name, "")


def range_text(measure: Measure) -> str:
    """Return the plausible range of a measure for people.

    >>> range_text(measures(Tank())["length_m"]), range_text(measures(Weir())["open_share"])
    ('300 mm to 6 m', '10 % to 100 %')
    """
    return f"{value_text(measure.lowest, measure)} to {value_text(measure.highest, measure)}"


def _check_fact(name: str, fact: Fact, valve: Valve) -> None:
    """Raise ConfigError when a fact is of no known kind, lacks a figure, or has one out of range."""
    if fact.kind not in FACT_NEEDS:
        raise ConfigError(f"{name}.kind={fact.kind!r} must be one of {', '.join(FACT_NEEDS)}")
    for field_name, measure in measures(fact).items():
        value = getattr(fact, field_name)
        check_value(f"{name}.{field_name}", value, measure)
        if value is None and field_name in FACT_NEEDS[fact.kind]:
            raise ConfigError(f"{name}.{field_name} must be given for the fact {fact.kind!r}: {measure.how}")
    if fact.setting is not None and fact.setting > valve.full:
        raise ConfigError(
            f"{name}.setting={fact.setting:g} must be at most the full setting {valve.full:g}: count from fully closed"
        )


def _check_heights(rig: Rig) -> None:
    """Raise ConfigError when the heights in the box cannot stand as described."""
    s, c, e, w = rig.siphon, rig.channel, rig.emergency, rig.weir
    order = (
        ("channel.crest_height_m", c.crest_height_m, "siphon.inlet_height_m", s.inlet_height_m,
         "the open channel's crest holds the level over the siphon's inlet"),
        ("emergency.rim_height_m", e.rim_height_m, "channel.crest_height_m", c.crest_height_m,
         "the emergency pipe is dry in normal running"),
        ("box.depth_m", rig.box.depth_m, "emergency.rim_height_m", e.rim_height_m,
         "the emergency pipe must take water before the box overflows"),
        ("weir.height_m", w.height_m, "channel.crest_height_m", c.crest_height_m,
         "water falls over the weir into the box"),
    )
    for upper, upper_m, lower, lower_m, reason in order:
        if upper_m <= lower_m:
            raise ConfigError(
                f"{upper}={upper_m:g} must be above {lower}={lower_m:g}: {reason}; measure both from the box floor"
            )
    valve = s.valve
    if valve.setting is not None and valve.setting > valve.full:
        unit = "turns" if valve.kind == "gate" else "degrees"
        raise ConfigError(
            f"siphon.valve.setting={valve.setting:g} must be at most {valve.full:g} {unit}: count from fully closed"
        )
    if c.vent_setting is not None and c.vent_setting > c.vent_tap_turns:
        raise ConfigError(
            f"channel.vent_setting={c.vent_setting:g} must be at most vent_tap_turns={c.vent_tap_turns:g}"
        )
