"""``hushweir rig``: a file that describes the installation, begun from an example and checked."""

from __future__ import annotations

import argparse
import os
import re
from dataclasses import fields, replace
from pathlib import Path

from tuner.errors import ConfigError
from tuner.rig import Rig, measures, walk
from tuner.rigfile import REQUIRED, key_of, load_rig, rig_text
from tuner.units import flow_text, length_text
from tuner.verbs.desk import Desk

_HEAD = """\
# The installation, for hushweir. Lines that begin with '#' are assumptions: take the '#' away and put your own
# figure where you have measured one. Units may be mm, cm, m or in; L/h or gph; L or gal; %.
# Only four figures must be given: they stand without '#'. Check the file with: hushweir rig check FILE
"""
_WORDS = {
    "siphon.valve.kind": 'the siphon\'s valve: "gate" (a wheel) or "ball" (a quarter-turn handle)',
    "water.kind": '"fresh" or "marine"',
    "water.temperature": "temperature of the water",
    "pump.name": "what you call the pump",
    "pump.on_backup": "whether it runs on a battery when the power fails: true or false",
}
_TABLE = re.compile(r"\[+([\w.]+)\]+")
_ENTRY = re.compile(r"(# )?(\w+) = (\"[^\"]*\"|[^#\s]+)")


def run(args: argparse.Namespace, desk: Desk) -> int:
    """Carry out the verb."""
    if args.rig_verb == "example":
        desk.console.file.write(example())
    elif args.rig_verb == "new":
        _write_new(args.file)
        desk.tell(f"written  {args.file}: put your figures in, then: hushweir rig check {args.file}")
    else:
        _check(load_rig(args.file), desk)
    return 0


def example() -> str:
    """Return a rig file with every field explained: what must be given as values, the rest as assumptions."""
    typical = Rig()
    names = (f"{part_name}.{f.name}" for part_name, part in walk(typical) for f in fields(part) if f.name != "valve")
    written = rig_text(replace(typical, assumed=frozenset(names) - frozenset(REQUIRED)))
    words = _words()
    lines, table = [_HEAD.rstrip()], ""
    for line in written.splitlines():
        if header := _TABLE.fullmatch(line):
            table = header[1]
            lines += ["", line, *_absent(table)]
        elif entry := _ENTRY.match(line):
            explained = words.get(f"{table}.{entry[2]}", "")
            lines.append(f"{entry[0]}  # {explained}" if explained else entry[0])
    return "\n".join(lines) + "\n"


def _absent(table: str) -> list[str]:
    """Return lines on the fields of a table that have no usual value."""
    part = next((p for name, p in walk(Rig()) if name.split(".0")[0] == table), None)
    return [
        f"# {key_of(name)} = ...  # {measure.how}"
        for name, measure in measures(part).items()
        if measure.may_be_absent
    ]


def _words() -> dict[str, str]:
    """Return how each field is measured, by its dotted key in a rig file."""
    words = dict(_WORDS)
    for part_name, part in walk(Rig()):
        table = part_name.split(".0")[0]
        for name, measure in measures(part).items():
            words[f"{table}.{key_of(name)}"] = measure.how
    return words


def _write_new(path: Path) -> None:
    try:
        with open(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o644), "w", encoding="utf-8") as file:
            file.write(example())
    except FileExistsError:
        raise ConfigError(f"file={str(path)!r} must not exist yet: name another, or edit it") from None
    except OSError as error:
        raise ConfigError(f"file={str(path)!r} cannot be written ({error.strerror}): choose another place") from None


def _check(rig: Rig, desk: Desk) -> None:
    measured = sum(len([f for f in fields(part) if f.name != "valve"]) for _, part in walk(rig))
    valve = rig.siphon.valve
    full = f"{valve.turns:g} turns" if valve.kind == "gate" else "a quarter turn"
    lines = [
        f"rig      {rig.name}: the description holds together",
        f"siphon   {length_text(rig.siphon.inner_diameter_m)} inside, {valve.kind} valve of {full}",
        f"pumps    {', '.join(f'{p.name} {flow_text(p.flow_m3_s)}' for p in rig.pumps)}",
        f"assumed  {len(rig.assumed)} of {measured} figures are assumed; each one that you measure makes advice surer",
    ]
    for line in lines:
        desk.tell(line)
    names = sorted(f"{head}.{key_of(tail)}" for head, _, tail in (name.rpartition(".") for name in rig.assumed))
    for name in names:
        desk.tell(f"         {name}")
