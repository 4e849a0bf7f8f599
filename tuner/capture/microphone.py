"""The microphone as a source, with every loss said.

The audio callback copies, stamps the clock and queues; it is the only other thread. Everything else happens in
the loop that takes the blocks: counting against the clock, noticing that the device vanished, opening it again.
A gap is a block's ``dropped`` and the jump of its ``start``; what happened is its ``note``.

While a microphone is open, C libraries cannot write on the terminal's error stream (see ``chatter``). A program
that draws its screen on that stream has to draw elsewhere.
"""

from __future__ import annotations

import contextlib
import queue
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from types import TracebackType
from typing import Any, Protocol, Self

import numpy as np

from tuner.capture.chatter import silenced
from tuner.capture.devices import InputDevice, choose_input, find_again, load_sounddevice, refusal, rescan
from tuner.capture.reckoning import Reckoning
from tuner.capture.source import BLOCK_S, block_length
from tuner.errors import ConfigError, SourceError
from tuner.terms import Block, Samples

LOST = "microphone lost"
BACK = "microphone back"
SILENT = "the microphone gives digital silence: muted, blocked or not allowed"

QUEUE_S = 10.0  # how far the listener may fall behind before samples are lost
POLL_S = 0.2
LOST_AFTER_S = 1.5  # with POLL_S: noticed within 2 s
FIRST_BLOCK_S = 5.0  # a wireless microphone may take seconds to start
REOPEN_AFTER_S = 5.0  # a stream that stalls but is not ended may recover by itself, with nothing lost
RETRY_S = 0.5
SILENT_AFTER_S = 1.0
_ALSA_RATE_HZ = 48_000
_FULL_SCALE = 1.0 - 2.0**-15
_NOTHING: Samples = np.empty(0, np.float32)
_NOTHING.flags.writeable = False


@dataclass(frozen=True, slots=True)
class Arrival:
    """What the audio callback queues; ``samples`` is None when the stream has ended."""

    tap: _Tap | None
    samples: Samples | None
    arrived_s: float = 0.0
    lost: int = 0
    overflowed: bool = False


class Inbox(Protocol):
    """The bounded queue between the audio callback and the loop; ``queue.Queue`` is one."""

    def put_nowait(self, item: Arrival) -> None:
        """Queue ``item`` or raise ``queue.Full``."""
        ...

    def get(self, block: bool = True, timeout: float | None = None) -> Arrival:
        """Return the next item or raise ``queue.Empty`` after ``timeout`` seconds."""
        ...


class _Tap:
    """One opening of the device: the stream, and what its callback does."""

    def __init__(self, library: Any, inbox: Inbox, clock: Callable[[], float]) -> None:
        self._library = library
        self._inbox = inbox
        self._clock = clock
        self._lost = 0
        self._stream: Any = None
        self.has_ended = False
        self.last_s = clock()
        self.patience_s = FIRST_BLOCK_S

    def open(self, device: InputDevice, sample_rate: int) -> None:
        """Open and start the stream; raises what the library raises."""
        with silenced():
            self._stream = self._library.InputStream(
                device=device.index,
                channels=1,
                samplerate=sample_rate,
                dtype="float32",
                blocksize=block_length(sample_rate),
                latency="high",
                callback=self.heard,
                finished_callback=self.ended,
            )
            try:
                self._stream.start()
            except BaseException:
                self.close()
                raise
        self.last_s = self._clock()

    def heard(self, data: Samples, frames: int, _times: object, status: Any) -> None:
        """Take what the device recorded (audio thread: nothing here may wait)."""
        arrival = Arrival(self, data[:, 0].copy(), self._clock(), self._lost, bool(status.input_overflow))
        try:
            self._inbox.put_nowait(arrival)
        except queue.Full:
            self._lost += frames
        else:
            self._lost = 0

    def ended(self) -> None:
        """Note that the stream has ended by itself or was closed (audio thread)."""
        self.has_ended = True
        with contextlib.suppress(queue.Full):
            self._inbox.put_nowait(Arrival(self, None))

    def took(self, arrived_s: float) -> None:
        """Note that a block arrived at ``arrived_s``."""
        self.last_s = max(self.last_s, arrived_s)
        self.patience_s = LOST_AFTER_S

    @property
    def runs(self) -> bool:
        """Whether the stream still claims to run."""
        if self._stream is None or self.has_ended:
            return False
        try:
            return bool(self._stream.active)
        except self._library.PortAudioError:
            return False

    def close(self) -> None:
        """End the stream; harmless when it has ended already."""
        stream, self._stream = self._stream, None
        if stream is not None:
            with silenced():
                stream.close(ignore_errors=True)


