"""A stand-in for the sounddevice module and for waiting, so that hours of a microphone pass in no time.

``Stage`` holds the time, the devices that are plugged in and a script of what happens when. Waiting on its
inbox moves the time on and lets the running stream deliver the sound of that time.
"""

from __future__ import annotations

import queue
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import numpy as np


class PortAudioError(Exception):
    pass


class Stage:
    """One computer with microphones: its clock, its sounddevice module and the queue to a Microphone.

    Parameters
    ----------
    names
        The microphones that are plugged in; the first is the default.
    host_api
        What the devices belong to.
    """

    def __init__(self, names: tuple[str, ...] = ("USB mic",), host_api: str = "Core") -> None:
        self.now_s = 100.0
        self.names = names
        self.host_api = host_api
        self.level = 0.1
        self.queue_length = 100
        self.stalled = False
        self.refusal: Exception | None = None
        self.refused_rates: tuple[int, ...] = ()
        self.skip_frames = 0
        self.overflowed = False
        self.rescans = 0
        self.streams: list[Stream] = []
        self.script: list[tuple[float, Callable[[], None]]] = []
        self._listed = names
        self._items: list[Any] = []
        self._sent = 0
        self.sounddevice = SimpleNamespace(
            PortAudioError=PortAudioError,
            InputStream=lambda **options: Stream(self, **options),
            query_devices=self._query_devices,
            query_hostapis=lambda: [{"name": self.host_api}],
            default=SimpleNamespace(device=[0 if names else -1, -1]),
            check_input_settings=self._check_input_settings,
            _terminate=self._terminate,
            _initialize=self._initialize,
        )

    def clock(self) -> float:
        return self.now_s

    def at(self, time_s: float, event: Callable[[], None]) -> None:
        """Let ``event`` happen ``time_s`` seconds after the beginning."""
        self.script.append((100.0 + time_s, event))
        self.script.sort(key=lambda entry: entry[0])

    def unplug(self) -> None:
        """Take all microphones away: running streams end without a word."""
        self.names = ()
        for stream in self.streams:
            if stream.active:
                stream.active = False
                stream.finished()

    def plug(self, *names: str) -> None:
        """Plug microphones in."""
        self.names = names

    def put_nowait(self, item: Any) -> None:
        if len(self._items) >= self.queue_length:
            raise queue.Full
        self._items.append(item)

    def get(self, block: bool = True, timeout: float | None = None) -> Any:
        assert block
        assert timeout is not None
        if not self._items:
            self.pass_time(timeout)
        if not self._items:
            raise queue.Empty
        return self._items.pop(0)

    def pass_time(self, duration_s: float) -> None:
        """Move the time on in steps of a block, with deliveries and events where they fall."""
        end_s = self.now_s + duration_s
        while self.now_s < end_s - 1e-9:
            self.now_s = min(end_s, self.now_s + 0.1)
            while self.script and self.script[0][0] <= self.now_s + 1e-9:
                self.script.pop(0)[1]()
            if not self.stalled:
                self._deliver()
            if self._items:
                return

    def deliver_backlog(self, duration_s: float) -> None:
        """Deliver what the device kept during a stall of ``duration_s``, all at once."""
        for _ in range(round(duration_s / 0.1)):
            self._deliver()

    def _deliver(self) -> None:
        for stream in self.streams:
            if stream.active:
                frames = stream.blocksize
                if self.skip_frames >= frames:
                    self.skip_frames -= frames
                    continue
                ramp = self.level * np.ones((frames, 1), np.float32)
                stream.callback(ramp, frames, None, SimpleNamespace(input_overflow=self.overflowed))
                ramp[:] = 9.0  # the library uses its buffer again
                self.overflowed = False

    def _query_devices(self) -> list[dict[str, Any]]:
        return [
            {"name": n, "hostapi": 0, "max_input_channels": 0 if "speaker" in n else 2, "default_samplerate": 44_100.0}
            for n in self._listed
        ]

    def _check_input_settings(self, device: int, channels: int, samplerate: int) -> None:
        assert channels == 1
        assert 0 <= device < len(self._listed)
        if samplerate in self.refused_rates:
            raise PortAudioError("Invalid sample rate", -9997)

    def _terminate(self) -> None:
        assert not any(s.active for s in self.streams), "PortAudio was ended under an open stream"

    def _initialize(self) -> None:
        self.rescans += 1
        self._listed = self.names


class Stream:
    """What sounddevice.InputStream is here."""

    def __init__(
        self,
        stage: Stage,
        device: int,
        channels: int,
        samplerate: int,
        dtype: str,
        blocksize: int,
        latency: str,
        callback: Callable[..., None],
        finished_callback: Callable[[], None],
    ) -> None:
        assert (channels, dtype, latency) == (1, "float32", "high")
        if stage.refusal is not None:
            raise stage.refusal
        if device >= len(stage.names):
            raise PortAudioError("Error querying device", -1)
        self.name = stage.names[device]
        self.samplerate = samplerate
        self.blocksize = blocksize
        self.callback = callback
        self.finished = finished_callback
        self.active = False
        self.closed = False
        stage.streams.append(self)

    def start(self) -> None:
        self.active = True

    def close(self, ignore_errors: bool = True) -> None:
        assert ignore_errors
        if self.active:
            self.active = False
            self.finished()
        self.closed = True
