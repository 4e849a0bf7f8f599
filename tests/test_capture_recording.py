from __future__ import annotations

import struct
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st

from tuner.capture import recording as recording_module
from tuner.capture.recording import Recording, load_recording
from tuner.capture.source import Source, block_length
from tuner.errors import SourceError

RATE = 48_000
LOSSY_TOLERANCE_DB = 0.1  # what Vorbis and MP3 at their usual rates change in a lone tone's level
STEP_16 = 2.0**-15  # one step of 16-bit samples


def tone(duration_s: float, sample_rate: int = RATE, amplitude: float = 0.25) -> np.ndarray:
    t = np.arange(round(duration_s * sample_rate)) / sample_rate
    return (amplitude * np.sin(2 * np.pi * 1000 * t)).astype(np.float32)


def level_db(samples: np.ndarray) -> float:
    return float(10 * np.log10(np.mean(np.square(samples, dtype=np.float64))))


def cut(path: Path, share: float) -> Path:
    data = path.read_bytes()
    path.write_bytes(data[: int(len(data) * share)])
    return path


def test_recording_is_a_source(tmp_path: Path) -> None:
    path = tmp_path / "tone.wav"
    soundfile.write(path, tone(1.5), RATE)
    assert isinstance(Recording(path), Source)


@pytest.mark.parametrize("sample_rate", [8_000, 11_025, 22_050, 44_100, 48_000, 96_000, 192_000])
@pytest.mark.parametrize("subtype", ["PCM_16", "PCM_24", "FLOAT"])
def test_wav_comes_back_sample_for_sample(tmp_path: Path, sample_rate: int, subtype: str) -> None:
    samples = tone(1.23, sample_rate)
    path = tmp_path / "tone.wav"
    soundfile.write(path, samples, sample_rate, subtype=subtype)
    with Recording(path) as source:
        blocks = list(source)
    assert source.sample_rate == sample_rate
    assert source.name == "tone.wav"
    assert source.duration_s == pytest.approx(1.23, abs=1 / sample_rate)
    assert np.allclose(np.concatenate([b.samples for b in blocks]), samples, rtol=0, atol=STEP_16)
    assert {b.samples.dtype for b in blocks} == {np.dtype(np.float32)}
    assert {b.samples.size for b in blocks[:-1]} == {block_length(sample_rate)}
    assert [b.start for b in blocks] == [i * block_length(sample_rate) for i in range(len(blocks))]
    assert {(b.dropped, b.clipped, b.note) for b in blocks} == {(0, 0, "")}


@pytest.mark.parametrize(
    ("name", "kind", "subtype", "tolerance_db", "channels"),
    [
        ("tone.flac", "FLAC", "PCM_24", 0.001, 1),
        ("tone.flac", "FLAC", "PCM_16", 0.001, 6),
        ("tone.aiff", "AIFF", "PCM_16", 0.001, 2),
        ("tone.wav", "WAV", "PCM_16", 0.001, 6),
        ("tone.wav", "WAV", "PCM_U8", 0.05, 2),
        ("tone.ogg", "OGG", "VORBIS", LOSSY_TOLERANCE_DB, 1),
        ("tone.ogg", "OGG", "VORBIS", LOSSY_TOLERANCE_DB, 2),
        ("tone.opus", "OGG", "OPUS", LOSSY_TOLERANCE_DB, 2),
        ("tone.mp3", "MP3", "MPEG_LAYER_III", LOSSY_TOLERANCE_DB, 1),
        ("tone.mp3", "MP3", "MPEG_LAYER_III", LOSSY_TOLERANCE_DB, 2),
    ],
)
def test_formats_and_channels_keep_the_level(
    tmp_path: Path, name: str, kind: str, subtype: str, tolerance_db: float, channels: int
) -> None:
    path = tmp_path / name
    samples = tone(3.0)
    soundfile.write(path, np.repeat(samples[:, None], channels, axis=1), RATE, format=kind, subtype=subtype)
    source = Recording(path)
    blocks = list(source)
    heard = np.concatenate([b.samples for b in blocks])
    assert source.channels == channels
    assert heard.size == samples.size
    assert level_db(heard[RATE : 2 * RATE]) == pytest.approx(level_db(samples[RATE : 2 * RATE]), abs=tolerance_db)
    assert {b.note for b in blocks} == {""}


