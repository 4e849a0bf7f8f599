from __future__ import annotations

import sys
from pathlib import Path

import pytest

from tests.stand_in_sounddevice import PortAudioError, Stage
from tuner.capture.devices import choose_input, find_again, list_inputs, load_sounddevice, refusal
from tuner.errors import SourceError

THREE = ("Built-in", "loud speaker", "USB mic", "USB mic 2")


def test_only_devices_with_an_input_are_listed() -> None:
    stage = Stage(THREE)
    inputs = list_inputs(stage.sounddevice)
    assert [(d.index, d.name, d.is_default) for d in inputs] == [
        (0, "Built-in", True),
        (2, "USB mic", False),
        (3, "USB mic 2", False),
    ]
    assert (inputs[0].channels, inputs[0].default_rate_hz, inputs[0].host_api) == (2, 44_100, "Core")


def test_an_empty_list_is_looked_up_once_more() -> None:
    stage = Stage(())
    stage.plug("USB mic")
    assert [d.name for d in list_inputs(stage.sounddevice)] == ["USB mic"]
    assert stage.rescans == 1


@pytest.mark.parametrize(
    ("wanted", "index"),
    [(None, 0), (3, 3), ("3", 3), ("usb MIC", 2), ("USB mic 2", 3), ("built", 0), ("USB mic 2, Core", 3)],
)
def test_a_microphone_is_chosen_by_number_name_or_part_of_a_name(wanted: str | int | None, index: int) -> None:
    assert choose_input(wanted, Stage(THREE).sounddevice).index == index


def test_of_two_host_apis_the_one_of_the_default_is_favoured() -> None:
    stage = Stage(("USB mic", "Built-in", "USB mic"))
    devices = stage.sounddevice.query_devices()
    for device, host_api in zip(devices, (0, 1, 1), strict=True):
        device["hostapi"] = host_api
    stage.sounddevice.query_devices = lambda: devices
    stage.sounddevice.query_hostapis = lambda: [{"name": "old"}, {"name": "new"}]
    stage.sounddevice.default.device = [1, -1]
    assert choose_input("USB mic", stage.sounddevice).index == 2
    assert choose_input("USB mic, old", stage.sounddevice).index == 0
    stage.sounddevice.default.device = [-1, -1]
    assert choose_input("USB mic", stage.sounddevice).index == 0


def test_the_first_is_chosen_where_the_system_has_no_default() -> None:
    stage = Stage(THREE)
    stage.sounddevice.default.device = [-1, -1]
    assert choose_input(None, stage.sounddevice).name == "Built-in"


def test_a_part_of_two_names_is_refused_with_both() -> None:
    with pytest.raises(SourceError, match=r"microphone='usb' must fit one device only: 2 'USB mic', 3 'USB mic 2'"):
        choose_input("usb", Stage(THREE).sounddevice)


@pytest.mark.parametrize("wanted", ["Studio", 1, "17", ""])
def test_a_microphone_that_is_not_there_is_refused_with_those_that_are(wanted: str | int) -> None:
    with pytest.raises(SourceError, match="must be one that exists: 0 'Built-in', 2 'USB mic', 3 'USB mic 2'"):
        choose_input(wanted, Stage(THREE).sounddevice)


@pytest.mark.parametrize(
    ("system", "fix"), [("linux", "pactl list short sources"), ("darwin", "System Settings"), ("win32", "Privacy")]
)
def test_no_microphone_at_all_is_refused_with_a_fix(monkeypatch: pytest.MonkeyPatch, system: str, fix: str) -> None:
    monkeypatch.setattr(sys, "platform", system)
    with pytest.raises(SourceError, match=f"no microphone was found: plug one in, .*{fix}"):
        choose_input(None, Stage(()).sounddevice)


def test_a_device_is_found_again_under_another_number() -> None:
    stage = Stage(THREE)
    device = choose_input("USB mic 2", stage.sounddevice)
    stage.plug("USB mic 2", "Built-in")
    stage.sounddevice._initialize()
    again = find_again(device, stage.sounddevice)
    assert again is not None
    assert (again.index, again.name) == (0, "USB mic 2")
    stage.plug("Built-in")
    stage.sounddevice._initialize()
    assert find_again(device, stage.sounddevice) is None


@pytest.mark.parametrize(
    ("error", "text"),
    [
        (PortAudioError("Error opening InputStream: Invalid sample rate", -9997), "sample_rate=96000 must be a rate"),
        (PortAudioError("Error opening InputStream: Device unavailable", -9985), "another program holds it"),
        (PortAudioError("Error opening InputStream: Internal\nerror", -9986), r"cannot be opened \(Internal error\)"),
        (ValueError("No input device matching"), "plug it in again, or choose another"),
    ],
)
def test_a_refusal_is_one_line_with_a_fix(error: Exception, text: str) -> None:
    device = choose_input(None, Stage().sounddevice)
    with pytest.raises(SourceError, match=text) as raised:
        raise refusal(device, 96_000, error)
    assert "\n" not in str(raised.value)
    assert "USB mic" in str(raised.value)


@pytest.mark.parametrize(
    ("system", "fix"), [("linux", "apt-get install libportaudio2"), ("darwin", "pip install"), ("win32", "pip install")]
)
def test_missing_portaudio_says_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, system: str, fix: str
) -> None:
    (tmp_path / "sounddevice.py").write_text("raise OSError('PortAudio library not found')\n")
    monkeypatch.syspath_prepend(tmp_path)
    monkeypatch.delitem(sys.modules, "sounddevice", raising=False)
    monkeypatch.setattr(sys, "platform", system)
    with pytest.raises(SourceError, match=f"PortAudio is missing, so no microphone can be heard: {fix}"):
        load_sounddevice()


def test_missing_package_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    with pytest.raises(SourceError, match="pip install sounddevice"):
        load_sounddevice()
