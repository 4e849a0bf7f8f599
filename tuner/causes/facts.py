"""What the rules may look at: the reading, the installation and the last move, as named numbers.

A fact that is not known is absent, never zero: an assumed measure of the installation is absent too,
since a default says nothing about the tank at hand. Names:

``<kind>.share``, ``.probability``, ``.presence`` (the larger of the two), ``.excess_db``, ``.events``, ``.period_s``,
``.regular`` (1 with a period, else 0) and ``.lead`` (its presence as a share of the presences of all kinds), for each
sound kind; ``loudest.presence`` (over all kinds), ``drains.presence`` (over all but hum and rattle); ``bouts`` (of
the kinds that come and go, those that return; absent when there is no trace of any), ``bouts.presence`` and
``steady.presence`` (the most present of those kinds and of the others); ``excess_db``, ``outside_share``,
``clean_share``, ``clean_s``; ``feature.<name>``; ``rig.<name>``; ``move.<siphon|vent|pump>`` (signed, + opens or
speeds up), ``move.worse`` (1 when the last move made it louder, 0 otherwise), ``since_start_s``. After a scan from
place to place also ``<kind>.at_<place>`` and ``prevailing.at_<place>``: how likely that sound arises at the siphon,
channel, emergency, box, sump, pump or return.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tuner.causes.location import Scan
from tuner.rig import Rig
from tuner.terms import CYCLIC_KINDS, SOUND_KINDS, Control, Place, Reading, SoundKind

Facts = dict[str, float]
ABSENT_DB = 0.0
ALIKE_DB = 4.0  # set on simulated rigs under household sound


@dataclass(frozen=True, slots=True)
class LastMove:
    """What was done before this reading.

    ``amount`` is signed (+ opens, speeds up) in the control's unit; ``worse`` tells whether the noise grew after it;
    ``since_start_s`` counts from the start of the pumps, where the keeper said so.
    """

    control: Control | None = None
    amount: float = 0.0
    worse: bool | None = None
    since_start_s: float | None = None


_MOVE_NAMES: dict[Control, str] = {"siphon valve": "siphon", "vent tap": "vent", "return pump": "pump"}


PLACE_NAMES: dict[Place, str] = {
    "siphon": "siphon", "open channel": "channel", "emergency": "emergency", "overflow box": "box", "sump": "sump",
    "pump": "pump", "return": "return",
}


def presence(reading: Reading, kind: SoundKind) -> float:
    """Return how much of ``kind`` the window held: the larger of its share of the seconds and its mean probability."""
    heard = reading.of(kind)
    return 0.0 if heard is None else max(heard.share, heard.probability)


def returning_bouts(reading: Reading, kind: SoundKind) -> int:
    """Return how many bouts of ``kind`` have another of nearly their own level.

    A siphon gulps alike each time; what a household adds by chance does not. Where the reading lists no bouts they
    are taken for alike.
    """
    levels = np.sort([s.level_db for s in reading.sounds if s.kind == kind])
    if levels.size == 0:
        heard = reading.of(kind)
        return 0 if heard is None else heard.events
    near = np.diff(levels) <= ALIKE_DB
    return int(np.count_nonzero(np.append(near, False) | np.append(False, near)))


def _sound_facts(reading: Reading) -> Facts:
    presences = {kind: presence(reading, kind) for kind in SOUND_KINDS}
    total = sum(presences.values())
    facts: Facts = {
        "loudest.presence": max(presences.values()),
        "drains.presence": max(p for kind, p in presences.items() if kind not in ("hum", "rattle")),
        "bouts.presence": max(presences[kind] for kind in CYCLIC_KINDS),
        "steady.presence": max(p for kind, p in presences.items() if kind not in CYCLIC_KINDS),
    }
    if facts["bouts.presence"] > 0.0:
        facts["bouts"] = float(sum(returning_bouts(reading, kind) for kind in CYCLIC_KINDS))
    for kind in SOUND_KINDS:
        heard = reading.of(kind)
        facts[f"{kind}.presence"] = presences[kind]
        facts[f"{kind}.lead"] = presences[kind] / total if total > 0 else 0.0
        facts[f"{kind}.share"] = 0.0 if heard is None else heard.share
        facts[f"{kind}.probability"] = 0.0 if heard is None else heard.probability
        facts[f"{kind}.excess_db"] = ABSENT_DB if heard is None else heard.excess_db
        facts[f"{kind}.events"] = 0.0 if heard is None else float(heard.events)
        facts[f"{kind}.regular"] = 0.0 if heard is None or heard.period_s is None else 1.0
        if heard is not None and heard.period_s is not None:
            facts[f"{kind}.period_s"] = heard.period_s
    return facts


def _rig_facts(rig: Rig) -> Facts:
    siphon, channel, returns = rig.siphon, rig.channel, rig.returns
    table: dict[str, tuple[float, tuple[str, ...]]] = {
        "siphon_outlet_depth_m": (siphon.outlet_depth_m, ("siphon.outlet_depth_m",)),
        "channel_outlet_depth_m": (channel.outlet_depth_m, ("channel.outlet_depth_m",)),
        "bleed_hole_m": (siphon.bleed_hole_m, ("siphon.bleed_hole_m",)),
        "vent_hole_m": (channel.vent_hole_m, ("channel.vent_hole_m",)),
        "nozzle_depth_m": (returns.nozzle_depth_m, ("returns.nozzle_depth_m",)),
        "weir_fall_m": (
            rig.weir.height_m - channel.crest_height_m, ("weir.height_m", "channel.crest_height_m"),
        ),
    }
    facts = {f"rig.{name}": value for name, (value, needs) in table.items() if not rig.assumed.intersection(needs)}
    shallowest = [facts[n] for n in ("rig.siphon_outlet_depth_m", "rig.channel_outlet_depth_m") if n in facts]
    if shallowest:
        facts["rig.shallowest_outlet_m"] = min(shallowest)
    if channel.vent_setting is not None and "channel.vent_tap_turns" not in rig.assumed:
        facts["rig.vent_open_share"] = channel.vent_setting / channel.vent_tap_turns
    return facts


def _place_facts(scan: Scan) -> Facts:
    facts: Facts = {}
    for name, sound in (("prevailing", scan.prevailing), *((s.kind, s) for s in scan.sounds)):
        found = {option.place: option.probability for option in sound.options}
        facts.update({f"{name}.at_{short}": found[place] for place, short in PLACE_NAMES.items() if place in found})
    return facts


def facts_of(
    reading: Reading, *, rig: Rig | None, last_move: LastMove | None, scan: Scan | None = None
) -> Facts:
    """Return everything that the rules may look at; what is not known is absent."""
    facts = _sound_facts(reading)
    if reading.excess_db is not None:
        facts["excess_db"] = reading.excess_db
    facts["outside_share"] = reading.outside_share
    facts["clean_s"] = reading.clean_s
    if reading.duration_s > 0:
        facts["clean_share"] = reading.clean_s / reading.duration_s
    facts.update({f"feature.{name}": value for name, value in reading.features.items()})
    if rig is not None:
        facts.update(_rig_facts(rig))
    if scan is not None:
        facts.update(_place_facts(scan))
    if last_move is not None:
        if last_move.control is not None and last_move.amount:
            facts[f"move.{_MOVE_NAMES[last_move.control]}"] = last_move.amount
        if last_move.worse is not None:
            facts["move.worse"] = float(last_move.worse)
        if last_move.since_start_s is not None:
            facts["since_start_s"] = last_move.since_start_s
    return facts
