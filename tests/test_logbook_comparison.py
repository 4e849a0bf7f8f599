from __future__ import annotations

from dataclasses import asdict, replace
from datetime import timedelta

import numpy as np
import pytest

from tests.comparisons import BANDS_HZ, START, a_session, a_side, gulps, seconds_of_levels
from tuner.logbook.comparable import doubts, obstacles
from tuner.logbook.comparison import Comparison, compare
from tuner.logbook.plainly import sentence
from tuner.logbook.rows import KeptCause, KeptDiagnosis, KeptFloor
from tuner.logbook.side import Part, Side, stretch_of
from tuner.terms import SOUND_KINDS, Floor, Levels

SLURP = SOUND_KINDS.index("slurp")


def compared(before: Side, after: Side, **kept: object) -> Comparison:
    return compare(before, after, rng=np.random.default_rng(1), **kept)  # type: ignore[arg-type]


def diagnosis(name: str, share: float, end_s: float = 30.0) -> KeptDiagnosis:
    levels = Levels(40.0, 42.0, 39.0, 37.0, 47.0, (), ())
    return KeptDiagnosis(end_s, 30.0, False, None, levels, (KeptCause(name, share, ()),))


def test_the_sentence_says_level_and_sounds_first() -> None:
    before = a_side(46.0, 240, sounds=(*gulps("slurp", 20, 240), *gulps("trickle", 24, 240)), number=1)
    after = a_side(40.0, 300, seed=2, sounds=gulps("trickle", 24, 300), number=2)
    found = compared(before, after)
    assert found.level is not None
    assert found.level.change_db == pytest.approx(-6.0, abs=0.7)
    assert found.level.low_db < found.level.change_db < found.level.high_db < 0
    said = sentence(found)
    assert said.startswith(f"quieter by {-found.level.change_db:.1f} dB(A), 95 % sure of at least")
    assert said.endswith("; the slurp is gone; a faint trickle remains")


def test_bands_are_named_and_bounded() -> None:
    found = compared(a_side(46.0, number=1), a_side(40.0, seed=2, number=2))
    assert [band.hz for band in found.bands] == [100, 125, 160, 200, 250, 315, 400, 500, 630, 800, 1000]
    assert all(b.low_db < b.change_db < b.high_db and b.before_db - b.after_db > 5.0 for b in found.bands)


def test_a_change_that_chance_can_make_is_not_claimed() -> None:
    found = compared(a_side(40.0, number=1), a_side(40.05, seed=2, number=2))
    assert sentence(found).startswith("no change of level can be shown: ")


@pytest.mark.parametrize(("changed", "matter", "words"), [
    ({"device": "another one"}, "microphone", "another microphone: 'a microphone' before, 'another one' after"),
    ({"place": "bedroom"}, "place", "another place: 'sofa' before, 'bedroom' after"),
    ({"gain": "20 dB"}, "gain", "another gain: '10 dB' and '20 dB'"),
    ({"calibrated": False, "offset_db": None}, "calibration", "calibrated before, not calibrated after"),
])
def test_what_cannot_be_compared_is_refused(changed: dict[str, object], matter: str, words: str) -> None:
    before = a_side(46.0, 240, number=1, gain="10 dB", sounds=gulps("slurp", 20, 240))
    after = a_side(40.0, 300, number=2, **({"gain": "10 dB"} | changed))
    (found,) = obstacles(before, after)
    assert found.matter == matter
    assert words in found.words
    whole = compared(before, after)
    assert (whole.level, whole.bands, whole.basis) == (None, (), None)
    # What needs no common scale is said all the same.
    assert sentence(whole).startswith("levels cannot be compared (")
    assert sentence(whole).endswith("; the slurp is gone")


def test_the_keepers_word_overrides_names_but_no_calibration() -> None:
    before = a_side(46.0, number=1)
    assert obstacles(before, a_side(40.0, number=2, device="x", place="y"), same_setup=True) == ()
    (left,) = obstacles(before, a_side(40.0, number=2, device="x", calibrated=False), same_setup=True)
    assert left.matter == "calibration"


def test_too_short_a_time_is_an_obstacle() -> None:
    (found,) = obstacles(a_side(46.0, number=1), a_side(40.0, 30, number=2, outside=range(20)))
    assert found.words == "only 10 undisturbed seconds after: at least 16 are needed"


def test_two_calibrations_widen_the_bounds() -> None:
    before, after = a_side(46.0, number=1), a_side(40.0, seed=2, number=2)
    apart = a_side(40.0, seed=2, number=2, offset_db=93.0)
    same, other = compared(before, after).level, compared(before, apart).level
    assert same is not None
    assert other is not None
    # 0.5 dB on each side, independent: 0.707 dB added in squares.
    assert other.high_db - other.change_db == pytest.approx(np.hypot(same.high_db - same.change_db, 0.7071), abs=1e-3)


