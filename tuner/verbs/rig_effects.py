"""What an answer of ``hushweir rig new`` changes: the quiet window, the valve's step and the flood check, in words."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from tuner.rig import Rig
from tuner.screens.flowpage import band_text, case_name, flow_band
from tuner.units import turns_text
from tuner.verbs.flow import SEED
from tuner.verbs.rig_check import flood_needs
from tuner.water.controls import window_bands
from tuner.water.flood import flood_check

DRAWS = 800  # enough for two digits; the same random numbers each time, so that only the answer differs
LEAST_SAVING = 0.02  # below it a figure that is not known costs next to nothing
_NAME_COLUMNS = 12
_FIGURE = re.compile(r"(\d[\d.]*(?: to [\d.]+)?|[^\d(][^(]*(?= \()) (.+)")
Figures = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Outlook:
    """What a description comes to: figures with their names, and which failures wait for which assumed field."""

    figures: Figures
    waiting: dict[str, tuple[int, ...]]


@dataclass(frozen=True, slots=True)
class Change:
    """One figure before and after an answer."""

    name: str
    before: str
    after: str


def outlook_of(rig: Rig, *, us: bool) -> Outlook:
    """Return what a description comes to, as bands."""
    window = window_bands(rig, np.random.default_rng(SEED), draws=DRAWS, us=us)
    flood = flood_check(rig, np.random.default_rng(SEED), us=us)
    step = turns_text(window.step) if window.unit == "turn" else f"{window.step:g} degrees"
    middle = band_text(window.setting_mid, window.unit)
    figures = (
        ("pump gives", flow_band(window.supply_m3_s, us)),
        ("quiet at", "no setting" if window.setting_mid is None else f"{middle} open"),
        ("window wide", band_text(window.setting_width, window.unit)),
        ("valve moves", f"{flow_band(window.step_m3_s, us)} a {step}"),
        *((f"flood {number}", f"{case.verdict} ({case_name(case)})") for number, case in enumerate(flood.cases, 1)),
    )
    return Outlook(figures, flood_needs(rig, flood))


def changes(before: Figures, after: Figures) -> tuple[Change, ...]:
    """Return the figures that have changed.

    >>> changes((("wide", "1 turn"), ("flood 1", "holds")), (("wide", "2 turns"), ("flood 1", "holds")))
    (Change(name='wide', before='1 turn', after='2 turns'),)
    """
    old = dict(before)
    return tuple(Change(name, old[name], words) for name, words in after if name in old and old[name] != words)


def cost_of_not_knowing(rig: Rig, dotted: str, outlook: Outlook, *, us: bool) -> str:
    """Return in a sentence what an assumed figure costs."""
    said = [narrowed] if (narrowed := _narrowed(rig, dotted, us)) else []
    if numbers := outlook.waiting.get(dotted):
        said.append(f"flood {' and '.join(map(str, numbers))} cannot be told without it")
    return f"not known: {'; '.join(said) or 'that costs next to nothing'}"


def _narrowed(rig: Rig, dotted: str, us: bool) -> str:
    now = window_bands(rig, np.random.default_rng(SEED), draws=DRAWS, us=us)
    known = replace(rig, assumed=rig.assumed - {dotted})
    then = window_bands(known, np.random.default_rng(SEED), draws=DRAWS, us=us)
    if now.setting_mid is None or then.setting_mid is None or now.setting_mid.width <= 0:
        return ""
    if 1.0 - then.setting_mid.width / now.setting_mid.width < LEAST_SAVING:
        return ""
    before, after = band_text(now.setting_mid, now.unit), band_text(then.setting_mid, then.unit)
    return f"measured, it would narrow the quiet setting from {before} to about {after}"


def lines_of(found: Iterable[Change], arrow: str) -> list[str]:
    """Return changes as lines, the names in one column."""
    return [
        f"{change.name:<{_NAME_COLUMNS}} {_without_end(change.before, change.after)} {arrow} {change.after}"
        for change in found
    ]


def _without_end(before: str, after: str) -> str:
    """Return ``before`` without its unit, or the words in brackets at its end, where ``after`` has the same.

    >>> _without_end("1.0 to 3.0 turns open", "1.1 to 3.0 turns open"), _without_end("holds (a)", "cannot tell (a)")
    ('1.0 to 3.0', 'holds')
    """
    old, new = _FIGURE.fullmatch(before), _FIGURE.fullmatch(after)
    return old[1] if old is not None and new is not None and old[2] == new[2] else before
