"""The page of ``listen`` in every state and size: what it shows, and what it leaves out first."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.test_screens_tunepage import SHOTS, SILENT
from tuner.screens.keybar import help_lines
from tuner.screens.letters import rows_of
from tuner.screens.listenpage import banner_of, listen_keys, listen_page, sounds_sheet, why_sheet
from tuner.screens.panels import Canvas
from tuner.screens.snapshot import Slice, Snapshot
from tuner.screens.theme import DARK
from tuner.sound.texture import THIRD_CENTRES_HZ

PAST = tuple(
    Slice(tuple(-70.0 - 5 * ((i + j) % 7) for j in range(len(THIRD_CENTRES_HZ))), ("gurgle",) if i % 9 else ())
    for i in range(90)
)
STATES = {
    name: replace(shot, title="listen", slices=PAST if name != "first" else (), bands_hz=THIRD_CENTRES_HZ)
    for name, shot in SHOTS.items() if name in ("listening", "first", "settling", "done")
}
SHOT = STATES["listening"]


def text_of(shot: Snapshot, width: int = 79, rows: int = 22, *, ascii_only: bool = False) -> str:
    return "\n".join(line.plain for line in listen_page(shot, Canvas(width, ascii_only), rows))


@pytest.mark.parametrize("name", STATES)
@pytest.mark.parametrize(("width", "rows"), [(79, 22), (119, 38), (39, 7), (199, 60), (29, 4), (10, 3), (1, 1)])
@pytest.mark.parametrize("shades", [(), DARK.shades])
def test_the_page_fits(name: str, width: int, rows: int, shades: tuple[str, ...]) -> None:
    lines = listen_page(STATES[name], Canvas(width, False, shades), rows)
    assert len(lines) <= rows
    if width >= 20:
        assert all(line.cell_len <= width for line in lines)


@pytest.mark.parametrize("name", STATES)
def test_the_page_can_do_with_ascii(name: str) -> None:
    assert text_of(STATES[name], ascii_only=True).isascii()


def test_at_80_by_24_there_are_the_word_the_level_the_picture_and_the_cause() -> None:
    text = text_of(SHOT)
    for row in rows_of("GURGLE"):
        assert row.replace("#", "██").replace(".", "  ").rstrip() in text
    for words in ("-47.2 dB(A) re full scale", "11.1 dB over the room", "trace", "2 kHz", "ago", "gurgle   ━",
                  "siphon over-closed, 83 % sure", "trains of large bubbles", "92 %"):
        assert words in text, words


def test_the_newest_tenth_of_a_second_stands_at_the_end_of_the_trace() -> None:
    quiet, loud = (text_of(replace(SHOT, now_db=now_db)).split("\n") for now_db in (-70.0, -20.0))
    changed = [n for n, (one, other) in enumerate(zip(quiet, loud, strict=True)) if one != other]
    row = next(n for n, line in enumerate(loud) if line.startswith("trace"))
    assert changed == [row, row + 1]
    assert loud[row][78] in "▄▅▆▇█"


def test_a_glimpse_is_shown_as_a_question_until_it_is_told() -> None:
    shot = replace(SHOT, heard=(("hum", 0.2),), glimpse=("trickle", 0.7), slices=())
    assert banner_of(shot)[0] == "TRICKLE?"
    assert "hears    trickle?" in text_of(shot)
    assert banner_of(replace(shot, heard=(("roar", 0.9),)))[0] == "ROAR"
    assert banner_of(replace(shot, glimpse=None))[0] != "TRICKLE?"


def test_a_small_window_keeps_the_word_the_level_and_the_cause() -> None:
    text = text_of(SHOT, 39, 7)
    assert "GURGLE\n" in text
    assert "-47.2 dB(A)" in text
    assert "siphon over-closed" in text
    assert "ago" not in text


def test_more_room_makes_a_larger_picture() -> None:
    high = []
    for rows in (22, 30, 40):
        text = text_of(SHOT, 99, rows).split("\n")
        first, last = (next(i for i, line in enumerate(text) if word in line) for word in ("trace", "s ago"))
        high.append(last - first)
    assert high[0] < high[1] < high[2]


def test_what_went_wrong_is_always_shown() -> None:
    for rows in (7, 22):
        assert "microphone lost" in text_of(STATES["settling"], rows=rows)


def test_hostile_names_are_shown_as_text() -> None:
    assert "[bold red]x[/] \\ <b>" in text_of(replace(SHOT, source="[bold red]x[/] \\ <b>"))


@pytest.mark.parametrize(("shot", "word"), [
    (SHOT, "GURGLE"),
    (replace(SHOT, heard=(("gurgle", 0.4),)), "GURGLE"),
    (replace(SHOT, heard=(("gurgle", 0.4),), slices=PAST + (Slice(),) * 6), "LISTEN"),
    (replace(SHOT, heard=(), slices=(), outside=0.8), "OUTSIDE"),
    (replace(SHOT, heard=(), slices=(), diagnosis=SILENT), "SILENT"),
    (replace(SHOT, heard=(("hum", 0.9),), diagnosis=SILENT), "HUM"),
    (STATES["first"], "LISTEN"),
])
def test_the_large_word(shot: Snapshot, word: str) -> None:
    assert banner_of(shot)[0] == word


def test_the_sheets_tell_more() -> None:
    canvas = Canvas(79, False)
    why = "\n".join(line.plain for line in why_sheet(SHOT, canvas))
    assert "siphon over-closed, 83 %" in why
    assert "no regular return" in why
    assert "unknown, 10 %" in why
    assert "not named yet" in why_sheet(STATES["first"], canvas)[0].plain
    assert "silent" in why_sheet(STATES["done"], canvas)[0].plain
    sounds = "\n".join(line.plain for line in sounds_sheet(SHOT, canvas))
    assert "00:15 to 00:16  splash" in sounds
    assert "none has ended yet" in sounds_sheet(STATES["first"], canvas)[0].plain


def test_every_key_is_explained() -> None:
    for held in (False, True):
        text = "\n".join(line.plain for line in help_lines(listen_keys(held), Canvas(79, False)))
        for key in listen_keys(held):
            assert key.meaning.split(";")[0] in " ".join(text.split())
