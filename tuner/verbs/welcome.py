"""``hushweir`` alone: what the program does, what it knows of this installation, and the one next thing to do."""

from __future__ import annotations

import argparse
from pathlib import Path

from tuner.errors import ConfigError, HushweirError
from tuner.logbook.rows import Proof, ProofKind, Session
from tuner.logbook.store import Logbook
from tuner.rigdraft import is_finished, rig_of_draft, state_of, table_of
from tuner.screens.welcomepage import Known, Named, WelcomePage, When
from tuner.verbs.desk import Desk
from tuner.verbs.rig_questions import COMMON

USUAL_FILE = "my-rig.toml"
_MOST_FILES, _MOST_BYTES = 30, 200_000  # a folder of other things is not read through
_SIMULATED = "rehearsal"
_NEWEST = 200  # sessions looked at for the last tuning


def run(_args: argparse.Namespace, desk: Desk) -> int:
    """Carry out the verb."""
    desk.page(WelcomePage(known_of(Path.cwd(), desk)))
    return 0


def known_of(folder: Path, desk: Desk) -> Known:
    """Gather what is known: rig files in the folder, and what the logbook keeps."""
    from tuner.logbook.file import default_path

    rig = rig_in(folder)
    path = default_path()
    if not path.exists():
        return Known(rig=rig)
    try:
        with desk.logbook(path, look_only=True) as logbook:
            return _known_of_log(logbook, rig, path)
    except HushweirError as error:
        return Known(rig=rig, logbook=path, trouble=str(error))


def _known_of_log(logbook: Logbook, rig: Named | None, path: Path) -> Known:
    real = [s for s in logbook.sessions(_NEWEST) if not s.device.startswith(_SIMULATED)]
    check = next(iter(logbook.proofs("microphone check", newest=1)), None)
    floors = logbook.floors(device=check.device if check is not None else None)
    floor = next((f for f in floors if not f.device.startswith(_SIMULATED)), None)
    tuned = next((s for s in real if s.verb == "tune" and s.ended is not None), None)
    named = next((s for s in real if s.rig_name), None)
    return Known(
        rig=rig, rig_in_log=named.rig_name if named is not None else "", logbook=path, sessions=len(real),
        microphone=None if check is None else When(check.made, bool(check.body.get("honest")), check.device,
                                                   _faults(check)),
        room=None if floor is None else When(
            floor.made, True, floor.device, "", floor.floor.levels.laeq_db, floor.floor.levels.calibrated
        ),
        tuned=None if tuned is None else When(tuned.started, tuned.last_silent is True, tuned.device, tuned.outcome),
        silence=_proof_after(logbook, "confirmation", tuned), restart=_proof_after(logbook, "restart", tuned),
    )


def _proof_after(logbook: Logbook, kind: ProofKind, tuned: Session | None) -> When | None:
    """Return the newest proof on a real installation, unless a tuning came after it."""
    real = [proof for proof in logbook.proofs(kind, newest=_NEWEST) if not proof.device.startswith(_SIMULATED)]
    if not real or (tuned is not None and real[0].made < tuned.started):
        return None
    body = real[0].body
    if kind == "restart":
        good = bool(body.get("restarts_by_itself"))
        return When(real[0].made, good, real[0].device, "" if good else "not shown to start by itself")
    outcome = str(body.get("outcome", ""))
    return When(real[0].made, outcome == "silent", real[0].device, outcome)


def _faults(check: Proof) -> str:
    faults = check.body.get("chain", {}).get("faults", ())
    return ", ".join(str(fault.get("fault", "")) for fault in faults)


def rig_in(folder: Path) -> Named | None:
    """Return the rig file of a folder: the one of the usual name, or else the newest that reads as one."""
    try:
        others = sorted(folder.glob("*.toml"), key=_changed, reverse=True)[:_MOST_FILES]
    except OSError:
        return None
    usual = [path for path in others if path.name == USUAL_FILE]
    for path in (*usual, *(path for path in others if path.name != USUAL_FILE)):
        found = _read(path, anything=path.name == USUAL_FILE)
        if found is not None:
            return found
    return None


def _changed(path: Path) -> float:
    try:
        return path.stat().st_mtime
    except OSError:
        return 0.0


def _read(path: Path, *, anything: bool) -> Named | None:
    """Return what a file says of a rig; None when it is none of ours."""
    try:
        if path.stat().st_size > _MOST_BYTES:
            return None
        text = path.read_text(encoding="utf-8")
        table = table_of(text, path.name)
    except (OSError, UnicodeDecodeError, ConfigError) as error:
        return Named(path.name, "", trouble=str(error)) if anything else None
    if not {"siphon", "pump"} & set(table) and not anything:
        return None
    try:
        rig = rig_of_draft(text, path.name)
    except ConfigError as error:
        return Named(path.name, "", trouble=str(error))
    asked = sum(state_of(text, ask.section, ask.key) != "open" for ask in COMMON)
    return Named(
        path.name, rig.name if "name" in table else "", finished=is_finished(text), asked=asked, questions=len(COMMON),
        assumed=len(rig.assumed),
    )


