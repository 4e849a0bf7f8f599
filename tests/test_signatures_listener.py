"""The listener: one path for streams and windows, gaps that part, and honest refusals."""

from __future__ import annotations

import numpy as np
import pytest

from tuner.errors import ConfigError
from tuner.rehearsal.voices import draw_room, make_voice
from tuner.signatures.ears import LOOK_S
from tuner.signatures.listener import Listener, measure_floor, read_window
from tuner.signatures.model import AHEAD
from tuner.signatures.reading import _lasting
from tuner.terms import SOUND_KINDS, SoundKind

RATE = 16000


def voice(kind: SoundKind, seconds: float, seed: int, floor: float = 1e-4) -> np.ndarray:
    rng = np.random.default_rng(seed)
    dry = make_voice(kind, sample_rate=RATE, rng=rng).render(np.ones(round(seconds / 0.05)))
    made = draw_room(rng, RATE).place(dry)
    return (made / np.abs(made).max() * 0.3 + floor * rng.normal(size=made.size)).astype(np.float32)


def test_stream_and_window_agree() -> None:
    samples = voice("gurgle", 6.0, 1)
    listener = Listener(RATE)
    sounds = [s for start in range(0, samples.size, 1234) for s in listener.feed(samples[start : start + 1234])]
    sounds += listener.flush()
    reading = listener.reading()
    whole = read_window(samples, RATE)
    assert reading == whole
    assert sorted(sounds, key=lambda s: (s.start_s, s.kind)) == list(whole.sounds)
    assert len(listener.moments()) == 11


@pytest.mark.parametrize("kind", ["gurgle", "trickle", "hiss", "roar", "splash"])
def test_a_plain_voice_is_heard_as_what_it_is(kind: SoundKind) -> None:
    reading = read_window(voice(kind, 8.0, 3), RATE)
    best = max(reading.heard, key=lambda h: h.probability)
    assert best.kind == kind
    assert best.share > 0.5


def test_noise_of_a_quiet_room_holds_no_plumbing() -> None:
    rng = np.random.default_rng(5)
    brown = np.cumsum(rng.normal(size=10 * RATE))
    room = brown - np.convolve(brown, np.ones(400) / 400, "same")
    reading = read_window((room / np.abs(room).max() * 0.01).astype(np.float32), RATE)
    assert all(h.share < 0.2 for h in reading.heard)


def test_a_glance_between_two_moments_changes_nothing() -> None:
    samples = voice("trickle", 4.0, 2)
    asked, never = Listener(RATE), Listener(RATE)
    seen: list[tuple[int, float | None]] = []
    for number, start in enumerate(range(0, samples.size, RATE // 10), 1):
        block = samples[start : start + RATE // 10]
        asked.feed(block)
        never.feed(block)
        glance = asked.glance()
        seen.append((number, None if glance is None else glance["trickle"]))
    assert asked.moments() == never.moments()
    assert asked.reading() == never.reading()
    told = [number for number, share in seen if share is None]
    # A tenth of a second is heard once the first samples after it are there; the first look ends with the tenth.
    assert told == [*range(1, 11)]
    later = [share for number, share in seen if share is not None and number > 30]
    assert min(later) > 0.5


def test_a_glance_agrees_with_the_moment_that_follows_a_slab_later() -> None:
    samples = voice("trickle", 6.0, 2)
    listener, told = Listener(RATE), Listener(RATE)
    listener.feed(samples[: round(3.45 * RATE)])
    told.feed(samples[: round((3.55 + AHEAD * LOOK_S) * RATE)])
    glance, moment = listener.glance(), told.moments()[-1]
    assert glance is not None
    assert moment.end_s == pytest.approx(3.5)
    assert glance["trickle"] == pytest.approx(moment.probability["trickle"], abs=0.3)


def test_a_reading_under_way_is_that_of_a_stream_that_ends_there() -> None:
    samples = voice("trickle", 4.0, 2)
    going, ended = Listener(RATE), Listener(RATE)
    # a whole number of slabs, with the samples that the last one waits for
    going.feed(samples[: round(3.55 * RATE)])
    before = going.reading()
    ended.feed(samples[: round(3.55 * RATE)])
    ended.flush()
    assert before.sounds == ended.reading().sounds
    assert before.heard == ended.reading().heard
    going.feed(samples[round(3.55 * RATE) :])
    going.flush()
    assert going.reading() == read_window(samples, RATE)


def test_a_gap_ends_sounds_and_is_counted() -> None:
    listener = Listener(RATE)
    samples = voice("trickle", 5.0, 2)
    listener.feed(samples)
    ended = listener.gap(RATE * 3)
    assert any(s.kind == "trickle" for s in ended)
    listener.feed(samples)
    listener.flush()
    reading = listener.reading()
    assert reading.dropped == 3 * RATE
    assert reading.duration_s == pytest.approx(13.0)
    trickles = [s for s in reading.sounds if s.kind == "trickle"]
    assert len(trickles) >= 2
    assert trickles[-1].start_s > 8.0


def test_too_short_and_dead_inputs_are_refused() -> None:
    with pytest.raises(ConfigError, match="listen longer"):
        read_window(np.full(RATE // 2, 0.1, dtype=np.float32), RATE)
    with pytest.raises(ConfigError, match="digital silence"):
        read_window(np.zeros(5 * RATE, dtype=np.float32), RATE)
    with pytest.raises(ConfigError, match="finite"):
        read_window(np.full(5 * RATE, np.nan, dtype=np.float32), RATE)


def test_floor_leaves_out_a_disturbance() -> None:
    rng = np.random.default_rng(8)
    room = 1e-3 * rng.normal(size=20 * RATE)
    clean = measure_floor(room.astype(np.float32), RATE)
    room[8 * RATE : 10 * RATE] += 0.2 * rng.normal(size=2 * RATE)
    floor = measure_floor(room.astype(np.float32), RATE)
    assert floor.clean_s == pytest.approx(18.0, abs=0.6)
    assert floor.duration_s == pytest.approx(20.0)
    assert floor.levels.laeq_db == pytest.approx(clean.levels.laeq_db, abs=0.3)


def test_excess_over_a_floor() -> None:
    rng = np.random.default_rng(9)
    floor = measure_floor((1e-3 * rng.normal(size=10 * RATE)).astype(np.float32), RATE)
    reading = read_window((1e-2 * rng.normal(size=10 * RATE)).astype(np.float32), RATE, floor)
    assert reading.excess_db == pytest.approx(20.0, abs=0.3)


def test_calibration_shifts_every_level_alike() -> None:
    samples = voice("trickle", 5.0, 4)
    plain, shifted = read_window(samples, RATE), read_window(samples, RATE, offset_db=94.0)
    assert shifted.levels.laeq_db == pytest.approx(plain.levels.laeq_db + 94.0)
    assert shifted.levels.calibrated
    assert not plain.levels.calibrated
    assert [s.level_db for s in shifted.sounds] == pytest.approx([s.level_db + 94.0 for s in plain.sounds])


def test_moments_carry_every_kind() -> None:
    listener = Listener(RATE)
    listener.feed(voice("hiss", 4.0, 6))
    moments = listener.moments()
    assert set(moments[-1].probability) == set(SOUND_KINDS)
    assert listener.moments() == ()


def test_lasting_counts_the_fifths_in_which_a_kind_is_heard() -> None:
    probability = np.repeat([0.9, 0.0, 0.0, 0.9, 0.05], 4)
    assert _lasting(probability, probability > 0.5) == pytest.approx(0.4)
