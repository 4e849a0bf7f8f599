"""What a tape measure is worth: the bands of the quiet window with a figure assumed, and with it known.

Both are sampled with the same random numbers, so that what differs is the figure alone and not the draw. A measure
is taken to confirm the figure that was assumed; only how sure it is changes.
"""

from __future__ import annotations

from copy import deepcopy
from dataclasses import dataclass, replace

from numpy.random import Generator

from tuner.rig import Fact, Rig, measures, walk
from tuner.water.band import Band
from tuner.water.controls import WindowBands, window_bands

DRAWS, DRAWS_WITH_FACTS = 1500, 5000
SCREENING_DRAWS = 64  # enough to see that a figure has no part in the window at all: the bands are then the same


@dataclass(frozen=True, slots=True)
class Worth:
    """What knowing one thing is worth.

    ``name`` is a field of the rig, or the kind of a fact; ``setting`` and ``width`` are the bands of the valve's
    middle setting (turns or degrees) and of the window's width (m3/s) once it is known; ``setting_saved`` and
    ``width_saved`` the shares by which they are narrower than without (never negative).
    """

    name: str
    how: str
    setting: Band | None
    width: Band | None
    setting_saved: float
    width_saved: float

    @property
    def saved(self) -> float:
        """The larger saving."""
        return max(self.setting_saved, self.width_saved)


def worth_of_measures(rig: Rig, rng: Generator, draws: int | None = None) -> tuple[WindowBands, tuple[Worth, ...]]:
    """Return the window's bands as they are, and the worth of each assumed field, dearest first.

    Fields that have no part in the window have a worth of zero and come last.
    """
    n = draws or (DRAWS_WITH_FACTS if rig.facts else DRAWS)
    now = window_bands(rig, deepcopy(rng), draws=n)
    rough = window_bands(rig, deepcopy(rng), draws=SCREENING_DRAWS)
    found: list[Worth] = []
    for part_name, part in walk(rig):
        for field, measure in measures(part).items():
            name = f"{part_name}.{field}"
            if name not in rig.assumed:
                continue
            known = replace(rig, assumed=rig.assumed - {name})
            if window_bands(known, deepcopy(rng), draws=SCREENING_DRAWS) == rough:
                found.append(Worth(name, measure.how, now.setting_mid, now.width_m3_s, 0.0, 0.0))
            else:
                found.append(_worth(name, measure.how, now, window_bands(known, deepcopy(rng), draws=n)))
    return now, tuple(sorted(found, key=lambda w: (-w.saved, w.name)))


def worth_of_facts(rig: Rig, rng: Generator, draws: int = DRAWS_WITH_FACTS) -> tuple[Worth, ...]:
    """Return the worth of facts that are not in the description yet, dearest first.

    Each is taken at the figure that the description makes most likely; what is measured in truth may save more or less.
    """
    now = window_bands(rig, deepcopy(rng), draws=draws)
    kinds = {fact.kind for fact in rig.facts}
    likely: list[tuple[Fact, str]] = []
    if now.slurp_setting is not None and now.slurp_setting.middle <= rig.siphon.valve.full:
        how = "open the siphon valve slowly until it just slurps, and count how far it is open"
        likely.append((Fact(kind="just slurps", setting=now.slurp_setting.middle), how))
    if now.setting_low is not None and now.setting_low.middle <= rig.siphon.valve.full:
        how = "close the siphon valve slowly until it just gurgles, and count how far it is open"
        likely.append((Fact(kind="just gurgles", setting=now.setting_low.middle), how))
    if now.supply_m3_s.middle > 0:
        how = "catch the return in a bucket and take the time"
        likely.append((Fact(kind="return flow", flow_m3_s=now.supply_m3_s.middle), how))
    found = [
        _worth(fact.kind, how, now, window_bands(replace(rig, facts=(*rig.facts, fact)), deepcopy(rng), draws=draws))
        for fact, how in likely
        if fact.kind not in kinds
    ]
    return tuple(sorted(found, key=lambda w: -w.saved))


def _worth(name: str, how: str, now: WindowBands, then: WindowBands) -> Worth:
    return Worth(
        name, how, then.setting_mid, then.width_m3_s,
        _saved(now.setting_mid, then.setting_mid), _saved(now.width_m3_s, then.width_m3_s),
    )


def _saved(now: Band | None, then: Band | None) -> float:
    if now is None or then is None or now.width <= 0:
        return 0.0
    return max(0.0, 1.0 - then.width / now.width)
