from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from tuner.logbook.store import Logbook
from tuner.signatures.listener import measure_floor

NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)


def test_proofs_come_back_newest_first_by_device_and_rig(tmp_path: Path) -> None:
    with Logbook(tmp_path / "log.sqlite", clock=lambda: NOON) as logbook:
        logbook.keep_proof("calibration", "one", 48_000, {"offset_db": 110.0})
        logbook.keep_proof("calibration", "two", 48_000, {"offset_db": 100.0})
        number = logbook.keep_proof("restart", "one", 48_000, {"repeats": []}, "kelp")
        assert [p.device for p in logbook.proofs("calibration")] == ["two", "one"]
        assert logbook.proofs("calibration", device="one")[0].body == {"offset_db": 110.0}
        kept = logbook.proofs("restart", rig_name="kelp")
        assert (kept[0].id, kept[0].made, kept[0].rig_name) == (number, NOON, "kelp")
        assert logbook.proofs("restart", rig_name="another") == ()
        assert len(logbook.proofs("calibration", newest=1)) == 1


def test_a_floor_is_kept_with_its_place(tmp_path: Path) -> None:
    noise = (1e-3 * np.random.default_rng(1).standard_normal(3 * 16_000)).astype(np.float32)
    with Logbook(tmp_path / "log.sqlite", clock=lambda: NOON) as logbook:
        number = logbook.keep_floor(measure_floor(noise, 16_000), "one", 16_000, "on the sofa")
        assert logbook.floor_place(number) == "on the sofa"
        assert logbook.floor_place(number + 1) == ""
