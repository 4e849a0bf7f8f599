from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
import soundfile

import tuner
from tests.desks import PaperDesk
from tuner.cli import main
from tuner.errors import ConfigError
from tuner.logbook.store import Logbook, Opening
from tuner.rehearsal.cases import draw_case
from tuner.screens.scanpage import ScanPage
from tuner.terms import PLACES, Block, Place, Samples
from tuner.verbs.holds import LiveHolds, Presses
from tuner.verbs.locate import place_and_file
from tuner.verbs.scanning import Round, Scanning

RATE = 16_000


@pytest.fixture(autouse=True)
def _own_data_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("COLUMNS", "90")


@pytest.fixture(scope="module")
def takes() -> dict[Place, Samples]:
    """A whole scan of an outlet that ends above the water."""
    rehearsal = draw_case("outlet above water", 5, sample_rate=RATE)
    return {place: rehearsal.hold(place, 2.0) for place in PLACES}


def run(capsys: pytest.CaptureFixture[str], *words: str | Path) -> tuple[int, str, str]:
    capsys.readouterr()
    code = main([str(word) for word in words])
    out, err = capsys.readouterr()
    return code, out, err


class Table:
    """A microphone that hears what the scan holds; ``losses`` names the places that fail at first."""

    def __init__(self, takes: dict[Place, Samples], losses: tuple[Place, ...] = ()) -> None:
        self.takes = takes
        self.losses = list(losses)
        self.held: list[Place] = []

    def hold(self, place: Place, _seconds: float) -> Samples | None:
        if place in self.losses:
            self.losses.remove(place)
            return None
        self.held.append(place)
        return self.takes[place]

    def idle(self) -> bool:
        return True


def guided(tmp_path: Path, table: Table, typed: str) -> tuple[Round, list[str]]:
    told: list[str] = []
    scan_round = Round(RATE, None)
    with Logbook(tmp_path / "log.sqlite", clock=lambda: datetime(2026, 3, 1, tzinfo=UTC)) as logbook:
        with (
            logbook.begin(Opening("locate", "a table", RATE)) as entry,
            Presses(PaperDesk(typed).desk) as presses,
        ):
            Scanning(table, scan_round, entry, 2.0, told.append).guided(presses)
        assert logbook.session(entry.id).verb == "locate"
    return scan_round, told


def test_the_guide_leads_through_all_places(tmp_path: Path, takes: dict[Place, Samples]) -> None:
    table = Table(takes)
    scan_round, told = guided(tmp_path, table, "\n" * 7)
    assert tuple(table.held[:7]) == PLACES
    assert scan_round.scan().prevailing.place == "sump"
    assert next(line for line in told if line.startswith("next")).startswith("next     siphon: close to")


def test_places_come_in_any_order_may_be_skipped_and_lost_sound_is_held_again(
    tmp_path: Path, takes: dict[Place, Samples]
) -> None:
    table = Table(takes, losses=("pump",))
    scan_round, told = guided(tmp_path, table, "6\n6\ns\nx\n5\nr\n")
    assert table.held == ["pump", "sump"]
    assert scan_round.places == 2
    assert any("some sound was lost" in line for line in told)
    assert any("'x' is no key here" in line for line in told)
    assert [line for line in told if line.startswith("next")][-1].startswith("next     open channel")


def test_the_end_of_the_lines_ends_the_scan(tmp_path: Path, takes: dict[Place, Samples]) -> None:
    assert guided(tmp_path, Table(takes), "\n")[0].places == 1


def test_recordings_made_at_the_places_are_compared(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, takes: dict[Place, Samples]
) -> None:
    words: list[str | Path] = ["locate"]
    for place in ("siphon", "overflow box", "sump", "pump", "return"):
        file = tmp_path / f"{place}.wav"
        soundfile.write(file, takes[place], RATE, "FLOAT")  # type: ignore[index]
        words += ["--at", f"{'box' if place == 'overflow box' else place}={file}"]
    code, out, err = run(capsys, *words)
    assert (code, err) == (0, "")
    assert "at the sump" in next(line for line in out.splitlines() if line.startswith("found"))
    assert "left out open channel, emergency" in out
    code, out, _ = run(capsys, *words, "--json")
    body = json.loads(out)
    assert code == 0
    assert body["prevailing"]["place"] == "sump"
    assert body["prevailing"]["probability"] > 0.5
    assert {"schema", "sounds", "seconds", "common_db", "disturbed", "causes", "source"} <= set(body)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--at", "cellar=x.wav"], "at='cellar=x.wav' must be PLACE=FILE, with a place of siphon"),
        (["--at", "sump=none.wav"], "none.wav does not exist"),
        (["--seconds", "1", "--rehearsal", "7"], "seconds=1 must be at least 1.5"),
    ],
)
def test_bad_input_is_one_clear_line(capsys: pytest.CaptureFixture[str], words: list[str], says: str) -> None:
    code, _, err = run(capsys, "locate", *words)
    assert code == 2
    assert says in err
    assert err.count("\n") == 1


