"""Rig files: TOML with units as people write them, read into a ``Rig`` and written back.

A key is the field's name without its unit: ``inner_diameter = "1 in"`` fills ``inner_diameter_m``. Pumps are
``[[pump]]`` tables. Required are only what nothing can stand in for: the siphon's inner diameter and drop,
its valve's kind, and the pump's flow. All else has a default and is listed in ``Rig.assumed``. A figure that
the keeper cannot find out is written ``"?"``: it is assumed as well, even where it would be required.
"""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Mapping
from dataclasses import fields, replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.items import AoT, Item

from tuner.errors import ConfigError
from tuner.rig import (
    FACT_NEEDS,
    PARTS,
    Box,
    Channel,
    Emergency,
    Fact,
    Measure,
    Pump,
    Returns,
    Rig,
    Siphon,
    Sump,
    Tank,
    Valve,
    Water,
    Weir,
    check_value,
    measures,
    walk,
)
from tuner.rigdefaults import follow
from tuner.units import FLOW, LENGTH, SHARE, TIME, VOLUME, parse_quantity

REQUIRED: tuple[str, ...] = ("siphon.inner_diameter_m", "siphon.drop_m", "siphon.valve.kind", "pump.0.flow_m3_s")

_TYPES: dict[str, type[Any]] = {
    "tank": Tank, "weir": Weir, "box": Box, "siphon": Siphon, "channel": Channel, "emergency": Emergency,
    "returns": Returns, "sump": Sump, "water": Water,
}
UNKNOWN = "?"
_SUFFIX = re.compile(r"_(m3_s|m3|m|c|s)$")
_TEMPERATURE = re.compile(r"^\s*(-?\d+(?:\.\d+)?)\s*°?\s*([CF])\s*$", re.IGNORECASE)


def key_of(field_name: str) -> str:
    """Return the key of a field in a rig file: the name without its SI unit.

    >>> key_of("inner_diameter_m"), key_of("flow_m3_s"), key_of("open_share")
    ('inner_diameter', 'flow', 'open_share')
    """
    return _SUFFIX.sub("", field_name)


def load_rig(path: str | Path) -> Rig:
    """Read a rig file.

    Raises
    ------
    ConfigError
        When the file is missing, is not TOML, or a field breaks a rule; the text names field, value, rule and fix.
    """
    path = Path(path)
    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        raise ConfigError(f"rig file {path} does not exist: write one with 'hushweir rig new {path}'") from None
    except (OSError, UnicodeDecodeError) as error:
        raise ConfigError(f"rig file {path} cannot be read ({error}): it must be a UTF-8 text file") from None
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ConfigError(f"rig file {path} is not valid TOML: {error}") from None
    return rig_from_table(table)


def rig_from_table(table: Mapping[str, Any]) -> Rig:
    """Build a rig from the tables of a rig file.

    Raises
    ------
    ConfigError
        As ``load_rig``.
    """
    allowed = {"name", "pump", "fact", *PARTS}
    for key in table:
        if key not in allowed:
            raise ConfigError(f"{key} must be one of {', '.join(sorted(allowed))}: this table is not known")
    assumed: dict[str, bool] = {}  # by field: whether "?" stands there
    parts: dict[str, Any] = {}
    for name in PARTS:
        section = _section(table, name)
        if name == "siphon":
            valve = _read_part("siphon.valve", Valve, _section(section, "valve", "siphon.valve"), assumed)
            rest = {k: v for k, v in section.items() if k != "valve"}
            parts[name] = replace(_read_part("siphon", Siphon, rest, assumed), valve=valve)
        else:
            parts[name] = _read_part(name, _TYPES[name], section, assumed)
    pumps = table.get("pump", [])
    if isinstance(pumps, Mapping):
        pumps = [pumps]
    if not isinstance(pumps, list) or not all(isinstance(p, Mapping) for p in pumps):
        raise ConfigError("pump must be one or more [[pump]] tables")
    parsed = tuple(_read_part(f"pump.{i}", Pump, p, assumed) for i, p in enumerate(pumps or [{}]))
    missing = [name for name in REQUIRED if not assumed.get(name, True)]
    if missing:
        also = f"; also missing: {', '.join(map(_shown, missing[1:]))}" if missing[1:] else ""
        raise ConfigError(
            f'{_shown(missing[0])} must be given: nothing can stand in for it ({_how(missing[0])}; "?" if you cannot'
            f" know){also}"
        )
    name = table.get("name", "my tank")
    if not isinstance(name, str) or not name.strip():
        raise ConfigError(f"name={name!r} must be a text: the name you give your tank")
    parts, parsed = follow(parts, parsed, frozenset(assumed))
    return Rig(name=name, pumps=parsed, facts=_read_facts(table), assumed=frozenset(assumed), **parts)


