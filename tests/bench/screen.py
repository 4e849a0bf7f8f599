"""The full screen of ``tune`` on a virtual microphone in a real terminal: how soon, how cheap, and what is lost.

A private sound server plays steady sounds of the rehearsal rig into its own microphone; the terminal's output is
followed for the moment at which the level trace rises and at which the sound's name appears. All in real time.

A sound is recognisable once the ears' own rule names it (a probability of one half) from what sounded until then: the
same samples are heard beforehand without a device, a screen or a clock, with looks every 50 ms by shifted starts, and
the first quarter of a second counts whose looks name it in the mean. What comes after that is the delay of the machine,
of the half second from one look to the next, and of the screen.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
from itertools import count, islice
from pathlib import Path
from typing import IO, TYPE_CHECKING

import numpy as np
import pexpect

from tuner.logbook.store import Logbook

if TYPE_CHECKING:  # importing it for real would make its fixture known twice
    from tests.virtual_microphone import VirtualMicrophone

RATE = 48000
BUSY_S = float(os.environ.get("SCREEN_BENCH_S", "120"))
CAUSES = ("vent too wide", "outlet above water", "pump drawing air", "siphon over-closed")
SOUNDS, LEAD_S, BETWEEN_S, SOUND_S = 40, 4.0, 11.0, 6.0
SHIFTS, SHIFT_S = 10, 0.05
STARTS = 10
NAMED = 0.5
NEWEST = 78  # the trace's last column at 120x40, counted from 0
_PLACE = re.compile(r"\x1b\[(\d+);(\d+)H")
_STYLE = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]")
_HEARS = re.compile(r"(?:hears)?\s+([a-z]+)\??\s.*?(\d+) %")
LOUD = 0.01  # root mean square of 10 ms, well above the quiet noise between


@dataclass(frozen=True, slots=True)
class Onset:
    """A sound in the recording that is played: when it begins (s), and what it is called from when on (s later)."""

    at_s: float
    kind: str = ""
    recognisable_s: float = 0.0


def _sound(first_seed: int) -> tuple[np.ndarray, list[Onset]]:
    """Return quiet noise with steady sounds of rehearsal rigs put in at known times."""

    made = list(islice(_steady(first_seed), SOUNDS))
    length = round((LEAD_S + BETWEEN_S * len(made)) * RATE)
    sound = (2e-4 * np.random.default_rng(1).standard_normal(length)).astype(np.float32)
    onsets = []
    for number, samples in enumerate(made):
        at_s = LEAD_S + BETWEEN_S * number + 0.037 * number
        start = round(at_s * RATE)
        sound[start : start + samples.size] += samples
        onsets.append(Onset(at_s))
    return sound, _recognised(sound, onsets)


def _steady(first_seed: int) -> Iterator[np.ndarray]:
    """Give sounds of draws, one cause after the other, of which the ears name a kind that lasts."""
    from tuner.rehearsal.cases import draw_case
    from tuner.signatures.listener import Listener

    for seed in count(first_seed):
        for cause in CAUSES:
            made = draw_case(cause, seed, sample_rate=RATE).listen(SOUND_S + 6.0)[-round(SOUND_S * RATE) :]
            made = (made / np.sqrt(np.mean(made**2)) * 0.05).astype(np.float32)
            listener = Listener(RATE)
            listener.feed(made)
            late = [m.probability for m in listener.moments() if m.end_s > SOUND_S - 2.0]
            if max(sum(p[kind] for p in late) for kind in late[0]) >= NAMED * len(late):
                yield made


def _recognised(sound: np.ndarray, onsets: list[Onset]) -> list[Onset]:
    """Return the onsets with their kinds, where the ears come to name one that lasts, and since when they can."""
    from tuner.signatures.listener import Listener

    runs: list[list[tuple[float, dict[str, float]]]] = []
    for number in range(SHIFTS):
        shift_s = number * SHIFT_S
        listener = Listener(RATE)
        listener.feed(sound[round(shift_s * RATE) :])
        runs.append([(m.end_s + shift_s, dict(m.probability)) for m in listener.moments()])
    found = []
    for onset in onsets:
        within = [[(t - onset.at_s, p) for t, p in run if 0 < t - onset.at_s <= SOUND_S] for run in runs]
        late = [p for run in within for t, p in run if t > SOUND_S - 2.0]
        kind = max(late[0], key=lambda name: sum(p[name] for p in late))
        if sum(p[kind] for p in late) / len(late) < NAMED:
            found.append(onset)
            continue
        looks = sorted((t, p[kind]) for run in within for t, p in run)
        found.append(Onset(onset.at_s, kind, _since(looks)))
    return found


def _since(looks: list[tuple[float, float]]) -> float:
    """Return the end of the first quarter of a second whose looks, time and probability, name it in the mean."""
    for end, _ in looks:
        newest = [p for t, p in looks if end - 0.25 < t <= end]
        if len(newest) >= 3 and sum(newest) / len(newest) >= NAMED:
            return end
    return looks[-1][0]


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
    sound, onsets = _sound(first_seed)
    named = [o for o in onsets if o.kind]
    soon = [o.recognisable_s for o in named]
    print(
        f"screen: {len(named)} of {len(onsets)} sounds come to be named; they are recognisable after"
        f" {np.median(soon):.2f} s in the median, {np.quantile(soon, 0.95):.2f} s at the 95th percentile"
    )
    from tests.virtual_microphone import VirtualMicrophone

    with tempfile.TemporaryDirectory(prefix="screen-bench-") as name:
        folder = Path(name)
        server = VirtualMicrophone(folder)
        server.start()
        try:
            _measure(server, folder / "log.sqlite", sound, onsets)
        finally:
            server.stop()


def _measure(server: VirtualMicrophone, book: Path, sound: np.ndarray, sounds: list[Onset]) -> None:
    child = _starts(server, book)
    _follow(child, 4.0)
    onsets: list[float] = []
    watching = threading.Event()
    watcher = threading.Thread(target=_watch, args=(server, onsets, watching))
    watcher.start()
    server.play(sound)
    cpu, lasts_s = _cpu_s(child.pid), sound.size / RATE + 2.0
    seen = _follow(child, lasts_s)
    share = (_cpu_s(child.pid) - cpu) / lasts_s
    watching.set()
    watcher.join()
    sent = sum(len(text.encode()) for _, text in seen) / lasts_s
    print(f"screen: {100 * share:.1f} % of a core with the full screen at 120x40, {sent / 1000:.1f} kB a second to it")
    _latencies(seen, onsets, sounds)
    sys.stdout.flush()
    _follow(child, BUSY_S)
    child.send("q")
    child.expect(pexpect.EOF)
    with Logbook(book, clock=lambda: datetime.now(UTC), look_only=True) as logbook:
        session = logbook.session(1)
        gaps = logbook.gaps(1)
        print(f"screen: {len(gaps)} gaps in {session.seconds} s of listening with the screen busy")
        for gap in gaps:
            print(f"screen: at {gap.start_s:.1f} s {1000 * gap.length_s:.0f} ms: {gap.note}")


def _starts(server: VirtualMicrophone, book: Path) -> pexpect.spawn[str]:
    """Start some times; print how soon the device is listened to and the first level stands; return the last one."""
    heard: list[float] = []
    shown: list[float] = []
    opened: list[float] = []
    with subprocess.Popen(
        ["pactl", "subscribe"], env={**os.environ, **server.environment}, stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL, text=True,
    ) as events:
        assert events.stdout is not None
        threading.Thread(target=_note_openings, args=(events.stdout, opened), daemon=True).start()
        for number in range(STARTS):
            is_last = number == STARTS - 1
            begun = time.monotonic()
            child = _spawn(server, book if is_last else book.with_name(f"start{number}.sqlite"))
            child.expect(r"dB\(A\)")
            shown.append(time.monotonic() - begun)
            # The device is tried before it is opened to be heard.
            heard.append(max((t for t in opened if t > begun), default=begun) - begun)
            if not is_last:
                child.send("q")
                child.expect(pexpect.EOF)
        events.terminate()
    for what, times in (("listening to the device", heard), ("the first level on the page", shown)):
        print(
            f"screen: from 'hushweir tune' to {what}: {times[0]:.2f} s the first time, then"
            f" {np.median(times[1:]):.2f} s in the median of {STARTS - 1}, at most {max(times[1:]):.2f} s", flush=True
        )
    return child


def _note_openings(lines: IO[str], opened: list[float]) -> None:
    for line in lines:
        if "'new' on source-output" in line:
            opened.append(time.monotonic())


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


def _shows_name(text: str, kind: str) -> bool:
    """Tell whether a kind is heard, and more likely than not."""
    found = (_HEARS.match(plain) for _, plain in _rows(text))
    return any(match is not None and match[1] == kind and int(match[2]) >= 100 * NAMED for match in found)


def _first(seen: list[tuple[float, str]], onset: float, shows: Callable[[str], bool]) -> float | None:
    return next((t - onset for t, text in seen if onset < t < onset + SOUND_S and shows(text)), None)


def _latencies(seen: list[tuple[float, str]], onsets: list[float], sounds: list[Onset]) -> None:
    if len(onsets) != len(sounds):
        print(f"screen: {len(onsets)} of {len(sounds)} onsets were heard by the recorder: nothing can be told")
        return
    rises = [_first(seen, onset, _shows_rise) for onset in onsets]
    _say("onset at the device to the level trace", [t for t in rises if t is not None], len(onsets))
    named = [(onset, sound) for onset, sound in zip(onsets, sounds, strict=True) if sound.kind]
    names = [(_first(seen, at, partial(_shows_name, kind=sound.kind)), sound) for at, sound in named]
    _say("onset at the device to the name", [t for t, _ in names if t is not None], len(named))
    late = [t - sound.recognisable_s for t, sound in names if t is not None]
    _say("recognisable to the name on the screen", late, len(named))


def _say(what: str, found_s: list[float], of: int) -> None:
    words = "not seen"
    if found_s:
        middle, most = 1000 * float(np.median(found_s)), 1000 * float(np.quantile(found_s, 0.95))
        words = f"median {middle:.0f} ms, 95th percentile {most:.0f} ms"
    print(f"screen: from {what}: {words} ({len(found_s)} of {of} sounds)")
