from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from tuner.verbs.cues import NOTES_HZ, RATE, Cue, Loudspeaker, cue_samples, mute


@pytest.mark.parametrize("cue", NOTES_HZ)
def test_a_cue_is_short_soft_and_without_clicks(cue: Cue) -> None:
    samples = cue_samples(cue)
    assert 0.2 < samples.size / RATE < 0.6
    assert np.abs(samples).max() <= 0.2
    assert np.abs(samples[[0, -1]]).max() < 0.002
    assert mute(cue) == 0.0


class Library:
    PortAudioError = RuntimeError

    def __init__(self, fails: bool) -> None:
        self.fails = fails
        self.played: list[Any] = []

    def OutputStream(self, samplerate: int, channels: int, dtype: str) -> Any:
        if self.fails:
            raise self.PortAudioError("no device")
        assert (samplerate, channels, dtype) == (RATE, 1, "float32")
        return self

    def __enter__(self) -> Library:
        return self

    def __exit__(self, *_: object) -> None:
        pass

    def write(self, samples: Any) -> None:
        self.played.append(samples)


def test_a_loudspeaker_plays_to_the_end_and_tells_how_long_it_took() -> None:
    library = Library(False)
    assert Loudspeaker(library)("move") == pytest.approx(cue_samples("move").size / RATE)
    assert library.played[0].shape == (cue_samples("move").size, 1)


def test_without_an_output_it_is_mute_and_says_why() -> None:
    speaker = Loudspeaker(Library(True))
    assert speaker("move") == 0.0
    assert "no cue can be played" in speaker.complaint
    assert speaker("end") == 0.0
