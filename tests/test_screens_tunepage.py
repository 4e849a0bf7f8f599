"""The page of ``tune`` at many sizes, and every one of its keys by textual's pilot."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import replace

import pytest
from textual.pilot import Pilot

from tests.spoken import NOISY, QUESTION, SILENT, SOUNDS, STEP
from tuner.coach import Summary
from tuner.coach.gauge import Gauge
from tuner.coach.guide import Advice
from tuner.screens.box import BoxHeights, Mark
from tuner.screens.chart import chart
from tuner.screens.full.app import ALWAYS, FullScreen, Play, page_text
from tuner.screens.full.dialogs import Ask, Sheet
from tuner.screens.gaugeline import gauge_lines, gauge_scale
from tuner.screens.keybar import Key, help_lines
from tuner.screens.letters import BigWords
from tuner.screens.meters import LOUD_STYLE
from tuner.screens.panels import Canvas
from tuner.screens.snapshot import MoveLine, Snapshot
from tuner.screens.theme import Look
from tuner.screens.tunepage import box_sheet, tune_keys, tune_page, why_sheet

GAUGE = Gauge(-0.1, 0.6, 1.3, 0.12, 0.62, 0.26, 0.161, 0.166, 0.172, 0.160, 0.174)
BOX = BoxHeights(
    depth=Mark(0.3, "box rim"), weir=Mark(0.25, "weir edge"), rim=Mark(0.2, "E rim"), crest=Mark(0.16, "O crest"),
    mouth=Mark(0.1, "O mouth"), inlet=Mark(0.05, "S inlet"), level_low_m=0.161, level_high_m=0.172, tank_m=0.265,
)
SHOT = Snapshot(
    title="tune Kelpie", source="a microphone", phase="listening", elapsed_s=134.0, calibrated=False, session=17,
    left_s=14.0, level_db=-47.2, trace_db=tuple(float(-60 + i % 9) for i in range(100)), floor_db=-58.3, now_db=-46.0,
    heard=(("gurgle", 0.92), ("trickle", 0.14), ("hum", 0.03)), outside=0.02, window=1, sounds=SOUNDS, sound_count=2,
    diagnosis=NOISY, gauge=GAUGE,
    box=BOX, moves=tuple(MoveLine(STEP, 0.25, -44.0, -47.0, "3.0 dB quieter") for _ in range(9)),
)
MOVE = replace(SHOT, phase="move", step=STEP, left_s=None, advice=Advice("better", "a little more", False, -2.3))
SHOTS = {
    "listening": SHOT,
    "first": replace(
        SHOT, diagnosis=None, level_db=None, now_db=None, trace_db=(), heard=(), moves=(), floor_db=None, gauge=None,
        box=None, sounds=(), sound_count=0,
    ),
    "move": MOVE,
    "pump": replace(MOVE, step=replace(STEP, control="return pump", amount=-5.0, unit="percent")),
    "hand": replace(MOVE, step=replace(STEP, amount=0.0, why="Clean the impeller. " * 12), advice=None),
    "stop": replace(MOVE, advice=Advice("worse", "stop: now it roars", True, 4.0)),
    "question": replace(SHOT, phase="question", question=QUESTION),
    "settling": replace(SHOT, phase="settling", left_s=41.0, notice="microphone lost"),
    "paused": replace(SHOT, is_paused=True),
    "done": replace(
        SHOT, phase="done", diagnosis=SILENT, left_s=None, summary=Summary(True, 9, (), "It is silent.", 0.04, 0.05)
    ),
}


def drawn(shot: Snapshot, width: int = 79, rows: int = 22, ascii_only: bool = False) -> str:
    return "\n".join(line.plain for line in tune_page(shot, Canvas(width, ascii_only), rows))


@pytest.mark.parametrize("name", SHOTS)
@pytest.mark.parametrize(("width", "rows"), [(79, 22), (119, 39), (39, 7), (239, 60), (29, 4), (117, 18)])
def test_a_page_fits_its_room(name: str, width: int, rows: int) -> None:
    lines = drawn(SHOTS[name], width, rows).split("\n")
    assert len(lines) <= rows
    assert max(map(len, lines)) <= width
    assert lines[0].startswith(" hushweir ")


def test_the_answers_to_a_question_stand_at_their_keys_and_none_is_called_done() -> None:
    keys = tune_keys(SHOTS["question"])
    assert [(k.sign, k.word) for k in keys[: len(QUESTION.choices)]] == [
        (str(n), choice) for n, choice in enumerate(QUESTION.choices, 1)
    ]
    words = [key.word for key in keys]
    assert "cannot say" in words
    assert "done" not in words


@pytest.mark.parametrize("name", SHOTS)
@pytest.mark.parametrize("width", [79, 139])
def test_a_page_can_do_with_ascii(name: str, width: int) -> None:
    text = drawn(SHOTS[name], width, 40, ascii_only=True)
    assert [c for c in text if not c.isascii()] == []


@pytest.mark.parametrize(("name", "words"), [
    ("move", ("why", STEP.expect, "better (-2.3 dB): a little more")), ("stop", ("stop: now it roars", "worse")),
    ("listening", ("gurgles", "62 % inside", "water", "O crest", "siphon over-closed, 83 %")),
    ("settling", ("microphone lost", "settles", "in 41 s", "O crest")), ("done", ("4 % less and 5 % more", "silent")),
    ("question", (QUESTION.text,)), ("hand", ("Clean the impeller",)),
])
def test_what_counts_stands_on_a_common_terminal(name: str, words: tuple[str, ...]) -> None:
    text = " ".join(drawn(SHOTS[name]).split())
    for word in words:
        assert word in text, f"{word!r} is not in\n{drawn(SHOTS[name])}"


@pytest.mark.parametrize(("name", "words"), [
    ("move", ("OPEN SIPHON", "1/8 TURN")), ("stop", ("STOP",)), ("settling", ("WAIT 41",)), ("paused", ("PAUSED",)),
    ("done", ("SILENT",)), ("question", ("LOOK",)),
])
def test_the_next_thing_stands_in_large_letters(name: str, words: tuple[str, ...]) -> None:
    text = drawn(SHOTS[name], ascii_only=True)
    for word in words:
        for row in BigWords((word,)).rendered(79, True):
            assert row.plain in text


@pytest.mark.parametrize(("change_db", "shown"), [
    (-2.3, "better (-2.3 dB): a"), (1.2, "better: a"), (None, "better: a"),
])
def test_a_level_that_would_contradict_the_trend_is_left_out(change_db: float | None, shown: str) -> None:
    advice = Advice("better", "a little more, up to 1/8 turn", False, change_db)
    assert shown in drawn(replace(SHOTS["move"], advice=advice))


def test_a_small_window_still_says_what_to_do() -> None:
    text = drawn(SHOTS["move"], 39, 7)
    assert "OPEN SIPHON" in text
    assert "1/8 TURN" in text


def test_a_job_by_hand_says_what_to_do_in_a_small_window_too() -> None:
    assert "Clean the impeller" in drawn(SHOTS["hand"], 39, 7)
    long = replace(SHOTS["hand"], step=replace(SHOTS["hand"].step, why="Clean the impeller. " * 20))  # type: ignore[type-var]
    assert drawn(long, 39, 7).count("Clean") >= 3
    assert len(drawn(long, 39, 7).split("\n")) <= 7


def test_a_wide_page_shows_the_box_while_a_move_is_asked_for() -> None:
    assert "O crest" in drawn(SHOTS["move"], 119, 38)
    assert "O crest" not in drawn(SHOTS["move"], 79, 22)


def test_a_high_page_tells_what_was_expected_of_each_move_and_why_it_is_silent_or_not() -> None:
    low, high = drawn(SHOTS["settling"], 119, 24), drawn(SHOTS["settling"], 119, 60)
    assert "expected: " not in low
    assert "expected: " in high
    assert "because" in high
    rises = [max(i for i, line in enumerate(text.split("\n")) if "▁" in line or "█" in line) for text in (low, high)]
    assert rises[1] > rises[0]


def test_only_what_stands_over_the_room_is_drawn_as_loud() -> None:
    styles = [{str(span.style) for span in line.spans if line.plain[span.start] != " "}
              for levels in ([30.0, 30.5], [30.0, 45.0]) for line in chart(levels, 30.0, 2, 4, False)[-1:]]
    assert LOUD_STYLE not in styles[0]
    assert LOUD_STYLE in styles[1]


def test_the_scale_shows_edges_band_and_middle() -> None:
    line = gauge_scale(GAUGE, 41, True).plain
    assert len(line) == 41
    assert line.index("=") < line.index("[") < line.index("@") < line.index("]") < line.rindex("=")
    beyond = gauge_scale(replace(GAUGE, place_low=-9.0, place=-5.0, place_high=9.0), 41, True).plain
    assert beyond[0] == "@"
    assert len(beyond) == 41
    assert "quiet 160-174 mm" in " ".join(line.plain.strip() for line in gauge_lines(GAUGE, Canvas(60, True)))


def test_the_trace_shows_the_rooms_floor_and_the_newest_level_at_the_right() -> None:
    lines = [line.plain for line in chart([30.0, 30.0, 50.0], 40.0, 10, 4, True)]
    assert {len(line) for line in lines} == {10}
    assert sum(line[-1] == "#" for line in lines) > sum(line[-2] == "#" for line in lines)
    assert any("-" in line for line in lines)
    assert [line.plain for line in chart([], None, 5, 2, True)] == [" " * 5] * 2


def test_sheets_tell_all_causes_and_moves() -> None:
    text = " ".join(" ".join(line.plain for line in why_sheet(SHOTS["move"], Canvas(79, False))).split())
    for words in ("unknown, 10 %", "no regular return", "move 9", "expected", "seen", "3.0 dB quieter"):
        assert words in text
    assert "O crest" in " ".join(line.plain for line in box_sheet(SHOT, Canvas(79, False)))
    assert "nothing is known" in box_sheet(SHOTS["first"], Canvas(79, False))[0].plain


async def until(pilot: Pilot[None], true: Callable[[], bool]) -> None:
    for _ in range(1000):
        if true():
            return
        await pilot.pause(0.01)
    raise AssertionError("it did not come about")


async def use(app: FullScreen[Snapshot], pilot: Pilot[None], name: str, sign: str, mouse: bool) -> None:
    if not mouse:
        await pilot.press(name)
        return
    rows = page_text(app).split("\n")
    row = next(i for i, line in enumerate(rows) if f" {sign}  " in line and i >= len(rows) - 3)
    await pilot.click("Page", offset=(rows[row].index(f" {sign}  ") + 1, row))


async def answer(app: FullScreen[Snapshot], pilot: Pilot[None], key: Key) -> None:
    """Leave the sheet that a key opened, or type what it asks for."""
    if key.name in ("w", "b", "h"):
        await until(pilot, lambda: isinstance(app.screen, Sheet))
        await pilot.press("escape")
        await until(pilot, lambda: not isinstance(app.screen, Sheet))
    elif key.asks:
        await until(pilot, lambda: isinstance(app.screen, Ask))
        await pilot.press("1", "enter")
        await until(pilot, lambda: not isinstance(app.screen, Ask))


@pytest.mark.parametrize("mouse", [False, True])
def test_every_key_of_the_help_does_what_it_says(mouse: bool) -> None:
    """One run presses them all, by key or by clicking on their words, and then their other keys."""
    pressed: list[tuple[str, str]] = []

    def press(name: str, words: str) -> str:
        pressed.append((name, words))
        return ""

    app: FullScreen[Snapshot] = FullScreen(Play(tune_page, tune_keys, press, {"w": why_sheet, "b": box_sheet}), Look())

    async def act() -> None:
        async with app.run_test(size=(80, 24)) as pilot:
            app.show(MOVE)
            await until(pilot, lambda: "Enter" in page_text(app))
            for key in (*tune_keys(MOVE), *ALWAYS):
                others = () if mouse else tuple(n for n in key.also if n != "ctrl+c")
                for name in (key.name, *others):
                    pressed.clear()
                    await use(app, pilot, name, key.sign, mouse)
                    await answer(app, pilot, key)
                    wanted = "1" if key.asks else ""
                    quiet = key.name in ("w", "b", "h", "t")
                    assert pressed == ([] if quiet else [(key.name, wanted)]), name

    asyncio.run(act())
    text = "\n".join(line.plain for line in help_lines((*tune_keys(MOVE), *ALWAYS), Canvas(78, False)))
    for key in (*tune_keys(MOVE), *ALWAYS):
        assert key.meaning.split()[-1] in text


def test_keys_that_do_nothing_now_are_marked_so() -> None:
    works = {key.name: key.works for key in tune_keys(SHOTS["listening"])}
    assert not works["enter"]
    assert not works["plus"]
    assert works["u"]
    assert {key.name for key in tune_keys(SHOTS["question"])} >= {"1", "2"}
    assert {key.word for key in tune_keys(SHOTS["paused"])} >= {"go on"}
