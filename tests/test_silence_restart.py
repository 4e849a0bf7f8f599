from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from tuner.cli import main
from tuner.errors import ConfigError
from tuner.logbook.store import Logbook
from tuner.rehearsal.cases import draw_case
from tuner.rig import Box, Pump, Rig, Tank
from tuner.signatures.listener import Listener, measure_floor
from tuner.silence.restart import Expectation, Start, expected_restart, find_start, findings, purge_s
from tuner.terms import SOUND_KINDS, Floor, Levels, Moment

RATE = 16_000
GURGLES_FROM_DB = 20.0
BANDS_HZ = (250.0, 500.0, 1000.0, 2000.0, 4000.0)
FLOOR = Floor(Levels(-70.0, -69.0, -70.0, -71.0, -68.0, BANDS_HZ, (-80.0,) * 5), 30.0, 30.0)


def moments(over_db: list[tuple[float, float]], roar_s: float = 0.0) -> list[Moment]:
    """Moments of stretches (seconds, dB over the room); the loudest gurgle."""
    found: list[Moment] = []
    for seconds, over in over_db:
        for _ in range(round(2 * seconds)):
            at = 0.5 * len(found)
            gurgle = 0.9 if over >= GURGLES_FROM_DB else 0.0
            kinds = dict.fromkeys(SOUND_KINDS, 0.0) | {"roar": 0.9 if at < roar_s else 0.0, "gurgle": gurgle}
            level = (-80.0 + over,) * 5
            found.append(Moment(at, at + 0.5, -70.0 + over, BANDS_HZ, level, kinds, 0.0))
    return found


def test_the_phases_of_a_start_are_where_the_sound_changes() -> None:
    start = find_start(moments([(4, 0), (30, 25), (20, 0), (5, 8), (40, 0)]), FLOOR, 0.0)
    assert start.water_s == pytest.approx(4.0, abs=0.5)
    assert start.catches_s == pytest.approx(34.0, abs=1.0)  # loudness is averaged over 2.5 s
    assert start.quiet_s == pytest.approx(59.0, abs=1.0)
    assert start.primed
    assert start.air_s is not None
    assert start.water_s < start.air_s < start.catches_s
    assert [name for name, _, _ in start.phases] == [
        "pumps start, nothing is heard yet", "weir spills, box fills", "air is driven out",
        "siphon has caught, the box fills to the open channel", "quiet",
    ]
    ends = [end for _, _, end in start.phases]
    assert ends == sorted(ends)


def test_gulps_after_the_catch_and_a_steady_hum_do_not_hide_it() -> None:
    start = find_start(moments([(2, 12), (30, 30), (4, 11), (4, 22), (6, 11), (3, 19), (60, 11)]), FLOOR, 0.0)
    assert start.catches_s == pytest.approx(32.0, abs=0.5)
    assert start.quiet_s == pytest.approx(49.0, abs=1.0)


def test_a_siphon_that_goes_on_gurgling_has_not_caught() -> None:
    start = find_start(moments([(2, 0), (120, 20)]), FLOOR, 0.0)
    assert start.catches_s is None
    assert not start.primed
    assert "did not catch by itself" in findings([start], None, [])[0]


def test_only_what_comes_after_switching_on_counts() -> None:
    assert find_start(moments([(20, 30), (5, 0), (10, 25), (60, 0)]), FLOOR, 22.0).catches_s == pytest.approx(13, abs=1)
    with pytest.raises(ConfigError, match="must be at least 40"):
        find_start(moments([(10, 0)]), FLOOR, 0.0)


def start_of(catches_s: float, emergency_s: float = 0.0) -> Start:
    return Start(0.0, catches_s - 8.0, catches_s, catches_s + 5.0, emergency_s, catches_s + 60.0)


@pytest.mark.parametrize(("starts", "expected", "earlier", "says"), [
    ([start_of(40.0)] * 3, Expectation(20.0, 40.0, 80.0), [38.0, 41.0], "the siphon caught in 3 of 3 starts"),
    ([start_of(40.0)] * 3, None, [38.0, 41.0], "about as before: 40 s to the catch, 40 s in 2 earlier starts"),
    ([start_of(100.0)] * 3, Expectation(20.0, 40.0, 80.0), [], "slower than this installation should be"),
    ([start_of(60.0)] * 3, None, [40.0, 40.0], "slower than before (60 s against 40 s)"),
    ([start_of(30.0), start_of(80.0)], None, [], "the times differ much"),
    ([start_of(40.0, emergency_s=30.0)], None, [], "a roar as of the emergency pipe was heard for about 30 s"),
])
def test_what_the_starts_say(
    starts: list[Start], expected: Expectation | None, earlier: list[float], says: str
) -> None:
    assert any(says in words for words in findings(starts, expected, earlier))


