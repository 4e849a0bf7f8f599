"""A microphone without a sound card: a private PulseAudio server whose null sink is heard by its monitor.

Load the fixtures with ``pytest_plugins = ("tests.virtual_microphone",)``. What is played into the sink comes back
from the device named "pulse". The server has its own home, run-time and state folders and its own socket, so it
meets no other sound server of the machine, and it is ended by the process that was started here.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile

from tuner.capture.devices import load_sounddevice, rescan

RATE = 48_000
READY_WITHIN_S = 10.0
# Without norewinds the first block comes up to two seconds late.
_SINK = f"sink_name=vmic rate={RATE} channels=1 format=float32le norewinds=1"
_NEEDED = {
    "pulseaudio": "pulseaudio",
    "pactl": "pulseaudio-utils",
    "paplay": "pulseaudio-utils",
}


class VirtualMicrophone:
    """The server, what is played into it, and the ways in which its device can vanish and return."""

    device = "pulse"

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._socket = folder / "socket"
        self._server: subprocess.Popen[bytes] | None = None
        self._players: list[subprocess.Popen[bytes]] = []
        self._speaker = ""
        for name in ("home", "run", "state"):
            (folder / name).mkdir(mode=0o700)
        self.environment = {
            "HOME": str(folder / "home"),
            "PULSE_RUNTIME_PATH": str(folder / "run"),
            "PULSE_STATE_PATH": str(folder / "state"),
            "PULSE_SERVER": f"unix:{self._socket}",
            "PULSE_SINK": "vmic",
            "PULSE_SOURCE": "vmic.monitor",
        }

    def start(self) -> None:
        """Start the server, anew where one runs, and wait until its device is there."""
        self.stop()
        self._socket.unlink(missing_ok=True)
        self._server = subprocess.Popen(
            [
                "pulseaudio", "-n", "--daemonize=no", "--use-pid-file=no", "--exit-idle-time=-1",
                "--disallow-exit", "--disable-shm=yes",
                "-L", f"module-native-protocol-unix socket={self._socket} auth-anonymous=1",
                "-L", f"module-null-sink {_SINK}",
            ],
            env=self._environment_for_programs(),
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )  # fmt: skip
        deadline = time.monotonic() + READY_WITHIN_S
        while "vmic.monitor" not in self._pactl("list", "short", "sources"):
            if self._server.poll() is not None or time.monotonic() > deadline:
                pytest.fail(f"the private pulseaudio server did not start within {READY_WITHIN_S:g} s")
            time.sleep(0.05)

    @property
    def is_running(self) -> bool:
        """Whether the server lives and has its device."""
        return self._server is not None and "vmic.monitor" in self._pactl("list", "short", "sources")

    def stop(self) -> None:
        """End the server, as when the microphone's plug is pulled."""
        if self._server is not None:
            _end(self._server)
            self._server = None
        self.end_players()

    def end_players(self) -> None:
        """End whatever is being played."""
        for player in self._players:
            _end(player)
        self._players.clear()

    def unload_sink(self) -> None:
        """Take the device away while the server lives on."""
        self._pactl("unload-module", "module-null-sink")

    def load_sink(self) -> None:
        """Give the device back to the server."""
        self._pactl("load-module", "module-null-sink", *_SINK.split())

    def with_speaker(self) -> dict[str, str]:
        """Add a second sink, "speaker", and return the environment of programs that play into it and hear vmic."""
        self._speaker = self._pactl("load-module", "module-null-sink", *_SINK.replace("vmic", "speaker").split())
        return {**self._environment_for_programs(), "PULSE_SINK": "speaker"}

    def without_speaker(self) -> None:
        """Take the second sink away again."""
        self._pactl("unload-module", self._speaker.strip())

    def play(self, samples: np.ndarray, sink: str = "vmic") -> None:
        """Begin to play ``samples`` (mono, 48 kHz) into a sink; they go on in the background."""
        path = self._folder / f"played-{len(self._players)}.wav"
        soundfile.write(path, samples, RATE, subtype="FLOAT")
        # A short buffer runs empty on a busy machine, which would be heard as a gap of the microphone.
        command = ["paplay", "--latency-msec=500", f"--device={sink}", str(path)]
        self._players.append(
            subprocess.Popen(
                command, env=self._environment_for_programs(), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
            )
        )

    def _pactl(self, *arguments: str) -> str:
        done = subprocess.run(
            ["pactl", *arguments], env=self._environment_for_programs(), capture_output=True, text=True, check=False
        )
        return done.stdout

    def _environment_for_programs(self) -> dict[str, str]:
        return {"PATH": os.environ["PATH"], **self.environment}


def _end(process: subprocess.Popen[bytes]) -> None:
    if process.poll() is None:
        process.terminate()
    try:
        process.wait(timeout=5)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()


@pytest.fixture(scope="session")
def sound_server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[VirtualMicrophone]:
    """The server for the whole session; fails, and says what to install, where there is none."""
    missing = sorted({package for program, package in _NEEDED.items() if shutil.which(program) is None})
    if missing:
        pytest.fail(
            "the tests of the microphone need a sound server: "
            f"apt-get install {' '.join(missing)} libasound2-plugins libportaudio2"
        )
    server = VirtualMicrophone(tmp_path_factory.mktemp("sound"))
    server.start()
    yield server
    server.stop()


@pytest.fixture
def virtual_microphone(
    sound_server: VirtualMicrophone, monkeypatch: pytest.MonkeyPatch
) -> Iterator[VirtualMicrophone]:
    """The server with this process as its client, nothing being played yet."""
    for name, value in sound_server.environment.items():
        monkeypatch.setenv(name, value)
    if not sound_server.is_running:  # a test that failed half-way left it unplugged
        sound_server.start()
    rescan(load_sounddevice())
    yield sound_server
    sound_server.end_players()
