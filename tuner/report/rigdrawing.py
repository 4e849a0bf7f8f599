"""The overflow box in cross-section, to scale, as an SVG: tank, weir, water, the three pipes and their heights."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from html import escape

from tuner.report.svg import AFTER, DIM, INK, PAPER, WATER
from tuner.rig import Rig
from tuner.units import length_text
from tuner.water.standing import Standing

WIDTH, HEIGHT = 460.0, 404.0
_TOP, _FLOOR = 20.0, 330.0  # rows of the highest and the lowest height
_LABELS = 176.0  # kept free at the right for the names of heights
_TANK = 34.0
_APART = 15.0  # between two names
_ENDS = 352.0  # where the pipes leave the drawing
_MOST_LONG = 1.6  # a longer box is cut, in heights of the drawing

Row = Callable[[float], float]


@dataclass(frozen=True, slots=True)
class _Height:
    name: str
    height_m: float
    assumed: bool


def box_drawing(rig: Rig, stand: Standing) -> tuple[str, str, bool]:
    """Return the drawing, as the text of an SVG, what it shows in words, and whether a height in it was assumed."""
    heights = [
        _Height("box rim", rig.box.depth_m, "box.depth_m" in rig.assumed),
        _Height("weir edge", rig.weir.height_m, "weir.height_m" in rig.assumed),
        _Height("emergency rim", rig.emergency.rim_height_m, "emergency.rim_height_m" in rig.assumed),
        _Height("channel crest", rig.channel.crest_height_m, "channel.crest_height_m" in rig.assumed),
        _Height("channel mouth", rig.channel.inlet_height_m, "channel.inlet_height_m" in rig.assumed),
        _Height("siphon inlet", rig.siphon.inlet_height_m, "siphon.inlet_height_m" in rig.assumed),
    ]
    heights.sort(key=lambda h: -h.height_m)
    level_m = rig.channel.crest_height_m + stand.over_crest_m.middle
    tank_m = rig.weir.height_m + stand.over_weir_m.middle
    top_m = max(rig.box.depth_m, tank_m, rig.emergency.rim_height_m) * 1.04
    room = WIDTH - _LABELS - _TANK - 8.0
    length_m = min(rig.box.length_m, _MOST_LONG * top_m)
    scale = min((_FLOOR - _TOP) / top_m, room / length_m)
    left = _TANK + 4.0
    right = left + length_m * scale

    def row(height_m: float) -> float:
        return _FLOOR - height_m * scale

    parts = [_water(left, right, row(max(level_m, 0.0)), row(tank_m), row(rig.weir.height_m))]
    parts.append(_walls(left, right, row(rig.weir.height_m), row(rig.box.depth_m)))
    parts += _pipes(rig, left, right, scale, row)
    parts += _names(heights, right, row)
    drops = f"to the sump, {length_text(rig.siphon.drop_m)} down"
    parts.append(_text((left + right) / 2.0, HEIGHT - 10.0, drops, "middle", DIM))
    words = "; ".join(f"{h.name} {length_text(h.height_m)}{' (assumed)' if h.assumed else ''}" for h in heights)
    words = f"Heights over the floor of the box, which is {length_text(rig.box.length_m)} long: {words}; water in the" \
        f" box {length_text(stand.level_m.low)} to {length_text(stand.level_m.high)}, as computed."
    if length_m < rig.box.length_m:
        words += f" Of its length only {length_text(length_m)} are drawn."
    body = "\n".join(parts)
    above = max(0.0, row(top_m) - _TOP)
    svg = f'<svg viewBox="0 {above:.0f} {WIDTH:g} {HEIGHT - above:.0f}">{body}</svg>'
    return svg, words, any(h.assumed for h in heights)


def _water(left: float, right: float, level: float, tank: float, weir: float) -> str:
    return (
        f'<path d="M{left:.1f} {level:.1f}H{right:.1f}V{_FLOOR}H{left:.1f}Z" fill="{WATER}"/>'
        f'<path d="M0 {tank:.1f}H{left:.1f}V{_FLOOR}H0Z" fill="{WATER}"/>'
        f'<path d="M0 {tank:.1f}H{left:.1f}Q{left + 9:.1f} {weir:.1f} {left + 10:.1f} {level:.1f}" fill="none"'
        f' stroke="{AFTER}" stroke-width="1.6"/>'
        f'<path d="M{left + 10:.1f} {level:.1f}H{right:.1f}" stroke="{AFTER}" stroke-width="1.6" fill="none"/>'
    )


def _walls(left: float, right: float, weir: float, rim: float) -> str:
    return (
        f'<path d="M{left:.1f} {weir:.1f}V{_FLOOR}H{right:.1f}V{rim:.1f}" fill="none" stroke="{INK}" stroke-width="2.6"'
        f' stroke-linejoin="round"/>'
        + _text(2.0, _FLOOR + 14.0, "tank", "start", DIM)
    )


def _pipes(rig: Rig, left: float, right: float, scale: float, row: Row) -> list[str]:
    """Draw siphon, open channel and emergency side by side, as wide as their bores."""
    at = [left + share * (right - left) for share in (0.16, 0.58, 0.86)]
    bores = [d * scale for d in (rig.siphon.inner_diameter_m, rig.channel.inner_diameter_m,
                                 rig.emergency.inner_diameter_m)]
    bend = 0.8 * bores[1]
    begins = row(rig.channel.crest_height_m) + bend - bores[1] / 2.0
    hood = (
        f"M{at[1]:.1f} {_ENDS}V{begins:.1f}A{bend:.1f} {bend:.1f} 0 0 0 {at[1] - 2 * bend:.1f} {begins:.1f}"
        f"V{row(rig.channel.inlet_height_m):.1f}"
    )
    top = begins - bend - bores[1] / 2.0
    vent = f"M{at[1] - bend:.1f} {top:.1f}v-12m-4 -1h8"
    return [
        _tube(f"M{at[0]:.1f} {_ENDS}V{row(rig.siphon.inlet_height_m):.1f}", bores[0], WATER),
        _tube(hood, bores[1], PAPER),
        f'<path d="{vent}" fill="none" stroke="{INK}" stroke-width="1.6"/>',
        _tube(f"M{at[2]:.1f} {_ENDS}V{row(rig.emergency.rim_height_m):.1f}", bores[2], PAPER),
        *(_text(x, _ENDS + drop, name, "middle", INK) for x, drop, name in zip(
            at, (14.0, 28.0, 14.0), ("siphon", "open channel", "emergency"), strict=True
        )),
    ]


def _tube(path: str, bore: float, inside: str) -> str:
    bore = max(bore, 2.0)
    return (
        f'<path d="{path}" fill="none" stroke="{INK}" stroke-width="{bore + 3.2:.1f}"/>'
        f'<path d="{path}" fill="none" stroke="{PAPER}" stroke-width="{bore:.1f}"/>'
        f'<path d="{path}" fill="none" stroke="{inside}" stroke-width="{bore:.1f}"/>'
    )


def _names(heights: list[_Height], right: float, row: Row) -> list[str]:
    """Write each height at the right, far enough from the next to be read, with a line to where it is."""
    rows: list[float] = []
    for height in heights:
        rows.append(max(row(height.height_m), rows[-1] + _APART if rows else 0.0))
    rows[-1] = min(rows[-1], _FLOOR - 2.0)
    for i in range(len(rows) - 2, -1, -1):
        rows[i] = min(rows[i], rows[i + 1] - _APART)
    parts = []
    for height, y in zip(heights, rows, strict=True):
        words = f"{height.name} {length_text(height.height_m)}{' ?' if height.assumed else ''}"
        line = f"M{right + 2:.1f} {row(height.height_m):.1f}h6L{right + 18:.1f} {y:.1f}"
        parts.append(f'<path d="{line}" fill="none" stroke="{DIM}" stroke-width="0.9"/>')
        parts.append(_text(right + 21.0, y + 4.0, words, "start", INK))
    return parts


def _text(x: float, y: float, words: str, anchor: str, colour: str) -> str:
    place = f'x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}"'
    return f'<text {place} font-size="11.5" fill="{colour}">{escape(words)}</text>'
