"""Sound files as a source: any common format, rate and channel count, read in blocks.

Channels are mixed down by their mean; samples at full scale are counted over all channels before that. The
file keeps its own rate (see ``source``). A file that breaks off early gives what is there and says so in the
note of its last block; a file that holds nothing to listen to is refused with one line.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from contextlib import nullcontext
from dataclasses import dataclass, replace
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import numpy as np

from tuner.capture.chatter import silenced
from tuner.capture.source import block_length
from tuner.errors import SourceError
from tuner.terms import Block, Samples

MIN_RATE_HZ = 8_000  # below it the bright sounds (hiss, trickle) cannot be there
MAX_RATE_HZ = 384_000  # the fastest rate that audio interfaces offer
MIN_DURATION_S = 1.0  # less is no listening window
MAX_DURATION_S = 24 * 3600.0
MAX_LOAD_S = 2 * 3600.0
MAX_CHANNELS = 64
MAX_SAMPLE = 16.0  # 24 dB above full scale: integer counts stored as floating point, not sound

_UNKNOWN_FRAMES = 2**62  # a header without a length is reported as the largest 64-bit number
_UNKNOWN_BYTES = 0x7FFFFF00  # chunk sizes that programs write when they do not know the length yet
_PROMISED_BYTES = re.compile(r"^\s*(?:data|SSND|Data Size)\s*:\s*(\d+) \(should be (\d+)\)", re.MULTILINE)
_OGG_TAIL = 65_536  # bytes; the longest Ogg page is 65307 bytes
_CONVERT = "convert it to WAV or FLAC, for instance with: ffmpeg -i {name} recording.wav"


@dataclass(frozen=True, slots=True)
class _Header:
    """What the file says about itself; ``frames`` and ``promised`` are None where it does not say."""

    sample_rate: int
    channels: int
    frames: int | None
    promised: int | None
    full_scale: float
    is_mp3: bool
    breaks_off: bool


class Recording:
    """A sound file as a source of mono blocks at the file's own rate.

    Parameters
    ----------
    path
        A WAV, FLAC, OGG, MP3, AIFF or other file that libsndfile reads.

    Raises
    ------
    SourceError
        On opening: the file is missing, empty, not sound, or its rate, channel count or length is absurd.
        While iterating: it holds values that are no sound, stays digitally silent throughout, or nothing of
        it decodes. Iterating again reads the file again from its start.
    """

    def __init__(self, path: str | os.PathLike[str]) -> None:
        self.path = Path(path)
        self.name = self.path.name
        _refuse_what_is_no_file(self.path)
        with _open(self.path) as file:
            self._header = _read_header(self.path, file)
        _refuse_absurd_header(self.path, self._header)

    @property
    def sample_rate(self) -> int:
        """Samples per second, as the file has them."""
        return self._header.sample_rate

    @property
    def channels(self) -> int:
        """Channels in the file, before the mix-down."""
        return self._header.channels

    @property
    def frames(self) -> int | None:
        """Samples per channel that the header promises, or None when it does not say."""
        return self._header.promised

    @property
    def duration_s(self) -> float | None:
        """Length in seconds that the header promises, or None when it does not say."""
        return None if self.frames is None else self.frames / self.sample_rate

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        return None

    def __iter__(self) -> Iterator[Block]:
        header = self._header
        check = _SoundCheck(self.path, header)
        held: Block | None = None
        position = 0
        with _open(self.path) as file:
            for frames in _decoded(file, header):
                check.update(frames, position)
                if held is not None:
                    yield held
                held = Block(_mixed_down(frames), header.sample_rate, position, clipped=check.clipped)
                position += frames.shape[0]
        check.refuse_end(position)
        if held is not None:
            yield replace(held, note=_breaking_off(header, position))
        check.refuse_silence()


def load_recording(path: str | os.PathLike[str]) -> tuple[Samples, int]:
    """Return all samples of a short recording, mono float32 of shape (n,), and its sample rate in Hz.

    Raises
    ------
    SourceError
        As ``Recording``, and when the file is longer than 2 hours.
    """
    recording = Recording(path)
    most = int(MAX_LOAD_S * recording.sample_rate)
    parts: list[Samples] = []
    total = 0
    if recording.frames is not None and recording.frames > most:
        raise SourceError(_too_long_to_load(recording.path, recording.frames / recording.sample_rate))
    for block in recording:
        parts.append(block.samples)
        total += block.samples.size
        if total > most:
            raise SourceError(_too_long_to_load(recording.path, total / recording.sample_rate))
    return np.concatenate(parts), recording.sample_rate


def _too_long_to_load(path: Path, duration_s: float) -> str:
    return (
        f"recording {path} lasts {duration_s / 3600:.1f} h and must be at most {MAX_LOAD_S / 3600:g} h here: "
        f"cut out the stretch to look at"
    )


def _refuse_what_is_no_file(path: Path) -> None:
    if path.is_dir():
        raise SourceError(f"recording {path} is a folder: name a sound file in it")
    if not path.exists():
        raise SourceError(f"recording {path} does not exist: check the name and the folder")
    if not path.is_file():
        raise SourceError(f"recording {path} is not an ordinary file: save the sound to a file first")
    if path.stat().st_size == 0:
        raise SourceError(f"recording {path} is empty (0 bytes): record it again")


def _open(path: Path) -> Any:
    """Open ``path`` with soundfile, which is imported only here because light verbs do not need it."""
    try:
        import soundfile
    except OSError as error:
        raise SourceError(
            "the library libsndfile is missing: install it (apt-get install libsndfile1, dnf install libsndfile)"
        ) from error
    try:
        with silenced():
            file = soundfile.SoundFile(os.fspath(path))
    except (soundfile.LibsndfileError, TypeError, ValueError) as error:
        if not os.access(path, os.R_OK):
            raise SourceError(f"recording {path} may not be read: give yourself the right to read it") from error
        raise SourceError(
            f"recording {path} is not a sound file that can be read, or is damaged at its start: "
            + _CONVERT.format(name=path.name)
        ) from error
    # A seekable file is seeked after every read, which makes the MP3 decoder lose the bits that one frame
    # borrows from the frames before it: quiet tones come out up to 12 dB low.
    file.seekable = _never
    return file


def _never() -> bool:
    return False


def _read_header(path: Path, file: Any) -> _Header:
    frames = int(file.frames)
    known = frames < _UNKNOWN_FRAMES
    promised = frames
    stated = _PROMISED_BYTES.search(file.extra_info)
    if stated and int(stated[1]) < _UNKNOWN_BYTES and int(stated[1]) > int(stated[2]) > 0:
        promised = round(frames * int(stated[1]) / int(stated[2]))
    bits = 8 if file.subtype in ("PCM_S8", "PCM_U8") else 16
    return _Header(
        sample_rate=int(file.samplerate),
        channels=int(file.channels),
        frames=frames if known else None,
        promised=promised if known else None,
        # Coarser steps end lower; above 16 bits the last step is no audible matter.
        full_scale=1.0 - 2.0 ** (1 - bits),
        is_mp3=file.format == "MP3" or str(file.subtype).startswith("MPEG"),
        breaks_off=file.format == "OGG" and not _ogg_is_finished(path),
    )


def _ogg_is_finished(path: Path) -> bool:
    """Tell whether the last page of an Ogg file is whole and marked as the last one (RFC 3533, section 6)."""
    with path.open("rb") as file:
        file.seek(max(0, path.stat().st_size - _OGG_TAIL))
        tail = file.read()
    page = tail[max(0, tail.rfind(b"OggS")) :]
    if len(page) < 27 or not page[5] & 0x04:
        return False
    segments = page[26]
    return len(page) >= 27 + segments + sum(page[27 : 27 + segments])


def _refuse_absurd_header(path: Path, header: _Header) -> None:
    if not MIN_RATE_HZ <= header.sample_rate <= MAX_RATE_HZ:
        raise SourceError(
            f"recording {path}: sample_rate={header.sample_rate} must be {MIN_RATE_HZ} to {MAX_RATE_HZ} Hz: "
            "record at 48000 Hz"
        )
    if header.channels > MAX_CHANNELS:
        raise SourceError(
            f"recording {path}: channels={header.channels} must be at most {MAX_CHANNELS}: "
            "the header is damaged, or export fewer channels"
        )
    if header.frames == 0:
        raise SourceError(
            f"recording {path} holds no sound (0 samples): the recorder was stopped before it saved; record it again"
        )
    if header.frames is not None and header.promised is not None:
        _refuse_short(path, header.frames, header.sample_rate)
        _refuse_long(path, header.promised, header.sample_rate)


def _refuse_short(path: Path, frames: int, sample_rate: int) -> None:
    if frames < MIN_DURATION_S * sample_rate:
        raise SourceError(
            f"recording {path} lasts {frames / sample_rate:.3g} s and must be at least {MIN_DURATION_S:g} s: "
            "record half a minute"
        )


def _refuse_long(path: Path, frames: int, sample_rate: int) -> None:
    if frames > MAX_DURATION_S * sample_rate:
        raise SourceError(
            f"recording {path} lasts {frames / sample_rate / 3600:.1f} h and must be at most "
            f"{MAX_DURATION_S / 3600:g} h: cut it into days"
        )


def _decoded(file: Any, header: _Header) -> Iterator[Samples]:
    """Give the frames, float32 of shape (n, channels), until the file ends or stops decoding."""
    import soundfile

    step = block_length(header.sample_rate)
    while True:
        try:
            with silenced() if header.is_mp3 else nullcontext():
                frames = file.read(step, dtype="float32", always_2d=True)
        except soundfile.LibsndfileError:
            return
        if frames.shape[0] == 0:
            return
        yield frames


def _mixed_down(frames: Samples) -> Samples:
    if frames.shape[1] == 1:
        return frames[:, 0]
    mono: Samples = frames.mean(axis=1, dtype=np.float32)
    return mono


def _breaking_off(header: _Header, frames: int) -> str:
    """Say that a file holds less than it promised, or nothing when it is whole."""
    if header.promised is not None and header.promised > frames:
        there_s, promised_s = frames / header.sample_rate, header.promised / header.sample_rate
        return f"the recording breaks off: {there_s:.2f} s of {promised_s:.2f} s are there"
    if header.breaks_off:
        return f"the recording breaks off after {frames / header.sample_rate:.2f} s"
    return ""


class _SoundCheck:
    """Watches the decoded frames for values that are no sound; ``clipped`` belongs to the newest frames."""

    def __init__(self, path: Path, header: _Header) -> None:
        self._path = path
        self._header = header
        self._lowest = np.inf
        self._highest = -np.inf
        self._mono_is_constant = True
        self._mono_first: float | None = None
        self.clipped = 0

    def update(self, frames: Samples, position: int) -> None:
        """Check the next frames, which begin at sample ``position``."""
        low, high = float(frames.min()), float(frames.max())
        peak = max(-low, high)
        if not np.isfinite(peak):
            raise SourceError(
                f"recording {self._path} holds values that are no numbers near "
                f"{position / self._header.sample_rate:.1f} s: export it again as 16- or 24-bit WAV"
            )
        if peak > MAX_SAMPLE:
            raise SourceError(
                f"recording {self._path} holds samples up to {peak:.4g} and full scale must be 1: "
                "export it again as 16- or 24-bit WAV"
            )
        _refuse_long(self._path, position + frames.shape[0], self._header.sample_rate)
        self._lowest, self._highest = min(self._lowest, low), max(self._highest, high)
        full = self._header.full_scale
        self.clipped = int(np.count_nonzero(np.abs(frames) >= full)) if peak >= full else 0
        if self._mono_is_constant:
            mono = _mixed_down(frames)
            self._mono_first = float(mono[0]) if self._mono_first is None else self._mono_first
            self._mono_is_constant = bool(np.all(mono == self._mono_first))

    def refuse_end(self, frames: int) -> None:
        """Refuse a file of which nothing, or less than a listening window, decodes."""
        if frames == 0:
            raise SourceError(
                f"recording {self._path} is damaged: nothing of it can be decoded; copy it again from where it came"
            )
        _refuse_short(self._path, frames, self._header.sample_rate)

    def refuse_silence(self) -> None:
        """Refuse a file in which nothing ever moved."""
        if self._lowest == self._highest:
            raise SourceError(
                f"recording {self._path} is digital silence throughout: the microphone was muted, blocked or not "
                "chosen; record it again"
            )
        if self._mono_is_constant:
            raise SourceError(
                f"recording {self._path} is digital silence throughout once its channels are mixed: one is the "
                "other upside down; export a single channel"
            )
