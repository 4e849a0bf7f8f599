"""``hushweir rig check`` and ``rig fit``: what to measure first, and what a measured fact gains."""

from __future__ import annotations

import argparse
import json
import tomllib
from pathlib import Path
from typing import Any

import pytest

from tests.desks import PaperDesk
from tuner.errors import ConfigError
from tuner.rigfile import load_rig
from tuner.verbs import rig_check, rig_fit

TEXT = """\
# mine
name = "Kelpie"
[siphon]
inner_diameter = "1 in"  # off the label
drop = "900 mm"
[siphon.valve]
kind = "gate"
[[pump]]
flow = "4200 L/h"
"""
NO_OPTION: dict[str, Any] = {
    "us": False, "json": False, "just_slurps_at": None, "just_gurgles_at": None, "slurp_period": None, "bucket": None,
    "in_time": None, "pipe": None, "at": None, "speed": None, "forget": None,
}


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "rig.toml"
    path.write_text(TEXT)
    return path


def fit(path: Path, **options: Any) -> PaperDesk:
    desk = PaperDesk()
    assert rig_fit.run(argparse.Namespace(file=path, **{**NO_OPTION, **options}), desk.desk) == 0
    return desk


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> PaperDesk:
    path = tmp_path_factory.mktemp("rig") / "rig.toml"
    path.write_text(TEXT)
    desk = PaperDesk()
    assert rig_check.run(argparse.Namespace(file=path, us=False, json=False), desk.desk) == 0
    return desk


class TestCheck:
    def test_slips_and_faults_are_told_with_their_fields(self, page: PaperDesk) -> None:
        flat = " ".join(page.out.split())
        assert "DOUBT 25.4 mm is the size printed on a 1 inch pipe; its bore is about 26.6 mm" in flat
        assert "FAULT? When the siphon blocks" in flat
        assert "emergency.inner_diameter?, emergency.rim_height?" in flat

    def test_what_to_measure_first_stands_first(self, page: PaperDesk) -> None:
        first = next(line for line in page.lines if line.strip().startswith("1 "))
        assert first.split()[1:4] == ["siphon.valve.turns", "5", "turns"]
        assert "%" in first
        assert "turns of the wheel from closed to open" in page.out

    def test_what_the_flood_check_waits_for_is_named(self, page: PaperDesk) -> None:
        flat = " ".join(page.out.split())
        assert "tank.glass_above (from the running water surface up to the rim of the glass): failure 2" in flat

    def test_a_measured_fact_is_offered(self, page: PaperDesk) -> None:
        assert "hushweir rig fit" in page.out
        assert "until it just slurps" in " ".join(page.out.split())

    def test_the_page_fits_eighty_columns(self, page: PaperDesk) -> None:
        assert all(len(line) <= 80 for line in page.lines if "hushweir rig fit" not in line)

    def test_json(self, file: Path) -> None:
        desk = PaperDesk()
        rig_check.run(argparse.Namespace(file=file, us=True, json=True), desk.desk)
        found = json.loads(desk.out)
        assert found["schema"] == 1
        assert found["given"] == 4  # bore, drop, kind of valve, flow of the pump
        saved = [max(m["setting_saved"], m["width_saved"]) for m in found["measures"]]
        assert saved == sorted(saved, reverse=True)
        assert {m["name"] for m in found["measures"]} <= set(found["assumed"])
        assert any(m["flood_cases"] for m in found["measures"])
        assert {r["kind"] for r in found["remarks"]} == {"fault", "doubt"}


