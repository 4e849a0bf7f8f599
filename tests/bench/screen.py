"""The full screen of ``tune`` on a virtual microphone in a real terminal: how soon, how cheap, and what is lost.

A private sound server plays a steady roar into its own microphone; the terminal's output is followed for the moment at
which the level trace rises and at which the sound's name appears. The whole runs in real time.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pexpect

from tuner.logbook.store import Logbook

if TYPE_CHECKING:  # importing it for real would make its fixture known twice
    from tests.virtual_microphone import VirtualMicrophone

RATE = 48000
BUSY_S = float(os.environ.get("SCREEN_BENCH_S", "120"))
ONSETS, BETWEEN_S, SOUND_S = 8, 9.0, 5.0
NEWEST = 78  # the trace's last column at 120x40, counted from 0
_PLACE = re.compile(r"\x1b\[(\d+);(\d+)H")
_STYLE = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]")
_HEARS = re.compile(r"(?:hears)?\s+roar\s.*?(\d+) %")
LOUD = 0.01  # root mean square of 10 ms, well above the quiet noise between


def _sound() -> np.ndarray:
    """Return quiet noise with a roar from the rehearsal rig's voice put in at known times."""
    from tuner.rehearsal.cases import draw_case

    rehearsal = draw_case("emergency carrying flow", 100_003, sample_rate=RATE)
    roar = rehearsal.listen(SOUND_S + 6.0)[-round(SOUND_S * RATE) :]
    roar = roar / np.sqrt(np.mean(roar**2)) * 0.05
    sound = (2e-4 * np.random.default_rng(1).standard_normal(round((ONSETS + 1) * BETWEEN_S * RATE))).astype(np.float32)
    times = [BETWEEN_S * (n + 0.5) + 0.037 * n for n in range(ONSETS)]
    for at in times:
        start = round(at * RATE)
        sound[start : start + roar.size] += roar.astype(np.float32)
    return sound


def _spawn(server: VirtualMicrophone, book: Path) -> pexpect.spawn[str]:
    env = {**os.environ, **server.environment, "TERM": "xterm-256color", "COLORTERM": "truecolor", "LANG": "C.UTF-8"}
    words = ["-m", "tuner", "tune", "--device", "pulse", "--seconds", "600", "--logbook", str(book)]
    return pexpect.spawn(sys.executable, words, env=env, encoding="utf-8", dimensions=(40, 120), timeout=60)


def _cpu_s(pid: int) -> float:
    fields = Path(f"/proc/{pid}/stat").read_text(encoding="utf-8").rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def _follow(child: pexpect.spawn[str], seconds: float) -> list[tuple[float, str]]:
    """Return what was drawn with the time at which it came."""
    end, seen = time.monotonic() + seconds, []
    while (left := end - time.monotonic()) > 0:
        try:
            text = child.read_nonblocking(65_536, timeout=min(left, 0.2))
            seen.append((time.monotonic(), text))
        except pexpect.TIMEOUT:
            continue
    return seen


def run(draws: int, workers: int, first_seed: int) -> None:
    from tests.virtual_microphone import VirtualMicrophone

    with tempfile.TemporaryDirectory(prefix="screen-bench-") as name:
        folder = Path(name)
        server = VirtualMicrophone(folder)
        server.start()
        try:
            _measure(server, folder / "log.sqlite")
        finally:
            server.stop()


def _measure(server: VirtualMicrophone, book: Path) -> None:
    sound = _sound()
    begun = time.monotonic()
    child = _spawn(server, book)
    child.expect(r"dB\(A\)")
    print(f"screen: {time.monotonic() - begun:.2f} s from 'hushweir tune' to the first level on the page")
    _follow(child, 4.0)
    onsets: list[float] = []
    watching = threading.Event()
    watcher = threading.Thread(target=_watch, args=(server, onsets, watching))
    watcher.start()
    server.play(sound)
    cpu = _cpu_s(child.pid)
    seen = _follow(child, (ONSETS + 1) * BETWEEN_S)
    share = (_cpu_s(child.pid) - cpu) / ((ONSETS + 1) * BETWEEN_S)
    watching.set()
    watcher.join()
    print(f"screen: {100 * share:.1f} % of one core with the full screen at 120x40")
    _latencies(seen, onsets)
    _follow(child, BUSY_S)
    child.send("q")
    child.expect(pexpect.EOF)
    with Logbook(book, clock=lambda: datetime.now(UTC), look_only=True) as logbook:
        session = logbook.session(1)
        print(f"screen: {len(logbook.gaps(1))} gaps in {session.seconds} s of listening with the screen busy")


def _watch(server: VirtualMicrophone, onsets: list[float], end: threading.Event) -> None:
    """Note when each sound comes out of the device, by a recorder of its own with 10 ms of delay."""
    command = ["parec", "--latency-msec=10", "--format=float32le", f"--rate={RATE}", "--channels=1"]
    with subprocess.Popen(command, env={**os.environ, **server.environment}, stdout=subprocess.PIPE) as recorder:
        assert recorder.stdout is not None
        last = -BETWEEN_S
        while not end.is_set():
            chunk = np.frombuffer(recorder.stdout.read(RATE // 100 * 4), np.float32)
            now = time.monotonic()
            if chunk.size and float(np.sqrt(np.mean(chunk**2))) > LOUD and now - last > SOUND_S + 1.0:
                onsets.append(now)
                last = now
        recorder.terminate()


def _rows(text: str) -> Iterator[tuple[int, str]]:
    """Give the rows that were drawn, from the top, as plain text."""
    parts = _PLACE.split(text)
    for row, column, drawn in zip(parts[1::3], parts[2::3], parts[3::3], strict=True):
        yield int(row), " " * (int(column) - 1) + _STYLE.sub("", drawn)


def _shows_rise(text: str) -> bool:
    """Tell whether the newest column of the trace reaches its upper half."""
    return any(row in (4, 5) and plain[NEWEST : NEWEST + 1] in tuple("▂▃▄▅▆▇█") for row, plain in _rows(text))


def _shows_name(text: str) -> bool:
    """Tell whether the roar is heard, and more likely than not."""
    found = (_HEARS.match(plain) for _, plain in _rows(text))
    return any(match is not None and int(match[1]) >= 50 for match in found)


def _latencies(seen: list[tuple[float, str]], onsets: list[float]) -> None:
    for what, shows in (("level trace", _shows_rise), ("name", _shows_name)):
        found = []
        for onset in onsets:
            found += [t - onset for t, text in seen if onset < t < onset + SOUND_S and shows(text)][:1]
        words = "not seen"
        if found:
            middle, most = 1000 * float(np.median(found)), 1000 * float(np.quantile(found, 0.95))
            words = f"median {middle:.0f} ms, 95th percentile {most:.0f} ms"
        print(f"screen: from onset at the device to the {what}: {words} ({len(found)} of {len(onsets)} onsets)")
