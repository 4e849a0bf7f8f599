"""``hushweir report``: before and after, or one session, as a page to share."""

from __future__ import annotations

import argparse
import os
from pathlib import Path

import numpy as np

from tuner.errors import ConfigError
from tuner.report.material import Material, gather
from tuner.report.page import headline, page_html
from tuner.saying import count_text
from tuner.silence.hearing import THRESHOLD_DB
from tuner.verbs.desk import Desk
from tuner.verbs.sides import SEED, selected
from tuner.water.standing import standing


def run(args: argparse.Namespace, desk: Desk) -> int:
    """Carry out the verb."""
    before, after = selected(args)
    if args.out is not None:
        _refuse(args.out, force=args.force)
    with desk.logbook(args.logbook, look_only=True) as logbook:
        material = gather(
            logbook, before, after, made=desk.clock(), rng=np.random.default_rng(SEED), same_setup=args.same_setup,
            alone=args.alone, with_clips=not args.no_clips,
        )
    path = args.out or Path(_name(material))
    _refuse(path, force=args.force)
    stand = standing(material.rig, np.random.default_rng(SEED)) if material.rig is not None else None
    _write(path, page_html(material, stand, THRESHOLD_DB), force=args.force, alone=bool(material.clips))
    said = headline(material)
    desk.tell(f"{said[:1].upper()}{said[1:]}.")
    clips = f", {count_text(len(material.clips), 'clip')} of sound in it" if material.clips else ""
    desk.tell(f"page     {path}, {_size_text(path.stat().st_size)}{clips}")
    return 0


def _size_text(size: int) -> str:
    return f"{size / 1e6:.1f} MB" if size >= 1_000_000 else f"{size / 1e3:.0f} kB"


def _name(material: Material) -> str:
    """Return a file name of session numbers only: nothing that anybody typed gets into it."""
    numbers = [d.session.id for d in (material.before, material.after) if d is not None]
    return f"hushweir-report-{'-'.join(str(n) for n in dict.fromkeys(numbers))}.html"


def _refuse(path: Path, *, force: bool) -> None:
    if path.is_dir():
        raise ConfigError(f"out={path} must be a file: it is a folder")
    if not path.parent.is_dir():
        raise ConfigError(f"out={path} must lie in a folder that is there: make {path.parent} first")
    if not force and os.path.lexists(path):
        raise ConfigError(f"out={path} must be new: it is there already; --force replaces it, --out names another")


def _write(path: Path, text: str, *, force: bool, alone: bool) -> None:
    """Write the page whole or not at all; for the owner ``alone`` when it holds sound from a living room."""
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        handle = os.open(part, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600 if alone else 0o666)
        try:
            with os.fdopen(handle, "w", encoding="utf-8") as file:
                file.write(text)
            if not force and os.path.lexists(path):
                raise ConfigError(f"out={path} must be new: it appeared meanwhile; --force replaces it")
            part.replace(path)
        finally:
            part.unlink(missing_ok=True)
    except OSError as error:
        raise ConfigError(f"out={path} cannot be written ({error.strerror}): name another file with --out") from error
