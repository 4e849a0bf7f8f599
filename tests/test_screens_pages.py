from __future__ import annotations

import io
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from rich.console import Console

from tests.spoken import LEVELS, NOISY, QUESTION, SILENT, SOUNDS, STEP
from tuner.coach import Summary
from tuner.logbook.rows import Gap, KeptCause, KeptDiagnosis, KeptLook, KeptMove, KeptReading, KeptSound, Note, Session
from tuner.screens.analysis import AnalysisPage, Findings
from tuner.screens.lines import LineScreen, StoryScreen
from tuner.screens.logpages import LogList, SessionPage
from tuner.screens.snapshot import MoveLine, Snapshot
from tuner.screens.summaries import ListenSummary, TuneSummary

SHOT = Snapshot(
    title="tune Kelpie", source="a microphone", phase="listening", elapsed_s=134.0, calibrated=False, session=17,
    left_s=14.0, level_db=-47.2, trace_db=tuple(float(-60 + i % 9) for i in range(100)), floor_db=-58.3,
    heard=(("gurgle", 0.92), ("trickle", 0.14), ("hum", 0.03)), outside=0.02, sounds=SOUNDS, sound_count=2, window=1,
    diagnosis=NOISY, moves=tuple(MoveLine(STEP, 0.25, -44.0, -47.0, "3.0 dB quieter") for _ in range(9)),
    keys=" Enter done   q quit",
)


def console(width: int = 80, height: int = 24, encoding: str = "utf-8", terminal: bool = False) -> Console:
    stream = io.TextIOWrapper(io.BytesIO(), encoding=encoding, errors="strict", newline="")
    return Console(file=stream, width=width, height=height, force_terminal=terminal, highlight=False, markup=False,
                   color_system=None)


def text_of(on: Console) -> str:
    stream = on.file
    stream.flush()
    return stream.buffer.getvalue().decode(stream.encoding)  # type: ignore[attr-defined, no-any-return]


def test_lines_are_printed_once_a_second_and_events_once() -> None:
    on = console()
    screen = LineScreen(on)
    for told_s in (1.0, 1.5, 2.0, 2.5):
        screen.show(replace(SHOT, elapsed_s=told_s + 1.0, told_s=told_s, window=0, sounds=(), sound_count=0))
    screen.show(replace(SHOT, elapsed_s=3.6, told_s=2.5, window=0, notice="microphone lost"))
    screen.show(replace(SHOT, elapsed_s=3.7, told_s=2.5, window=1, notice="microphone lost"))
    lines = text_of(on).splitlines()
    assert [line[:5] for line in lines if "re full scale" in line] == ["00:01", "00:02"]
    assert sum("microphone lost" in line for line in lines) == 1
    assert sum(line.startswith("sound ") for line in lines) == 2
    assert sum("siphon over-closed" in line for line in lines) == 1


def test_a_story_tells_the_verdict_the_move_and_the_result_in_order() -> None:
    on = console(encoding="ascii")
    screen = StoryScreen(on)
    moves = (MoveLine(STEP, 0.125, -44.0),)
    screen.show(replace(SHOT, window=0, moves=()))
    screen.show(replace(SHOT, window=1, moves=()))
    for _ in range(3):
        screen.show(replace(SHOT, window=1, phase="move", step=STEP, moves=()))
    screen.show(replace(SHOT, window=1, phase="settling", moves=moves))
    screen.show(replace(SHOT, window=1, moves=moves))
    screen.show(replace(SHOT, window=2, diagnosis=SILENT, moves=(replace(moves[0], seen="5.0 dB quieter"),)))
    text = text_of(on)
    assert text.isascii()
    wanted = ["listening for 14 s", "siphon over-closed", "open the siphon valve by 1/8 turn", "#####", "why", "done",
              "settles", "listening", "5.0 dB quieter", "silent"]
    at = -1
    for words in wanted:
        at = text.find(words, at + 1)
        assert at >= 0, words
    assert text.count("the gurgle fades") == 1


def test_why_it_listens_on_is_said_once() -> None:
    on = console()
    screen = StoryScreen(on)
    on_step = replace(STEP, amount=0.0, wait_s=0.0, why="A slow cycle may return.")
    for window in (1, 2, 3):
        screen.show(replace(SHOT, window=window, diagnosis=SILENT, moves=(), step=on_step))
    screen.show(replace(SHOT, window=3, diagnosis=SILENT, moves=(), step=replace(on_step, why="Too brief.")))
    text = text_of(on)
    assert text.count("A slow cycle may return.") == 1
    assert text.count("Too brief.") == 1


