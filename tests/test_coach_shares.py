from __future__ import annotations

import pytest

from tuner.coach import wording
from tuner.coach.shares import SPLASHING, Word, believed, shifted
from tuner.terms import Cause

CAUSES = (Cause("weir drop", 0.6, ("splashes",)), Cause("siphon over-open", 0.2, ("gulps",)),
          Cause("siphon over-closed", 0.1, ("gurgles",)), Cause("outlet above water", 0.1, ("splashes",)))
EVEN = {"siphon over-open": 0.5, "siphon over-closed": 0.5}


@pytest.mark.parametrize("sunk", [0.0, 0.3, 0.9])
def test_what_splashes_is_the_box_that_sank_as_probably_as_the_belief_says(sunk: float) -> None:
    after = {c.name: c.probability for c in believed(CAUSES, Word(EVEN, 0.0, sunk))}  # type: ignore[arg-type]
    assert sum(after.values()) == pytest.approx(1.0)
    assert sum(after[name] for name in SPLASHING) == pytest.approx((1.0 - sunk) * 0.7)
    assert after["siphon over-closed"] / after["siphon over-open"] == pytest.approx(0.1 / (0.2 + 0.7 * sunk))


def test_a_cause_that_is_mostly_a_sunk_box_says_so() -> None:
    mostly = next(c for c in believed(CAUSES, Word(EVEN, 0.0, 0.9)) if c.name == "siphon over-open")  # type: ignore[arg-type]
    assert mostly.because == (wording.SUNK,)
    hardly = next(c for c in believed(CAUSES, Word(EVEN, 0.0, 0.1)) if c.name == "siphon over-open")  # type: ignore[arg-type]
    assert hardly.because == ("gulps",)


def test_shifting_keeps_the_sum_and_sorts() -> None:
    after = shifted(CAUSES, {"siphon over-closed": 5.0})
    assert sum(c.probability for c in after) == pytest.approx(1.0)
    assert after[0].name == "siphon over-closed"