class Microphone:
    """A live source of mono blocks of 100 ms.

    Parameters
    ----------
    device
        None for the system's default, an index, or a name or part of it.
    sample_rate
        Hz; None for the device's own rate (48000 under ALSA where the device takes it, because ALSA's stated
        default is arbitrary).
    clock
        Seconds from any origin, never going back.
    give_up_after_s
        How long to wait for a vanished microphone; None waits until it returns.
    library
        The sounddevice module, or what stands in for it; None imports it.
    inbox
        The queue between the audio thread and the loop; None makes one that holds 10 s.

    Raises
    ------
    SourceError
        On construction: no PortAudio, no such device. On entering: the device cannot be opened. While
        iterating: it stayed away for ``give_up_after_s``.
    ConfigError
        When ``sample_rate`` or ``give_up_after_s`` is not positive.

    Notes
    -----
    Iterating again goes on where the last iteration left off, so one microphone serves many listening windows.
    A vanished device gives one block without samples and with the note ``LOST``; its return gives a block with
    the note ``BACK``, whose ``dropped`` is what was missed. Only the same device by name is opened again, since
    another one would change every level.
    """

    def __init__(
        self,
        device: str | int | None = None,
        sample_rate: int | None = None,
        *,
        clock: Callable[[], float] = time.monotonic,
        give_up_after_s: float | None = None,
        library: Any = None,
        inbox: Inbox | None = None,
    ) -> None:
        if sample_rate is not None and sample_rate <= 0:
            raise ConfigError(f"sample_rate={sample_rate} must be a positive number of samples per second")
        if give_up_after_s is not None and not give_up_after_s > 0:
            raise ConfigError(f"give_up_after_s={give_up_after_s} must be above 0 seconds, or None to wait on")
        self._library = load_sounddevice() if library is None else library
        self.device = choose_input(device, self._library)
        self.sample_rate = _own_rate(self._library, self.device) if sample_rate is None else sample_rate
        self.name = self.device.name
        self._clock = clock
        self._give_up_after_s = give_up_after_s
        self._inbox: Inbox = queue.Queue(maxsize=round(QUEUE_S / BLOCK_S)) if inbox is None else inbox
        self._tap: _Tap | None = None
        self._open = contextlib.ExitStack()
        self._reckoning = Reckoning(self.sample_rate)
        self._silence = _SilenceWatch(self.sample_rate)
        self._lost_since_s: float | None = None
        self._is_stopped = False

    def __enter__(self) -> Self:
        tap = _Tap(self._library, self._inbox, self._clock)
        try:
            tap.open(self.device, self.sample_rate)
        except (self._library.PortAudioError, ValueError) as error:
            raise refusal(self.device, self.sample_rate, error) from error
        self._tap = tap
        self._open.enter_context(silenced())
        self._open.callback(self._close_tap)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.stop()
        self._open.close()

    def stop(self) -> None:
        """End the iteration; may be called from any thread."""
        self._is_stopped = True
        with contextlib.suppress(queue.Full):
            self._inbox.put_nowait(Arrival(None, None))

    def __iter__(self) -> Iterator[Block]:
        if self._tap is None:
            raise SourceError(f"microphone {self.name!r} is not open: use it in a 'with' statement")
        while not self._is_stopped:
            arrival = self._take(POLL_S if self._tap is not None else RETRY_S)
            tap = self._tap
            if arrival is not None and arrival.samples is not None and arrival.tap is tap and tap is not None:
                tap.took(arrival.arrived_s)
                is_back, self._lost_since_s = self._lost_since_s is not None, None
                yield self._placed(arrival, arrival.samples, is_back)
                continue
            now_s = self._clock()
            if self._is_stopped or (tap is not None and tap.runs and now_s - tap.last_s < tap.patience_s):
                continue
            if self._lost_since_s is None:
                self._lost_since_s = now_s if tap is None else tap.last_s
                yield Block(_NOTHING, self.sample_rate, self._reckoning.position, note=LOST)
                continue
            if self._give_up_after_s is not None and now_s - self._lost_since_s >= self._give_up_after_s:
                raise SourceError(
                    f"microphone {self.name!r} vanished and did not return within {self._give_up_after_s:g} s: "
                    "plug it in and start again"
                )
            if tap is None or not tap.runs or now_s - tap.last_s >= REOPEN_AFTER_S:
                self._reopen()

    def _take(self, timeout_s: float) -> Arrival | None:
        try:
            return self._inbox.get(timeout=timeout_s)
        except queue.Empty:
            return None

    def _placed(self, arrival: Arrival, samples: Samples, is_back: bool) -> Block:
        place = self._reckoning.push(arrival.arrived_s, samples.size, arrival.lost, arrival.overflowed)
        notes = []
        if is_back:
            notes.append(BACK)
        elif place.dropped:
            notes.append(f"{1000 * place.dropped / self.sample_rate:.0f} ms lost: the computer was too busy")
        if self._silence.begins_with(samples):
            notes.append(SILENT)
        samples.flags.writeable = False
        return Block(
            samples,
            self.sample_rate,
            place.start,
            dropped=place.dropped,
            clipped=int(np.count_nonzero(np.abs(samples) >= _FULL_SCALE)),
            note="; ".join(notes),
        )

    def _reopen(self) -> None:
        """Look for the device and open it again, where it is there."""
        self._close_tap()
        self._reckoning.interrupt()
        with contextlib.suppress(SourceError, self._library.PortAudioError, ValueError):
            rescan(self._library)
            device = find_again(self.device, self._library)
            if device is not None:
                tap = _Tap(self._library, self._inbox, self._clock)
                tap.open(device, self.sample_rate)
                self.device, self._tap = device, tap

    def _close_tap(self) -> None:
        tap, self._tap = self._tap, None
        if tap is not None:
            tap.close()


class _SilenceWatch:
    """Notices when a microphone gives nothing but zeros, which no room does."""

    def __init__(self, sample_rate: int) -> None:
        self._enough = SILENT_AFTER_S * sample_rate
        self._zeros = 0

    def begins_with(self, samples: Samples) -> bool:
        """Tell whether a stretch of zeros has just become long enough to be said, once for each stretch."""
        if samples.any():
            self._zeros = 0
            return False
        before = self._zeros
        self._zeros += samples.size
        return before < self._enough <= self._zeros


def _own_rate(library: Any, device: InputDevice) -> int:
    if device.host_api != "ALSA":
        return device.default_rate_hz
    try:
        with silenced():
            library.check_input_settings(device=device.index, channels=1, samplerate=_ALSA_RATE_HZ)
    except (library.PortAudioError, ValueError):
        return device.default_rate_hz
    return _ALSA_RATE_HZ
