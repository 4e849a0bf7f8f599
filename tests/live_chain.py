"""Microphone chains between a private server's loudspeaker and its microphone, sample by sample as they come.

What a program plays goes into the sink "speaker"; a thread takes it from there in blocks of 10 ms, does what a
dishonest chain does, and gives it on to the sink whose monitor is the microphone.
"""

from __future__ import annotations

import subprocess
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from tests.virtual_microphone import VirtualMicrophone

RATE = 48_000  # the server's
BLOCK = RATE // 100
Samples = NDArray[np.float32]
Process = Callable[[Samples], Samples]


def plain() -> Process:
    return lambda block: block


def gain_control() -> Process:
    """Hold the level at -20 dB by up to 30 dB of gain: down in 0.1 s, up in 2 s."""
    gain_db = 30.0

    def process(block: Samples) -> Samples:
        nonlocal gain_db
        level_db = 10.0 * np.log10(float(np.mean(block.astype(np.float64) ** 2)) + 1e-14)
        wanted_db = float(np.clip(-20.0 - level_db, 0.0, 30.0))
        gain_db += (wanted_db - gain_db) * (0.1 if wanted_db < gain_db else 0.005)
        return np.clip(block * 10 ** (gain_db / 20.0), -1.0, 1.0).astype(np.float32)

    return process


def clipping() -> Process:
    return lambda block: np.clip(3.0 * block, -0.2, 0.2).astype(np.float32)


def gate() -> Process:
    """Shut off by 30 dB what stays under -60 dB for 0.8 s."""
    left = 80

    def process(block: Samples) -> Samples:
        nonlocal left
        left = 80 if float(np.mean(block.astype(np.float64) ** 2)) > 1e-6 else max(0, left - 1)
        return block if left else (0.03 * block).astype(np.float32)

    return process


def suppressor() -> Process:
    """Gate the bins that stand little over a noise estimate of one second; frames of 20 ms, half overlapped."""
    window = np.sqrt(np.hanning(2 * BLOCK + 1)[:-1])
    before = np.zeros(BLOCK)
    tail = np.zeros(BLOCK)
    estimate = np.full(BLOCK + 1, 1e-9)

    def process(block: Samples) -> Samples:
        nonlocal before, tail, estimate
        spectrum = np.fft.rfft(window * np.concatenate([before, block]))
        power = np.abs(spectrum) ** 2
        estimate = 0.99 * estimate + 0.01 * power
        out = window * np.fft.irfft(spectrum * np.where(power > 3.0 * estimate, 1.0, 0.05))
        made, tail, before = out[:BLOCK] + tail, out[BLOCK:], block.astype(np.float64)
        return made.astype(np.float32)

    return process


CHAINS: dict[str, Callable[[], Process]] = {
    "plain": plain, "gain control": gain_control, "noise suppression": suppressor, "clipping": clipping, "gating": gate,
}


@contextmanager
def between(server: VirtualMicrophone, process: Process) -> Iterator[dict[str, str]]:
    """Put a chain between the server's loudspeaker and its microphone; gives the environment of its clients."""
    environment = server.with_speaker()
    sound = ["--format=float32le", f"--rate={RATE}", "--channels=1", "--latency-msec=200"]
    with (
        subprocess.Popen(
            ["pacat", "--record", "--device=speaker.monitor", *sound], env=environment, stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        ) as taken,
        subprocess.Popen(
            ["pacat", "--playback", "--device=vmic", *sound], env=environment, stdin=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        ) as given,
    ):  # fmt: skip
        thread = threading.Thread(target=_carry, args=(taken, given, process), daemon=True)
        thread.start()
        try:
            yield environment
        finally:
            taken.terminate()
            thread.join(5.0)
            given.terminate()
            server.without_speaker()


def _carry(taken: subprocess.Popen[bytes], given: subprocess.Popen[bytes], process: Process) -> None:
    assert taken.stdout is not None
    assert given.stdin is not None
    while len(raw := taken.stdout.read(4 * BLOCK)) == 4 * BLOCK:
        try:
            given.stdin.write(process(np.frombuffer(raw, dtype=np.float32)).tobytes())
            given.stdin.flush()
        except BrokenPipeError:
            return
