"""``hushweir rig fit FILE``: facts measured on the running installation, kept in its file, narrow the bands."""

from __future__ import annotations

import argparse
import tomllib
from dataclasses import asdict, replace
from pathlib import Path

import numpy as np

from tuner.errors import ConfigError
from tuner.rig import Fact, FactKind, Rig
from tuner.rigfile import load_rig, rig_from_table, rig_text
from tuner.screens.checkpage import FitPage
from tuner.units import ANGLE, SHARE, TIME, TURN, VOLUME, parse_quantity
from tuner.verbs.desk import Desk
from tuner.verbs.flow import SEED
from tuner.water.certainty import narrowing

SCHEMA = 1
PIPES: dict[str, FactKind] = {
    "return": "return flow", "siphon": "siphon flow", "open channel": "channel flow", "channel": "channel flow",
}


def run(args: argparse.Namespace, desk: Desk) -> int:
    """Carry out the verb: the facts are kept before the bands are computed, so that nothing measured is lost."""
    rig = load_rig(args.file)
    new = facts_of(args, rig)
    kept = _kept(rig, args.forget)
    if new or kept != rig.facts:
        changed = replace(rig, facts=(*kept, *new))
        _write(args.file, changed)
        rig = changed
    gain = narrowing(rig, np.random.default_rng(SEED), us=args.us)
    if args.json:
        desk.write_json(
            {"schema": SCHEMA, "file": str(args.file), "facts": [asdict(f) for f in rig.facts],
             "before": asdict(gain.before), "after": asdict(gain.after), "says": gain.says}
        )
        return 0
    desk.console.print(FitPage(rig, gain, args.us))
    if gain.after.facts_strained:
        desk.tell(f"         a fact that was a slip is taken out with: hushweir rig fit {args.file} --forget NUMBER")
    return 0


def facts_of(args: argparse.Namespace, rig: Rig) -> tuple[Fact, ...]:
    """Return the facts that the options give.

    Raises
    ------
    ConfigError
        When an option is not usable, or one that belongs to it is missing.
    """
    speed = None if args.speed is None else parse_quantity(args.speed, SHARE, field="--speed")
    at = None if args.at is None else setting_of(args.at, rig, "--at")
    found: list[Fact] = []
    if args.just_slurps_at is not None:
        setting = setting_of(args.just_slurps_at, rig, "--just-slurps-at")
        found.append(Fact(kind="just slurps", setting=setting, speed=speed))
    if args.just_gurgles_at is not None:
        setting = setting_of(args.just_gurgles_at, rig, "--just-gurgles-at")
        found.append(Fact(kind="just gurgles", setting=setting, speed=speed))
    if args.slurp_period is not None:
        period_s = parse_quantity(args.slurp_period, TIME, field="--slurp-period")
        found.append(Fact(kind="slurp period", setting=_at(at, rig, "--slurp-period"), period_s=period_s, speed=speed))
    if args.bucket is not None:
        found.append(_bucket(args, rig, at, speed))
    elif args.in_time is not None or args.pipe is not None:
        raise ConfigError('--bucket must be given with --in and --pipe: how much was caught, such as "10 L"')
    if at is not None and args.slurp_period is None and args.bucket is None:
        raise ConfigError("--at must come with --slurp-period or --bucket: it says how far the siphon valve was open")
    return tuple(found)


def setting_of(text: str, rig: Rig, option: str) -> float:
    """Return a setting of the siphon valve, in turns (gate) or degrees (ball) open from closed."""
    dimension = TURN if rig.siphon.valve.kind == "gate" else ANGLE
    return parse_quantity(text, dimension, field=option)


def _at(at: float | None, rig: Rig, option: str) -> float:
    setting = at if at is not None else rig.siphon.valve.setting
    if setting is None:
        raise ConfigError(f'--at must be given with {option}: how far the siphon valve was open, such as "1 3/8 turns"')
    return setting


def _bucket(args: argparse.Namespace, rig: Rig, at: float | None, speed: float | None) -> Fact:
    if args.in_time is None:
        raise ConfigError('--in must be given with --bucket: how long it took to fill, such as "9.5 s"')
    volume_m3 = parse_quantity(args.bucket, VOLUME, field="--bucket")
    time_s = parse_quantity(args.in_time, TIME, field="--in")
    if volume_m3 <= 0 or time_s <= 0:
        raise ConfigError(f"--bucket={args.bucket!r} and --in={args.in_time!r} must be more than nothing")
    kind = PIPES.get((args.pipe or "return").strip().lower())
    if kind is None:
        raise ConfigError(f"--pipe={args.pipe!r} must be one of return, siphon, open channel: what ran into the bucket")
    setting = at if kind == "return flow" else _at(at, rig, "--bucket")
    return Fact(kind=kind, setting=setting, flow_m3_s=volume_m3 / time_s, speed=speed)


def _kept(rig: Rig, forget: str | None) -> tuple[Fact, ...]:
    if forget is None:
        return rig.facts
    if forget.strip().lower() == "all":
        return ()
    if not forget.isdecimal() or not 1 <= int(forget) <= len(rig.facts):
        raise ConfigError(f'--forget={forget!r} must be "all" or the number of a fact, 1 to {len(rig.facts)}')
    return tuple(fact for number, fact in enumerate(rig.facts, 1) if number != int(forget))


def _write(path: Path, rig: Rig) -> None:
    """Write the rig's facts into its file; everything else in the file stays as it is."""
    try:
        before = path.read_text(encoding="utf-8")
        text = rig_text(rig, into=before)
        rig_from_table(tomllib.loads(text))
        path.write_text(text, encoding="utf-8")
    except OSError as error:
        raise ConfigError(f"rig file {path} cannot be written ({error.strerror}): choose another place") from None