@pytest.mark.parametrize("name", ["tone.mp3", "tone.ogg", "tone.flac"])
def test_reading_in_blocks_decodes_as_reading_at_once(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    soundfile.write(path, tone(3.0, amplitude=0.05), RATE)
    whole, _ = soundfile.read(path, dtype="float32")
    assert np.array_equal(load_recording(path)[0], whole)


def test_channels_are_mixed_by_their_mean(tmp_path: Path) -> None:
    rng = np.random.default_rng(7)
    channels = rng.uniform(-0.5, 0.5, (RATE * 2, 6)).astype(np.float32)
    path = tmp_path / "six.wav"
    soundfile.write(path, channels, RATE, subtype="FLOAT")
    samples, sample_rate = load_recording(path)
    assert sample_rate == RATE
    assert np.allclose(samples, channels.mean(axis=1), rtol=0, atol=1e-6)


@settings(max_examples=15, deadline=None)
@given(left=st.integers(0, 500), right=st.integers(0, 500), subtype=st.sampled_from(["PCM_U8", "PCM_16", "FLOAT"]))
def test_clipping_is_counted_before_the_mix_down(
    tmp_path_factory: pytest.TempPathFactory, left: int, right: int, subtype: str
) -> None:
    frames = np.stack([tone(1.2), tone(1.2)], axis=1)
    frames[100 : 100 + left, 0] = 1.0
    frames[700 : 700 + right, 1] = -1.0
    path = tmp_path_factory.mktemp("clipped") / "clipped.wav"
    soundfile.write(path, frames, RATE, subtype=subtype)
    blocks = list(Recording(path))
    assert blocks[0].clipped == left + right
    assert sum(b.clipped for b in blocks[1:]) == 0


def test_iterating_again_reads_the_file_again(tmp_path: Path) -> None:
    path = tmp_path / "tone.flac"
    soundfile.write(path, tone(1.5), RATE)
    source = Recording(path)
    first, second = (np.concatenate([b.samples for b in source]) for _ in range(2))
    assert np.array_equal(first, second)


def test_blocks_are_read_one_after_the_other(tmp_path: Path) -> None:
    path = tmp_path / "tone.wav"
    soundfile.write(path, tone(60.0), RATE)
    stream = iter(Recording(path))
    next(stream)
    path.write_bytes(path.read_bytes()[: 20 * RATE * 2])
    assert sum(b.samples.size for b in stream) < 21 * RATE


@pytest.mark.parametrize("name", ["cut.wav", "cut.aiff", "cut.flac", "cut.mp3"])
def test_a_file_that_breaks_off_gives_what_is_there(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    soundfile.write(path, tone(10.0), RATE)
    blocks = list(Recording(cut(path, 0.6)))
    there_s = sum(b.samples.size for b in blocks) / RATE
    assert there_s == pytest.approx(6.0, abs=0.3)
    assert blocks[-1].note == f"the recording breaks off: {there_s:.2f} s of 10.00 s are there"
    assert {b.note for b in blocks[:-1]} == {""}


@pytest.mark.parametrize("share", [0.6, 0.9999])
def test_an_ogg_that_breaks_off_says_so(tmp_path: Path, share: float) -> None:
    path = tmp_path / "cut.ogg"
    soundfile.write(path, tone(10.0), RATE)
    assert list(Recording(path))[-1].note == ""
    blocks = list(Recording(cut(path, share)))
    assert blocks[-1].note == f"the recording breaks off after {sum(b.samples.size for b in blocks) / RATE:.2f} s"


@pytest.mark.parametrize("size", [0xFFFFFFFF, 0x7FFFFFFF])
def test_a_streamed_wav_without_a_length_is_whole(tmp_path: Path, size: int) -> None:
    path = tmp_path / "streamed.wav"
    soundfile.write(path, tone(2.0), RATE)
    data = bytearray(path.read_bytes())
    data[40:44] = struct.pack("<I", size)
    path.write_bytes(data)
    blocks = list(Recording(path))
    assert sum(b.samples.size for b in blocks) == 2 * RATE
    assert blocks[-1].note == ""


def test_a_flac_without_a_length_is_read_to_its_end(tmp_path: Path) -> None:
    path = tmp_path / "streamed.flac"
    soundfile.write(path, tone(2.0), RATE)
    data = bytearray(path.read_bytes())
    data[21] &= 0xF0  # the 36 bits of STREAMINFO that hold the number of samples (RFC 9639, section 8.2)
    data[22:26] = bytes(4)
    path.write_bytes(data)
    source = Recording(path)
    blocks = list(source)
    assert source.duration_s is None
    assert sum(b.samples.size for b in blocks) == pytest.approx(2 * RATE, abs=block_length(RATE))
    assert blocks[-1].note == ""


def test_missing_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(SourceError, match=r"nothing\.wav does not exist: check the name"):
        Recording(tmp_path / "nothing.wav")


def test_folder_is_refused(tmp_path: Path) -> None:
    with pytest.raises(SourceError, match="is a folder: name a sound file in it"):
        Recording(tmp_path)


def test_device_file_is_refused() -> None:
    with pytest.raises(SourceError, match="is not an ordinary file"):
        Recording("/dev/null")


def test_empty_file_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "empty.wav"
    path.touch()
    with pytest.raises(SourceError, match=r"empty\.wav is empty \(0 bytes\): record it again"):
        Recording(path)


def test_file_without_samples_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "header.wav"
    soundfile.write(path, tone(0.0), RATE)
    with pytest.raises(SourceError, match=r"holds no sound \(0 samples\)"):
        Recording(path)


@pytest.mark.parametrize("name", ["text.txt", "text.wav", "text.mp3", "text.ogg", "text.raw"])
def test_file_that_is_no_sound_is_refused(
    tmp_path: Path, name: str, capfd: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / name
    path.write_bytes(b"this is a shopping list" * 400)
    with pytest.raises(SourceError, match=rf"is not a sound file that can be read.*ffmpeg -i {name}"):
        Recording(path)
    assert capfd.readouterr().err == ""


def test_a_damaged_mp3_spoils_no_screen(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "damaged.mp3"
    soundfile.write(path, tone(20.0), RATE)
    data = bytearray(path.read_bytes())
    data[len(data) // 2 : len(data) // 2 + 9_000] = bytes(9_000)
    path.write_bytes(data)
    blocks = list(Recording(path))
    assert sum(b.samples.size for b in blocks) / RATE == pytest.approx(10.0, abs=0.3)
    assert "breaks off" in blocks[-1].note
    assert capfd.readouterr().err == ""


def test_file_of_which_nothing_decodes_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "broken.flac"
    soundfile.write(path, tone(10.0), RATE)
    data = bytearray(path.read_bytes())
    data[200:] = bytes(len(data) - 200)
    path.write_bytes(data)
    with pytest.raises(SourceError, match="nothing of it can be decoded"):
        list(Recording(path))


@pytest.mark.parametrize("name", ["cut.wav", "cut.flac"])
def test_file_cut_to_less_than_a_second_is_refused(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    soundfile.write(path, tone(10.0), RATE)
    with pytest.raises(SourceError, match=r"lasts 0\.\d+ s and must be at least 1 s"):
        list(Recording(cut(path, 0.05)))


@pytest.mark.parametrize("value", [0.0, 0.25])
@pytest.mark.parametrize("channels", [1, 2])
def test_digital_silence_is_refused(tmp_path: Path, value: float, channels: int) -> None:
    path = tmp_path / "silence.wav"
    soundfile.write(path, np.full((2 * RATE, channels), value), RATE)
    with pytest.raises(SourceError, match=r"silence\.wav is digital silence throughout: the microphone was muted"):
        load_recording(path)


def test_channels_that_cancel_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "cancel.wav"
    soundfile.write(path, np.stack([tone(2.0), -tone(2.0)], axis=1), RATE, subtype="FLOAT")
    with pytest.raises(SourceError, match="one is the other upside down"):
        load_recording(path)


def test_silence_with_one_sound_in_it_is_no_silence(tmp_path: Path) -> None:
    samples = np.zeros(5 * RATE, np.float32)
    samples[4 * RATE] = 2 * STEP_16
    path = tmp_path / "nearly.wav"
    soundfile.write(path, samples, RATE)
    assert np.count_nonzero(load_recording(path)[0]) == 1


@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf])
def test_values_that_are_no_numbers_are_refused(tmp_path: Path, value: float) -> None:
    samples = tone(3.0)
    samples[round(1.52 * RATE)] = value
    path = tmp_path / "nan.wav"
    soundfile.write(path, samples, RATE, subtype="FLOAT")
    with pytest.raises(SourceError, match=r"values that are no numbers near 1\.5 s: export it again"):
        list(Recording(path))


def test_integer_counts_stored_as_floats_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "counts.wav"
    soundfile.write(path, tone(2.0) * 32_768, RATE, subtype="FLOAT")
    with pytest.raises(SourceError, match="holds samples up to 8192 and full scale must be 1"):
        list(Recording(path))


@pytest.mark.parametrize("sample_rate", [1, 4_000, 7_999, 384_001])
def test_absurd_rate_is_refused(tmp_path: Path, sample_rate: int) -> None:
    path = tmp_path / "rate.wav"
    soundfile.write(path, tone(2.0), sample_rate)
    with pytest.raises(SourceError, match=f"sample_rate={sample_rate} must be 8000 to 384000 Hz"):
        Recording(path)


def test_too_many_channels_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "many.wav"
    soundfile.write(path, np.zeros((RATE, 65)), RATE)
    with pytest.raises(SourceError, match="channels=65 must be at most 64"):
        Recording(path)


def test_less_than_a_second_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "short.wav"
    soundfile.write(path, tone(0.999), RATE)
    with pytest.raises(SourceError, match=r"lasts 0\.999 s and must be at least 1 s: record half a minute"):
        Recording(path)


def test_more_than_a_day_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "days.wav"
    soundfile.write(path, np.zeros(8), 8_000, subtype="PCM_U8")
    frames = 25 * 3600 * 8_000
    data = bytearray(path.read_bytes())
    data[4:8] = struct.pack("<I", 36 + frames)
    data[40:44] = struct.pack("<I", frames)
    with path.open("wb") as file:
        file.write(data)
        file.truncate(44 + frames)  # sparse: no disk is filled
    with pytest.raises(SourceError, match=r"lasts 25\.0 h and must be at most 24 h"):
        Recording(path)


def test_loading_stops_at_two_hours(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "long.wav"
    soundfile.write(path, tone(2.0), RATE)
    monkeypatch.setattr(recording_module, "MAX_LOAD_S", 1.5)
    with pytest.raises(SourceError, match=r"must be at most .* h here: cut out the stretch"):
        load_recording(path)
