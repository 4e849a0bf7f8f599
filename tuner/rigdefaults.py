"""Assumed figures that follow the given ones: a deep box has higher crests, a tall cabinet longer pipes.

The defaults of ``rig`` describe one middling installation. Where a keeper gives some figures of a different one,
the others are scaled along, so that a description with few figures still hangs together. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from itertools import pairwise
from typing import Any

from tuner.rig import Box, Channel, Emergency, Returns, Siphon, Sump, Weir, measures

# Heights above the box floor, lowest first; each has to stay above the one before it.
_HEIGHTS: tuple[tuple[str, str, float], ...] = (
    ("siphon", "inlet_height_m", Siphon().inlet_height_m),
    ("channel", "crest_height_m", Channel().crest_height_m),
    ("emergency", "rim_height_m", Emergency().rim_height_m),
    ("weir", "height_m", Weir().height_m),
    ("box", "depth_m", Box().depth_m),
)
_MOUTH_SHARE = Channel().inlet_height_m / Channel().crest_height_m
_INLET_SHARE = Siphon().inlet_diameter_m / Siphon().inner_diameter_m
_SLACK_M = Siphon().run_m - Siphon().drop_m  # pipe beyond the straight fall
_WEIR_HEAD_M = 0.015  # a usual height of the tank's surface over the weir's edge
_LINE_SLACK_M = Returns().line_run_m - Returns().static_head_m
_PUMP_HEAD_SHARE = 0.5  # pumps are bought for about twice the height that they lift
_SUMP_FULL_SHARE = Sump().level_m / Sump().rim_m
_CHAMBER_SHARE = 0.4  # of the sump's water


def follow(
    parts: Mapping[str, Any], pumps: tuple[Any, ...], assumed: frozenset[str]
) -> tuple[dict[str, Any], tuple[Any, ...]]:
    """Return the parts and the pumps with assumed figures made to follow given ones; given figures stay.

    ``assumed`` holds dotted field names as in ``Rig.assumed``. Figures stay within their plausible range.
    """
    settled = dict(parts)

    def given(dotted: str) -> bool:
        return dotted not in assumed

    def put(part: str, field: str, value: float) -> None:
        if not given(f"{part}.{field}"):
            measure = measures(settled[part])[field]
            within = min(max(value, measure.lowest), measure.highest)
            settled[part] = replace(settled[part], **{field: within})

    _heights(settled, given, put)
    _pipes(settled, given, put)
    if given("box.length_m"):
        put("weir", "length_m", settled["box"].length_m)
    elif given("weir.length_m"):
        put("box", "length_m", settled["weir"].length_m)
    _sump(settled, given, put)
    lift = settled["returns"].static_head_m / _PUMP_HEAD_SHARE
    return settled, tuple(
        pump if given(f"pump.{i}.head_m") or pump.curve else replace(pump, head_m=min(max(pump.head_m, lift), 20.0))
        for i, pump in enumerate(pumps)
    )


def _heights(parts: dict[str, Any], given: Any, put: Any) -> None:
    known = [(usual, getattr(parts[part], field)) for part, field, usual in _HEIGHTS if given(f"{part}.{field}")]
    anchors = [(0.0, 0.0)]
    for usual, height in known:
        if height > anchors[-1][1]:
            anchors.append((usual, height))
    if len(anchors) > 1:
        for part, field, usual in _HEIGHTS:
            put(part, field, _between(anchors, usual))
    if given("channel.crest_height_m"):
        put("channel", "inlet_height_m", _MOUTH_SHARE * parts["channel"].crest_height_m)


def _between(anchors: list[tuple[float, float]], usual: float) -> float:
    """Return the height that stands to the anchors' as a usual height stands to theirs."""
    for (usual_0, height_0), (usual_1, height_1) in pairwise(anchors):
        if usual <= usual_1:
            return height_0 + (usual - usual_0) / (usual_1 - usual_0) * (height_1 - height_0)
    return anchors[-1][1] + usual - anchors[-1][0]


def _pipes(parts: dict[str, Any], given: Any, put: Any) -> None:
    siphon = parts["siphon"]
    if given("siphon.inner_diameter_m"):
        for part in ("channel", "emergency"):
            put(part, "inner_diameter_m", siphon.inner_diameter_m)
        put("siphon", "inlet_diameter_m", _INLET_SHARE * siphon.inner_diameter_m)
    crest = parts["channel"].crest_height_m
    if given("siphon.drop_m"):
        put("channel", "drop_m", siphon.drop_m)
        put("emergency", "drop_m", siphon.drop_m + parts["emergency"].rim_height_m - crest)
        put("returns", "static_head_m", siphon.drop_m + parts["weir"].height_m + _WEIR_HEAD_M - crest)
    for part in ("siphon", "channel", "emergency"):
        if given("siphon.drop_m") or given(f"{part}.drop_m"):
            put(part, "run_m", parts[part].drop_m + _SLACK_M)
    if given("siphon.drop_m") or given("returns.static_head_m"):
        put("returns", "line_run_m", parts["returns"].static_head_m + _LINE_SLACK_M)


def _sump(parts: dict[str, Any], given: Any, put: Any) -> None:
    if given("sump.rim_m"):
        put("sump", "level_m", _SUMP_FULL_SHARE * parts["sump"].rim_m)
    elif given("sump.level_m"):
        put("sump", "rim_m", max(parts["sump"].rim_m, parts["sump"].level_m / _SUMP_FULL_SHARE))
    if any(given(f"sump.{field}") for field in ("length_m", "width_m", "level_m", "rim_m")):
        sump = parts["sump"]
        put("sump", "pump_chamber_m3", min(sump.pump_chamber_m3, _CHAMBER_SHARE * sump.area_m2 * sump.level_m))
