"""Verdicts over sampled margins."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tuner.rig import Rig
from tuner.water.band import Band
from tuner.water.verdict import VERDICTS, Number, judge, number, to_measure, worst_of

SPREAD = np.linspace(-0.05, 0.05, 1001)


@pytest.mark.parametrize(
    ("middle", "assumed", "verdict"),
    [
        (0.10, False, "holds"), (0.055, False, "holds narrowly"), (0.02, False, "cannot tell"),
        (-0.02, True, "cannot tell"), (-0.02, False, "does not hold"), (-0.10, True, "does not hold"),
    ],
)
def test_verdict_by_the_share_of_draws(middle: float, assumed: bool, verdict: str) -> None:
    found, share = judge(middle + SPREAD, 0.010, assumed, None)
    assert found == verdict
    assert share == pytest.approx(np.mean(middle + SPREAD > 0))


def test_a_hope_that_a_pipe_primes_is_not_a_proof() -> None:
    assert judge(-0.2 + SPREAD, 0.01, False, None, 0.2 + SPREAD)[0] == "cannot tell"
    assert judge(-0.2 + SPREAD, 0.01, False, None, -0.1 + SPREAD)[0] == "does not hold"


def test_weights_count() -> None:
    assert judge(SPREAD, 0.001, False, (SPREAD > 0.01).astype(float))[0] == "holds"


def test_the_worst_counts() -> None:
    assert worst_of(["holds", "holds"]) == "holds"
    assert worst_of(VERDICTS) == "does not hold"


def test_numbers_in_both_systems_of_units() -> None:
    volume = Number("free", Band(0.018, 0.02, 0.025), "m3")
    assert volume.text() == "18 L to 25 L"
    assert volume.text(us=True) == "4.76 gal to 6.6 gal"
    assert Number("flow", Band(1e-4, 1e-4, 1e-4), "m3/s").text() == "360 L/h"
    assert Number("time", Band(2.0, 3.0, 4.0), "s").text() == "2 s to 4 s"
    assert Number("share", Band(0.1, 0.2, 0.3), "").text() == "0.1 to 0.3"


def test_a_number_without_a_finite_draw_is_nan() -> None:
    assert np.isnan(number("none", [np.nan, np.inf], "m", None).band.middle)
    assert number("one", 0.5, "m", np.ones(4)).band == Band(0.5, 0.5, 0.5)


def test_only_what_was_assumed_is_to_be_measured() -> None:
    rig = replace(Rig(), assumed=frozenset({"sump.rim_m", "tank.length_m"}))
    wanted = to_measure(rig, ("sump.rim_m", "sump.level_m", "tank.length_m"), 5)
    assert wanted == (
        "sump.rim: height of the sump rim above its floor", "tank.length: inside length of the display tank",
    )
    assert len(to_measure(rig, ("sump.rim_m", "tank.length_m"), 1)) == 1
