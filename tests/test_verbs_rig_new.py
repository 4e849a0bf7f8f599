"""``hushweir rig new``: the interview, from a pipe and at a terminal; nothing answered is ever lost."""

from __future__ import annotations

import argparse
from pathlib import Path

import pytest

from tests.desks import Keys, PaperDesk
from tuner.errors import ConfigError
from tuner.rig import Rig, measures, walk
from tuner.rigfile import load_rig
from tuner.screens.tapedrawings import DRAWINGS
from tuner.screens.tapes import tape_drawing
from tuner.verbs.rig_effects import changes, lines_of
from tuner.verbs.rig_new import run
from tuner.verbs.rig_questions import COMMON, GROUPS

ESSENTIALS = ["mm", "Reef", "26.6", "900 mm", "gate", "5", "4200", "3 m", "1"]


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "my-rig.toml"


def new(
    path: Path, *answers: str, force: bool = False, us: bool = False, terminal: bool = False, ascii_only: bool = False
) -> PaperDesk:
    desk = PaperDesk("".join(f"{answer}\n" for answer in answers), terminal=terminal, ascii_only=ascii_only)
    assert run(argparse.Namespace(file=path, force=force, us=us), desk.desk) == 0
    return desk


def test_what_matters_most_is_asked_first(file: Path) -> None:
    desk = new(file, *ESSENTIALS, "done")
    rig = load_rig(file)
    assert rig.name == "Reef"
    assert rig.siphon.inner_diameter_m == pytest.approx(0.0266)
    assert rig.siphon.drop_m == 0.9
    assert rig.siphon.valve.kind == "gate"
    assert rig.pumps[0].flow_m3_s == pytest.approx(4200 / 3.6e6)
    assert rig.pumps[0].speed_step == 0.01
    assert "8 answered, 0 not known" in desk.out
    assert f"hushweir rig check {file}" in desk.out


def test_enter_means_not_known_and_is_assumed(file: Path) -> None:
    new(file, *[""] * 200)
    rig = load_rig(file)
    assert {"siphon.inner_diameter_m", "siphon.drop_m", "siphon.valve.kind", "pump.0.flow_m3_s"} <= rig.assumed
    assert "box.depth_m" in rig.assumed
    assert len(rig.pumps) == 1  # a second pump is not taken for granted
    assert 'inner_diameter = "?"' in file.read_text()


def test_every_field_of_a_rig_is_asked_for_or_can_be_written_by_hand() -> None:
    asked = {ask.dotted for ask in COMMON}
    every = {f"{name}.{field}" for name, part in walk(Rig()) for field in measures(part)}
    assert every - asked == {
        "siphon.valve.backlash", "channel.drop_m", "channel.run_m", "channel.elbows", "emergency.drop_m",
        "emergency.run_m", "emergency.elbows", "pump.0.branch_flow_m3_s",
    }


def test_us_customary_bare_numbers(file: Path) -> None:
    new(file, "in", "Reef", "1.049", "36", "ball", "1100", "10 ft", "0", "", "6 1/4", "done")
    rig = load_rig(file)
    assert rig.siphon.inner_diameter_m == pytest.approx(1.049 * 0.0254)
    assert rig.pumps[0].flow_m3_s == pytest.approx(1100 * 231 * 0.0254**3 / 3600)
    assert rig.channel.crest_height_m == pytest.approx(6.25 * 0.0254)
    assert rig.siphon.valve.kind == "ball"


def test_a_ball_valve_is_not_asked_for_turns(file: Path) -> None:
    desk = new(file, "mm", "Reef", "26.6", "900", "ball", "4200", "", "", "done")
    assert "turns of the valve's wheel" not in desk.out
    assert "turns" not in file.read_text().partition("[[pump]]")[0]