def test_several_sessions_count_one_by_one() -> None:
    def group(level_db: float, first: int) -> Side:
        sides = [a_side(level_db + shift, 60, seed=first + i, number=first + i)
                 for i, shift in enumerate((-1.0, 0.0, 1.0))]
        return Side("three", tuple(side.stretches[0] for side in sides))

    found = compared(group(46.0, 1), group(40.0, 11))
    assert found.basis == "sessions"
    assert found.level is not None
    # t(4) = 2.132 at 95 % one-sided; spread about 1 dB in threes: 2.132 * sqrt(2/3) = 1.74 dB.
    assert found.level.high_db - found.level.change_db == pytest.approx(1.74, abs=0.5)
    assert "hold for these sessions alone" in " ".join(
        compared(Side("two", group(46.0, 1).stretches[:2]), a_side(40.0, number=9)).doubts
    )


def test_masked_and_mute_seconds_do_not_count() -> None:
    levels = np.full(100, 40.0)
    levels[50:60] = np.nan
    stretch = stretch_of(
        Part(a_session(seconds=100), 10.0, 90.0), seconds_of_levels(levels, outside=range(20, 30)), (), ()
    )
    assert (stretch.heard_s, stretch.mute_s, stretch.clean_s) == (80, 10, 60)
    assert stretch.power[:, 0] == pytest.approx(1e4)
    assert "no sound at all: microphone muted?" in " ".join(doubts(Side("", (stretch,)), Side("", (stretch,))))


def test_a_session_that_logs_no_sounds_is_heard_by_its_seconds() -> None:
    seconds = seconds_of_levels(np.full(100, 40.0), heard={"slurp": (10, 11, 12, 40)})
    confirmed = stretch_of(Part(a_session(seconds=100, verb="confirm"), 0.0, 100.0), seconds, (), ())
    # A lone second is taken for a false alarm.
    assert np.flatnonzero(confirmed.sounding[:, SLURP]).tolist() == [10, 11, 12]
    listened = stretch_of(Part(a_session(seconds=100), 0.0, 100.0), seconds, gulps("slurp", 50, 100), ())
    assert np.flatnonzero(listened.sounding[:, SLURP]).tolist() == [5, 6, 7, 55, 56, 57]


def test_causes_are_weighed_by_their_windows() -> None:
    before = a_side(46.0, 60, number=1, diagnoses=(diagnosis("pump hum", 0.8), diagnosis("unknown", 0.6, 60.0)))
    after = a_side(40.0, 60, number=2, diagnoses=(diagnosis("unknown", 0.5),))
    shares = {c.name: (c.before, c.after) for c in compared(before, after).causes}
    assert shares == {"pump hum": (pytest.approx(0.4), 0.0), "unknown": (pytest.approx(0.3), 0.5)}


def test_other_rates_are_compared_by_what_both_hear() -> None:
    before = a_side(46.0, number=1)
    low = seconds_of_levels(np.full(120, 40.0), bands_hz=BANDS_HZ[:5])
    session = a_session(2, sample_rate_hz=16_000)
    after = Side("", (stretch_of(Part(session, 0.0, 120.0), low, (), ()),))
    found = compared(before, after)
    assert [band.hz for band in found.bands] == [100, 125, 160, 200, 250]
    assert found.level is not None
    assert found.level.change_db == pytest.approx(-6.0, abs=0.7)
    assert "sampled at 16000 and 48000 Hz" in " ".join(found.doubts)


def room(level_db: float) -> KeptFloor:
    return KeptFloor(1, START, "a microphone", 48_000, "sofa", Floor(
        Levels(level_db, level_db, level_db, level_db, level_db, (), (), True), 30.0, 30.0
    ))


def test_a_level_near_the_room_and_another_room_are_doubted() -> None:
    before, after = a_side(46.0, number=1), a_side(40.0, number=2)
    before = replace(before, stretches=(replace(before.stretches[0], floor=room(35.0)),))
    after = replace(after, stretches=(replace(after.stretches[0], floor=room(39.0)),))
    said = " | ".join(doubts(before, after))
    assert "the room itself, pumps off, was 4.0 dB(A) louder after" in said
    assert "after the change it is mostly the room that is heard" in said


def test_the_same_seed_gives_the_same_comparison_and_sides_turn_the_sign() -> None:
    before, after = a_side(46.0, number=1), a_side(40.0, seed=2, number=2)
    assert asdict(compared(before, after)) == asdict(compared(before, after))
    there, back = compared(before, after).level, compared(after, before).level
    assert there is not None
    assert back is not None
    assert there.change_db == pytest.approx(-back.change_db)
    assert compared(after, before).before.began - compared(before, after).before.began == timedelta(days=1)