def _shown(dotted: str) -> str:
    head, _, tail = dotted.replace("pump.0", "pump").rpartition(".")
    return f"{head}.{key_of(tail)}"


def _read_facts(table: Mapping[str, Any]) -> tuple[Fact, ...]:
    facts = table.get("fact", [])
    if not isinstance(facts, list) or not all(isinstance(f, Mapping) for f in facts):
        raise ConfigError("fact must be [[fact]] tables, each with its kind")
    for i, section in enumerate(facts):
        if "kind" not in section:
            raise ConfigError(f"fact.{i}.kind must be given: one of {', '.join(FACT_NEEDS)}")
    return tuple(_read_part(f"fact.{i}", Fact, section, {}) for i, section in enumerate(facts))


def _how(dotted: str) -> str:
    if dotted == "siphon.valve.kind":
        return 'kind = "gate" or "ball" in [siphon.valve]'
    head, _, tail = dotted.rpartition(".")
    part: type[Any] = Pump if head.startswith("pump") else _TYPES[head]
    measure: Measure = measures(part)[tail]
    return f"{measure.how}, such as {measure.dimension.example}"


def typical_rig() -> Rig:
    """Return the middling installation in which every figure is assumed: it stands in for an absent description."""
    rig = Rig()
    names = (f"{part_name}.{f.name}" for part_name, part in walk(rig) for f in fields(part) if f.name != "valve")
    return replace(rig, name="an undescribed tank", assumed=frozenset(names))


def _section(table: Mapping[str, Any], key: str, shown: str | None = None) -> Mapping[str, Any]:
    section = table.get(key, {})
    if not isinstance(section, Mapping):
        raise ConfigError(f"{shown or key}={section!r} must be a table: write [{shown or key}] on a line of its own")
    return section


def _read_part(name: str, kind: type[Any], section: Mapping[str, Any], assumed: dict[str, bool]) -> Any:
    known = {key_of(f.name): f for f in fields(kind) if f.name != "valve"}
    for key in section:
        if key not in known:
            raise ConfigError(f"{name}.{key} must be one of {', '.join(known)}: this field is not known")
    values: dict[str, Any] = {}
    for key, f in known.items():
        dotted = f"{name}.{f.name}"
        if key not in section or section[key] == UNKNOWN:
            measure = f.metadata.get("measure")
            if not (measure and measure.may_be_absent) and f.name not in ("name", "curve", "on_backup"):
                assumed[dotted] = key in section
            continue
        values[f.name] = _read_value(dotted, f.name, section[key], f.metadata.get("measure"))
    return kind(**values)


def _read_value(dotted: str, name: str, raw: Any, measure: Measure | None) -> Any:
    shown = f"{dotted.rpartition('.')[0]}.{key_of(name)}"
    if measure is not None:
        dimension, written = measure.dimension, raw
        if dotted.startswith(("siphon.valve.", "fact.")) and name in ("setting", "backlash"):
            raw = re.sub(r"\s*(degrees?|deg|°)\s*$", "", raw) if isinstance(raw, str) else raw
        value = parse_quantity(raw, dimension, field=shown)
        check_value(shown, value, measure, written)
        return value
    if name == "temperature_c":
        return _read_temperature(shown, raw)
    if name == "curve":
        return _read_curve(shown, raw)
    if name == "on_backup":
        if not isinstance(raw, bool):
            raise ConfigError(f"{shown}={raw!r} must be true or false")
        return raw
    if not isinstance(raw, str):
        raise ConfigError(f"{shown}={raw!r} must be a text")
    return raw


def _read_temperature(shown: str, raw: Any) -> float:
    match = _TEMPERATURE.match(str(raw))
    if match is None:
        raise ConfigError(f'{shown}={raw!r} must be a temperature with its unit, such as "25 C" or "77 F"')
    value = float(match[1])
    return value if match[2].upper() == "C" else (value - 32) / 1.8


def _read_curve(shown: str, raw: Any) -> tuple[tuple[float, float], ...]:
    if not isinstance(raw, list) or len(raw) < 3 or not all(isinstance(p, list) and len(p) == 2 for p in raw):
        example = '[["0 m", "4200 L/h"], ["1.5 m", "2800 L/h"], ["3 m", "0 L/h"]]'
        raise ConfigError(f"{shown}={raw!r} must be three or more points [head, flow], such as {example}")
    points = tuple(
        (parse_quantity(h, LENGTH, field=shown), parse_quantity(q, FLOW, field=shown)) for h, q in raw
    )
    ordered = tuple(sorted(points))
    if any(b[1] >= a[1] for a, b in pairwise(ordered)):
        raise ConfigError(f"{shown} must fall with head: each point of more head has less flow; check the points")
    return ordered