@pytest.mark.parametrize("stop", range(1, 9))
def test_it_can_be_left_anywhere_and_goes_on_there(file: Path, stop: int) -> None:
    first = new(file, *ESSENTIALS[:stop])
    if stop == 1:
        assert "nothing is written" in first.out
        assert not file.exists()
        return
    assert f"{stop - 1} answered, 0 not known" in first.out
    second = new(file, "", *ESSENTIALS[stop:], "done")
    assert "ask the" in second.out
    assert load_rig(file).pumps[0].speed_step == 0.01
    assert "8 answered, 0 not known" in second.out


def test_ctrl_c_keeps_what_was_answered(file: Path) -> None:
    class Interrupted(Keys):
        def readline(self, size: int = -1, /) -> str:
            line = super().readline(size)
            if not line:
                raise KeyboardInterrupt
            return line

    desk = PaperDesk()
    held = desk.desk.__class__(
        desk.desk.console, desk.desk.errors, Interrupted("mm\nReef\n26.6\n"), desk.desk.clock, desk.desk.seconds,
        desk.desk.sleep,
    )
    assert run(argparse.Namespace(file=file, force=False, us=False), held) == 130
    assert '"26.6 mm"' in file.read_text()
    assert "go on" in desk.out


def test_back_corrects_the_answer_before(file: Path) -> None:
    new(file, "mm", "Reef", "26.6", "800", "back", "900", *ESSENTIALS[4:], "done")
    assert load_rig(file).siphon.drop_m == 0.9


def test_a_question_explains_itself_and_draws_where_to_hold_the_tape(file: Path) -> None:
    desk = new(file, "mm", "Reef", "?", "26.6", "done", ascii_only=True)
    assert "not the size printed on the pipe" in desk.out
    assert "C: from the water in the box straight down" in desk.out
    assert desk.out.isascii()


def test_a_wrong_answer_is_asked_again_at_a_terminal_and_an_error_in_a_pipe(file: Path) -> None:
    desk = new(file, "mm", "Reef", "wide", "26.6", "9000", "900", "done", terminal=True)
    flat = " ".join(desk.out.split())
    assert "siphon.inner_diameter='wide' must be a length" in flat
    assert "siphon.drop='9000 mm' must be 200 mm to 4 m" in flat
    assert "2 not asked" not in flat
    assert '"900 mm"' in file.read_text()
    with pytest.raises(ConfigError, match=r"siphon\.valve\.kind=|kind='wheel' must be gate or ball"):
        new(file, "", "wheel")
    assert '"900 mm"' in file.read_text()


def test_heights_that_cannot_stand_are_refused_at_once(file: Path) -> None:
    desk = new(file, *ESSENTIALS, "", "160", "150", "200", "done", terminal=True)
    assert "emergency.rim_height_m=0.15 must be above channel.crest_height_m=0.16" in " ".join(desk.out.split())
    assert load_rig(file).emergency.rim_height_m == 0.2


def test_a_file_is_never_overwritten_unasked(file: Path) -> None:
    new(file, *ESSENTIALS, "done")
    kept = file.read_text()
    assert "left as it is" in new(file, "n").out
    assert "nothing" in new(file).out  # the input ended at the question
    assert file.read_text() == kept
    new(file, "mm", "Other", "30", force=True)
    assert "Other" in file.read_text()
    assert "4200" not in file.read_text()


def test_hand_written_lines_stay(file: Path) -> None:
    file.write_text('# mine\n[siphon]\ninner_diameter = "1.049 in"  # cut end\n')
    new(file, "", "mm", "Reef", "900", "done")
    assert "# mine" in file.read_text()
    assert 'inner_diameter = "1.049 in"  # cut end' in file.read_text()


def test_a_finished_file_may_be_gone_through_again(file: Path) -> None:
    new(file, *[""] * 200)
    desk = new(file, "", "", "28", "done")
    assert "ask every question again" in desk.out
    assert load_rig(file).siphon.inner_diameter_m == pytest.approx(0.028)


