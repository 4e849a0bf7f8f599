from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from tests.stand_in_sounddevice import PortAudioError, Stage
from tuner.capture.microphone import BACK, LOST, LOST_AFTER_S, POLL_S, SILENT, Microphone
from tuner.capture.source import Source, first_seconds
from tuner.errors import ConfigError, SourceError
from tuner.terms import Block

RATE = 48_000
FRAMES = 4_800
NOTICED_WITHIN_S = 2.0


def microphone(
    stage: Stage, device: str | int | None = None, sample_rate: int | None = RATE, give_up_after_s: float | None = None
) -> Microphone:
    return Microphone(
        device,
        sample_rate,
        clock=stage.clock,
        give_up_after_s=give_up_after_s,
        library=stage.sounddevice,
        inbox=stage,
    )


def listen(stage: Stage, until_s: float, each: Callable[[Block], None] | None = None) -> list[tuple[float, Block]]:
    """Blocks with the time at which they came, until the stage's clock passes ``until_s``."""
    heard: list[tuple[float, Block]] = []
    with microphone(stage) as source:
        stage.at(until_s, source.stop)
        for block in source:
            heard.append((stage.now_s - 100.0, block))
            if each is not None:
                each(block)
    return heard


def assert_adds_up(blocks: list[Block]) -> None:
    position = 0
    for block in blocks:
        assert block.start == position + block.dropped
        position = block.start + block.samples.size


def test_microphone_is_a_source() -> None:
    assert isinstance(microphone(Stage()), Source)


def test_blocks_follow_each_other() -> None:
    blocks = [b for _, b in listen(Stage(), 5.0)]
    assert len(blocks) >= 48
    assert_adds_up(blocks)
    assert {(b.samples.size, b.dropped, b.clipped, b.note) for b in blocks} == {(FRAMES, 0, 0, "")}
    assert {float(b.samples[0]) for b in blocks} == {np.float32(0.1)}
    assert not any(b.samples.flags.writeable for b in blocks)


def test_full_scale_is_counted() -> None:
    stage = Stage()
    stage.at(1.0, lambda: setattr(stage, "level", -1.0))
    blocks = [b for _, b in listen(stage, 2.0)]
    assert {b.clipped for b in blocks} == {0, FRAMES}


def test_a_device_that_vanishes_is_noticed_and_taken_up_again() -> None:
    stage = Stage(("Built-in", "USB mic"))
    heard = []
    with microphone(stage, "USB mic") as source:
        stage.at(3.0, stage.unplug)
        stage.at(6.0, lambda: stage.plug("Built-in"))
        stage.at(8.0, lambda: stage.plug("USB mic", "Built-in"))
        stage.at(12.0, source.stop)
        heard = [(stage.now_s - 100.0, b) for b in source]
    blocks = [b for _, b in heard]
    assert_adds_up([b for b in blocks if b.note != LOST])
    ((lost_at_s, lost),) = [(t, b) for t, b in heard if b.note == LOST]
    ((back_at_s, back),) = [(t, b) for t, b in heard if b.note == BACK]
    assert lost_at_s - 3.0 < NOTICED_WITHIN_S
    assert lost.samples.size == 0
    assert lost.dropped == 0
    assert 8.0 <= back_at_s < 9.0
    assert back.start / RATE == pytest.approx(back_at_s - 0.1, abs=0.11)
    assert back.dropped == back.start - lost.start
    assert [s.name for s in stage.streams] == ["USB mic", "USB mic"]
    assert all(s.closed for s in stage.streams)


def test_a_device_that_only_stops_delivering_is_noticed() -> None:
    stage = Stage()
    stage.at(3.0, lambda: setattr(stage, "stalled", True))

    def go_on() -> None:
        stage.stalled = False
        stage.deliver_backlog(2.4)

    stage.at(5.5, go_on)
    heard = listen(stage, 8.0)
    ((lost_at_s, _),) = [(t, b) for t, b in heard if b.note == LOST]
    (back,) = [b for _, b in heard if b.note == BACK]
    assert LOST_AFTER_S <= lost_at_s - 2.9 < NOTICED_WITHIN_S
    assert back.dropped == 0  # the device kept what it recorded meanwhile
    assert len(stage.streams) == 1
    assert_adds_up([b for _, b in heard])


def test_a_device_that_stays_stalled_is_opened_again() -> None:
    stage = Stage()
    stage.at(3.0, lambda: setattr(stage, "stalled", True))
    stage.at(12.0, lambda: setattr(stage, "stalled", False))
    heard = listen(stage, 15.0)
    assert len(stage.streams) >= 2
    assert [b.note for _, b in heard if b.note] == [LOST, BACK]
    (back,) = [b for _, b in heard if b.note == BACK]
    assert back.dropped / RATE == pytest.approx(9.0, abs=0.2)


def test_a_microphone_that_stays_away_is_given_up() -> None:
    stage = Stage()
    stage.at(1.0, stage.unplug)
    with microphone(stage, give_up_after_s=10.0) as source, pytest.raises(
        SourceError, match=r"microphone 'USB mic' vanished and did not return within 10 s: plug it in"
    ):
        for _ in source:
            pass
    assert 10.9 <= stage.now_s - 100.0 <= 10.9 + 1.0