class TestFit:
    def test_a_fact_is_kept_and_narrows_the_band(self, file: Path) -> None:
        desk = fit(file, just_slurps_at="2 1/8 turns", json=True)
        found = json.loads(desk.out)
        before, after = (found[when]["setting_mid"] for when in ("before", "after"))
        assert after["high"] - after["low"] < 0.5 * (before["high"] - before["low"])
        assert [f.kind for f in load_rig(file).facts] == ["just slurps"]
        assert load_rig(file).facts[0].setting == 2.125

    def test_the_rest_of_the_file_stays_as_it_was(self, file: Path) -> None:
        fit(file, bucket="10 L", in_time="9 s", speed="80 %")
        assert file.read_text().startswith(TEXT)
        fact = tomllib.loads(file.read_text())["fact"][0]
        assert fact["kind"] == "return flow"
        assert load_rig(file).facts[0].flow_m3_s == pytest.approx(4000 / 3.6e6, rel=1e-5)  # 10 L in 9 s
        assert load_rig(file).facts[0].speed == pytest.approx(0.8)

    def test_facts_add_up_and_keep_their_comments(self, file: Path) -> None:
        file.write_text(TEXT + '[[fact]]\n# after the wash\nkind = "just slurps"\nsetting = "2 1/8 turns"\n')
        desk = fit(file, slurp_period="12 s", at="2 1/2 turns")
        assert "# after the wash" in file.read_text()
        assert "2 1/8 turns" in file.read_text()
        assert "2  slurp period: 12 s at 2.5 turns" in desk.out

    def test_the_page_shows_both_bands_on_one_scale(self, file: Path) -> None:
        desk = fit(file, just_gurgles_at="1.6")
        bars = [line for line in desk.lines if "━" in line]
        assert [line.split()[0] for line in bars] == ["before", "after"]
        assert bars[1].count("━") < bars[0].count("━")
        assert "5 turns open" in desk.out
        assert "instead of" in " ".join(desk.out.split())

    def test_several_facts_at_once(self, file: Path) -> None:
        bucket = {"bucket": "2 gal", "in_time": "60 s", "pipe": "open channel", "at": "1.9"}
        fit(file, just_slurps_at="2.1", just_gurgles_at="1.7", **bucket)
        assert [f.kind for f in load_rig(file).facts] == ["just slurps", "just gurgles", "channel flow"]

    def test_the_described_setting_stands_in_for_at(self, file: Path) -> None:
        file.write_text(TEXT.replace('kind = "gate"', 'kind = "gate"\nsetting = "1 3/4 turns"'))
        fit(file, bucket="5 L", in_time="9 s", pipe="siphon")
        assert load_rig(file).facts[0].setting == 1.75

    def test_a_slip_is_said_and_can_be_forgotten(self, file: Path) -> None:
        desk = fit(file, just_slurps_at="4.9", just_gurgles_at="0.2")
        assert "do not fit" in " ".join(desk.out.split())
        assert "--forget NUMBER" in desk.out
        fit(file, forget="1")
        assert [f.kind for f in load_rig(file).facts] == ["just gurgles"]
        fit(file, forget="all")
        assert load_rig(file).facts == ()
        assert file.read_text() == TEXT

    def test_without_options_it_shows_what_is_there(self, file: Path) -> None:
        desk = fit(file)
        assert "No fact has been measured yet" in " ".join(desk.out.split())
        assert file.read_text() == TEXT

    @pytest.mark.parametrize(("options", "says"), [
        ({"slurp_period": "12 s"}, "--at must be given with --slurp-period"),
        ({"slurp_period": "12", "at": "1"}, "--slurp-period='12' has no unit"),
        ({"just_slurps_at": "40 degrees"}, "--just-slurps-at='40 degrees' has the unit 'degrees'"),
        ({"just_slurps_at": "7 turns"}, "fact.0.setting=7 must be at most the full setting 5"),
        ({"bucket": "10 L"}, "--in must be given with --bucket"),
        ({"bucket": "10 L", "in_time": "0 s"}, "must be more than nothing"),
        ({"bucket": "10 L", "in_time": "9 s", "pipe": "sink"}, "--pipe='sink' must be one of return, siphon, open"),
        ({"in_time": "9 s"}, "--bucket must be given with --in"),
        ({"at": "1"}, "--at must come with --slurp-period or --bucket"),
        ({"forget": "3"}, "--forget='3' must be \"all\" or the number of a fact"),
        ({"speed": "80 furlong", "just_slurps_at": "2"}, "--speed='80 furlong' has the unit"),
    ])
    def test_errors_are_one_line_and_leave_the_file_alone(self, file: Path, options: dict[str, str], says: str) -> None:
        import re

        with pytest.raises(ConfigError, match=re.escape(says)):
            fit(file, **options)
        assert file.read_text() == TEXT