def test_a_silence_that_goes_on_takes_a_line_a_window() -> None:
    on = console()
    screen = StoryScreen(on)
    moves = (MoveLine(STEP, 0.125, -44.0, -47.0, "3.0 dB quieter"),)
    for window in (1, 2, 3):
        screen.show(replace(SHOT, window=window, diagnosis=SILENT, moves=moves))
    text = text_of(on)
    assert text.count("verdict ") == 1
    assert text.count("still ") == 2
    assert text.count("result ") == 1
    screen.show(replace(SHOT, window=4, diagnosis=NOISY, moves=moves))
    screen.show(replace(SHOT, window=5, diagnosis=SILENT, moves=moves))
    assert text_of(on).count("verdict ") == 2


@pytest.mark.parametrize("encoding", ["utf-8", "ascii"])
def test_an_analysis_page(encoding: str) -> None:
    on = console(encoding=encoding)
    notes = ("it breaks off",)
    on.print(AnalysisPage(Findings("a.wav", 20.0, 48_000, -58.0, NOISY, SOUNDS, STEP, QUESTION, "", notes)))
    text = text_of(on)
    for words in ("a.wav", "siphon over-closed, 83 %", "no regular return", "gurgle", "open the siphon valve by 1/8",
                  "wait 45 s", "it breaks off", QUESTION.text, "--rig FILE", "unknown"):
        assert words in text
    assert max(map(len, text.splitlines())) <= 80


def test_a_tuning_ends_with_before_and_after() -> None:
    on = console()
    quieter = replace(SILENT, reading=replace(SILENT.reading, levels=replace(LEVELS, laeq_db=-57.5)))
    on.print(TuneSummary(Summary(True, 3, (), "It is silent and parked.", 0.04, 0.05), NOISY, quieter,
                         (MoveLine(STEP, 0.125, -44.0),) * 3, False, -58.3, 17, Path("/tmp/logbook.sqlite")))
    text = text_of(on)
    for words in ("before", "after", "10.5 dB quieter after 3 moves", "It is silent and parked.", "session 17"):
        assert words in text


def test_a_listening_ends_with_its_verdicts() -> None:
    on = console()
    on.print(ListenSummary((NOISY, NOISY, SILENT), 90.0, False, -58.3, 1, 17, Path("/tmp/logbook.sqlite")))
    text = text_of(on)
    for words in ("1 min 30 s, 1 sound", "siphon over-closed in 2", "silent in 1", "session 17"):
        assert words in text


def test_the_log_lists_and_shows_sessions() -> None:
    started = datetime(2026, 3, 1, 18, 30, tzinfo=UTC)
    session = Session(3, "tune", "Kelpie", "a microphone", 48_000, False, started, None, "", 80, 1, 2, 1, False, -44.9,
                      "siphon over-closed")
    on = console()
    on.print(LogList((session,), Path("/tmp/logbook.sqlite")))
    text = text_of(on)
    for words in ("tune", "-44.9", "siphon over-closed", "1 session in"):
        assert words in text
    wide = console(120)
    wide.print(LogList((session,), Path("/tmp/logbook.sqlite")))
    assert "2 moves, 1 gap, cut off" in text_of(wide)
    page = SessionPage(
        session,
        tuple(KeptReading(i, 40.0 + i % 5, (30.0,), {}, 0.0, 0, 0) for i in range(200)),
        (KeptDiagnosis(20.0, 20.0, False, 9.0, LEVELS, (KeptCause("siphon over-closed", 0.8, ("bubbles",)),)),
         KeptDiagnosis(80.0, 20.0, True, 0.0, LEVELS, ())),
        (KeptMove(20.0, "siphon valve", 0.125, "turn", 45.0, "why so", "it fades", 0.25, 22.0, "2.0 dB quieter"),
         KeptMove(80.0, "vent tap", -0.5, "turn", 45.0, "why so", "", None, None, "")),
        (KeptLook(21.0, "bubbles", "Do bubbles come?", None),),
        (KeptSound("gurgle", 1.0, 4.0, None, 0.9),) * 25,
        (Gap(30.0, 2.5, "microphone back"),),
        (Note(started, "after the new pump"),),
    )
    on = console()
    on.print(page)
    text = text_of(on)
    for words in ("siphon valve +1/8 turn, done: +1/4 turn", "2.0 dB quieter", "vent tap -1/2 turn, not answered",
                  "cannot say", "microphone back, 2 s missing", "after the new pump", "and 5 more", "cut off"):
        assert words in text