def test_a_microphone_that_never_delivers_is_said() -> None:
    stage = Stage()
    stage.stalled = True
    heard = listen(stage, 8.0)
    assert [b.note for _, b in heard] == [LOST]


def test_a_listener_that_falls_behind_loses_samples_and_says_how_many() -> None:
    stage = Stage()
    stage.queue_length = 5
    slow = iter([True])

    def each(_: Block) -> None:
        if next(slow, False):
            for _step in range(12):
                stage.now_s += 0.1
                stage._deliver()

    heard = [b for _, b in listen(stage, 4.0, each)]
    assert_adds_up(heard)
    # One block was being worked on and five were queued; the next that finds room carries the loss.
    assert [(i, b.dropped) for i, b in enumerate(heard) if b.dropped] == [(6, 7 * FRAMES)]
    assert [b.note for b in heard if b.note] == ["700 ms lost: the computer was too busy"]


def test_a_loss_that_nobody_announced_is_found() -> None:
    stage = Stage()
    stage.at(3.0, lambda: setattr(stage, "skip_frames", 3 * FRAMES))
    heard = listen(stage, 8.0)
    assert_adds_up([b for _, b in heard])
    ((found_at_s, block),) = [(t, b) for t, b in heard if b.dropped]
    assert found_at_s - 3.0 <= 0.4 + NOTICED_WITHIN_S
    assert block.dropped == pytest.approx(3 * FRAMES, abs=2)


def test_an_announced_overflow_is_said() -> None:
    stage = Stage()
    stage.at(3.0, lambda: setattr(stage, "overflowed", True))
    heard = [b for _, b in listen(stage, 5.0)]
    (block,) = [b for b in heard if b.dropped]
    assert "lost: the computer was too busy" in block.note


def test_digital_silence_is_said_once_for_each_stretch() -> None:
    stage = Stage()
    stage.at(1.0, lambda: setattr(stage, "level", 0.0))
    stage.at(5.0, lambda: setattr(stage, "level", 0.1))
    stage.at(6.0, lambda: setattr(stage, "level", 0.0))
    notes = [(round(t, 1), b.note) for t, b in listen(stage, 9.0) if b.note]
    assert [n for _, n in notes] == [SILENT, SILENT]
    assert [t for t, _ in notes] == pytest.approx([2.0, 7.0], abs=0.15)


def press_ctrl_c() -> None:
    raise KeyboardInterrupt


def test_an_interrupt_closes_the_stream() -> None:
    stage = Stage()
    stage.at(1.0, press_ctrl_c)
    with pytest.raises(KeyboardInterrupt), microphone(stage) as source:
        list(source)
    assert [s.closed for s in stage.streams] == [True]


def test_iterating_again_goes_on() -> None:
    stage = Stage()
    with microphone(stage) as source:
        first = list(first_seconds(source, 1.0))
        stage.unplug()
        lost = next(iter(source))
        stage.plug("USB mic")
        back = next(iter(source))
    assert [len(first), first[-1].start, lost.note, back.note] == [10, 9 * FRAMES, LOST, BACK]
    assert back.start == 10 * FRAMES + back.dropped


def test_stop_ends_the_iteration() -> None:
    stage = Stage()
    with microphone(stage) as source:
        for count, _ in enumerate(source):
            if count == 3:
                source.stop()
    assert count == 3


def test_no_microphone_and_unknown_name_are_refused() -> None:
    with pytest.raises(SourceError, match="no microphone was found"):
        microphone(Stage(()))
    with pytest.raises(SourceError, match="microphone='Studio' must be one that exists: 0 'USB mic'"):
        microphone(Stage(), "Studio")


def test_a_device_that_cannot_be_opened_is_refused() -> None:
    stage = Stage()
    stage.refusal = PortAudioError("Error opening InputStream: Device unavailable", -9985)
    with pytest.raises(SourceError, match="'USB mic' is not available"), microphone(stage):
        pass


def test_iterating_needs_an_open_microphone() -> None:
    with pytest.raises(SourceError, match="is not open: use it in a 'with' statement"):
        next(iter(microphone(Stage())))


def test_settings_are_checked() -> None:
    with pytest.raises(ConfigError, match="sample_rate=0 must be a positive number"):
        microphone(Stage(), sample_rate=0)
    with pytest.raises(ConfigError, match="give_up_after_s=0 must be above 0"):
        microphone(Stage(), give_up_after_s=0)


@pytest.mark.parametrize(
    ("host_api", "refused", "rate"), [("ALSA", (), 48_000), ("ALSA", (48_000,), 44_100), ("Core", (), 44_100)]
)
def test_the_devices_own_rate_is_used(host_api: str, refused: tuple[int, ...], rate: int) -> None:
    stage = Stage(host_api=host_api)
    stage.refused_rates = refused
    assert microphone(stage, sample_rate=None).sample_rate == rate


def test_a_vanished_device_is_noticed_within_two_seconds_by_design() -> None:
    assert LOST_AFTER_S + POLL_S < NOTICED_WITHIN_S
