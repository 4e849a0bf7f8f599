"""The questions of ``hushweir rig new``, in the order of what matters most, with a longer word where one helps."""

from __future__ import annotations

from dataclasses import dataclass

from tuner.rig import Measure, Pump, Rig, measures, walk
from tuner.rigfile import REQUIRED, key_of


@dataclass(frozen=True, slots=True)
class Ask:
    """One question: the section and key that its answer fills, its words, and more words for who asks for them.

    ``choices`` are the words that may be answered; ``gate_only`` questions are asked for a gate valve only.
    """

    section: str
    field: str
    more: str = ""
    words: str = ""
    choices: tuple[str, ...] = ()
    gate_only: bool = False

    @property
    def key(self) -> str:
        """The key in the rig file."""
        return key_of(self.field)

    @property
    def dotted(self) -> str:
        """The field as ``Rig.assumed`` names it."""
        return f"{self.section}.{self.field}"

    @property
    def is_required(self) -> bool:
        """Whether a rig file must say something about it, be it that nobody knows."""
        return self.dotted in REQUIRED

    @property
    def measure(self) -> Measure | None:
        """What is measured; None for a word or a temperature."""
        part = dict(walk(Rig())).get(self.section, Pump())  # the usual rig has no second pump
        return measures(part).get(self.field) if self.section else None

    @property
    def text(self) -> str:
        """The question itself."""
        return self.words or (self.measure.how if self.measure else self.key)


@dataclass(frozen=True, slots=True)
class Group:
    """Questions that belong together, and why they are asked; ``seldom`` ones only after a yes."""

    name: str
    why: str
    asks: tuple[Ask, ...]
    seldom: bool = False


_BORE = (
    'The inside, not the size printed on the pipe: "1 inch" schedule 40 is 26.6 mm (1.049 in) inside, 1 1/2 inch'
    " 40.9 mm (1.61 in), 2 inch 52.5 mm (2.067 in); metric pipe is 4 to 8 mm narrower inside than its printed size."
)
_DROP = "Water to water: where the pipe is cut off does not count."
_SETTING = "Count without closing the siphon valve on a running pump: from a mark, or from your notes."
GROUPS: tuple[Group, ...] = (
    Group("what matters most", "siphon, its valve, the pump", (
        Ask("", "name", "It stands over every page.", "what you call the tank"),
        Ask("siphon", "inner_diameter_m", _BORE, "inside diameter of the siphon's pipe"),
        Ask("siphon", "drop_m", _DROP, "the siphon's drop: from the box's water down to the sump's water"),
        Ask("siphon.valve", "kind", "A gate valve opens by several turns of a wheel, a ball valve by a quarter turn.",
            "the siphon's valve: gate or ball", ("gate", "ball")),
        Ask("siphon.valve", "turns", "Count once, pumps off: close it gently, then count the turns to fully open.",
            "turns of the valve's wheel from closed to open", gate_only=True),
        Ask("pump.0", "flow_m3_s", "The largest figure on its label.", "the return pump's flow, from its label"),
        Ask("pump.0", "head_m", "How high it lifts water at most.", "the return pump's greatest head, from its label"),
        Ask("pump.0", "speed_step", "A controller with 1 % steps: 1 %. Ten steps: 10 %. No controller: 0.",
            "finest step of the pump's speed control; 0 for a fixed speed"),
    )),
    Group("the box", "heights from its floor, to see what overflows when", (
        Ask("channel", "crest_height_m", "The lowest point over which the water runs into the open channel's pipe: with"
            " a turned-down elbow the inner lower edge of its bend.", "box floor to the crest of the open channel"),
        Ask("emergency", "rim_height_m", words="box floor to the rim of the dry emergency pipe"),
        Ask("siphon", "inlet_height_m", words="box floor to the opening of the siphon's inlet"),
        Ask("channel", "inlet_height_m", words="box floor to the mouth of the open channel's turned-down inlet"),
        Ask("weir", "height_m", "With teeth: the bottom of the slots.", "box floor to the weir's edge"),
        Ask("box", "depth_m", words="box floor to the rim of the box"),
        Ask("box", "length_m"),
        Ask("box", "width_m"),
    )),
    Group("the pipes", "how much each carries", (
        Ask("channel", "inner_diameter_m", _BORE, "inside diameter of the open channel's pipe"),
        Ask("emergency", "inner_diameter_m", _BORE, "inside diameter of the dry emergency pipe"),
        Ask("siphon", "run_m", words="whole length of the siphon's pipe"),
        Ask("siphon", "elbows", words="number of 90 degree bends in the siphon's pipe; count a 45 as a half"),
        Ask("siphon", "inlet_diameter_m", words="diameter of the siphon's inlet, strainer included"),
        Ask("siphon", "outlet_depth_m", words="depth of the siphon's outlet under the sump's surface; minus: above it"),
        Ask("channel", "outlet_depth_m", words="depth of the open channel's outlet under it; minus: above it"),
        Ask("siphon", "bleed_hole_m", words="diameter of the hole at the siphon's top that lets air out; 0 for none"),
        Ask("channel", "vent_hole_m", words="inside diameter of the open channel's vent, at its top; 0 for none"),
        Ask("channel", "vent_tap_turns", words="turns of the vent's air tap from closed to open"),
    )),
    Group("the settings now", "where the controls stand, counted from closed", (
        Ask("siphon.valve", "setting", _SETTING, "how far the siphon valve is open now, in turns or degrees"),
        Ask("channel", "vent_setting", words="turns that the vent's air tap is open now"),
        Ask("pump.0", "speed", words="speed of the pump now, as a share of full speed"),
        Ask("pump.0", "on_backup", "A battery or a second supply.", "does it run on when the power fails: yes or no",
            ("yes", "no")),
    )),
    Group("a second return pump", "", (
        Ask("pump.1", "flow_m3_s", "The largest figure on its label.", "the second pump's flow, from its label"),
        Ask("pump.1", "head_m", "How high it lifts water at most.", "the second pump's greatest head, from its label"),
        Ask("pump.1", "speed_step", words="finest step of its speed control; 0 for a fixed speed"),
        Ask("pump.1", "on_backup", words="does it run on when the power fails: yes or no", choices=("yes", "no")),
    ), seldom=True),
    Group("the tank and its weir", "how fast it fills, what splashes", (
        Ask("tank", "length_m"), Ask("tank", "width_m"), Ask("tank", "glass_above_m"), Ask("weir", "length_m"),
        Ask("weir", "open_share"),
    )),
    Group("the sump", "what it can take when the pump stops", (
        Ask("sump", "length_m"), Ask("sump", "width_m"), Ask("sump", "level_m"), Ask("sump", "rim_m"),
        Ask("sump", "pump_chamber_m3", "Length times width of the chamber, times the water over the pump's inlet."),
    )),
    Group("the return", "what the pump has to lift, what runs back", (
        Ask("returns", "static_head_m"), Ask("returns", "line_diameter_m", _BORE), Ask("returns", "line_run_m"),
        Ask("returns", "elbows", words="number of 90 degree bends in the return line; count a 45 as a half"),
        Ask("returns", "nozzles"), Ask("returns", "nozzle_diameter_m"), Ask("returns", "nozzle_depth_m"),
        Ask("returns", "siphon_break_depth_m"),
    )),
    Group("the water", "", (
        Ask("water", "kind", words="fresh or marine", choices=("fresh", "marine")),
        Ask("water", "temperature_c", words="temperature of the water"),
    )),
)
COMMON: tuple[Ask, ...] = tuple(ask for group in GROUPS if not group.seldom for ask in group.asks)
