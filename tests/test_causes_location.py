from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tuner.causes.facts import facts_of
from tuner.causes.held import OWN_HZ, UNKNOWN, levels_of
from tuner.causes.location import ELSEWHERE, FALL_DB, PRIOR, locate
from tuner.causes.weighing import weigh
from tuner.errors import ConfigError
from tuner.signatures.holding import Holding
from tuner.sound.texture import THIRD_CENTRES_HZ
from tuner.terms import PLACES, SOUND_KINDS, Levels, Place, Reading, SoundKind

HZ = np.array(THIRD_CENTRES_HZ)
ROOM = 1e-9


def holding(place: Place, kind: SoundKind, over_db: float, *, gain: float = 1.0, bout: slice | None = None) -> Holding:
    """Three seconds of a room and of a kind's own bands over it, with a little wander; ``bout``: only then."""
    low, high = OWN_HZ[kind]
    inside = (low <= HZ) & (high >= HZ)
    sounding = np.zeros(30)
    sounding[bout or slice(None)] = 1.0
    wander = 10.0 ** (0.05 * np.sin(np.arange(30.0) + PLACES.index(place)))
    source = ROOM * (10.0 ** (over_db / 10.0) - 1.0) * np.outer(sounding, inside)
    thirds = gain * wander[:, None] * (ROOM + source)
    probability = np.full((5, len(SOUND_KINDS) + 1), 0.02)
    probability[:, SOUND_KINDS.index(kind)] = 0.9 if over_db > 3.0 else 0.05
    level = thirds[5:].reshape(5, 5, -1).sum(axis=2).mean(axis=1)
    return Holding(place, thirds, np.ones(len(HZ), dtype=bool), probability, level)


def scan_of(source: Place, kind: SoundKind, strength_db: float = 30.0, gain: float = 1.0) -> list[Holding]:
    """A scan of all places, of a sound that falls off as ``FALL_DB`` says."""
    held = []
    for place in PLACES:
        over = strength_db - FALL_DB[source].get(place, 0.0)
        held.append(holding(place, kind, 10.0 * float(np.log10(1.0 + 10.0 ** (over / 10.0))), gain=gain))
    return held


def reading() -> Reading:
    levels = Levels(-50.0, -50.0, -50.0, -50.0, -50.0, (), ())
    return Reading(20.0, 20.0, levels, (), (), None, 0.0)


@pytest.mark.parametrize(
    ("kind", "place"),
    [("gurgle", "open channel"), ("gurgle", "siphon"), ("slurp", "siphon"), ("splash", "sump"),
     ("splash", "overflow box"), ("hiss", "return"), ("hiss", "pump"), ("hiss", "open channel"), ("hum", "pump"),
     ("roar", "emergency")],
)
def test_a_sound_is_found_where_it_is_loudest(kind: SoundKind, place: Place) -> None:
    scan = locate(scan_of(place, kind))
    assert (scan.prevailing.kind, scan.prevailing.place) == (kind, place)
    assert scan.prevailing.probability > 0.8
    assert scan.prevailing.margin_db > 6.0
    # The room is known only through the place where the sound is weakest.
    weakest_db = 10.0 * np.log10(1.0 + 10.0 ** ((30.0 - max(FALL_DB[place].values())) / 10.0))
    assert scan.prevailing.strength_db == pytest.approx(30.0 - weakest_db, abs=1.5)
    assert [(s.kind, s.place) for s in scan.sounds] == [(kind, place)]
    assert sum(o.probability for o in scan.prevailing.options) == pytest.approx(1.0)


def test_levels_outweigh_what_is_usual_for_the_kind() -> None:
    # A hum is nearly always the pump's; here it is 19 dB louder at the return.
    assert locate(scan_of("return", "hum", 35.0)).prevailing.place == "return"


def test_a_kind_that_nobody_recognises_is_located_by_its_levels() -> None:
    held = [replace(h, probability=np.full_like(h.probability, 0.02)) for h in scan_of("sump", "splash")]
    scan = locate(held)
    assert (scan.prevailing.kind, scan.prevailing.place) == (UNKNOWN, "sump")
    assert scan.sounds == ()


