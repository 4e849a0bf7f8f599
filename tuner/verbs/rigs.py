"""``hushweir rig``: the file that describes the installation; here its example, which explains every field."""

from __future__ import annotations

import argparse
import re
from dataclasses import fields, replace
from importlib import import_module

from tuner.rig import Rig, measures, walk
from tuner.rigfile import REQUIRED, key_of, rig_text
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
        return 0
    code: int = import_module(f"tuner.verbs.rig_{args.rig_verb}").run(args, desk)
    return code


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
