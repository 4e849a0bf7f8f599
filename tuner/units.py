"""Quantities as people write them, converted at the edges: ``"25 mm"``, ``"1 in"``, ``"1100 gph"``, ``"1/8 turn"``.

Inside the program everything is SI. A bare number has no unit and is refused, except where the caller
names the SI unit it stands for. US customary gallons and inches are the ones meant by gal, gph and in.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from tuner.errors import ConfigError

INCH_M = 0.0254
US_GALLON_M3 = 231 * INCH_M**3
HOUR_S = 3600.0


@dataclass(frozen=True, slots=True)
class Dimension:
    """A kind of quantity: its name, its SI unit, and the units that people write with their SI value."""

    name: str
    si_unit: str
    factors: dict[str, float]
    example: str


LENGTH = Dimension("length", "m", {
    "mm": 1e-3, "cm": 1e-2, "m": 1.0, "in": INCH_M, "inch": INCH_M, "inches": INCH_M, '"': INCH_M,
    "ft": 12 * INCH_M, "feet": 12 * INCH_M, "foot": 12 * INCH_M, "'": 12 * INCH_M,
}, '"25 mm" or "1 in"')
VOLUME = Dimension("volume", "m3", {
    "ml": 1e-6, "l": 1e-3, "liter": 1e-3, "liters": 1e-3, "litre": 1e-3, "litres": 1e-3, "m3": 1.0,
    "gal": US_GALLON_M3, "gallon": US_GALLON_M3, "gallons": US_GALLON_M3,
}, '"340 L" or "90 gal"')
FLOW = Dimension("flow", "m3/s", {
    "m3/s": 1.0, "m3/h": 1 / HOUR_S, "l/s": 1e-3, "l/min": 1e-3 / 60, "lpm": 1e-3 / 60, "l/h": 1e-3 / HOUR_S,
    "lph": 1e-3 / HOUR_S, "gph": US_GALLON_M3 / HOUR_S, "gal/h": US_GALLON_M3 / HOUR_S,
    "gpm": US_GALLON_M3 / 60, "gal/min": US_GALLON_M3 / 60,
}, '"4200 L/h" or "1100 gph"')
TIME = Dimension("time", "s", {
    "s": 1.0, "sec": 1.0, "min": 60.0, "h": HOUR_S, "hour": HOUR_S, "hours": HOUR_S,
}, '"90 s" or "2 min"')
SHARE = Dimension("share", "fraction", {"%": 0.01, "percent": 0.01, "": 1.0}, '"60 %" or 0.6')
TURN = Dimension("number of turns", "turn", {"turn": 1.0, "turns": 1.0, "": 1.0}, '"1 1/4 turns" or 1.25')
ANGLE = Dimension("angle", "degree", {"degree": 1.0, "degrees": 1.0, "deg": 1.0, "°": 1.0, "": 1.0}, '"40 degrees"')
POWER = Dimension("power", "W", {"w": 1.0, "kw": 1e3}, '"25 W"')

_QUANTITY = re.compile(
    r"^\s*(?P<sign>[-+]?)\s*(?:(?P<whole>\d+)\s+)?(?P<num>\d+)\s*/\s*(?P<den>\d+)\s*(?P<unit1>\D.*?)?\s*$"
    r"|^\s*(?P<value>[-+]?(?:\d+(?:[.,]\d+)?|[.,]\d+)(?:[eE][-+]?\d+)?)\s*(?P<unit2>.*?)\s*$"
)


def parse_quantity(text: str | float, dimension: Dimension, *, field: str) -> float:
    """Return the SI value of ``text``, a quantity of ``dimension`` written for ``field``.

    Raises
    ------
    ConfigError
        When the text is not a number with a known unit; the message names field, value, rule and fix.

    Examples
    --------
    >>> parse_quantity("1 in", LENGTH, field="siphon.diameter")
    0.0254
    >>> round(parse_quantity("1100 gph", FLOW, field="pump.flow") * 3.6e6)
    4164
    >>> parse_quantity("1 1/4 turns", TURN, field="siphon.setting")
    1.25
    """
    if isinstance(text, bool) or not isinstance(text, (str, int, float)):
        raise ConfigError(f"{field}={text!r} must be a {dimension.name} with its unit, such as {dimension.example}")
    match = _QUANTITY.match(str(text))
    if match is None:
        raise ConfigError(f"{field}={text!r} must be a {dimension.name} with its unit, such as {dimension.example}")
    if match["num"] is not None:
        if int(match["den"]) == 0:
            raise ConfigError(f"{field}={text!r} must not divide by zero: write it like {dimension.example}")
        value = float(int(match["whole"] or 0) + Fraction(int(match["num"]), int(match["den"])))
        value = -value if match["sign"] == "-" else value
    else:
        value = float(match["value"].replace(",", "."))
    unit = (match["unit1"] or match["unit2"] or "").strip().lower().replace("³", "3")
    if unit not in dimension.factors:
        known = ", ".join(u for u in dimension.factors if u)
        problem = f"has the unit {unit!r}, which is not one of {known}" if unit else "has no unit"
        raise ConfigError(f"{field}={text!r} {problem}: write it like {dimension.example}")
    return value * dimension.factors[unit]


def length_text(length_m: float, *, us: bool = False) -> str:
    """Return a length for people: millimetres below 1 m, or inches.

    >>> length_text(0.0254), length_text(0.0254, us=True), length_text(1.2)
    ('25.4 mm', '1 in', '1.2 m')
    """
    if us:
        return f"{length_m / INCH_M:.3g} in"
    return f"{length_m * 1e3:.3g} mm" if abs(length_m) < 1 else f"{length_m:.3g} m"


def flow_text(flow_m3_s: float, *, us: bool = False) -> str:
    """Return a flow for people, in whole litres or US gallons per hour.

    >>> flow_text(4200 / 3.6e6), flow_text(4164 / 3.6e6, us=True)
    ('4200 L/h', '1100 gph')
    """
    if us:
        return f"{flow_m3_s * HOUR_S / US_GALLON_M3:.0f} gph"
    return f"{flow_m3_s * 3.6e6:.0f} L/h"


def volume_text(volume_m3: float, *, us: bool = False) -> str:
    """Return a volume for people, in litres or US gallons.

    >>> volume_text(0.018), volume_text(0.018, us=True)
    ('18 L', '4.76 gal')
    """
    return f"{volume_m3 / US_GALLON_M3:.3g} gal" if us else f"{volume_m3 * 1e3:.3g} L"


_GLYPHS = {
    Fraction(1, 8): "1/8", Fraction(1, 4): "1/4", Fraction(3, 8): "3/8", Fraction(1, 2): "1/2",
    Fraction(5, 8): "5/8", Fraction(3, 4): "3/4", Fraction(7, 8): "7/8",
}


def turns_text(turns: float) -> str:
    """Return turns as a hand counts them, in sixteenths where that is exact enough.

    >>> turns_text(0.125), turns_text(-1.25), turns_text(0.0625), turns_text(2)
    ('1/8 turn', '1 1/4 turns', '1/16 turn', '2 turns')
    """
    size = Fraction(round(abs(turns) * 16), 16)
    whole, rest = divmod(size, 1)
    part = _GLYPHS.get(rest, str(rest) if rest else "")
    text = " ".join(x for x in (str(whole) if whole or not part else "", part) if x)
    return f"{text} turn" if size <= 1 else f"{text} turns"


def amount_text(amount: float, unit: str) -> str:
    """Return the size of a move for people, without its direction.

    >>> amount_text(-0.125, "turn"), amount_text(2, "degree"), amount_text(-5, "percent")
    ('1/8 turn', '2 degrees', '5 %')
    """
    if unit == "turn":
        return turns_text(amount)
    if unit == "degree":
        return f"{abs(amount):g} degree" + ("" if abs(amount) == 1 else "s")
    return f"{abs(amount):g} %"
