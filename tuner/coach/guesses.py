"""The guesses: many installations and settings that the description allows, and how a move shifts them all.

Each guess is one draw of the plumbing with one setting of valve and tap. Most are drawn from the description with
its bands, the rest from the same description with every measure doubted, so that a wrong figure does not rule
the truth out. Where the valve's setting is given it counts, but the note may be old: part of the guesses ignore it.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from tuner.coach import beside
from tuner.coach.handwork import hand_for, hands_of
from tuner.coach.outlook import Outlook, Settings, outlook, way_to_inlet_m
from tuner.rig import Rig
from tuner.terms import Control
from tuner.water import laws
from tuner.water.plumbing import Plumbing, sample_plumbing

Floats = NDArray[np.float64]

DOUBTED_SHARE = 0.25  # of the guesses: every measure with the spread of its default
NOTE_TRUSTED_SHARE = 0.3  # of the guesses that start from the setting as noted
NOTE_SPREAD = 0.06  # relative, of a setting that was counted
MISMATCH_NEAR, MISMATCH_FAR, FAR_SHARE = 0.25, 0.6, 0.5  # of log(siphon / supply) in a noisy installation
HAND_SPREAD, HAND_SLIP = 0.05, 0.125  # of one move by hand: relative, and as a share of the finest step
SMALLEST_OPENING = 0.01
SPLASHING_SHARE, SHALLOWEST = 0.45, 0.05  # boxes that are heard as they sink; from this share of the way to the inlet
COVERED_SHARE, MOSTLY_COVERED, NOT_COVERED = 0.6, 0.9, 0.0  # of such boxes: whose gulps cover the splash; how much
DEPTH_JITTER = 0.05  # of such a depth, when guesses are moved apart
LEAST_TAP = 0.08  # of a tap whose hole is not known
_SUCTION_LOW, _SUCTION_HIGH = 0.15, 2.5  # vent prior: of the break-up and of the siphon suction


@dataclass(frozen=True, slots=True)
class Guesses:
    """n guesses: plumbing, openings (0-1), free play left in the opening direction (turns or degrees), pump speeds.

    ``beside`` is the place in ``beside.THINGS`` of what each guess takes to sound beside the drains, ``splash_depth_m``
    how far the box must sink below the crest for the weir's water to be heard as it falls in (infinite: it never is),
    ``stood_m`` how far below it stood at the last move, and ``covered`` which share of that splash its gulps cover.
    """

    plumbing: Plumbing
    opening: Floats
    vent: Floats
    play: Floats
    speeds: tuple[float, ...]
    beside: NDArray[np.intp]
    splash_depth_m: Floats
    stood_m: Floats
    covered: Floats

    @property
    def n(self) -> int:
        """How many guesses there are."""
        return len(self.opening)

    @property
    def settings(self) -> Settings:
        """The settings as the outlook wants them."""
        return Settings(self.opening, self.vent, self.speeds)

    def outlook(self, at: Settings | None = None) -> Outlook:
        """Return what every guess expects at its settings, or at others."""
        return outlook(
            self.plumbing, self.settings if at is None else at, self.splash_depth_m, self.stood_m, self.covered
        )

    def taken(self, index: NDArray[np.intp]) -> Guesses:
        """Return the guesses at ``index``, in that order."""
        return replace(
            self, plumbing=taken_plumbing(self.plumbing, index), opening=self.opening[index],
            vent=self.vent[index], play=self.play[index], beside=self.beside[index],
            splash_depth_m=self.splash_depth_m[index], stood_m=self.stood_m[index], covered=self.covered[index],
        )


def taken_plumbing(p: Plumbing, index: NDArray[np.intp]) -> Plumbing:
    """Return the draws at ``index`` of a sampled plumbing."""

    def pick(value: Any) -> Any:
        if isinstance(value, tuple):
            return tuple(pick(v) for v in value)
        return value[index] if isinstance(value, np.ndarray) and value.ndim == 1 else value

    return replace(p, **{f.name: pick(getattr(p, f.name)) for f in fields(p)})


def joined_plumbing(a: Plumbing, b: Plumbing, n_a: int, n_b: int) -> Plumbing:
    """Return the draws of ``a`` (n_a of them) followed by those of ``b`` (n_b)."""

    def join(x: Any, y: Any) -> Any:
        if isinstance(x, tuple):
            return tuple(join(u, v) for u, v in zip(x, y, strict=True))
        if isinstance(x, np.ndarray) or isinstance(y, np.ndarray):
            return np.concatenate([np.broadcast_to(x, (n_a,)), np.broadcast_to(y, (n_b,))])
        return x

    return replace(a, **{f.name: join(getattr(a, f.name), getattr(b, f.name)) for f in fields(a)})


def doubted(rig: Rig) -> Rig:
    """Return the description with every measure taken as assumed."""
    names = set(rig.assumed)
    for part in ("tank", "weir", "box", "siphon", "channel", "emergency", "returns", "sump", "siphon.valve"):
        target: Any = rig
        for piece in part.split("."):
            target = getattr(target, piece)
        names.update(f"{part}.{f.name}" for f in fields(target) if "measure" in f.metadata)
    for i, pump in enumerate(rig.pumps):
        names.update(f"pump.{i}.{f.name}" for f in fields(pump) if "measure" in f.metadata)
        names.discard(f"pump.{i}.speed_step")
    return replace(rig, assumed=frozenset(names))


def draw_guesses(rig: Rig, rng: Generator, n: int, speeds: tuple[float, ...], *, trust_notes: bool = True) -> Guesses:
    """Draw ``n`` guesses for a rig at known pump speeds (one per pump, 0-1)."""
    n_doubted = max(1, round(DOUBTED_SHARE * n))
    p = joined_plumbing(
        sample_plumbing(rig, rng, n - n_doubted), sample_plumbing(doubted(rig), rng, n_doubted),
        n - n_doubted, n_doubted,
    )
    p, vent = _vents(rig, p, rng, n, trust_notes)
    own = rng.spawn(1)[0]
    return Guesses(
        plumbing=p, opening=_openings(rig, p, rng, n, speeds, trust_notes),
        vent=vent,
        play=np.broadcast_to(p.valve_backlash, (n,)) * rng.random(n), speeds=speeds, beside=beside.drawn(rng, n),
        splash_depth_m=_splash_depths(p, own, n), stood_m=np.zeros(n), covered=_covered(own, n),
    )


def _covered(rng: Generator, n: int) -> Floats:
    """Shares of the splash of a sunk box that its gulps cover: in one installation most of it, in another none.

    That stays so from window to window: gulps heard with a splash time and again are not ever better evidence of a
    splash that is something else's.
    """
    return np.where(rng.random(n) < COVERED_SHARE, MOSTLY_COVERED, NOT_COVERED)


def _splash_depths(p: Plumbing, rng: Generator, n: int) -> Floats:
    """Depths below the crest from which the weir's water is heard, of those whose box may sink so far unheard."""
    heard, share = rng.random(n) < SPLASHING_SHARE, rng.uniform(SHALLOWEST, 1.0, n)
    depths: Floats = np.where(heard, way_to_inlet_m(p) * share, np.inf)
    return depths


