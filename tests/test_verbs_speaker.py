"""The microphone's check with a loudspeaker: what it plays comes back through a chain, block by block."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace, TracebackType
from typing import Self

import numpy as np
import pytest

from tests.live_chain import BLOCK, CHAINS, RATE, Process
from tuner.cli import main
from tuner.terms import Block, Samples
from tuner.verbs.desk import make_desk


class Loopback:
    """A microphone in a quiet room that hears what is played, at a tenth of its level, through a chain."""

    def __init__(self, process: Process) -> None:
        self.sample_rate = RATE
        self.name = "loopback"
        self.sounddevice = SimpleNamespace(play=self.play, PortAudioError=OSError)
        self._process = process
        self._rng = np.random.default_rng(1)
        self._played: Samples = np.empty(0, np.float32)
        self._at = 0

    @property
    def heard_s(self) -> float:
        return self._at / RATE

    def play(self, sound: Samples, sample_rate: int, latency: float) -> None:
        assert sample_rate == RATE
        # As late as a sound server's buffer.
        self._played = np.concatenate([np.zeros(round(latency * RATE), np.float32), 0.1 * sound])

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        return None

    def __iter__(self) -> Iterator[Block]:
        while True:
            room = self._rng.normal(0.0, 1e-5, BLOCK).astype(np.float32)
            part, self._played = self._played[:BLOCK], self._played[BLOCK:]
            room[: part.size] += part
            yield Block(self._process(room), RATE, self._at)
            self._at += BLOCK


# Scaled to the level that comes back: the loudest step has an amplitude of 0.03.
FAULTS = {"plain": None, "gain control": "gain control", "noise suppression": "noise suppression",
          "gating": "gating"}  # fmt: skip


@pytest.mark.parametrize("chain", FAULTS)
def test_the_trial_is_played_and_a_dishonest_chain_found_out(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path, chain: str
) -> None:
    microphone = Loopback(CHAINS[chain]())
    monkeypatch.setattr("tuner.capture.microphone.Microphone", lambda _device, _rate: microphone)
    monkeypatch.setattr("tuner.verbs.mic_check.load_sounddevice", lambda: microphone.sounddevice)
    desk = replace(make_desk(), seconds=lambda: microphone.heard_s)
    monkeypatch.setattr("tuner.verbs.desk.make_desk", lambda: desk)
    code = main(["mic", "check", "--speaker", "--json", "--logbook", str(tmp_path / "book.sqlite")])
    body = json.loads(capsys.readouterr().out)
    faults = {fault["fault"] for fault in body["chain"]["faults"]}
    assert code == (0 if chain == "plain" else 1)
    assert body["honest"] is (chain == "plain")
    assert faults == set() if chain == "plain" else chain in faults
    low, middle, high = body["steps_db"]
    if chain == "plain":
        assert body["measured_rate_hz"] == pytest.approx(RATE, rel=0.01)
        assert (middle - low, high - middle) == pytest.approx((10.0, 10.0), abs=0.2)
    if chain == "gain control":
        assert high - low < 15.0
