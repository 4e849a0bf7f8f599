"""Silent or not, and if not, why: the whole answer for one listening window."""

from __future__ import annotations

from tuner.causes.facts import LastMove, presence, returning_bouts
from tuner.causes.location import Scan
from tuner.causes.rules import Silence, load_causes
from tuner.causes.weighing import weigh
from tuner.rig import Rig
from tuner.terms import CYCLIC_KINDS, Diagnosis, Floor, Heard, Reading, SoundKind

_SHOWN_FROM = 0.01  # causes below this probability are left out of a diagnosis, the best one never


def heard_kinds(reading: Reading, silence: Silence, *, in_a_row: bool = False) -> tuple[SoundKind, ...]:
    """Return the plumbing sounds that count as heard.

    A kind counts when it fills enough of the window, or when as many separate events of it were found: one gulp
    a minute fills little of a window and still is not silence. While other sound is about, a kind that does not come
    and go must also last, and of one that does a whole event must be heard before long, not a trace here and there:
    much of a household sounds like water for a second or two. With ``in_a_row`` the reading is one of many, and whoever
    takes them waits for a gulp to come back: then a trace counts, and of what goes on a fainter one.
    """
    return tuple(h.kind for h in reading.heard if _counts(h, reading, silence, in_a_row))


def _counts(heard: Heard, reading: Reading, silence: Silence, in_a_row: bool) -> bool:
    comes_and_goes = heard.kind in CYCLIC_KINDS
    if comes_and_goes:
        enough = presence(reading, heard.kind) >= silence.cyclic_presence
    else:
        # whoever hears many in a row holds a faint one against the others, and must not end on what goes on faintly
        likely = silence.heard_share if in_a_row else silence.heard_probability
        enough = heard.share >= silence.heard_share or heard.probability >= likely
    if reading.outside_share < silence.other_sound or (comes_and_goes and in_a_row):
        return enough or heard.events >= silence.heard_events
    if comes_and_goes:
        before_long = heard.events > 0 or reading.clean_s < silence.traces_s
        return (enough and before_long) or returning_bouts(reading, heard.kind) >= silence.heard_events
    return enough and heard.lasting >= silence.lasting


def is_masked(reading: Reading, silence: Silence) -> bool:
    """Tell whether other sound covered so much of the window that neither noise nor silence can be claimed."""
    return reading.outside_share >= silence.masked_outside_share or reading.clean_s < silence.least_clean_s


def is_silent(reading: Reading, *, floor: Floor | None, in_a_row: bool = False) -> bool:
    """Tell whether the plumbing was silent: nothing heard, not masked and, with a floor, no louder than the room."""
    silence = load_causes().silence
    if is_masked(reading, silence) or heard_kinds(reading, silence, in_a_row=in_a_row):
        return False
    return floor is None or reading.excess_db is None or reading.excess_db <= silence.excess_db


def diagnose_reading(
    reading: Reading, *, rig: Rig | None = None, last_move: LastMove | None = None, floor: Floor | None = None,
    scan: Scan | None = None, in_a_row: bool = False,
) -> Diagnosis:
    """Return the diagnosis of one window: silent without causes, or the likely causes, best first.

    With a ``scan`` the places that it located count as facts; for ``in_a_row`` see ``heard_kinds``.
    """
    if is_silent(reading, floor=floor, in_a_row=in_a_row):
        return Diagnosis(silent=True, sounds=reading.sounds, causes=(), reading=reading)
    causes = weigh(reading, rig=rig, last_move=last_move, floor=floor, scan=scan, in_a_row=in_a_row)
    shown = tuple(c for i, c in enumerate(causes) if i == 0 or c.probability >= _SHOWN_FROM)
    return Diagnosis(silent=False, sounds=reading.sounds, causes=shown, reading=reading)
