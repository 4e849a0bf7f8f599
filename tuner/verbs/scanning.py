"""The scan itself: where to hold the microphone next, what was heard there, and when it is enough."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from tuner.causes.location import Scan, locate
from tuner.errors import ConfigError
from tuner.logbook.entry import Entry
from tuner.rig import Rig
from tuner.screens.scanpage import SURE_FROM, found_text
from tuner.screens.words import duration_text, level_text, percent_text
from tuner.signatures.holding import Holder, Holding
from tuner.signatures.listener import Listener
from tuner.terms import PLACES, SOUND_KINDS, Moment, Place, Reading
from tuner.verbs.holds import Holds, Presses

MOST_REPEATS = 2  # times that the scan itself asks to hold it once more
CAUTIONS = (
    "touch no plug and no cord with a wet hand; a plug that is wet stays untouched until its circuit is switched off",
    "a phone over water hangs on a strap; a microphone on a lead stays dry and away from mains cords",
    "never put hands into the water while a pump is plugged in",
)
WHERE: dict[Place, str] = {
    "siphon": "close to the siphon's pipe, just under the box, or a cup pressed against it",
    "open channel": "close to the open channel's pipe or its top elbow with the vent",
    "emergency": "close to the emergency pipe, just under the box",
    "overflow box": "over the overflow box, a hand's breadth above the water",
    "sump": "over the sump where the drains end, clear of drops",
    "pump": "close to the return pump, from outside the glass",
    "return": "over the tank where the return comes in",
}
KEYS = "Enter: it is there   1-7: another place   s: skip it   r: result   q: quit"


class Round:
    """Everything that one scan has heard: the holdings, and the listener that sums them up for the causes."""

    def __init__(self, sample_rate: int, rig: Rig | None) -> None:
        self._holder = Holder(sample_rate)
        self._listener = Listener(sample_rate, rig)
        self._rate = sample_rate
        self.holdings: list[Holding] = []
        self.heard_s = 0.0

    @property
    def places(self) -> int:
        """At how many different places it was held."""
        return len({holding.place for holding in self.holdings})

    def take(self, place: Place, samples: NDArray[np.floating]) -> tuple[Holding, tuple[Moment, ...]]:
        """Take what was heard at a place; raises ConfigError when it is too short or silence."""
        holding = self._holder.hear(place, samples)
        self.holdings.append(holding)
        # Nothing is glued across the way from one place to the next.
        self._listener.gap(0)
        self._listener.feed(samples)
        self._listener.flush()
        self.heard_s += len(samples) / self._rate
        return holding, self._listener.moments()

    def scan(self) -> Scan:
        """Return the places so far; raises ConfigError with fewer than two."""
        return locate(self.holdings)

    def reading(self) -> Reading:
        """Return all that was heard, summed up."""
        return self._listener.reading()


class Scanning:
    """Leads from place to place."""

    def __init__(
        self, holds: Holds, scan_round: Round, entry: Entry, seconds: float, tell: Callable[[str], None]
    ) -> None:
        self._holds = holds
        self._round = scan_round
        self._entry = entry
        self._seconds = seconds
        self._tell = tell

    def by_itself(self, rounds: int) -> None:
        """Hold it at every place in turn, ``rounds`` times, and once more where it is unsure."""
        for place in PLACES * rounds:
            self._hold(place)
        for place in self._doubtful():
            self._tell(f"again    at the {place}, because it is unsure")
            self._hold(place)

    def guided(self, presses: Presses) -> None:
        """Ask for one place after the other until all were held or left out, or the keeper has enough."""
        self._tell("places   " + "  ".join(f"{n} {place}" for n, place in enumerate(PLACES, 1)))
        self._tell(f"keys     {KEYS}")
        left, repeats = list(PLACES), 0
        while left:
            place = left[0]
            self._tell(f"next     {place}: {WHERE[place]}")
            word = self._answer(presses)
            if word in ("q", "quit", "r", "result"):
                return
            if word in ("s", "skip"):
                left.pop(0)
            elif word == "" or (word.isdigit() and 1 <= int(word) <= len(PLACES)):
                chosen = PLACES[int(word) - 1] if word else place
                if self._hold(chosen) and chosen in left:
                    left.remove(chosen)
            else:
                self._tell(f"!        {word!r} is no key here. {KEYS}")
            if not left and repeats < MOST_REPEATS:
                repeats += 1
                left = self._doubtful()
                if left:
                    self._tell(f"unsure   {found_text(self._round.scan().prevailing)}: once more, please")

    def _answer(self, presses: Presses) -> str:
        while (word := presses.poll()) is None:
            if not self._holds.idle():
                return "q"
        return word

    def _hold(self, place: Place) -> bool:
        self._tell(f"holding  at the {place} for {duration_text(self._seconds)}: keep still")
        samples = self._holds.hold(place, self._seconds)
        if samples is None:
            self._tell("!        some sound was lost: hold it there again")
            return False
        before_s = self._round.heard_s
        try:
            holding, moments = self._round.take(place, samples)
        except ConfigError as error:
            self._tell(f"!        {error}")
            return False
        for moment in moments:
            self._entry.moment(moment)
        self._entry.note(f"{duration_text(before_s)} to {duration_text(self._round.heard_s)}: at the {place}")
        self._tell(f"heard    {heard_text(holding)}")
        return True

    def _doubtful(self) -> list[Place]:
        """Return the places between which the prevailing sound is undecided, or none."""
        if self._round.places < 2:
            return []
        scan = self._round.scan()
        again: list[Place] = list(scan.disturbed)
        if scan.prevailing.probability < SURE_FROM:
            again += [p for o in scan.prevailing.options[:2] for p in PLACES if p == o.place and p not in again]
        return again


def heard_text(holding: Holding) -> str:
    """Return in one line what one holding heard: the level and the surest kinds."""
    level_db = 10.0 * float(np.log10(np.mean(holding.level) + 1e-20))
    sure = holding.probability.mean(axis=0)
    named = sorted(((float(sure[i]), kind) for i, kind in enumerate(SOUND_KINDS)), reverse=True)
    words = ", ".join(f"{kind} {percent_text(share)}" for share, kind in named[:2] if share >= 0.2)
    clipped = ", CLIPPED: hold it a little farther away" if holding.clipped > 10 else ""
    return f"{level_text(level_db, False)}, {words or 'nothing that has a name'}{clipped}"
