"""A rehearsal as a listener and a keeper meet it."""

from __future__ import annotations

from dataclasses import replace
from itertools import islice

import numpy as np
import pytest

from tuner.capture.source import Source
from tuner.errors import ConfigError
from tuner.rehearsal.cases import draw_case
from tuner.rehearsal.draw import draw_installation
from tuner.rehearsal.hand import Hand
from tuner.rehearsal.rehearsal import Rehearsal
from tuner.rehearsal.source import RehearsalSource

RATE = 16_000


def level_db(samples: np.ndarray) -> float:
    return float(10.0 * np.log10(np.mean(samples.astype(float) ** 2)))


def rehearsal(seed: int = 1, **changes: object) -> Rehearsal:
    truth = draw_installation(np.random.default_rng(seed))
    return Rehearsal(truth, sample_rate=RATE, seed=seed, background_db=28.0, **changes)  # type: ignore[arg-type]


def test_the_same_seed_gives_the_same_samples_to_the_bit() -> None:
    first = draw_case("siphon over-closed", 4, sample_rate=RATE).listen(2.0)
    again = draw_case("siphon over-closed", 4, sample_rate=RATE).listen(2.0)
    assert first.dtype == np.float32
    assert first.size == 2 * RATE
    assert np.array_equal(first, again)
    assert not np.array_equal(first, draw_case("siphon over-closed", 5, sample_rate=RATE).listen(2.0))


def test_one_stream_whatever_lengths_are_asked_for() -> None:
    whole = draw_case("vent too wide", 2, sample_rate=RATE).listen(2.0)
    cut = draw_case("vent too wide", 2, sample_rate=RATE)
    parts = [cut.listen(s) for s in (0.3337, 0.01, 0.9, 0.0)]
    parts.append(cut.listen(2.0 - sum(p.size for p in parts) / RATE))
    assert np.abs(np.concatenate(parts) - whole).max() < 1e-6  # block convolution rounds differently


def test_samples_lie_within_full_scale() -> None:
    for seed in range(3):
        heard = draw_case("emergency carrying flow", seed, sample_rate=RATE).listen(1.0)
        assert np.abs(heard).max() <= 1.0


def test_a_case_is_louder_than_its_room_and_a_quiet_one_is_not() -> None:
    # The steady causes, whose sound fills any three seconds.
    for cause in ("emergency carrying flow", "siphon not purged"):
        made = draw_case(cause, 3, sample_rate=RATE)  # type: ignore[arg-type]
        assert level_db(made.listen(3.0)) > level_db(made.floor(3.0)) + 3.0
    calm = draw_case(None, 3, sample_rate=RATE)
    assert level_db(calm.listen(3.0)) < level_db(calm.floor(3.0)) + 3.0


def test_the_floor_is_heard_without_moving_the_water() -> None:
    made = rehearsal()
    before = made.truth
    made.floor(2.0)
    assert made.truth == before


def test_opening_the_valve_takes_water_from_the_channel() -> None:
    made = rehearsal()
    made.wait(300.0)
    before = made.truth
    done = made.move("siphon valve", -0.08 * before.setting)
    made.wait(300.0)
    after = made.truth
    assert done < 0.0
    assert after.setting == pytest.approx(before.setting + done)
    assert after.channel > before.channel * 1.1
    assert after.siphon < before.siphon


def test_the_tap_changes_the_vent_alone() -> None:
    made = rehearsal()
    before = made.truth.settings
    done = made.move("vent tap", -0.25)
    after = made.truth.settings
    turns = float(made.installation.plumbing.vent_tap_turns)
    assert after.vent == pytest.approx(before.vent + done / turns)
    assert done == pytest.approx(-0.25, abs=0.15)
    assert (after.valve, after.speeds) == (before.valve, before.speeds)


