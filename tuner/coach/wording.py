"""The sentences: why this move, what it should do, and what it did."""

from __future__ import annotations

from tuner.coach.planning import Prospect
from tuner.terms import CYCLIC_KINDS, Cause, CauseName, Control, Reading, SoundKind
from tuner.units import amount_text, flow_text

SHOULD: dict[CauseName, str] = {
    "siphon over-open": "the slurp should stop or slow down",
    "siphon over-closed": "the gurgle should stop or grow weaker",
    "vent too closed": "the flush or hiss should stop or grow weaker",
    "vent too wide": "the trickle should stop or grow weaker",
    "emergency carrying flow": "the roar should stop or grow weaker",
}
CHANGE = "the noise should change"
CAME_WITH_IT = "It was silent before the last move, and this came with it: back to where it was silent."
FAINT_SINCE = (
    "Something faint has been heard time and again since the last move, and was not before it: back to where it was"
    " silent."
)
SEEN_RUNNING = "water was seen to run from the emergency pipe"
LOUD_SINCE = (
    "It has been far louder since the last move, and whatever it is covers the drains: take that move back. If it was "
    "the room, nothing is lost."
)
WAY_BACK = "Back to the best setting so far."
LIKELY = 0.85
LEAST_GAIN_SAID = 0.02  # of the chance to bear changes of flow
GURGLES_TOO = "gulps are heard, but the open channel gurgles as well, and that comes first"
ROARS_TOO = "gulps are heard, but falling water as well: the emergency pipe may carry water, and that comes first"
GURGLED_HERE = "gulps are heard, but as far open as this the open channel gurgled much, and that comes first"
CLOSED_IN_VAIN = "it sounds like gulps, but closing the siphon did not help: the open channel carries too much"
SEEN_LOW = "the water in the box was seen to stand below the open channel's elbow"
SEEN_HIGH = "it sounds like gulps, but the water was seen to stand at the open channel's elbow"
OPENED_IN_VAIN = "it sounds like a full open channel, but opening the siphon did not help: it draws air by now"
ROARED_IN_VAIN = "it roars, but nothing that was done for the emergency pipe helped, and it gulps: the box stands low"
ROARED_BY_OPENING = "it roars, but it was silent with the siphon less open: that sends the emergency pipe no water"
NEVER_RESTS = "it sounds like gulps, but it never rests: a little more opening tells whether the open channel is full"
SPLASH_CAME = (
    "That came with opening the siphon: it takes so much that the box sinks and the water falls further into it. Go"
    " half the way back to where it did not splash, then listen again."
)
SPLASH_STAYED = (
    "It gulps no more but still splashes: the box may stand low because the siphon takes nearly all. Close it a little"
    " more, then listen again."
)
HEARD_AGAIN = "it is faint, but it comes back again and again"
SUNK = "it splashes where the siphon takes so much that the box sinks: the weir's water falls far into it"
FLUSHES_TOO = "gulps are heard, but the open channel flushes as well, and that comes first"
DRAINS_TOO = "what is left after the instruction sounds like it too, and a move tells whether it is"
CLEAR_CHANGE_DB = 1.5
SLOWED = 1.15  # ratio of periods from which a cycle has slowed
SOUNDS_OF: dict[CauseName | None, tuple[SoundKind, ...]] = {
    "siphon over-open": ("slurp",), "siphon over-closed": ("gurgle",), "vent too closed": ("flush", "hiss"),
    "vent too wide": ("trickle",), "emergency carrying flow": ("roar",),
}
# A cause can be mended from the side: what the move has to do with it.
BESIDE: dict[tuple[CauseName, Control], str] = {
    ("vent too wide", "siphon valve"): "; a little more water in that pipe keeps its film whole",
    ("vent too wide", "return pump"): "; a little more water in that pipe keeps its film whole",
    ("vent too closed", "siphon valve"): "; with less water in that pipe the tap gives air enough",
    ("vent too closed", "return pump"): "; with less water in that pipe the tap gives air enough",
}
_LEAST_FLOW_SAID = 2 / 3.6e6  # a change below 2 L/h is not worth a figure


def why(cause: Cause, control: Control) -> str:
    """Return the reason for a move on ``control`` in one sentence."""
    beside = BESIDE.get((cause.name, control), "")
    return f"{cause.name[0].upper()}{cause.name[1:]}: {cause.because[0]}{beside}."


def should(cause: CauseName) -> str:
    """Return what any move against a cause should do, in one sentence."""
    effect = SHOULD.get(cause, CHANGE)
    return f"{effect[0].upper()}{effect[1:]}."


