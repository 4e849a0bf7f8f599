from __future__ import annotations

import pytest
import scipy.stats

from tests.comparisons import a_side, gulps
from tuner.logbook.plainly import sound_words
from tuner.logbook.soundchange import SoundChange, sound_changes
from tuner.terms import SoundKind


def changed(before_every: int, before_s: int, after_every: int, after_s: int, kind: SoundKind = "slurp",
            length_s: int = 3) -> SoundChange:
    sides = (
        a_side(45.0, n, sounds=gulps(kind, every, n, length_s) if every else (), number=i)
        for i, (every, n) in enumerate(((before_every, before_s), (after_every, after_s)))
    )
    (found,) = sound_changes(*sides, 0.95)
    return found


def test_rates_are_bouts_an_hour_with_exact_limits() -> None:
    found = changed(30, 360, 0, 240)
    # 12 bouts in a tenth of an hour; 95 % limits of 12: 6.2006 and 20.9616, from chi-squared tables.
    assert found.before.bouts == 12
    assert found.before.per_hour == pytest.approx(120.0)
    assert (found.before.low_per_hour, found.before.high_per_hour) == pytest.approx((62.006, 209.616), abs=1e-2)
    # No bout: two-sided 95 % upper limit 3.6889.
    assert found.after.high_per_hour == pytest.approx(3.6889 * 15.0, abs=1e-2)
    assert found.fate == "gone"


def test_the_ratio_follows_the_exact_binomial_test() -> None:
    found = changed(20, 400, 60, 600)
    outside = scipy.stats.binomtest(found.after.bouts, found.after.bouts + found.before.bouts).proportion_ci(0.95)
    scale = found.before.clean_s / found.after.clean_s
    assert found.ratio_low == pytest.approx(scale * outside.low / (1 - outside.low))
    assert found.ratio_high == pytest.approx(scale * outside.high / (1 - outside.high))
    assert found.ratio == pytest.approx(found.after.per_hour / found.before.per_hour)
    assert sound_words([found]) == "the slurp is heard less, 60 times an hour instead of 180"


def test_gulps_close_to_each_other_are_one_bout() -> None:
    assert changed(8, 60, 0, 600).before.bouts == 1
    assert changed(30, 60, 0, 600).before.bouts == 2


def test_too_short_a_silence_is_not_called_gone() -> None:
    found = changed(60, 120, 0, 60)
    assert found.fate == "not heard again"
    assert sound_words([found]) == "the slurp was not heard again, in a time too short to be sure"


def test_a_sound_without_a_pause_is_judged_by_its_half_minutes() -> None:
    # One bout against none proves nothing; ten half minutes against none do.
    found = changed(1, 300, 0, 300, kind="hiss", length_s=299 - 5)
    assert (found.before.bouts, found.after.bouts) == (1, 0)
    assert (found.before.spells_heard, found.after.spells_heard) == (10, 0)
    assert found.fate == "gone"


def test_new_sounds_are_named_with_their_weight() -> None:
    found = changed(0, 300, 20, 300)
    assert (found.fate, found.ratio) == ("new", None)
    assert sound_words([found]) == "a faint slurp is new"
    assert changed(0, 60, 200, 300).fate == "heard for the first time"


def test_a_sound_that_stays_remains() -> None:
    assert changed(30, 300, 30, 360).fate == "remains"