def test_a_pump_of_one_speed_does_not_change_it_and_a_variable_one_goes_by_its_steps() -> None:
    fixed = variable = False
    for seed in range(30):
        made = rehearsal(seed)
        step = made.rig.pumps[0].speed_step
        before = made.truth
        done = made.move("return pump", -10.0)
        if step == 0.0:
            assert done == 0.0
            fixed = True
        else:
            assert done == pytest.approx(-10.0)
            made.wait(30.0)
            assert made.truth.supply < before.supply
            variable = True
        if fixed and variable:
            return
    pytest.fail("both kinds of pump are drawn")


def test_controls_end_at_their_stops() -> None:
    made = rehearsal()
    made.move("siphon valve", 500.0)
    made.move("vent tap", -500.0)
    settings = made.truth.settings
    assert (settings.valve, settings.vent) == (1.0, 0.0)
    assert made.move("siphon valve", 1.0) == 0.0


def test_free_play_swallows_the_first_part_of_a_move_back() -> None:
    truth = draw_installation(np.random.default_rng(1))
    truth = replace(truth, plumbing=replace(truth.plumbing, valve_backlash=0.3, valve_kind="gate", valve_full=5.0))
    hand = Hand(truth, np.random.default_rng(0))
    settings, opened = hand.move(truth.settings, "siphon valve", 1.0)
    assert opened > 0.5
    settings, further = hand.move(settings, "siphon valve", 0.5)
    settings, back = hand.move(settings, "siphon valve", -0.5)
    assert further == pytest.approx(0.5, abs=0.15)
    assert back == pytest.approx(-0.2, abs=0.15)  # 0.5 less 0.3 of play


def test_a_power_cut_stops_the_water_and_a_restart_brings_it_back() -> None:
    made = rehearsal()
    made.wait(60.0)
    made.pumps(False)
    made.wait(300.0)
    stopped = made.truth
    assert stopped.supply == 0.0
    assert stopped.siphon < 1e-6
    made.pumps(True)
    made.wait(300.0)
    assert made.truth.is_quiet()


def test_time_passes_in_control_steps_and_no_part_of_it_is_lost() -> None:
    made = rehearsal()
    for _ in range(10):
        made.wait(0.03)
    assert made.truth.time_s == pytest.approx(0.3)


def test_the_household_is_heard_at_its_level() -> None:
    tone = np.sin(2 * np.pi * 1000.0 * np.arange(RATE) / RATE).astype(np.float32)
    made = rehearsal(household=tone, household_db=70.0)
    heard = made.listen(1.0)
    # 70 dB on a microphone whose own response is drawn: 0 dB at 1 kHz.
    assert level_db(heard) + made.full_scale_offset_db == pytest.approx(70.0, abs=2.0)


def test_the_source_gives_unbroken_blocks_of_a_tenth_of_a_second() -> None:
    with RehearsalSource(rehearsal()) as source:
        assert isinstance(source, Source)
        blocks = list(islice(source, 5))
    assert [b.start for b in blocks] == [0, 1600, 3200, 4800, 6400]
    assert all(b.samples.size == 1600 and b.sample_rate == RATE for b in blocks)


@pytest.mark.parametrize("rate", [8_000, 44_101, 96_000])
def test_a_sample_rate_out_of_range_is_refused(rate: int) -> None:
    truth = draw_installation(np.random.default_rng(1))
    with pytest.raises(ConfigError, match=f"sample_rate={rate} must be a multiple of 20 from 16000 to 48000"):
        Rehearsal(truth, sample_rate=rate, seed=1, background_db=28.0)


def test_nonsense_is_refused() -> None:
    made = rehearsal()
    with pytest.raises(ConfigError, match="seconds=-1"):
        made.listen(-1)
    with pytest.raises(ConfigError, match="amount=nan must be a finite"):
        made.move("siphon valve", float("nan"))
    with pytest.raises(ConfigError, match="control='tap' must be"):
        made.move("tap", 1.0)  # type: ignore[arg-type]
    with pytest.raises(ConfigError, match="household="):
        rehearsal(household=np.zeros(10, np.float32))
