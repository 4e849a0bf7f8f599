"""``hushweir flow``: the page says what the water model says, at every size, with assumptions marked."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

import numpy as np
import pytest

from tests.desks import PaperDesk
from tuner.cli import main
from tuner.rigfile import load_rig
from tuner.screens.flowpage import band_text, digits_text, flood_line
from tuner.verbs.flow import SEED, run, survey
from tuner.water.band import Band
from tuner.water.controls import window_bands
from tuner.water.flood import flood_check

GATE = """\
name = "Kelpie"
[siphon]
inner_diameter = "26.6 mm"
drop = "900 mm"
[siphon.valve]
kind = "gate"
[channel]
crest_height = "160 mm"
[[pump]]
flow = "4200 L/h"
speed_step = "1 %"
"""


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "rig.toml"
    path.write_text(GATE)
    return path


def flow(path: Path, desk: PaperDesk, **options: bool) -> str:
    args = argparse.Namespace(file=path, **{"us": False, "all": False, "json": False, **options})
    assert run(args, desk.desk) == 0
    return desk.out


def test_the_first_screen_fits_a_small_terminal(file: Path) -> None:
    desk = PaperDesk(terminal=True, typed="q\n")
    flow(file, desk)
    assert len(desk.lines) <= 24
    assert all(len(line) <= 80 for line in desk.lines)
    assert "Enter: what floods" in desk.lines[-1]


def test_enter_shows_what_floods_and_a_pipe_is_not_asked(file: Path) -> None:
    asked = flow(file, PaperDesk(terminal=True, typed="\n"))
    piped = flow(file, PaperDesk())
    every = flow(file, PaperDesk(terminal=True), all=True)
    assert "Enter: what floods" not in piped + every
    for out in (asked, piped, every):
        assert "what floods" in out
        assert "local plumbing" in out.replace("\n         ", " ")
        assert "licensed trades" in out.replace("\n         ", " ")


def test_all_seven_failures_are_shown_with_verdict_numbers_and_mend(file: Path) -> None:
    out = flow(file, PaperDesk())
    check = flood_check(load_rig(file), np.random.default_rng(SEED))
    assert len(check.cases) == 7
    flat = " ".join(out.split())
    for number, case in enumerate(check.cases, 1):
        assert f"{number} {case.verdict.upper()}" in flat
        assert f": {case.name}" in flat
        assert case.says in flat
        for words in case.mend:
            assert words in flat


def test_the_page_says_what_the_water_model_says(file: Path) -> None:
    out = flow(file, PaperDesk())
    w = window_bands(load_rig(file), np.random.default_rng(SEED))
    assert w.setting_width is not None
    assert w.setting_mid is not None
    assert w.step_m3_s is not None
    assert f"wide     {band_text(w.setting_width, 'turn')}" in out
    assert f"near {digits_text(w.setting_mid.middle)}: {band_text(w.setting_mid, 'turn')} open" in out
    assert f"1/8 turn moves {w.step_m3_s.low * 3.6e6:.0f} to {w.step_m3_s.high * 3.6e6:.0f} L/h" in out
    assert "% of pump speed" in out
    assert "1 % pump moves" in out
    assert w.advice in " ".join(out.split())


def test_assumed_figures_are_marked(file: Path) -> None:
    out = flow(file, PaperDesk())
    assert "160 O crest" in out  # measured
    assert "200? E rim" in out
    assert "?        assumed (" in out
    dry = next(line for line in out.splitlines() if "dry emergency " in line and "L/h" in line)
    assert "L/h? " in dry
    assert "1 HOLDS?: pumps stop" in " ".join(out.split())
    assert "6 HOLDS: backup pump alone" in " ".join(out.split())


def test_us_units(file: Path) -> None:
    out = flow(file, PaperDesk(), us=True)
    assert "gph" in out
    assert "in box floor" in out
    assert "L/h" not in out
    assert " mm" not in out.partition("what floods")[0]


def test_a_ball_valve_is_told_in_degrees_with_its_present_setting(file: Path) -> None:
    file.write_text(GATE.replace('kind = "gate"', 'kind = "ball"\nsetting = 88'))
    out = flow(file, PaperDesk())
    assert "1 degree moves" in out
    assert "now      88 degrees: slurps" in out


def test_no_window_is_said(file: Path) -> None:
    file.write_text(GATE.replace("26.6 mm", "13 mm"))
    out = flow(file, PaperDesk())
    assert "none that is likely" in out
    assert "siphon" in out
    assert "TOO SMALL" in out


def test_colour_carries_no_meaning_and_ascii_will_do(file: Path) -> None:
    out = flow(file, PaperDesk(ascii_only=True))
    assert out.isascii()
    assert "DOES NOT HOLD" in out


@pytest.mark.parametrize("width", [40, 60, 80, 120])
def test_it_is_drawn_at_every_width(file: Path, width: int) -> None:
    desk = PaperDesk(width=width)
    flow(file, desk)
    assert max(len(line) for line in desk.lines) <= max(width, 50)
    assert "quiet window" in desk.out


def test_json(file: Path) -> None:
    found = json.loads(flow(file, PaperDesk(), json=True))
    assert found["schema"] == 1
    assert found["rig"] == "Kelpie"
    assert "siphon.run_m" in found["assumed"]
    assert {part["part"] for part in found["parts"]} >= {"siphon", "open channel", "emergency pipe", "weir"}
    assert found["window"]["setting_mid"]["low"] < found["window"]["setting_mid"]["high"]
    assert len(found["flood"]["cases"]) == 7
    assert found["water"]["level_m"]["middle"] == pytest.approx(0.166, abs=0.02)


def test_the_same_file_gives_the_same_page(file: Path) -> None:
    assert flow(file, PaperDesk()) == flow(file, PaperDesk())


def test_the_line_about_floods_names_what_does_not_hold(file: Path) -> None:
    check = survey(load_rig(file), "", us=False).flood
    line = flood_line(check)
    assert line.startswith(f"{sum(c.verdict.startswith('holds') for c in check.cases)} of 7 hold; DOES NOT HOLD: 4 ")


def test_bands_read_as_people_say_them() -> None:
    assert band_text(Band(0.2, 0.3, 0.4), "turn") == "0.20 to 0.40 turn"
    assert band_text(Band(1.06, 2.0, 3.06), "turn") == "1.1 to 3.1 turns"
    assert band_text(Band(2.0, 2.0, 2.0), "degree") == "2.0 degrees"
    assert band_text(None, "degree") == "cannot tell"


@pytest.mark.parametrize("words", [
    ["flow", "nowhere.toml"], ["rig", "check", "nowhere.toml"], ["rig", "fit", "nowhere.toml", "--just-slurps-at", "2"],
])
def test_a_file_that_is_not_there_is_one_line_and_exit_code_2(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path, words: list[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(words) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err == "hushweir: rig file nowhere.toml does not exist: write one with 'hushweir rig new nowhere.toml'\n"


@pytest.mark.parametrize("words", [["flow"], ["rig", "fit"], ["rig", "new"], ["rig", "check"]])
def test_every_verb_explains_itself(capsys: pytest.CaptureFixture[str], words: list[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main([*words, "--help"])
    assert ended.value.code == 0
    out = capsys.readouterr().out
    assert out.startswith(f"usage: hushweir {' '.join(words)}")
    assert "FILE" in out
