"""A rig file while it is being written, answer by answer: text in, text out, every other line untouched.

An answered field is a line ``key = value``; one that the keeper does not know is the same line as a comment, or,
where nothing can stand in for it, ``key = "?"``. So the file itself says what has been asked.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from typing import Any, Literal

from tuner.errors import ConfigError
from tuner.rig import PARTS, Rig
from tuner.rigfile import REQUIRED, UNKNOWN, key_of, rig_from_table

State = Literal["open", "answered", "not known"]
_HEADER = re.compile(r"^\s*\[+\s*([\w.]+)\s*\]+\s*(#.*)?$")


def _span(lines: list[str], section: str) -> tuple[int, int] | None:
    """Return the lines of a section, header excluded; "pump.1" is the second [[pump]]; None when there is none."""
    name, _, index = section.partition(".") if section.startswith("pump.") else (section, "", "0")
    seen = -1
    for start, line in enumerate(lines):
        if (header := _HEADER.match(line)) and header[1] == name:
            seen += 1
            if seen == int(index):
                end = start + 1
                while end < len(lines) and not _HEADER.match(lines[end]):
                    end += 1
                return start + 1, end
    return None


def _first_header(lines: list[str]) -> int:
    return next((i for i, line in enumerate(lines) if _HEADER.match(line)), len(lines))


def _place(lines: list[str], section: str, key: str) -> int | None:
    """Return the line of a key, as a value or as a comment; None when there is none."""
    span = _span(lines, section) if section else (0, _first_header(lines))
    if span is None:
        return None
    wanted = re.compile(rf"^\s*(#\s*)?{re.escape(key)}\s*=")
    return next((i for i in range(*span) if wanted.match(lines[i])), None)


def state_of(text: str, section: str, key: str) -> State:
    """Return whether a field has been asked for, and answered.

    >>> draft = with_answer("", "siphon", "drop", '"900 mm"', "tape")
    >>> state_of(draft, "siphon", "drop"), state_of(draft, "siphon", "run")
    ('answered', 'open')
    """
    lines = text.splitlines()
    place = _place(lines, section, key)
    if place is None:
        return "open"
    line = lines[place].strip()
    is_unknown = line.startswith("#") or line.partition("=")[2].strip().startswith(f'"{UNKNOWN}"')
    return "not known" if is_unknown else "answered"


def with_answer(text: str, section: str, key: str, value: str, comment: str, *, known: bool = True) -> str:
    """Return the text with a field answered; ``value`` is TOML; not ``known`` makes the line a comment.

    >>> print(with_answer("[siphon]\\n", "siphon", "drop", '"900 mm"', "tape"))
    [siphon]
    drop = "900 mm"  # tape
    <BLANKLINE>
    """
    lines = text.splitlines()
    written = f"{'' if known else '# '}{key} = {value}" + (f"  # {comment}" if comment else "")
    place = _place(lines, section, key)
    if place is not None:
        lines[place] = written
    elif not section:
        lines.insert(_first_header(lines), written)
    else:
        span = _span(lines, section)
        if span is None:
            header = "[[pump]]" if section.startswith("pump.") else f"[{section}]"
            lines += ["", header, written] if lines else [header, written]
        else:
            end = span[1]
            while end > span[0] and not lines[end - 1].strip():
                end -= 1
            lines.insert(end, written)
    return "\n".join(lines) + "\n"


def table_of(text: str, file: str) -> Mapping[str, Any]:
    """Return the tables of a draft.

    Raises
    ------
    ConfigError
        When the text is not TOML, or is plainly no rig file.
    """
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ConfigError(f"rig file {file} is not valid TOML: {error}") from None
    strangers = sorted(set(table) - {"name", "pump", "fact", *PARTS})
    if strangers:
        raise ConfigError(f"rig file {file} is no rig file ({strangers[0]!r} is not known there): name another file")
    return table


def rig_of_draft(text: str, file: str) -> Rig:
    """Return the rig that a draft describes, whatever is still missing taken as not known.

    Raises
    ------
    ConfigError
        As ``table_of``, and when a field breaks a rule.
    """
    table = {key: dict(value) if isinstance(value, dict) else value for key, value in table_of(text, file).items()}
    for dotted in REQUIRED:
        head, _, tail = dotted.rpartition(".")
        part: Any = table
        if head == "pump.0":
            pumps = table.setdefault("pump", [{}])
            part = pumps[0] if isinstance(pumps, list) and pumps else pumps
        else:
            for name in head.split("."):
                part = part.setdefault(name, {}) if isinstance(part, dict) else part
        if isinstance(part, dict):
            part.setdefault(key_of(tail), UNKNOWN)
    return rig_from_table(table)


def is_finished(text: str) -> bool:
    """Tell whether a draft says what a rig file must say."""
    try:
        rig_from_table(tomllib.loads(text))
    except (ConfigError, tomllib.TOMLDecodeError):
        return False
    return True