def _write_value(value: Any, measure: Measure | None, name: str) -> Any:
    if measure is None:
        return f"{value:g} C" if name == "temperature_c" else value
    if measure.dimension is LENGTH:
        return f"{value * 1e3:.6g} mm" if abs(value) < 1 else f"{value:.6g} m"
    if measure.dimension is FLOW:
        return f"{value * 3.6e6:.8g} L/h"
    if measure.dimension is VOLUME:
        return f"{value * 1e3:.6g} L"
    if measure.dimension is TIME:
        return f"{value:.6g} s"
    if measure.dimension is SHARE and measure.highest <= 1:
        return f"{value * 100:.6g} %"
    return float(f"{value:.6g}")


def rig_text(rig: Rig, *, into: str = "") -> str:
    """Return the rig as a rig file: given fields as values, assumed fields as comments.

    ``into`` is the text of an existing file whose comments and order are kept.
    """
    document = tomlkit.parse(into)
    document["name"] = rig.name
    pumps = document.get("pump")
    if not isinstance(pumps, AoT):
        document.pop("pump", None)
        pumps = tomlkit.aot()
    for name, part in walk(rig):
        if not name.startswith("pump."):
            is_new = name.partition(".")[0] not in document
            _write_part(_table_of(document, name), name, part, rig.assumed, comments=not into)
            if into and is_new and not document[name]:
                del document[name]
    for i, pump in enumerate(rig.pumps):
        if i == len(pumps):
            pumps.append(tomlkit.table())
        _write_part(pumps[i], f"pump.{i}", pump, rig.assumed, comments=not into)
    del pumps[len(rig.pumps) :]
    if "pump" not in document:
        document["pump"] = pumps
    _write_facts(document, rig)
    return tomlkit.dumps(document).rstrip("\n") + "\n"


def _write_part(target: Any, name: str, part: Any, assumed: frozenset[str], *, comments: bool) -> None:
    for f in fields(part):
        key, dotted, value = key_of(f.name), f"{name}.{f.name}", getattr(part, f.name)
        measure = f.metadata.get("measure")
        if f.name == "valve" or (not comments and _says_it(target, key, dotted, f, value, dotted in assumed)):
            continue
        if value is None or value == ():
            target.pop(key, None)
        elif f.name == "curve":
            target[key] = [[f"{h:.6g} m", f"{q * 3.6e6:.8g} L/h"] for h, q in value]
        elif dotted not in assumed:
            target[key] = _write_value(value, measure, f.name)
        elif dotted in REQUIRED:
            target[key] = UNKNOWN
        else:
            target.pop(key, None)
            if comments:
                shown = _inline(tomlkit.item(_write_value(value, measure, f.name)))
                target.add(tomlkit.comment(f"{key} = {shown}  # assumed"))


def _says_it(target: Any, key: str, dotted: str, f: Any, value: Any, is_assumed: bool) -> bool:
    """Tell whether a table says a value already, in whatever unit."""
    if key not in target:
        return f.name in ("name", "on_backup") and value == f.default
    if is_assumed or target[key] == UNKNOWN:
        return is_assumed and target[key] == UNKNOWN
    said = _read_value(dotted, f.name, target[key], f.metadata.get("measure"))
    return math.isclose(said, value, rel_tol=1e-9) if isinstance(said, float) and value is not None else said == value


def _write_facts(document: Any, rig: Rig) -> None:
    """Write the facts; the table of a fact that is there already stays as it is."""
    there = document.pop("fact") if "fact" in document else []
    known = {_read_part("fact", Fact, table, {}): table for table in there}
    if not rig.facts:
        return
    tables = tomlkit.aot()
    for fact in rig.facts:
        target = known.get(fact)
        if target is None:
            target = tomlkit.table()
            target["kind"] = fact.kind
            for name, measure in measures(fact).items():
                value = getattr(fact, name)
                if value is not None:
                    target[key_of(name)] = _write_value(value, measure, name)
        tables.append(target)
    document["fact"] = tables


def _inline(item: Item) -> str:
    return item.as_string()


def _table_of(document: Any, dotted: str) -> Any:
    target = document
    for key in dotted.split("."):
        if key not in target:
            target[key] = tomlkit.table()
        target = target[key]
    return target


def save_rig(rig: Rig, path: str | Path) -> None:
    """Write the rig to ``path``; comments of a file that is already there are kept.

    Raises
    ------
    ConfigError
        When the file cannot be written.
    """
    path = Path(path)
    try:
        into = path.read_text(encoding="utf-8") if path.exists() else ""
        path.write_text(rig_text(rig, into=into), encoding="utf-8")
    except OSError as error:
        raise ConfigError(f"rig file {path} cannot be written ({error.strerror}): choose another place") from None