def expectation(move: Prospect, cause: CauseName) -> str:
    """Return what a move should do, in one sentence, with its flow where the model has one."""
    effect = SHOULD.get(cause, CHANGE)
    if move.hand.control == "siphon valve" and abs(move.siphon_change) > _LEAST_FLOW_SAID:
        flow = flow_text(abs(move.siphon_change))
        does = f"put about {flow} onto" if move.siphon_change > 0 else f"take about {flow} off"
        return f"This should {does} the siphon; {effect}."
    if move.hand.control == "return pump" and abs(move.supply_change) > _LEAST_FLOW_SAID:
        word = "more" if move.supply_change > 0 else "less"
        return f"This should send about {flow_text(abs(move.supply_change))} {word} through the pipes; {effect}."
    return should(cause)


def parking_why(bears_now: float, bears_then: float) -> str:
    """Return the reason for a move made in silence."""
    if bears_then < bears_now + LEAST_GAIN_SAID:
        return "It is silent, and this finds where the edge of the quiet is, so that it may stand further from it."
    return (
        f"It is silent, and this finds the middle of the quiet window: the chance to bear small changes of flow"
        f" should grow from about {max(bears_now, 0.0):.0%} to about {bears_then:.0%}."
    )


def parking_expectation(quiet: float) -> str:
    """Return what a move made in silence should do."""
    if quiet >= LIKELY:
        return "It should stay silent."
    return "It may become audible for a while: that shows where the edge is, and the next move goes back from it."


def comparison(before: Reading, after: Reading, silent: bool, aimed: CauseName | None) -> str:
    """Return what the last move did, as far as two readings tell, and whether that is what it should do.

    ``aimed`` is the cause that the move was made for, None for one made in silence.
    """
    if silent:
        return "Still silent, as expected." if aimed is None else "The noise is gone, as expected."
    told = []
    slowed: float | None = None
    for kind in CYCLIC_KINDS:
        then, now = before.of(kind), after.of(kind)
        if then and now and then.period_s and now.period_s:
            ratio = now.period_s / then.period_s
            word = "slowed" if ratio > SLOWED else "quickened" if ratio < 1 / SLOWED else "stayed"
            told.append(f"the {kind} {word} from every {then.period_s:.0f} s to every {now.period_s:.0f} s")
            slowed = ratio if ratio > SLOWED and kind in SOUNDS_OF.get(aimed, ()) else slowed
    before_kinds, after_kinds = {h.kind for h in before.heard}, {h.kind for h in after.heard}
    told += [f"the {kind} is gone" for kind in sorted(before_kinds - after_kinds)]
    told += [f"now there is {kind}" for kind in sorted(after_kinds - before_kinds)]
    change = after.levels.laeq_db - before.levels.laeq_db
    if not told:
        word = "louder" if change > 0 else "quieter"
        told.append("no clear change" if abs(change) < CLEAR_CHANGE_DB else f"{abs(change):.0f} dB {word}")
    text = ", ".join(told)
    wanted = {kind for kind in SOUNDS_OF.get(aimed, ()) if kind in before_kinds}
    return f"{text[0].upper()}{text[1:]}{_as_expected(wanted, after_kinds, slowed, change)}."


def _as_expected(wanted: set[SoundKind], after: set[SoundKind], slowed: float | None, change_db: float) -> str:
    """Return whether the sounds that a move was aimed at went the right way; nothing where it was aimed at none."""
    if not wanted:
        return ""
    if not wanted & after:
        return ", as expected"
    if slowed is not None:
        # The mismatch goes as one over the period.
        gone = 1.0 - 1.0 / slowed
        share = "a part of the way" if gone < 1 / 3 else "about half way" if gone < 2 / 3 else "most of the way"
        return f", as expected: {share}"
    return ", as expected: a part of the way" if change_db < -CLEAR_CHANGE_DB else ", not as expected"


def go_back(control: str, amount: float, unit: str) -> str:
    """Return the sentence that stops after two moves made it worse."""
    word = ("close" if amount < 0 else "open") if control != "return pump" else ("slow" if amount < 0 else "speed up")
    return (
        f"Stop: the last two moves made it worse each time. To go back, {word} the {control} by"
        f" {amount_text(amount, unit)}, then listen again."
    )


def margins(less_flow: float, more_flow: float) -> str:
    """Return how much change of flow the quiet bears.

    >>> margins(0.04, 0.05)
    'quiet from -4 % to +5 % of flow'
    """
    return f"quiet from {-100 * max(less_flow, 0.0):.0f} % to +{100 * max(more_flow, 0.0):.0f} % of flow"
