"""``hushweir log kept``: what the logbook holds beside sessions: installations, microphones, rooms, proofs."""

from __future__ import annotations

import argparse
from datetime import datetime
from typing import Any

from tuner.logbook.rows import ProofKind, utc_text
from tuner.logbook.store import Logbook
from tuner.screens.words import count_text, level_text
from tuner.verbs.desk import Desk

_SHOWN = 10
_PROOFS: tuple[ProofKind, ...] = ("confirmation", "restart")


def run(args: argparse.Namespace, desk: Desk) -> int:
    """Carry out the verb."""
    with desk.logbook(args.logbook, look_only=True) as logbook:
        if args.json:
            desk.write_json(_body(logbook))
            return 0
        for name, sessions in logbook.rigs():
            desk.tell(f"rig      {name}, {count_text(sessions, 'session')}")
        for device in _own(logbook.devices()):
            desk.tell(f"device   {device}: {_state(logbook, device)}")
        for floor in logbook.floors(newest=_SHOWN):
            level = level_text(floor.floor.levels.laeq_db, floor.floor.levels.calibrated)
            where = f", {floor.place}" if floor.place else ""
            desk.tell(f"room     {floor.id}: {_day(floor.made)}, {level}, {floor.device + where}")
        for kind in _PROOFS:
            for proof in logbook.proofs(kind, newest=_SHOWN):
                found = _outcome(proof.body)
                about = f"{found}, {proof.rig_name or proof.device}" if found else proof.rig_name or proof.device
                desk.tell(f"proof    {proof.id}: {_day(proof.made)}, {kind}, {about}")
        desk.tell(f"in       {logbook.path}")
    return 0


def _own(devices: tuple[str, ...]) -> list[str]:
    """Leave out names under which a room from a file or a rehearsal is kept: a device's name with where it is from."""
    return [name for name in devices if not any(name.startswith(f"{other}: ") for other in devices)]


def _state(logbook: Logbook, device: str) -> str:
    check = next(iter(logbook.proofs("microphone check", device=device, newest=1)), None)
    calibration = next(iter(logbook.proofs("calibration", device=device, newest=1)), None)
    words = "never checked"
    if check is not None:
        words = f"{'honest' if check.body.get('honest') else 'not to be trusted'} when checked on {_day(check.made)}"
    if calibration is None:
        return f"{words}, not calibrated"
    return f"{words}, calibrated on {_day(calibration.made)} by {calibration.body.get('method', 'hand')}"


def _outcome(body: dict[str, Any]) -> str:
    if "outcome" in body:
        return str(body["outcome"])
    if "restarts_by_itself" in body:
        return "restarts by itself" if body["restarts_by_itself"] else "restart not shown"
    return ""


def _day(moment: datetime) -> str:
    return f"{moment.astimezone():%Y-%m-%d %H:%M}"


def _body(logbook: Logbook) -> dict[str, Any]:
    kinds: tuple[ProofKind, ...] = ("microphone check", "calibration", *_PROOFS)
    return {
        "schema": 1,
        "rigs": [{"name": name, "sessions": sessions} for name, sessions in logbook.rigs()],
        "devices": list(logbook.devices()),
        "floors": [
            {
                "floor": f.id, "made_utc": utc_text(f.made), "device": f.device, "sample_rate_hz": f.sample_rate_hz,
                "place": f.place, "laeq_db": f.floor.levels.laeq_db, "calibrated": f.floor.levels.calibrated,
            }
            for f in logbook.floors(newest=-1)
        ],
        "proofs": [
            {
                "proof": p.id, "kind": p.kind, "made_utc": utc_text(p.made), "device": p.device, "rig": p.rig_name,
                "session": p.session, "body": p.body,
            }
            for kind in kinds for p in logbook.proofs(kind, newest=-1)
        ],
    }