@settings(max_examples=20, deadline=None)
@given(st.permutations(range(len(PLACES))), st.floats(1e-4, 1e4), st.sampled_from(PLACES))
def test_order_and_gain_change_nothing(order: Sequence[int], gain: float, source: Place) -> None:
    plain = locate(scan_of(source, "splash"))
    held = scan_of(source, "splash", gain=gain)
    other = locate([held[i] for i in order])
    assert other.prevailing.place == plain.prevailing.place
    assert other.prevailing.probability == pytest.approx(plain.prevailing.probability, abs=1e-6)


def test_a_gulp_that_came_just_then_is_not_taken_for_the_place() -> None:
    """A sound heard for a second at the return and a second, 3 dB weaker, at the emergency: neither makes gulps."""
    held = [holding(p, "slurp", 0.5) for p in PLACES]
    held[PLACES.index("emergency")] = holding("emergency", "slurp", 22.0, bout=slice(12, 22))
    held[PLACES.index("return")] = holding("return", "slurp", 14.0, bout=slice(5, 15))
    scan = locate(held)
    assert scan.prevailing.place == "siphon"
    steady = [holding(h.place, "slurp", {"emergency": 22.0, "return": 14.0}.get(h.place, 0.5)) for h in held]
    passing_odds, steady_odds = (
        {o.place: o.probability for o in found.prevailing.options} for found in (scan, locate(steady))
    )
    assert steady_odds["emergency"] > 3.0 * passing_odds["emergency"]


def test_places_left_out_leave_elsewhere() -> None:
    held = [h for h in scan_of("sump", "splash") if h.place not in ("sump", "pump")]
    scan = locate(held)
    assert {o.place for o in scan.prevailing.options} == {h.place for h in held} | {ELSEWHERE}
    assert scan.prevailing.place == ELSEWHERE
    assert scan.prevailing.options[0].over_db == 0.0
    assert "prevailing.at_sump" not in facts_of(reading(), rig=None, last_move=None, scan=scan)


def test_a_second_holding_undoes_a_disturbance() -> None:
    held = scan_of("sump", "splash", 12.0)
    disturbed = [holding(h.place, "splash", 25.0) if h.place == "overflow box" else h for h in held]
    assert locate(disturbed).prevailing.place == "overflow box"
    again = locate([*disturbed, *scan_of("sump", "splash", 12.0)])
    assert again.prevailing.place == "sump"
    assert again.seconds["sump"] == pytest.approx(6.0)


def test_speech_over_a_holding_is_left_out_and_told() -> None:
    held = scan_of("sump", "splash", 20.0)
    loud = holding("return", "splash", 40.0)
    probability = loud.probability.copy()
    probability[:, :-1], probability[:, -1] = 0.05, 0.95
    covered = replace(loud, probability=probability)
    at = PLACES.index("return")
    assert locate([*held[:at], covered, *held[at + 1 :]]).disturbed == ("return",)
    assert locate([*held, covered]).prevailing.place == "sump"
    assert locate([*held, covered]).disturbed == ()


def test_one_place_alone_tells_nothing() -> None:
    with pytest.raises(ConfigError, match="places=sump must be at least two"):
        locate([holding("sump", "splash", 20.0)] * 3)
    with pytest.raises(ConfigError, match="places=none"):
        levels_of([])


def test_priors_and_falls_name_real_places() -> None:
    for table in PRIOR.values():
        assert set(table) <= set(PLACES)
        assert 0.8 <= sum(table.values()) <= 1.0
    for source, falls in FALL_DB.items():
        assert set(falls) == set(PLACES) - {source}
        assert min(falls.values()) >= 6.0  # 6 dB a doubling of distance, and the next pipe is twice as far at least


def test_located_places_are_facts_for_the_causes() -> None:
    heard = reading()
    for place, kind, cause in (
        ("sump", "splash", "outlet above water"), ("overflow box", "splash", "weir drop"),
        ("return", "hiss", "return drawing air"), ("emergency", "roar", "emergency carrying flow"),
    ):
        scan = locate(scan_of(place, kind))  # type: ignore[arg-type]
        without = {c.name: c.probability for c in weigh(heard, rig=None, last_move=None, floor=None)}
        given_places = weigh(heard, rig=None, last_move=None, floor=None, scan=scan)
        found = {c.name: c for c in given_places}
        assert found[cause].probability > 3.0 * without[cause]  # type: ignore[index]
        assert any("by holding the microphone" in words for words in found[cause].because)  # type: ignore[index]
    facts = facts_of(heard, rig=None, last_move=None, scan=scan)
    assert facts["roar.at_emergency"] > 0.8
    assert facts["prevailing.at_channel"] < 0.2
