"""The cause rules as data, read from ``models/causes.toml`` and checked on the way in."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, cast

from tuner.errors import ConfigError
from tuner.places import shared_dir
from tuner.terms import CAUSE_NAMES, SOUND_KINDS, CauseName

SCHEMA = 1
_SOUND_FIELDS = ("share", "probability", "presence", "excess_db", "events", "period_s", "regular", "lead")
_PLAIN_FACTS = frozenset({
    "loudest.presence", "drains.presence", "bouts", "bouts.presence", "steady.presence", "excess_db", "outside_share",
    "clean_s", "clean_share", "since_start_s",
    "move.siphon", "move.vent", "move.pump", "move.worse",
    "rig.siphon_outlet_depth_m", "rig.channel_outlet_depth_m", "rig.shallowest_outlet_m", "rig.bleed_hole_m",
    "rig.vent_hole_m", "rig.nozzle_depth_m", "rig.weir_fall_m", "rig.vent_open_share",
})
_AT = re.compile(r"^[a-z]+\.at_(siphon|channel|emergency|box|sump|pump|return)$")
_FEATURE = re.compile(r"^feature\.[a-z0-9_ ]+$")


@dataclass(frozen=True, slots=True)
class Condition:
    """A ramp over one fact: 0 at ``low`` and below, 1 at ``high`` and above; falling when ``low`` > ``high``."""

    looks_at: str
    low: float
    high: float

    def degree(self, value: float) -> float:
        """Return how far the condition holds, 0 to 1.

        >>> Condition("slurp.share", 0.1, 0.3).degree(0.2), Condition("excess_db", 6.0, 2.0).degree(2.0)
        (0.5, 1.0)
        """
        return min(1.0, max(0.0, (value - self.low) / (self.high - self.low)))


@dataclass(frozen=True, slots=True)
class Evidence:
    """One entry: conditions that must all hold, the log-odds for and against, and the words for it.

    ``against`` is added in full when the conditions do not hold at all; 0 when their absence says nothing.
    ``lacking`` is said when a fact that it looks at is not known; empty when that is no loss.
    """

    plain: str
    conditions: tuple[Condition, ...]
    weight: float
    against: float
    because: str
    lacking: str


@dataclass(frozen=True, slots=True)
class Rule:
    """A cause: its prior, what the keeper sees and hears, and its evidence."""

    name: CauseName
    prior: float
    seen: str
    evidence: tuple[Evidence, ...]


@dataclass(frozen=True, slots=True)
class Silence:
    """When a window counts as silent, and when it is too disturbed to tell."""

    heard_share: float
    heard_probability: float
    heard_events: int
    cyclic_presence: float
    lasting: float
    other_sound: float
    excess_db: float
    masked_outside_share: float
    least_clean_s: float
    traces_s: float


@dataclass(frozen=True, slots=True)
class CauseRules:
    """The rule file: schema, date, how its weights were set, the silent decision, and one rule for each cause."""

    schema: int
    date: str
    weights_from: str
    silence: Silence
    rules: tuple[Rule, ...]


def _fact_known(name: str) -> bool:
    kind, _, rest = name.partition(".")
    if _AT.match(name):
        return kind in (*SOUND_KINDS, "prevailing")
    return name in _PLAIN_FACTS or bool(_FEATURE.match(name)) or (kind in SOUND_KINDS and rest in _SOUND_FIELDS)


def _condition(table: Mapping[str, Any], where: str) -> Condition:
    name = str(table.get("looks_at", ""))
    if not _fact_known(name):
        raise ConfigError(f"{where}: looks_at={name!r} must be a known fact, such as slurp.share or rig.bleed_hole_m")
    ramp = table.get("ramp")
    if not (isinstance(ramp, list) and len(ramp) == 2 and ramp[0] != ramp[1]):
        raise ConfigError(f"{where}: ramp={ramp!r} must be two different numbers: where it starts and where it is full")
    return Condition(name, float(ramp[0]), float(ramp[1]))


def _evidence(table: Mapping[str, Any], where: str) -> Evidence:
    known = {"plain", "looks_at", "ramp", "also", "weight", "against", "because", "lacking"}
    if unknown := set(table) - known:
        raise ConfigError(f"{where}: {sorted(unknown)[0]} must be one of {', '.join(sorted(known))}")
    weight, against = float(table.get("weight", 0.0)), float(table.get("against", 0.0))
    if weight == 0.0 and against == 0.0:
        raise ConfigError(f"{where}: weight={weight:g} must differ from 0, or against must: else it says nothing")
    conditions = (_condition(table, where), *(_condition(t, where) for t in table.get("also", ())))
    return Evidence(
        plain=str(table["plain"]), conditions=conditions, weight=weight, against=against,
        because=str(table.get("because", "")), lacking=str(table.get("lacking", "")),
    )


def _rule(table: Mapping[str, Any]) -> Rule:
    name = table.get("name")
    if name not in CAUSE_NAMES:
        raise ConfigError(f"cause.name={name!r} must be one of {', '.join(CAUSE_NAMES)}")
    prior = float(table.get("prior", 0.0))
    if not 0.0 < prior < 1.0:
        raise ConfigError(f"cause {name}: prior={prior:g} must be between 0 and 1")
    entries = tuple(_evidence(t, f"cause {name}, evidence {i + 1}") for i, t in enumerate(table.get("evidence", ())))
    return Rule(cast(CauseName, name), prior, str(table.get("seen", "")), entries)


def rules_from_table(table: Mapping[str, Any]) -> CauseRules:
    """Build the rules from the tables of a rule file.

    Raises
    ------
    ConfigError
        When the schema is another one, a cause is missing or twice, or an entry breaks a rule.
    """
    if table.get("schema") != SCHEMA:
        raise ConfigError(f"schema={table.get('schema')!r} must be {SCHEMA}: this rule file belongs to another version")
    rules = tuple(_rule(t) for t in table.get("cause", ()))
    names = [rule.name for rule in rules]
    for name in CAUSE_NAMES:
        if names.count(name) != 1:
            raise ConfigError(f"cause {name!r} must be described exactly once: found {names.count(name)}")
    silence = table["silence"]
    return CauseRules(
        schema=SCHEMA, date=str(table["date"]), weights_from=str(table["weights_from"]), rules=rules,
        silence=Silence(
            heard_share=float(silence["heard_share"]), heard_probability=float(silence["heard_probability"]),
            heard_events=int(silence["heard_events"]),
            cyclic_presence=float(silence["cyclic_presence"]),
            lasting=float(silence["lasting"]), other_sound=float(silence["other_sound"]),
            excess_db=float(silence["excess_db"]), masked_outside_share=float(silence["masked_outside_share"]),
            least_clean_s=float(silence["least_clean_s"]),
            traces_s=float(silence["traces_s"]),
        ),
    )


def read_rules(path: Path) -> CauseRules:
    """Read a rule file from ``path``.

    Raises
    ------
    ConfigError
        As ``rules_from_table``, or when the file is not TOML.
    """
    try:
        return rules_from_table(tomllib.loads(path.read_text(encoding="utf-8")))
    except tomllib.TOMLDecodeError as error:
        raise ConfigError(f"rule file {path} is not valid TOML: {error}") from None


@cache
def load_causes() -> CauseRules:
    """Return the rules that come with the program.

    >>> load_causes().schema
    1
    """
    return read_rules(shared_dir("models") / "causes.toml")
