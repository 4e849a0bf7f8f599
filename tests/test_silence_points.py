from __future__ import annotations

import pytest

from tuner.silence.judgement import Band, Kind, Limits, Verdict
from tuner.silence.points import Standing, points

LIMITS = Limits()  # 59 s, 3 dB(A), 4 dB in a band, two bouts


def verdict(
    clean_s: float = 100.0, low_db: float | None = -0.2, high_db: float | None = 0.4,
    bands: tuple[tuple[float, float], ...] = ((0.0, 1.0), (0.5, 2.0)), kinds: tuple[Kind, ...] = (),
) -> Verdict:
    drawn = tuple(Band(100.0 * (i + 1), 0.0, low, high, False, 20.0, 20.0) for i, (low, high) in enumerate(bands))
    return Verdict(
        "not shown", 0.95, clean_s, clean_s, 30.0, 0.1, low_db, high_db, drawn, kinds, (), 40.0, (), (), (), (), ()
    )


def standing(found: Verdict, name: str) -> Standing:
    return next(point.standing for point in points(found, LIMITS) if point.name == name)


@pytest.mark.parametrize(("name", "found", "stands"), [
    ("time", verdict(58.0), "open"), ("time", verdict(59.0), "holds"),
    ("level", verdict(low_db=None, high_db=None), "open"), ("level", verdict(high_db=3.0), "holds"),
    ("level", verdict(high_db=3.1), "open"), ("level", verdict(low_db=3.1, high_db=5.0), "fails"),
    ("bands", verdict(bands=()), "open"), ("bands", verdict(), "holds"),
    ("bands", verdict(bands=((0.0, 1.0), (1.0, 4.1))), "open"),
    ("bands", verdict(bands=((4.2, 4.9), (1.0, 6.0))), "fails"),
    ("sounds", verdict(), "holds"),
    ("sounds", verdict(kinds=(Kind("gurgle", 1, 0.01, 2.0, 30.0, 5.0),)), "open"),
    ("sounds", verdict(kinds=(Kind("gurgle", 2, 0.01, 2.0, 30.0, 5.0),)), "fails"),
    ("sounds", verdict(kinds=(Kind("trickle", 1, 0.5, 40.0, 30.0, 5.0),)), "fails"),
    ("sounds", verdict(kinds=(Kind("hum", 3, 0.5, 40.0, 30.0, 5.0),)), "holds"),  # judged as a tone
])
def test_a_point_stands_as_its_figures_do(name: str, found: Verdict, stands: Standing) -> None:
    assert standing(found, name) == stands


def test_the_words_hold_the_figures_and_the_limits() -> None:
    said = {point.name: point.words for point in points(verdict(clean_s=150.0), LIMITS)}
    assert said == {
        "time": "2.5 min undisturbed, 59 s are the least", "level": "at most 0.4 dB(A) over the room, 3 allowed",
        "bands": "worst 200 Hz: at most 2.0 dB over the room, 4 allowed",
        "sounds": "none of the plumbing, fewer than 40 an hour",
    }
