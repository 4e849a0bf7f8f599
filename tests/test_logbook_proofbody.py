from __future__ import annotations

import pytest

from tuner.logbook.proofbody import is_readable

NAN = float("nan")


@pytest.mark.parametrize(("kind", "body"), [
    ("restart", {}),
    ("restart", {"starts": [{"catches_s": None, "phases": [{"phase": "quiet", "from_s": 0, "to_s": 2.5}]}]}),
    ("restart", {"starts": [{"catches_s": 20.0, "switched_on_s": 60.0}]}),
    ("calibration", {"offset_db": 110}),
    ("microphone check", {"honest": False, "chain": {"faults": [{"fault": "gate", "seen": "x"}]}}),
    ("confirmation", {"outcome": "silent", "bands": [{"hz": 100.0, "room_db": 20.0}], "tones": []}),
])
def test_what_this_program_writes_is_readable(kind: str, body: object) -> None:
    assert is_readable(kind, body)


@pytest.mark.parametrize(("kind", "body"), [
    ("a spell", {}),
    ("restart", []),
    ("restart", None),
    ("restart", {"starts": [{}]}),
    ("restart", {"starts": [{"catches_s": "soon"}]}),
    ("restart", {"starts": [{"catches_s": 20.0, "switched_on_s": None}]}),
    ("restart", {"starts": [{"catches_s": 1.0, "phases": [{"phase": 1, "from_s": 0, "to_s": 2}]}]}),
    ("calibration", {}),
    ("calibration", {"offset_db": NAN}),
    ("calibration", {"offset_db": True}),
    ("microphone check", {"chain": {"faults": ["gate"]}}),
    ("confirmation", {"tones": [{"frequency_hz": 100.0}]}),
    ("confirmation", {"bands": [{"room_db": 20.0}]}),
])
def test_what_would_stop_a_reader_is_not(kind: str, body: object) -> None:
    assert not is_readable(kind, body)
