"""Causes that no valve mends: the plain instruction for each.

Fixes are common practice, no source. None of them asks for a hand in the water with the power on: the texts say to
unplug, and for how long pumps may stay off.
"""

from __future__ import annotations

from tuner.coach.safety import LONGEST_PUMPS_OFF_S
from tuner.terms import CauseName, Control

UNPLUG = f"unplug it first, and have it back on within {LONGEST_PUMPS_OFF_S / 60.0:.0f} minutes"

INSTRUCTIONS: dict[CauseName, tuple[Control, str]] = {
    "outlet above water": (
        "siphon valve",
        "Water falls onto the sump's surface: lower that drain's outlet to 10-25 mm under the surface, or top the"
        " sump up; no valve mends this.",
    ),
    "weir drop": (
        "siphon valve",
        "The water falls too far from the weir into the box: raise the crest of the open channel so that the box fills"
        " to a few centimetres below the weir; no valve mends this. If the box stands below that crest now, the siphon"
        " takes too much: close it a little instead.",
    ),
    "pump hum": (
        "return pump",
        "The pump itself is heard: set it on soft feet, keep hard pipe off the stand, and clean its impeller"
        f" ({UNPLUG}); no valve mends this.",
    ),
    "pump drawing air": (
        "return pump",
        "The pump takes air with the water: top the sump up and see that its inlet is well covered;"
        " no valve mends this.",
    ),
    "return drawing air": (
        "return pump",
        "A return nozzle draws air at the tank's surface: turn it down or lower it a little, then check that stopped"
        " pumps still drain only a safe amount; no valve mends this.",
    ),
    "siphon not purged": (
        "siphon valve",
        "Air is locked in the siphon: leave it five minutes to clear; if it stays, clear the bleed hole and see that"
        " the siphon's outlet ends no more than 25 mm under the sump surface. Do not restart the pumps over and over.",
    ),
}

BLOCKAGE = (
    "The emergency pipe still carries water: look for a snail, plant or strainer blocking the siphon or the open"
    " channel, with one hand at the pump's plug, and clear it before anything else."
)
SIZES = (
    "Turning will not mend it: check that the pump sends the flow that you think, and that each pipe is clear."
)
NO_EFFECT = (
    "Turning the {control} has not changed the noise: something else holds the flow. Look for a blocked strainer, a"
    " snail or plant in the pipe, and a valve whose wheel turns without moving its gate; then listen again."
)
BETWEEN_STEPS = (
    "It has been noisy at these very settings time and again: the quiet lies between two steps of this control, or what"
    " is left is not the drains'. Go back to the best setting so far; then turn by less than the finest mark, or change"
    " the pump by its smallest step. A valve that can be set finer mends it."
)
NO_VENT = (
    "The open channel has no air tap to open: fit a small vent at its top elbow, or drill out the one that is there;"
    " without air it becomes a siphon and flushes."
)
UNKNOWN = (
    "Something is heard that fits none of the causes: listen along the pipes with the microphone close to each,"
    " and listen again."
)
LEFT: dict[CauseName, tuple[Control, str]] = {**INSTRUCTIONS, "unknown": ("siphon valve", UNKNOWN)}
UNNAMED = "something that fits no cause"
MASKED = "Other noise covers the plumbing: wait until it is quieter and listen again; nothing is turned on a guess."
LISTEN_FIRST = "Nothing has been heard yet: listen first."
LISTEN_ON = "It is silent now, but a slow cycle may still return: listen on without a break."
LISTEN_ON_BESIDE = (
    "Beside {beside}, nothing is heard now, but a slow cycle may still return: listen on without a break."
)
ROOMS_HISS = (
    "a steady hiss stays as loud whatever is moved and is taken for the room's: to be sure, measure the room with the"
    " pumps off"
)
PUMPS_HISS = (
    "a steady hiss stays whatever is moved and is taken for that of a pump or a return: listen close to each"
)
PASSED_BY = (
    "something like {causes} was heard among other sound and is taken for the household's: to be sure, listen again at"
    " a quieter hour"
)
IN_DOUBT = "That was too faint or too brief to act on: listen again before anything is turned."
ONCE_MORE = "It may be something that no valve mends: listen once more before anything is done about it."
STILL_IN_DOUBT = (
    "Something keeps being heard that cannot be told for certain from other sound: nothing more is turned on a guess;"
    " listen again at a quieter hour, with the microphone closer to the pipes."
)


def listen_on(beside: CauseName | None) -> str:
    """Return the words to listen on in a silence, or beside a cause that stays and is none to turn for."""
    if beside is None:
        return LISTEN_ON
    stays = UNNAMED if beside == "unknown" else f"{beside}, which no valve mends"
    return LISTEN_ON_BESIDE.format(beside=stays)
