"""The picture of the last seconds: where a tone and a moment lie in it, its scale, and that it always fits."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.text import Text

from tuner.screens.panels import LABEL_COLUMNS, Canvas
from tuner.screens.snapshot import Slice
from tuner.screens.spectrogram import lanes, spectrogram
from tuner.screens.theme import DARK
from tuner.sound.texture import THIRD_CENTRES_HZ
from tuner.sound.weighting import a_weighting_db
from tuner.terms import SOUND_KINDS

HZ = THIRD_CENTRES_HZ
QUIET = Slice((-110.0,) * len(HZ))
ASCII, PLAIN, COLOURED = Canvas(49, True), Canvas(49, False), Canvas(49, False, DARK.shades)
ROOM_DB = -60.0
COLUMNS = 49 - LABEL_COLUMNS


def tone(hz: float) -> Slice:
    """Return a tone that is heard at -30 dB(A)."""
    nearest = min(range(len(HZ)), key=lambda i: abs(np.log(HZ[i] / hz)))
    level_db = -30.0 - float(a_weighting_db(HZ[nearest]))
    return Slice(tuple(level_db if i == nearest else -110.0 for i in range(len(HZ))), ("hum",))


def rows_of(lines: list[Text]) -> list[str]:
    return [line.plain[LABEL_COLUMNS:] for line in lines[:-1]]


def loudest(line: Text) -> bool:
    return any(DARK.shades[-1] in str(span.style) for span in line.spans)


@pytest.mark.parametrize("canvas", [ASCII, PLAIN, COLOURED])
@pytest.mark.parametrize(("hz", "mark"), [(125.0, "125 Hz"), (500.0, "500 Hz"), (2000.0, "2 kHz"), (8000.0, "8 kHz")])
def test_a_tone_lies_beside_its_mark(canvas: Canvas, hz: float, mark: str) -> None:
    lines = spectrogram([tone(hz)] * COLUMNS, HZ, canvas, 30)
    row = next(i for i, line in enumerate(lines) if line.plain.startswith(f"{mark:>{LABEL_COLUMNS - 1}}"))
    if canvas is COLOURED:
        found = [i for i, line in enumerate(lines[:-1]) if loudest(line)]
    else:
        found = [i for i, text in enumerate(rows_of(lines)) if "@" in text or "█" in text]
    assert row in found
    assert len(found) <= 2  # a band may fill two rows where there are more rows than bands


def test_the_newest_is_at_the_right_and_the_old_leaves() -> None:
    rows = rows_of(spectrogram([tone(1000.0)] * 5 + [QUIET] * 30 + [tone(1000.0)] * 5, HZ, ASCII, 10, floor_db=ROOM_DB))
    line = next(text for text in rows if "@" in text)
    assert line == "@" * 5 + " " * 30 + "@" * 5
    rows = rows_of(spectrogram([tone(1000.0)] * 5 + [QUIET] * COLUMNS, HZ, ASCII, 10, floor_db=ROOM_DB))
    assert not any("@" in text for text in rows)


def test_a_short_past_stands_at_the_right() -> None:
    rows = rows_of(spectrogram([tone(1000.0)] * 3, HZ, ASCII, 10))
    assert max(rows) == " " * (COLUMNS - 3) + "@@@"


def test_a_tone_is_not_thinned_out_in_a_small_picture() -> None:
    rows = rows_of(spectrogram([tone(1000.0)] * COLUMNS, HZ, ASCII, 3))
    assert any(text == "@" * COLUMNS for text in rows)


def test_lost_sound_leaves_a_gap() -> None:
    rows = rows_of(spectrogram([Slice(tuple(-50.0 for _ in HZ))] * 5 + [Slice()] + [tone(1000.0)] * 5, HZ, ASCII, 10))
    assert all(text[COLUMNS - 6] == " " for text in rows)
    lines = spectrogram([tone(1000.0)] * 5 + [Slice()] + [tone(1000.0)] * 5, HZ, COLOURED, 10)
    assert all(line.plain[LABEL_COLUMNS + COLUMNS - 6] == " " for line in lines[:-1])


def test_a_quiet_room_that_is_known_stays_dark() -> None:
    rng = np.random.default_rng(3)
    room = [Slice(tuple(float(x) for x in rng.normal(-75.0, 1.0, len(HZ)))) for _ in range(COLUMNS)]
    known = "".join(rows_of(spectrogram(room, HZ, ASCII, 12, floor_db=-62.0)))
    unknown = "".join(rows_of(spectrogram(room, HZ, ASCII, 12)))
    assert known.count(" ") > 2 * unknown.count(" ")
    assert not set(known) & set("+*#%@")


def test_levels_are_weighted_as_the_ear_hears() -> None:
    even = Slice(tuple(-50.0 for _ in HZ))
    rows = rows_of(spectrogram([even] * COLUMNS, HZ, ASCII, 30))
    strength = [" .:-=+*#%@".index(text[-1]) for text in rows]
    assert strength[-1] < strength[len(rows) // 2]  # 50 Hz lies 30 dB under 1 kHz (IEC 61672-1)


def test_the_axis_tells_the_time_and_the_scale() -> None:
    axis = spectrogram([tone(1000.0)] * COLUMNS, HZ, PLAIN, 8)[-1].plain
    assert axis.split()[:3] == ["20", "s", "ago"]
    assert axis.endswith("now")
    assert "dB(A) re full scale" not in axis  # at 49 columns there is no room for the scale
    wide = Canvas(79, False)
    assert "dB(A) re full scale" in spectrogram([tone(1000.0)], HZ, wide, 8)[-1].plain
    calibrated = spectrogram([tone(1000.0)], HZ, wide, 8, calibrated=True)[-1].plain
    assert "dB(A)  " in calibrated


@given(
    columns=st.integers(1, 160), rows=st.integers(1, 40), ascii_only=st.booleans(), shaded=st.booleans(),
    seed=st.integers(0, 99), count=st.integers(0, 30), floor_db=st.one_of(st.none(), st.floats(-100, 60)),
)
def test_any_past_fits_any_canvas(
    columns: int, rows: int, ascii_only: bool, shaded: bool, seed: int, count: int, floor_db: float | None
) -> None:
    canvas = Canvas(columns, ascii_only, DARK.shades if shaded else ())
    rng = np.random.default_rng(seed)
    levels = np.where(rng.random((count, len(HZ))) < 0.1, -np.inf, rng.uniform(-150.0, 50.0, (count, len(HZ))))
    slices = [Slice(() if rng.random() < 0.2 else tuple(bands), SOUND_KINDS[: rng.integers(4)]) for bands in levels]
    width = max(columns, LABEL_COLUMNS + 1)
    lines = spectrogram(slices, HZ, canvas, rows, floor_db=floor_db)
    assert len(lines) == max(2, rows)
    for line in (*lines, *lanes(slices, canvas, 3)):
        assert line.cell_len == width
        assert line.plain.isascii() or not ascii_only


def test_nothing_heard_yet_is_an_empty_picture() -> None:
    lines = spectrogram((), (), COLOURED, 6)
    assert len(lines) == 6
    assert not any(text.strip() for text in rows_of(lines))


def test_lanes_name_what_was_heard_longest_first() -> None:
    past = [Slice(kinds=("gurgle",))] * 10 + [Slice(kinds=("gurgle", "hum"))] * 4 + [Slice()] * 6
    lines = [line.plain for line in lanes(past, ASCII, 3)]
    assert [line.split()[0] for line in lines] == ["gurgle", "hum"]
    assert lines[0].endswith("=" * 14 + "." * 6)
    assert lines[1].endswith("." * 10 + "=" * 4 + "." * 6)
    assert len(lanes(past, ASCII, 1)) == 1
    assert lanes([QUIET], ASCII, 3) == []