def test_a_tank_of_1000_litres_is_expected_to_prime_in_40_to_150_s() -> None:
    # Common practice, no source: about 75 s for such a tank.
    rig = Rig(tank=Tank(length_m=2.0, width_m=0.7), box=Box(length_m=0.4, width_m=0.2), pumps=(Pump(),))
    assert 40.0 <= expected_restart(rig).likely_s <= 150.0
    assert expected_restart(rig).low_s < expected_restart(rig).likely_s < expected_restart(rig).high_s


def test_a_larger_box_is_expected_to_take_longer() -> None:
    rig = Rig()
    larger = replace(rig, box=replace(rig.box, length_m=2.0 * rig.box.length_m))
    assert expected_restart(larger).likely_s > expected_restart(rig).likely_s


def test_a_longer_siphon_drives_its_air_out_for_longer() -> None:
    rig = Rig()
    longer = replace(rig, siphon=replace(rig.siphon, run_m=2.0 * rig.siphon.run_m))
    assert purge_s(40.0, longer) > 1.1 * purge_s(40.0, rig)


def test_a_description_that_is_far_off_is_not_trusted() -> None:
    absurd = replace(Rig(), siphon=replace(Rig().siphon, run_m=15.0, inner_diameter_m=0.15))
    assert purge_s(40.0, absurd) == pytest.approx(3.0 * purge_s(40.0, None))


@pytest.mark.parametrize("rig", [None, Rig()])
def test_air_is_never_driven_out_before_the_pumps_are_on(rig: Rig | None) -> None:
    assert purge_s(0.5, rig) <= 0.5
    start = find_start(moments([(3, 25), (60, 0)]), FLOOR, 0.0, rig)
    assert start.air_s is not None
    assert 0.0 <= start.air_s <= 3.0


def test_a_late_catch_is_not_called_before_it_has_been_quiet_for_ten_seconds() -> None:
    going_on = moments([(2, 0), (40, 25), (5, 0)])
    assert find_start(going_on, FLOOR, 0.0).catches_s is None
    assert find_start(moments([(2, 0), (40, 25), (20, 0)]), FLOOR, 0.0).catches_s == pytest.approx(42.0, abs=1.0)


def test_a_simulated_start_is_marked_within_5_s_of_the_truth() -> None:
    rehearsal = draw_case(None, 100_404, sample_rate=RATE)
    floor = measure_floor(rehearsal.floor(20.0), RATE)
    rehearsal.pumps(False)
    rehearsal.wait(60.0)
    rehearsal.pumps(True)
    trapped = np.flatnonzero(rehearsal.plant.fork().advance(20 * 90).trapped >= 0.01)
    listener = Listener(RATE, rehearsal.rig, floor)
    listener.feed(rehearsal.listen(90.0))
    start = find_start(listener.moments(), floor, 0.0)
    assert start.catches_s == pytest.approx((trapped[-1] + 1) / 20.0, abs=5.0)


def test_the_verb_cautions_repeats_and_keeps(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr("tuner.verbs.restart.SAMPLE_RATE", RATE)
    words = ["restart", "--rehearsal", "100405", "--repeats", "1", "--logbook", str(tmp_path / "log.sqlite")]
    code = main(words)
    out, err = capsys.readouterr()
    assert (code, err) == (0, "")
    assert out.index("CAUTION") < out.index("switch the pumps OFF now") < out.index("switch the pumps ON now")
    assert "siphon has caught" in out
    with Logbook(tmp_path / "log.sqlite", clock=lambda: datetime.now(UTC), look_only=True) as logbook:
        (kept,) = logbook.proofs("restart")
        (session,) = logbook.sessions()
        assert session.calibrated
        heard_s = [sound.start_s for sound in logbook.sounds(session.id)]
    (start,) = kept.body["starts"]
    assert start["switched_on_s"] == pytest.approx(60.0, abs=0.5)
    # The siphon gurgles until it catches, in the session's time.
    assert any(60.0 < at_s < 60.0 + start["catches_s"] for at_s in heard_s)
    assert max(heard_s) <= 60.0 + start["heard_s"]
    assert kept.body["restarts_by_itself"] is True
    assert kept.body["expected_s"]["low_s"] > 0.0
    assert main([*words, "--off", "900"]) == 2
    assert "off=900 must be at most 300 seconds" in capsys.readouterr().err


def test_a_clogged_bleed_hole_is_found_out(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr("tuner.verbs.restart.SAMPLE_RATE", RATE)
    monkeypatch.setattr("tuner.verbs.restarting.LONGEST_S", 60.0)
    words = ["restart", "--rehearsal", "100406", "--clogged", "--repeats", "1", "--off", "20", "--json"]
    code = main([*words, "--logbook", str(tmp_path / "log.sqlite")])
    out, _ = capsys.readouterr()
    body = json.loads(out)
    assert code == 1
    assert body["restarts_by_itself"] is False
    assert "did not catch by itself" in body["findings"][0]
    assert body["starts"][0]["phases"][-1]["phase"] == "water comes over the weir, air gurgles in the siphon"
