"""The microphone through PortAudio, ALSA and a private sound server: what no stand-in can show."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest

from tuner.capture.devices import list_inputs, load_sounddevice
from tuner.capture.microphone import BACK, LOST, Microphone
from tuner.capture.source import first_seconds
from tuner.terms import Block

if TYPE_CHECKING:
    from tests.virtual_microphone import VirtualMicrophone

pytest_plugins = ("tests.virtual_microphone",)
pytestmark = pytest.mark.device

ROOT = Path(__file__).resolve().parent.parent
RATE = 48_000
AMPLITUDE = 0.1
TONE_HZ = 1000.0
LEVEL_TOLERANCE_DB = 0.1
FREQUENCY_TOLERANCE_HZ = 0.1
NOTICED_WITHIN_S = 2.0


def tone(duration_s: float) -> np.ndarray:
    t = np.arange(round(duration_s * RATE)) / RATE
    return (AMPLITUDE * np.sin(2 * np.pi * TONE_HZ * t)).astype(np.float32)


def fit(samples: np.ndarray) -> tuple[float, float]:
    """Level (dB re full scale, rms) and frequency (Hz) of a lone tone, from its windowed spectrum's peak."""
    window = np.hanning(samples.size)
    spectrum = np.abs(np.fft.rfft(samples * window))
    k = int(np.argmax(spectrum))
    below, at, above = np.log(spectrum[k - 1 : k + 2])
    hz = (k + 0.5 * (below - above) / (below - 2 * at + above)) * RATE / samples.size
    return 10 * np.log10(float(np.mean(np.square(samples, dtype=np.float64)))), float(hz)


def from_first_sound(blocks: Iterable[Block]) -> Iterator[Block]:
    """Drop the blocks before the player has started."""
    for block in blocks:
        if np.abs(block.samples).max(initial=0.0) > 0.9 * AMPLITUDE:
            break
    yield from blocks


def test_the_device_is_listed(virtual_microphone: VirtualMicrophone) -> None:
    assert virtual_microphone.device in [d.name for d in list_inputs(load_sounddevice())]


def test_a_tone_comes_back_with_its_level_and_pitch(
    virtual_microphone: VirtualMicrophone, capfd: pytest.CaptureFixture[str]
) -> None:
    virtual_microphone.play(tone(12.0))
    with Microphone(virtual_microphone.device) as source:
        assert source.sample_rate == RATE
        blocks = list(first_seconds(from_first_sound(source), 6.0))
    assert sum(b.dropped for b in blocks) == 0
    assert {b.note for b in blocks} == {""}
    level_db, hz = fit(np.concatenate([b.samples for b in blocks]))
    assert level_db == pytest.approx(20 * np.log10(AMPLITUDE / np.sqrt(2)), abs=LEVEL_TOLERANCE_DB)
    assert hz == pytest.approx(TONE_HZ, abs=FREQUENCY_TOLERANCE_HZ)
    assert capfd.readouterr().err == ""


@pytest.mark.parametrize("way", ["server", "source"])
def test_a_device_that_vanishes_is_noticed_and_taken_up_again(
    virtual_microphone: VirtualMicrophone, capfd: pytest.CaptureFixture[str], way: str
) -> None:
    pull, put_back = {
        "server": (virtual_microphone.stop, virtual_microphone.start),
        "source": (virtual_microphone.unload_sink, virtual_microphone.load_sink),
    }[way]
    virtual_microphone.play(tone(10.0))
    with Microphone(virtual_microphone.device, give_up_after_s=15.0) as source:
        before = list(first_seconds(from_first_sound(source), 1.0))
        pulled_s = time.monotonic()
        pull()
        lost = _next_with_note(source, LOST)
        noticed_s = time.monotonic()
        time.sleep(1.0)
        put_back()
        virtual_microphone.play(tone(10.0))
        back = _next_with_note(source, BACK)
        gap_s = time.monotonic() - pulled_s
        after = list(first_seconds(from_first_sound(source), 1.0))
    assert noticed_s - pulled_s < NOTICED_WITHIN_S
    assert lost.samples.size == 0
    assert back.start - lost.start == back.dropped
    assert back.dropped / RATE == pytest.approx(gap_s, abs=0.5)
    assert back.dropped / RATE > 1.0
    for blocks in (before, after):
        assert {b.dropped for b in blocks} == {0}
        level_db, _ = fit(np.concatenate([b.samples for b in blocks]))
        assert level_db == pytest.approx(20 * np.log10(AMPLITUDE / np.sqrt(2)), abs=LEVEL_TOLERANCE_DB)
    assert capfd.readouterr().err == ""


def _next_with_note(source: Microphone, note: str) -> Block:
    return next(block for block in source if note in block.note)




def test_ctrl_c_closes_the_microphone_cleanly(virtual_microphone: VirtualMicrophone) -> None:
    script = (
        "from tuner.capture.microphone import Microphone\n"
        "try:\n"
        f"    with Microphone({virtual_microphone.device!r}) as source:\n"
        "        for block in source:\n"
        "            print('heard', flush=True)\n"
        "except KeyboardInterrupt:\n"
        "    print('closed')\n"
    )
    with subprocess.Popen(
        [sys.executable, "-c", script], cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as child:
        assert child.stdout is not None
        assert child.stdout.readline() == "heard\n"
        child.send_signal(signal.SIGINT)
        out, err = child.communicate(timeout=10)
    assert out.splitlines()[-1] == "closed"
    assert (child.returncode, err) == (0, "")
