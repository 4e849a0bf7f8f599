"""Which two sides a comparison is asked for, by place or by option."""

from __future__ import annotations

import argparse

from tuner.errors import ConfigError

SEED = 1  # the same logbook gives the same bounds


def selected(args: argparse.Namespace) -> tuple[str | None, str | None]:
    """Return what is before and what is after, named by place or by option, but not by both."""
    places: list[str] = args.which
    if len(places) > 2:
        raise ConfigError(f"selections={len(places)} must be at most 2: what was before, and what is after")
    before, after = (*places, None, None)[:2]
    for place, option, name in ((before, args.before, "before"), (after, args.after, "after")):
        if place is not None and option is not None:
            raise ConfigError(f"--{name} {option} must not be given together with {place!r}: name it once")
    return before or args.before, after or args.after
