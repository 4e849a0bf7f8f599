"""The pages of ``confirm`` and ``restart`` in every state and size."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.test_screens_tunepage import SHOTS
from tests.test_silence_points import LIMITS, verdict
from tuner.screens.confirmpage import ConfirmShot, Stretch, banner_of, confirm_keys, confirm_page, why_sheet
from tuner.screens.letters import rows_of
from tuner.screens.panels import Canvas
from tuner.screens.restartpage import RestartShot, caution_sheet, restart_keys, restart_page
from tuner.screens.restartpage import banner_of as restart_banner
from tuner.silence.points import points
from tuner.silence.restart import Expectation, Start

INSTRUMENTS = replace(SHOTS["listening"], title="confirm", elapsed_s=312.0, heard=(("gurgle", 0.1),), outside=0.02)
SO_FAR = replace(
    verdict(), why=("too short: 20 s of at least 59 s unmasked", "the microphone was never tried"),
    further=("to claim fewer than 12 an hour, listen 26 min unmasked in all",), rests_on=("5.2 min unmasked",),
    cannot_show=("anything below the microphone's own noise",), heard_s=312.0, clean_s=300.0,
)
CONFIRMING = {
    "first": ConfirmShot(replace(SHOTS["first"], title="confirm"), 900.0),
    "listening": ConfirmShot(INSTRUMENTS, 900.0, SO_FAR, points(SO_FAR, LIMITS)),
    "disturbed": ConfirmShot(
        replace(INSTRUMENTS, outside=0.9), 900.0, SO_FAR, points(SO_FAR, LIMITS), True,
        (Stretch(62.0, 70.5, "other sound"), Stretch(300.0, 312.0, "other sound")),
    ),
    "audible": ConfirmShot(
        INSTRUMENTS, 900.0, replace(SO_FAR, outcome="audible", heard=("gurgle, 3 bouts, 9 s in all",)),
        points(SO_FAR, LIMITS),
    ),
    "silent": ConfirmShot(INSTRUMENTS, 900.0, replace(SO_FAR, outcome="silent", why=()), points(SO_FAR, LIMITS)),
}
CONFIRMING["done"] = replace(CONFIRMING["silent"], shot=replace(INSTRUMENTS, phase="done"))
FOUND = Start(2.0, 19.0, 28.0, 41.0, 0.0, 101.0)
EXPECTED = Expectation(13.0, 26.0, 52.0)
CAUTIONS = ("stay at the pump's switch all the time", "the emergency pipe must be free")
READY = RestartShot(
    replace(INSTRUMENTS, title="restart"), "ready", 1, 3, 4.0, 30.0, expected=EXPECTED, earlier_s=(25.0, 27.0),
    cautions=CAUTIONS,
)
STARTING = {
    "ready": READY, "off": replace(READY, stage="off", lasts_s=60.0),
    "called": replace(READY, stage="on", lasts_s=300.0),
    "on": replace(READY, stage="on", stage_s=100.0, lasts_s=300.0, start=FOUND, number=2, starts=(FOUND,)),
    "done": replace(READY, stage="done", starts=(FOUND, FOUND, FOUND), findings=("it restarts by itself",),
                    restarts=True),
    "failed": replace(READY, stage="done", starts=(Start(2.0, None, None, None, 0.0, 300.0),), restarts=False,
                      findings=("start 1: the siphon did not catch by itself",)),
    "left": replace(READY, stage="done", findings=("nothing was heard to the end",)),
}


def is_big(words: str, text: str) -> bool:
    """Whether words stand in large letters, which are twice as wide where there is room."""
    rows = [rows_of(words)[0].replace("#", "█" * n).replace(".", " " * n).rstrip() for n in (1, 2)]
    return any(row in text.split("\n") for row in rows)


def confirm_text(name: str, width: int = 79, rows: int = 22, *, ascii_only: bool = False) -> str:
    return "\n".join(line.plain for line in confirm_page(CONFIRMING[name], Canvas(width, ascii_only), rows))


def restart_text(name: str, width: int = 79, rows: int = 22, *, ascii_only: bool = False) -> str:
    return "\n".join(line.plain for line in restart_page(STARTING[name], Canvas(width, ascii_only), rows))


@pytest.mark.parametrize(("width", "rows"), [(79, 22), (119, 38), (39, 7), (199, 60), (29, 4), (10, 3), (1, 1)])
def test_the_pages_fit(width: int, rows: int) -> None:
    pages = [confirm_page(state, Canvas(width, False), rows) for state in CONFIRMING.values()]
    pages += [restart_page(state, Canvas(width, False), rows) for state in STARTING.values()]
    for lines in pages:
        assert len(lines) <= rows
        if width >= 20:
            assert all(line.cell_len <= width for line in lines)


def test_the_pages_can_do_with_ascii() -> None:
    assert all(confirm_text(name, ascii_only=True).isascii() for name in CONFIRMING)
    assert all(restart_text(name, ascii_only=True).isascii() for name in STARTING)


@pytest.mark.parametrize(("name", "words"), [
    ("first", "LISTENING"), ("listening", "LISTENING"), ("disturbed", "DISTURBED"), ("audible", "AUDIBLE"),
    ("silent", "SILENT SO FAR"), ("done", "SILENT"),
])
def test_the_outcome_so_far_stands_in_large_letters(name: str, words: str) -> None:
    assert banner_of(CONFIRMING[name])[0] == words
    assert is_big(words, confirm_text(name))


def test_at_80_by_24_it_tells_what_is_established_how_long_it_takes_and_what_disturbs() -> None:
    text = confirm_text("disturbed")
    for words in ("5 min 12 s of 15 min, 9 min 48 s left", "12 s covered by other sound do not count", "90 % likely",
                  "✓ time   holds", "at most 0.4 dB(A) over the room", "missing  too short"):
        assert words in text, words
    assert "audible  gurgle, 3 bouts" in confirm_text("audible")


def test_a_small_window_keeps_the_word_and_the_time() -> None:
    text = confirm_text("silent", 39, 7)
    assert "SILENT SO FAR" in text
    assert "9 min 48 s left of 15 min" in text
    assert "PUMPS OFF" in restart_text("off", 39, 7)


def test_more_room_tells_how_long_is_left_in_large_letters_too() -> None:
    text = confirm_text("listening", 119, 38)
    assert is_big("LISTENING", text)
    assert is_big("9 MIN 48 S LEFT", text)


def test_the_reasons_have_a_sheet() -> None:
    text = "\n".join(line.plain for line in why_sheet(CONFIRMING["disturbed"], Canvas(79, False)))
    for words in ("never tried", "5.2 min unmasked", "own noise", "12 an hour", "01:02 to 01:10  other sound"):
        assert words in text, words
    assert "nothing is established yet" in "".join(
        line.plain for line in why_sheet(CONFIRMING["first"], Canvas(79, False))
    )


@pytest.mark.parametrize(("name", "words"), [
    ("ready", ("STAND BY", "26")), ("off", ("PUMPS OFF", "56")), ("called", ("PUMPS ON", "NOW")),
    ("on", ("QUIET", "01:40")), ("done", ("RESTARTS",)), ("failed", ("NOT SHOWN",)), ("left", ("STOPPED", "PUMPS ON?")),
])
def test_what_to_switch_stands_in_large_letters(name: str, words: tuple[str, ...]) -> None:
    assert restart_banner(STARTING[name]) == words
    assert is_big(words[0], restart_text(name)) or is_big(" ".join(words), restart_text(name))


def test_a_siphon_that_has_caught_is_not_yet_quiet() -> None:
    caught = replace(STARTING["on"], start=replace(FOUND, quiet_s=None))
    assert restart_banner(caught)[0] == "CAUGHT"
    assert restart_banner(replace(caught, start=None))[0] == "LISTENING"


def test_the_restart_tells_its_phases_its_starts_and_what_to_expect() -> None:
    text = restart_text("on")
    for words in ("switch the pumps ON", "1 min 40 s of 5 min", "start 2 of 3", "00:19 to 00:28    air is driven out",
                  "start 1  caught after 28 s, quiet after 41 s", "after 13 to 52 s", "after 25, 27 s"):
        assert words in text, words
    assert "stay at the pump's switch" in restart_text("ready")
    assert "stay at the pump's switch" in "".join(x.plain for x in caution_sheet(STARTING["on"], Canvas(79, False)))
    assert "says     it restarts by itself" in restart_text("done")


def test_keys_work_where_they_can() -> None:
    works = {name: {key.name for key in confirm_keys(state) if key.works} for name, state in CONFIRMING.items()}
    assert works["listening"] == {"w", "n"}
    assert works["done"] == {"enter", "w"}
    begins = {name for name, state in STARTING.items() for k in restart_keys(state) if k.name == "enter" and k.works}
    assert begins == {"ready", "done", "failed", "left"}