def test_one_recording_alone_and_unlike_rates_are_refused(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, takes: dict[Place, Samples]
) -> None:
    for name, rate in (("a", RATE), ("b", 2 * RATE)):
        soundfile.write(tmp_path / f"{name}.wav", np.tile(takes["sump"], 2), rate, "FLOAT")
    _, _, err = run(capsys, "locate", "--at", f"sump={tmp_path / 'a.wav'}")
    assert "places=sump must be at least two" in err
    _, _, err = run(capsys, "locate", "--at", f"sump={tmp_path / 'a.wav'}", "--at", f"pump={tmp_path / 'b.wav'}")
    assert "sample_rate=16000, 32000 must be one for all recordings" in err


def test_a_rehearsal_scans_by_itself_and_is_kept(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    log = tmp_path / "log.sqlite"
    code, out, err = run(capsys, "locate", "--rehearsal", "7", "--seconds", "1.5", "--logbook", log, "--json")
    body = json.loads(out)
    assert code == 0
    assert "holding at the siphon" in err  # what is told goes beside the JSON
    assert body["prevailing"]["place"] == "pump"
    with Logbook(log, clock=lambda: datetime(2026, 3, 1, tzinfo=UTC), look_only=True) as logbook:
        (proof,) = logbook.proofs("scan")
        (session,) = logbook.sessions()
    assert proof.body["prevailing"]["place"] == "pump"
    assert session.verb == "locate"
    assert session.outcome.endswith("at pump")


def test_the_seam_locates_and_hands_the_places_on(takes: dict[Place, Samples]) -> None:
    scan = tuner.locate(tuple(takes.items()), RATE)
    assert scan.prevailing.place == "sump"
    d = tuner.diagnose(np.concatenate([takes["sump"], takes["pump"]]), RATE, scan=scan)
    assert any("by holding the microphone" in words for words in d.causes[0].because)
    with pytest.raises(ConfigError, match="place='attic'"):
        tuner.locate([("attic", takes["sump"])], RATE)  # type: ignore[list-item]


def test_a_live_source_gives_whole_holdings_or_none() -> None:
    class Tape:
        sample_rate, name = RATE, "a tape"

        def __iter__(self) -> Iterator[Block]:
            for i in range(60):
                yield Block(np.full(RATE // 10, 0.1, np.float32), RATE, i * RATE // 10, dropped=RATE if i == 25 else 0)

    holds = LiveHolds(Tape())  # type: ignore[arg-type]
    assert holds.idle()
    first = holds.hold("sump", 2.0)
    assert first is not None
    assert len(first) == 2 * RATE
    assert holds.hold("sump", 2.0) is None
    assert holds.hold("sump", 9.0) is None
    assert not holds.idle()


@pytest.mark.parametrize("ascii_only", [False, True])
def test_the_page_marks_the_place_by_more_than_colour(takes: dict[Place, Samples], ascii_only: bool) -> None:
    scan_round = Round(RATE, None)
    for place, samples in takes.items():
        scan_round.take(place, samples)
    desk = PaperDesk(ascii_only=ascii_only)
    desk.desk.page(ScanPage(scan_round.scan(), None, "a table"))
    mark = ">" if ascii_only else "▶"
    (marked,) = [line for line in desk.lines if line.startswith("sump")]
    assert "%" in marked
    assert mark in marked[15:27]  # the column of the prevailing sound
    assert not any(mark in line[15:27] for line in desk.lines if line.startswith(("siphon", "return", "emergency")))
    assert max(map(len, desk.lines)) <= 80
    if ascii_only:
        assert desk.out.isascii()


def test_the_page_says_what_would_settle_a_doubt(takes: dict[Place, Samples]) -> None:
    def page(*places: Place, always: Samples | None = None) -> str:
        scan_round, desk = Round(RATE, None), PaperDesk()
        for place in places:
            scan_round.take(place, takes[place] if always is None else always)
        desk.desk.page(ScanPage(scan_round.scan(), None, "a table"))
        return desk.out

    assert "unsure" not in page(*PLACES)
    noise = (1e-3 * np.random.default_rng(1).standard_normal(2 * RATE)).astype(np.float32)
    assert "nothing stands out at any place" in page("siphon", "return", always=noise)
    assert "left out siphon, open channel, emergency" in page("overflow box", "sump", "pump", "return")


def test_a_place_may_be_named_in_short() -> None:
    assert place_and_file("box=a=b.wav") == ("overflow box", Path("a=b.wav"))
