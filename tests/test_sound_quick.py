from __future__ import annotations

import numpy as np
import pytest

from tuner.sound.quick import QuickLevel

RATE = 48_000


@pytest.mark.parametrize(("hz", "gain_db"), [(1000.0, 0.0), (100.0, -19.1), (4000.0, 1.0)])
def test_a_tones_level_is_that_of_the_a_curve(hz: float, gain_db: float) -> None:
    # IEC 61672-1, table 3: the A-weighting at 100 Hz, 1 kHz and 4 kHz
    tone = 0.1 * np.sin(2 * np.pi * hz * np.arange(4800) / RATE)
    level = QuickLevel(RATE)(tone)
    assert level == pytest.approx(20 * np.log10(0.1 / np.sqrt(2)) + gain_db, abs=0.3)


def test_a_calibration_is_added_and_a_scrap_has_no_level() -> None:
    tone = 0.1 * np.sin(2 * np.pi * 1000 * np.arange(4800) / RATE)
    plain, lifted = QuickLevel(RATE), QuickLevel(RATE, 94.0)
    assert lifted(tone) - plain(tone) == pytest.approx(94.0)  # type: ignore[operator]
    assert plain(tone[:20]) is None
    assert plain(np.zeros(4800)) < -150.0  # type: ignore[operator]