def _jittered_depths(g: Guesses, rng: Generator) -> Floats:
    moved_m = g.splash_depth_m * np.exp(DEPTH_JITTER * rng.standard_normal(g.n))
    depths: Floats = np.where(rng.random(g.n) < beside.MISSED, _splash_depths(g.plumbing, rng, g.n), moved_m)
    return depths


def _openings(
    rig: Rig, p: Plumbing, rng: Generator, n: int, speeds: tuple[float, ...], trust_notes: bool
) -> Floats:
    """Valve openings: from the mismatch that a noisy installation has, or from the setting as noted."""
    supply = laws.supply_flow_m3_s(p, speeds)
    spread = np.where(rng.random(n) < FAR_SHARE, MISMATCH_FAR, MISMATCH_NEAR)
    wanted = supply * np.exp(spread * rng.standard_normal(n))
    opening = laws.opening_for_siphon_flow(p, wanted, p.crest_height_m)
    # Where even the open valve cannot, it is open by some part of the last half, which hardly matters.
    opening = np.where(np.isnan(opening), rng.uniform(0.5, 1.0, n), opening)
    valve = rig.siphon.valve
    if trust_notes and valve.setting is not None and "siphon.valve.setting" not in rig.assumed:
        noted = valve.setting / np.broadcast_to(p.valve_full, (n,)) * np.exp(NOTE_SPREAD * rng.standard_normal(n))
        opening = np.where(rng.random(n) < NOTE_TRUSTED_SHARE, noted, opening)
    result: Floats = np.clip(opening, SMALLEST_OPENING, 1.0)
    return result


def _vents(rig: Rig, p: Plumbing, rng: Generator, n: int, trust_notes: bool) -> tuple[Plumbing, Floats]:
    """Tap openings: from the suction that they bring about, or from the setting as noted.

    The size of a hole that nobody measured says nothing by itself: there the hole follows from suction and opening.
    """
    channel = laws.gurgle_flow_m3_s(p) * rng.uniform(0.3, 1.2, n)
    low, high = _SUCTION_LOW * p.breakup_head_m, _SUCTION_HIGH * p.vent_siphon_head_m
    suction = low * (high / low) ** rng.random(n)
    with np.errstate(divide="ignore"):
        vent = laws.vent_opening_for_suction(p, channel, suction)
    c = rig.channel
    if "channel.vent_hole_m" in rig.assumed and c.vent_hole_m > 0:
        opened = LEAST_TAP ** rng.random(n)
        p = replace(p, vent_hole_m=p.vent_hole_m * np.sqrt(vent / opened))
        vent = opened
    if trust_notes and c.vent_setting is not None and "channel.vent_setting" not in rig.assumed:
        share = c.vent_setting / np.broadcast_to(p.vent_tap_turns, (n,))
        noted = np.clip(share * np.exp(2 * NOTE_SPREAD * rng.standard_normal(n)), SMALLEST_OPENING, 1.0)
        trusted = rng.random(n) < NOTE_TRUSTED_SHARE
        if "channel.vent_hole_m" in rig.assumed:
            p = replace(p, vent_hole_m=np.where(trusted, p.vent_hole_m * np.sqrt(vent / noted), p.vent_hole_m))
        vent = np.where(trusted, noted, vent)
    result: Floats = np.clip(vent, SMALLEST_OPENING, 1.0)
    return p, result


