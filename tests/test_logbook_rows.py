from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tuner.errors import LogbookError
from tuner.logbook import rows
from tuner.terms import SOUND_KINDS, Levels


@given(st.lists(st.floats(-200.0, 200.0), max_size=40))
def test_levels_come_back_to_a_hundredth_of_a_decibel(levels: list[float]) -> None:
    back = rows.unpack_db(rows.pack_db(levels))
    assert len(back) == len(levels)
    assert all(abs(a - b) <= 0.005 + 1e-9 for a, b in zip(back, levels, strict=True))


def test_a_level_costs_two_bytes() -> None:
    assert len(rows.pack_db([40.0] * 31)) == 62


@pytest.mark.parametrize("odd", [-math.inf, math.inf, math.nan, 1e6, -1e6])
def test_what_is_no_level_is_kept_as_no_level(odd: float) -> None:
    assert rows.unpack_db(rows.pack_db([30.0, odd])) == (30.0, -math.inf)


@given(st.dictionaries(st.sampled_from(SOUND_KINDS), st.floats(0.0, 1.0)))
def test_probabilities_come_back_in_whole_percent(probability: dict[str, float]) -> None:
    back = rows.unpack_shares(rows.pack_shares(probability, SOUND_KINDS), SOUND_KINDS)
    assert set(back) <= set(probability)
    assert all(abs(back.get(kind, 0.0) - p) <= 0.005 + 1e-9 for kind, p in probability.items())


def test_times_are_kept_in_utc() -> None:
    berlin = timezone(timedelta(hours=2))
    assert rows.utc_text(datetime(2026, 7, 1, 20, 0, 0, 250_000, tzinfo=berlin)) == "2026-07-01T18:00:00.250Z"
    assert rows.utc_of("2026-07-01T18:00:00.250Z") == datetime(2026, 7, 1, 18, 0, 0, 250_000, tzinfo=UTC)


def test_a_clock_without_a_time_zone_is_refused() -> None:
    with pytest.raises(LogbookError, match="must carry a time zone"):
        rows.utc_text(datetime(2026, 7, 1))


def test_level_statistics_come_back_as_they_were() -> None:
    levels = Levels(31.5, 33.0, 31.0, 30.2, 38.25, (100.0, 125.9), (20.0, -math.inf), calibrated=True)
    assert rows.levels_of(rows.levels_text(levels)) == levels
