"""What a proof from elsewhere must look like before it is believed: what is read from it, of the type that it must be.

What a proof does not say is no fault: earlier versions said less.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any

Check = Callable[[Any], bool]


def is_readable(kind: str, body: object) -> bool:
    """Tell whether a proof of a kind can be read by everything that reads it.

    >>> is_readable("restart", {"starts": [{"catches_s": 29.0}]}), is_readable("restart", {"starts": "many"})
    (True, False)
    """
    rule = _RULES.get(kind)
    return rule is not None and isinstance(body, dict) and rule(body)


def _number(value: object) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value)


def _number_or_none(value: object) -> bool:
    return value is None or _number(value)


def _text(value: object) -> bool:
    return isinstance(value, str)


def _truth(value: object) -> bool:
    return isinstance(value, bool)


def _each(rule: Check) -> Check:
    return lambda value: isinstance(value, list) and all(rule(item) for item in value)


def _having(needed: Mapping[str, Check], allowed: Mapping[str, Check] | None = None) -> Check:
    """Return a rule for an object: what it must hold, and of what type the rest is where it is there."""

    def rule(value: object) -> bool:
        return (
            isinstance(value, dict)
            and all(name in value and check(value[name]) for name, check in needed.items())
            and all(check(value[name]) for name, check in (allowed or {}).items() if name in value)
        )

    return rule


_PHASE = _having({"phase": _text, "from_s": _number, "to_s": _number})
_START = _having({"catches_s": _number_or_none}, {"phases": _each(_PHASE), "switched_on_s": _number})
_TONES = _each(_having({"frequency_hz": _number, "level_db": _number}))
_RULES: Mapping[str, Check] = {
    "microphone check": _having({}, {
        "honest": _truth, "chain": _having({}, {"faults": _each(_having({"fault": _text}))}),
    }),
    "calibration": _having({"offset_db": _number}, {"unsure_db": _number, "method": _text}),
    "restart": _having({}, {"starts": _each(_START), "restarts_by_itself": _truth, "findings": _each(_text)}),
    "confirmation": _having({}, {
        "outcome": _text, "confidence": _number, "high_db": _number_or_none, "tones": _TONES,
        "verdict": _having({}, {"tones": _TONES}),
        "bands": _each(_having({"hz": _number}, {"room_db": _number})),
    }),
    "tuning": _having({"schema": _number, "rig": _text, "seed": _number, "entries": _each(_having({}))}),
}