def valve_share(g: Guesses, amount: Floats | float) -> tuple[Floats, Floats]:
    """Return the change of the valve's opening for a turn by ``amount``, and the free play left afterwards.

    The handle turns freely through the backlash before the valve follows: ``play`` of it is left when opening,
    the rest of the backlash when closing. ``amount`` broadcasts to (n,) or (m, n).
    """
    backlash = g.plumbing.valve_backlash
    left = np.where(np.asarray(amount) > 0, g.play, backlash - g.play)
    moved = np.maximum(np.abs(amount) - left, 0.0) * np.sign(amount)
    play = np.clip(g.play - np.asarray(amount) + moved, 0.0, backlash)
    return moved / g.plumbing.valve_full, play


def speeds_after(speeds: tuple[Any, ...], rig: Rig, percent: Any) -> tuple[Any, ...]:
    """Return the pump speeds after a change by ``percent`` of full speed on every pump whose speed varies."""
    return tuple(
        np.clip(s + percent / 100.0, 0.05, 1.0) if pump.speed_step > 0 else s
        for s, pump in zip(speeds, rig.pumps, strict=True)
    )


def after_move(g: Guesses, rig: Rig, control: Control, amounts: Floats) -> Settings:
    """Return the settings of every guess after each of ``amounts`` (shape (m,)): arrays of shape (m, n) or (m, 1)."""
    each = np.asarray(amounts, float)[:, None]
    if control == "siphon valve":
        share, _ = valve_share(g, each)
        return Settings(np.clip(g.opening + share, SMALLEST_OPENING, 1.0), g.vent, g.speeds)
    if control == "vent tap":
        vent = np.clip(g.vent + each / g.plumbing.vent_tap_turns, SMALLEST_OPENING, 1.0)
        return Settings(g.opening, vent, g.speeds)
    return Settings(g.opening, g.vent, speeds_after(g.speeds, rig, each))


def moved(g: Guesses, rig: Rig, control: Control, amount: float, rng: Generator) -> Guesses:
    """Return the guesses after a real move: each hand is a little off."""
    if amount == 0:
        return g
    hand = hand_for(hands_of(rig), control)
    slip = HAND_SLIP * hand.finest if hand else 0.0
    off = amount * HAND_SPREAD * rng.standard_normal(g.n) + slip * rng.standard_normal(g.n)
    by_hand = amount + off
    g = replace(g, stood_m=np.broadcast_to(g.outlook().sunk_m, (g.n,)))
    if control == "siphon valve":
        share, play = valve_share(g, by_hand)
        return replace(g, opening=np.clip(g.opening + share, SMALLEST_OPENING, 1.0), play=play)
    if control == "vent tap":
        return replace(g, vent=np.clip(g.vent + by_hand / g.plumbing.vent_tap_turns, SMALLEST_OPENING, 1.0))
    return replace(g, speeds=tuple(float(s) for s in speeds_after(g.speeds, rig, amount)))


def jittered(g: Guesses, rng: Generator) -> Guesses:
    """Return the guesses moved apart a little, so that copies made by resampling explore again."""
    n, p, own = g.n, g.plumbing, rng.spawn(1)[0]

    def off(spread: float) -> Floats:
        factor: Floats = np.exp(spread * rng.standard_normal(n))
        return factor

    plumbing = replace(
        p, quiet_froude=p.quiet_froude * off(0.02), film_air_ratio=p.film_air_ratio * off(0.04),
        breakup_head_m=p.breakup_head_m * off(0.05), regain_rise_m=p.regain_rise_m * off(0.05),
        gulp_share=p.gulp_share * off(0.04), hiss_jet_m_s=p.hiss_jet_m_s * off(0.02),
        vent_siphon_head_m=p.vent_siphon_head_m * off(0.03),
    )
    return replace(
        g, plumbing=plumbing, opening=np.clip(g.opening * off(0.006), SMALLEST_OPENING, 1.0),
        vent=np.clip(g.vent * off(0.02), SMALLEST_OPENING, 1.0),
        beside=np.where(rng.random(n) < beside.MISSED, beside.drawn(rng, n), g.beside),
        splash_depth_m=_jittered_depths(g, own),
        covered=np.where(own.random(n) < beside.MISSED, _covered(own, n), g.covered),
    )