def test_a_second_pump_after_a_yes(file: Path) -> None:
    new(file, *ESSENTIALS, "", *[""] * 8, "", *[""] * 10, "", *[""] * 4, "yes", "3000", "", "", "yes", "done")
    rig = load_rig(file)
    assert [round(p.flow_m3_s * 3.6e6) for p in rig.pumps] == [4200, 3000]
    assert rig.pumps[1].on_backup


def test_other_files_are_left_alone(file: Path) -> None:
    file.write_text("[project]\nname = 'x'\n")
    with pytest.raises(ConfigError, match="is no rig file"):
        new(file, "", "mm")
    file.write_bytes(b"\xff\xfe")
    with pytest.raises(ConfigError, match="must be a text file"):
        new(file)
    with pytest.raises(ConfigError, match="cannot be written"):
        new(file / "deeper.toml", *ESSENTIALS)


NO_TAPE = (".name", "pump.0.on_backup", "water.kind", "water.temperature")


@pytest.mark.parametrize("field", [f"{ask.section}.{ask.key}" for ask in COMMON])
def test_each_measure_has_a_drawing(field: str) -> None:
    for ascii_only in (True, False):
        lines = [line.plain for line in tape_drawing(field, ascii_only=ascii_only)]
        assert bool(lines) == (field not in NO_TAPE)
        assert "".join(lines).isascii() or not ascii_only
        assert all(len(line) <= 79 for line in lines)
        assert len(lines) <= 13  # with the question and its effect on a screen of 24 rows


def test_drawings_point_at_fields_that_there_are() -> None:
    asked = {f"{ask.section}.{ask.key}" for group in GROUPS for ask in group.asks}
    assert {name.removesuffix(", ball") for name in DRAWINGS} <= asked


def test_a_ball_valve_is_drawn_with_its_lever(file: Path) -> None:
    desk = new(file, "mm", "Reef", "26.6", "900", "ball", *[""] * 3, "", *[""] * 8, "", *[""] * 10, "", "40", "done")
    assert "0 degrees, closed" in desk.out
    assert load_rig(file).siphon.valve.setting == 40.0


@pytest.mark.parametrize("words", ["don't know", "Don\u2019t know.", "dk", "-", "unknown"])
def test_not_knowing_may_be_said_and_takes_an_answer_back(file: Path, words: str) -> None:
    new(file, "mm", "Reef", "26.6", words, "done")
    assert 'drop = "?"' in file.read_text()
    desk = new(file, "mm", "Reef", "28", "back", words, "done", force=True)
    assert 'inner_diameter = "?"' in file.read_text()
    assert "1 answered, 1 not known" in desk.out


def test_a_person_is_told_what_an_answer_changes(file: Path) -> None:
    desk = new(file, "mm", "Reef", "26.6", "1500", "", "", "6000", "done", terminal=True)
    told = [line for line in desk.lines if "→" in line]
    assert any("quiet at" in line and line.endswith("turns open") for line in told)
    assert any("valve moves" in line and "L/h a 1/8 turn" in line for line in told)
    assert any("pump gives" in line for line in told)
    assert "→" not in new(file, "mm", "Reef", "26.6", "1500", "done", force=True).out  # nobody reads along in a pipe


def test_a_person_is_told_what_not_knowing_costs(file: Path) -> None:
    desk = new(file, "mm", "Reef", "26.6", "900", "dk", "dk", "done", terminal=True)
    flat = " ".join(desk.out.split())
    assert "not known: taken as gate" in flat
    assert "not known: measured, it would narrow the quiet setting from" in flat


def test_what_changes_is_told_in_short() -> None:
    before = (("quiet at", "1.0 to 3.0 turns open"), ("flood 1", "holds (a)"))
    after = (("quiet at", "1.0 to 2.0 turns open"), ("flood 1", "holds (a)"))
    assert lines_of(changes(before, after), "->") == ["quiet at     1.0 to 3.0 -> 1.0 to 2.0 turns open"]
    assert changes(before, before) == ()
