"""``hushweir log clips``: the clips of audio that were kept, listed or deleted."""

from __future__ import annotations

import argparse
from dataclasses import asdict

from tuner.errors import ConfigError
from tuner.logbook.rows import KeptClip
from tuner.screens.words import clock_text, count_text
from tuner.verbs.desk import Desk
from tuner.verbs.log_delete import agreed


def run(args: argparse.Namespace, desk: Desk) -> int:
    """Carry out the verb."""
    deleting = bool(args.delete or args.delete_all)
    with desk.logbook(args.logbook, look_only=not deleting, must_exist=True) as logbook:
        folder = logbook.clip_folder
        clips = [c for c in logbook.clips() if not args.numbers or c.session in args.numbers]
        if deleting:
            wanted = clips if args.delete_all else [c for c in clips if c.id in args.delete]
            if missing := sorted(set(args.delete or ()) - {c.id for c in clips}):
                raise ConfigError(f"clip={missing[0]} must be the number of a clip: 'hushweir log clips' lists them")
            if not agreed(f"delete {count_text(len(wanted), 'clip')} for good?", desk, yes=args.yes):
                return 1
            for clip in wanted:
                logbook.delete_clip(clip.id)
            desk.tell(f"deleted  {count_text(len(wanted), 'clip')}")
            return 0
        if args.json:
            desk.write_json({
                "schema": 1, "folder": str(folder.path),
                "clips": [{**asdict(c), "there": folder.file(c.file) is not None} for c in clips],
            })
            return 0
        for clip in clips:
            desk.tell(_line(clip, there=folder.file(clip.file) is not None))
        size = sum(c.size for c in clips) / 1e6
        desk.tell(
            f"{count_text(len(clips), 'clip')}, {size:.1f} MB, in {folder.path}" if clips
            else "no clips: they are kept only with --keep-clips"
        )
    return 0


def _line(clip: KeptClip, *, there: bool) -> str:
    return (
        f"{clip.id:>5}  session {clip.session:<5} {clock_text(clip.start_s):>7}  {clip.kind:<8}"
        f" {clip.length_s:4.1f} s  {clip.file}{'' if there else '  (the file is not there)'}"
    )
