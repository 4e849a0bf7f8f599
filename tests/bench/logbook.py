"""The logbook: what a kill loses, how big an hour is, and how fast two years of sessions are looked over.

Kills: a child writes a session as a listening verb does, twenty times as fast as sound comes in, and says on a pipe
which second is over before it hands it on; it is killed (SIGKILL) at a random moment. Times are of whole commands,
from the start of the process to its end; on a busy machine the CPU's part of them says more.
"""

from __future__ import annotations

import random
import resource
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path

from tests.bench import logbook_big
from tuner.logbook.store import Logbook

KILLS, LISTENED_S = 100, 900
_CHILD = """
import os, sys, time
from datetime import datetime, timedelta, UTC
from pathlib import Path
from tests.bench.logbook_big import BANDS_HZ, levels
from tuner.logbook.store import Logbook, Opening
from tuner.terms import Cause, Diagnosis, Moment, Reading, Sound
SPEED = 20.0
start, zero = datetime(2026, 3, 1, tzinfo=UTC), time.monotonic()
clock = lambda: start + timedelta(seconds=SPEED * (time.monotonic() - zero))
logbook = Logbook(Path(sys.argv[1]), clock=clock)
entry = logbook.begin(Opening("listen", "a microphone", 48000))
os.write(1, f"begun {entry.id}\\n".encode())
cause = Cause("siphon over-closed", 0.8, ("it gurgles",))
for i in range(100000):
    time.sleep(max(0.0, zero + (i + 1) / 2 / SPEED - time.monotonic()))
    if i % 2:
        os.write(1, f"over {i // 2}\\n".encode())
    entry.moment(Moment(i / 2, i / 2 + 0.5, 40.0, BANDS_HZ, (30.0,) * len(BANDS_HZ), {"gurgle": 0.5}, 0.0))
    if i % 7 == 0:
        entry.sound(Sound("gurgle", i / 2, i / 2 + 0.5, 44.0, 0.9))
    if i % 60 == 59:
        reading = Reading(30.0, 29.0, levels(40.0), (), (), 6.0, 0.05)
        entry.diagnosis(Diagnosis(False, (), (cause,), reading), i / 2 + 0.5)
"""


def run(draws: int, workers: int, first_seed: int) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        _kills(folder / "killed.sqlite", first_seed)
        _hour(folder / "hour.sqlite", first_seed)
        _large(folder, first_seed)


def _kills(path: Path, seed: int) -> None:
    """Kill a writer at random moments; all sessions go into one logbook, as a keeper's would."""
    rng = random.Random(seed)
    lost_beyond = closed = rows = 0
    worst = 0
    for _ in range(KILLS):
        child = subprocess.Popen([sys.executable, "-c", _CHILD, str(path)], stdout=subprocess.PIPE)
        assert child.stdout is not None
        first = child.stdout.readline().split()
        time.sleep(rng.uniform(0.0, 3.0))
        child.send_signal(signal.SIGKILL)
        said = child.stdout.read().decode().splitlines()
        child.stdout.close()
        assert child.wait() == -signal.SIGKILL
        over = sum(line.startswith("over") for line in said)
        try:
            with Logbook(path, clock=lambda: datetime.now(UTC), look_only=True) as logbook:
                kept = logbook.seconds(int(first[1])).second.size
            plain = sqlite3.connect(path)
            whole = plain.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
            plain.close()
        except Exception as error:
            print(f"  does not open: {error}")
            whole, kept = False, 0
        closed += not whole
        rows += kept
        worst = max(worst, over - kept)
        lost_beyond += max(0, over - kept - 1)
    print(f"logbook: kill -9 at {KILLS} random moments, {rows} seconds written before them")
    print(f"  seconds lost beyond the last one: {lost_beyond} (most that one kill lost: {worst})")
    print(f"  logbooks that fail to open: {closed}")


def _hour(path: Path, seed: int) -> None:
    """Listen to a noisy rehearsal rig and see by how much the logbook has grown."""
    _hushweir(path, "listen", "--rehearsal", str(seed), "--fast", "--plain", "--seconds", "1")
    before = path.stat().st_size
    _hushweir(path, "listen", "--rehearsal", str(seed), "--fast", "--plain", "--seconds", str(LISTENED_S))
    grown = path.stat().st_size - before
    print(f"logbook: size of an hour of listening to a noisy rig {grown * 3600 / LISTENED_S / 1e6:.2f} MB"
          f" (heard {LISTENED_S // 60} min)")


def _large(folder: Path, seed: int) -> None:
    path = folder / "large.sqlite"
    begun = time.monotonic()
    rows = logbook_big.write(path, seed)
    print(f"logbook: two years, {logbook_big.DAYS} sessions, {rows} rows of seconds,"
          f" {path.stat().st_size / 1e6:.0f} MB (made in {time.monotonic() - begun:.0f} s)")
    last = str(logbook_big.DAYS)
    for words, command in (
        ("list of the newest 20", ["log"]),
        ("list of all sessions", ["log", "--all"]),
        ("list by tag", ["log", "--tag", "after"]),
        ("list as JSON, all", ["log", "--all", "--json"]),
        ("show a session", ["log", "show", last]),
        ("show a session as JSON", ["log", "show", last, "--json"]),
        ("note", ["log", "note", last, "words"]),
        ("compare the last silence with now", ["compare"]),
        ("compare two groups of 30 by tag", ["compare", "tag:before", "tag:after"]),
        ("trend", ["log", "trend"]),
        ("page, the last silence and now", ["report", "--out", str(folder / "page.html"), "--force"]),
        ("page, two groups of 30 by tag",
         ["report", "tag:before", "tag:after", "--out", str(folder / "page.html"), "--force"]),
        ("export a session, CSV", ["log", "export", last, "--out", str(folder / "one")]),
        ("export all without seconds, CSV", ["log", "export", "--no-seconds", "--out", str(folder / "all")]),
        ("export all, Parquet", ["log", "export", "--format", "parquet", "--out", str(folder / "columns")]),
        ("delete a session", ["log", "delete", "1", "--yes"]),
    ):
        times = [_hushweir(path, *command)]
        if command[:2] != ["log", "export"] and command[:2] != ["log", "delete"]:
            times += [_hushweir(path, *command) for _ in range(2)]
        took_s, cpu_s = zip(*times, strict=True)
        print(f"  {words}: {min(took_s):.2f} s, at worst {max(took_s):.2f} s, {min(cpu_s):.2f} s of CPU")


def _hushweir(path: Path, *words: str) -> tuple[float, float]:
    """Carry out a command and return how long it took, and how long a processor worked at it (s)."""
    begun, before = time.monotonic(), _cpu_s()
    subprocess.run(
        [sys.executable, "-m", "tuner", *words, "--logbook", str(path)], check=True, stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    return time.monotonic() - begun, _cpu_s() - before


def _cpu_s() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime
