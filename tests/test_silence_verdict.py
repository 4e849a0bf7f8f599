from __future__ import annotations

import numpy as np
import pytest

from tuner.silence.chain import ChainFault, ChainReport
from tuner.silence.evidence import BOUT_GAP_S, MOST_CELLS, Evidence
from tuner.silence.judgement import Limits, Setting, Verdict
from tuner.silence.verdict import judge
from tuner.sound.frames import LongFrame, long_frequencies_hz, long_length
from tuner.sound.levels import measure_levels
from tuner.terms import SOUND_KINDS, Floor, Moment, Sound

RATE = 16_000
HONEST = ChainReport((), True, 26.0, -70.0, -40.0, 5.4, 0.0, 0, 8000.0)
WATCH = ChainReport((), False, 26.0, -70.0, None, 5.4, 0.0, 0, 8000.0)


def frames(seconds: float, gain_db: float, seed: int, tone_hz: float | None = None, tone_db: float = 0.0) -> np.ndarray:
    """Power spectra of white noise of -60 dB re full scale, one every half second, with a tone where one is wanted."""
    n = len(long_frequencies_hz(RATE))
    rng = np.random.default_rng(seed)
    power = rng.exponential(10 ** ((gain_db - 60.0) / 10) / n, (round(2 * seconds), n)).astype(np.float32)
    if tone_hz is not None:
        power[:, round(tone_hz)] += 10 ** ((tone_db - 60.0) / 10)
    return power


def room(seconds: float = 60.0) -> Floor:
    noise = (1e-3 * np.random.default_rng(1).standard_normal(round(seconds * RATE))).astype(np.float32)
    return Floor(measure_levels(noise, RATE), seconds, seconds)


def moment(index: int, outside: float = 0.0, clipped: int = 0) -> Moment:
    return Moment(0.5 * index, 0.5 * (index + 1), -60.0, (), (), dict.fromkeys(SOUND_KINDS, 0.01), outside, 0, clipped)


def gathered(power: np.ndarray, outside: float = 0.0) -> Evidence:
    evidence = Evidence(RATE)
    for i, row in enumerate(power):
        evidence.hear(moment(i, outside), LongFrame(i * long_length(RATE) // 2, row))
    return evidence


def judged(evidence: Evidence, **changes: object) -> Verdict:
    setting = Setting(**{"floor": room(), "check": HONEST, "watch": WATCH, **changes})  # type: ignore[arg-type]
    return judge(evidence, setting, Limits(), np.random.default_rng(2))


def test_the_room_alone_is_silent_and_the_verdict_says_what_it_rests_on() -> None:
    verdict = judged(gathered(frames(120.0, 0.0, 3)))
    assert verdict.outcome == "silent"
    assert verdict.why == ()
    assert verdict.excess_db == pytest.approx(0.0, abs=0.1)
    # Rule of three: nothing in 2 minutes bounds 89.9 an hour, and with a recall of 60 % 149.8.
    assert verdict.per_hour == pytest.approx(2.9957 / (2.0 / 60.0) / 0.6, rel=1e-3)
    assert any("fewer than 150 plumbing sounds an hour" in words for words in verdict.rests_on)
    assert any("not calibrated" in words for words in verdict.cannot_show)
    assert any("overflow safety" in words for words in verdict.cannot_show)
    assert verdict.further


def test_six_decibels_over_the_room_are_audible() -> None:
    verdict = judged(gathered(frames(120.0, 6.0, 3)))
    assert verdict.outcome == "audible"
    assert verdict.excess_db == pytest.approx(6.0, abs=0.1)
    assert any("over the room" in words for words in verdict.heard)


def test_one_band_over_the_room_is_audible_though_the_level_is_not() -> None:
    power = frames(120.0, 0.0, 3)
    # 630 Hz third-octave (562 to 708 Hz), up by 8 dB: 0.3 dB in the A-weighted level of white noise.
    power[:, 563:708] *= 10**0.8
    verdict = judged(gathered(power))
    assert verdict.outcome == "audible"
    assert verdict.high_db is not None
    assert verdict.high_db < 3.0
    assert any("630 Hz" in words for words in verdict.heard)


def test_a_prominent_tone_is_audible_unless_it_lies_below_the_threshold_of_hearing() -> None:
    # A tone as strong as all the noise stands 20 dB over its critical band: limit 8 dB at 1 kHz and above.
    evidence = gathered(frames(120.0, 0.0, 3, tone_hz=1000.0, tone_db=0.0))
    assert any("tone at 1000 Hz" in words for words in judged(evidence).heard)
    # Calibrated so that the tone has -20 dB re 20 µPa, 22 dB below the threshold in quiet (ISO 389-7: 2.4 dB).
    quiet = judged(evidence, offset_db=40.0, floor=Floor(
        measure_levels((1e-3 * np.random.default_rng(1).standard_normal(60 * RATE)).astype(np.float32), RATE, 40.0),
        60.0, 60.0,
    ))  # fmt: skip
    assert not any("tone" in words for words in quiet.heard)


def test_two_bouts_are_audible_and_one_is_left_open() -> None:
    evidence = gathered(frames(120.0, 0.0, 3))
    evidence.heard(Sound("gurgle", 20.0, 23.0, -55.0, 0.9))
    verdict = judged(evidence)
    assert verdict.outcome == "not shown"
    assert "a single gurgle at 00:20" in " ".join(verdict.why)
    evidence.heard(Sound("gurgle", 24.0 + BOUT_GAP_S, 37.0, -50.0, 0.9))
    verdict = judged(evidence)
    assert verdict.outcome == "audible"
    assert verdict.heard[0].startswith("gurgle, 2 bouts")
    assert verdict.kinds[0].loudest_db == -50.0


def test_events_close_together_are_one_bout() -> None:
    evidence = gathered(frames(120.0, 0.0, 3))
    for start_s in (20.0, 25.0, 30.0):
        evidence.heard(Sound("slurp", start_s, start_s + 2.0, -55.0, 0.9))
    assert evidence.bouts["slurp"].count == 1
    assert evidence.bouts["slurp"].events == 3


@pytest.mark.parametrize(("changes", "says"), [
    ({"check": None}, "never tried"),
    ({"check": WATCH}, "no loud stretch"),
    ({"check": ChainReport((ChainFault("gain control", "x"),), True, 26.0, -70.0, -40.0, 5.4, 0.0, 0, 8e3)},
     "failed its check"),
    ({"watch": ChainReport((ChainFault("noise suppression", "x"),), False, 9.0, -70.0, None, 8.0, 0.0, 0, 8e3)},
     "changes the sound"),
    ({"floor": None}, "pumps off is not known"),
    ({"floor": room(5.0)}, "measured for 5 s only"),
])
def test_it_fails_closed(changes: dict[str, object], says: str) -> None:
    verdict = judged(gathered(frames(120.0, 0.0, 3)), **changes)
    assert verdict.outcome == "not shown"
    assert says in " ".join(verdict.why)


def test_too_short_and_masked_are_told_apart() -> None:
    assert "too short: 30 s" in " ".join(judged(gathered(frames(30.0, 0.0, 3))).why)
    masked = judged(gathered(frames(120.0, 20.0, 3), outside=0.9))
    assert masked.outcome == "not shown"
    assert "masked most of the time" in " ".join(masked.why)
    assert masked.clean_s == 0.0


def test_masked_seconds_and_sounds_in_them_are_left_out() -> None:
    evidence = gathered(frames(60.0, 0.0, 3))
    for i in range(120, 180):
        evidence.hear(moment(i, outside=0.9), LongFrame(0, frames(0.5, 40.0, 4)[0]))
    evidence.heard(Sound("gurgle", 65.0, 70.0, -20.0, 0.9))
    assert evidence.bouts == {}
    assert (evidence.clean_s, evidence.heard_s) == (60.0, 90.0)


def test_memory_does_not_grow_and_the_mean_stays() -> None:
    evidence = Evidence(RATE)
    rows = frames(50.0, 0.0, 5)
    for i in range(2 * MOST_CELLS * 2 + 500):
        evidence.hear(moment(i), LongFrame(0, rows[i % 100]))
    assert evidence.cells.shape[0] <= MOST_CELLS
    assert evidence.cell_s == 4.0
    # White noise has the same energy in every band width: the mean over cells is the mean over frames.
    mean = evidence.cells[:, 1:].mean(axis=0)
    direct = gathered(rows).cells[:, 1:].mean(axis=0)
    assert mean == pytest.approx(direct, rel=0.01)


def test_below_the_microphones_own_noise_nothing_is_claimed() -> None:
    floor = room()
    near = judged(gathered(frames(120.0, 0.0, 3)), floor=floor, self_noise_db=floor.levels.laeq_db - 1.0)
    assert any("below what this microphone can hear" in words for words in near.cannot_show)


def test_a_loud_calibrated_room_hides_too_much() -> None:
    floor = Floor(measure_levels((1e-3 * np.random.default_rng(1).standard_normal(60 * RATE)).astype(np.float32),
                                 RATE, 105.0), 60.0, 60.0)  # fmt: skip
    verdict = judged(gathered(frames(120.0, 0.0, 3)), floor=floor, offset_db=105.0)
    assert verdict.outcome == "not shown"
    assert any("the microphone is too noisy, or the room too loud" in why for why in verdict.why)


def test_a_low_tone_is_held_against_the_threshold_of_hearing() -> None:
    # 100 Hz, with the power of 100 bands of 1 Hz of the noise around it: not prominent (16.3 dB needed at 100 Hz).
    evidence = gathered(frames(120.0, 0.0, 3, tone_hz=100.0, tone_db=-20.0))
    offset = 26.5 - 10.0 + 80.0
    floor = Floor(measure_levels((1e-3 * np.random.default_rng(1).standard_normal(60 * RATE)).astype(np.float32),
                                 RATE, offset), 60.0, 60.0)  # fmt: skip
    verdict = judged(evidence, floor=floor, offset_db=offset)
    assert any("no prominent tone over the room" in words for words in verdict.rests_on)
    # ISO 389-7: 26.5 dB at 100 Hz.
    assert any("100 Hz comes nearest to being heard: 10 dB under" in words for words in verdict.rests_on)
    relative = judged(evidence)
    assert not any("nearest to being heard" in words for words in relative.rests_on)
    # What is handed on is on the scale of the verdict's other levels.
    assert verdict.tones[0].level_db == pytest.approx(relative.tones[0].level_db + offset)
    assert verdict.tones[0].level_db == pytest.approx(26.5 - 10.0, abs=1.0)


def test_more_listening_buys_two_more_rates() -> None:
    verdict = judged(gathered(frames(120.0, 0.0, 3)))
    # Rule of three with a recall of 60 %: 12 an hour need 2.9957 / 12 / 0.6 h = 25 min.
    assert "fewer than 12 an hour, listen 25 min unmasked in all (23 min more)" in verdict.further[0]
    assert "fewer than 3 an hour, listen 1.7 h" in verdict.further[1]
