"""The nine kinds of sound, and rooms, as excitations heard through resonant bodies.

What water, air and machines do is a train of impacts, of packets of air or of bubbles, or turbulent noise whose
strength follows a small stochastic flow; what is heard of it goes through the modes of panes, pipe walls, air columns
and boxes, drawn anew for each call. Spans are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from tuner.rehearsal.voices.control import checked_drive, step_samples
from tuner.terms import SoundKind
from tuner.training.makes.modal_parts import GRID_HZ, Bodies, Floats, Pair, Span, Stage, convolved

__all__ = ["room", "sound"]

_Layer = tuple[float, list[Pair]]


def _morph(st: Stage, excitation: Floats, place: Floats, metres: Span, shift: float) -> list[Pair]:
    """Return an excitation heard through a column of air that grows by ``shift`` octaves over each bout."""
    first, radius, closed, wet = st.log(*metres), st.log(0.008, 0.04), st.chance(0.5), st.log(2.0, 12.0)
    pairs, at = [], st.samples(place)
    for knot in (0.0, 0.5, 1.0):
        body = st.mixed(st.column(first * 2.0 ** (shift * knot), radius, closed, wet), (0.2, 4.0))
        pairs.append((excitation * np.maximum(0.0, 1.0 - np.abs(at - knot) / 0.5), body))
    return pairs


def _skin(st: Stage, share: Span = (0.1, 2.0)) -> Floats:
    """Return what the sound is heard through on its way out: a wall, a pane, a box, or nothing."""
    way = int(st.rng.integers(5))
    if way == 0:
        return st.blow()
    metres = (0.12, 0.45) if way == 3 else (0.35, 1.0)
    return st.mixed((st.wall, st.pane)[way - 1]() if way < 3 else st.crate(metres), share)


def _crowd(st: Stage, rate: Floats, radius_mm: Span, steep: Span, late_s: float = 0.0) -> Floats:
    """Return bubbles at a rate on the grid, each as loud as chance and the drive will have it, all so much later."""
    times = st.times(rate, st.log(0.4, 3.0))
    weights = st.varied(len(times), 0.3, 1.2) * st.at(times, st.press()) ** 0.5
    return st.bubbles(times + late_s, weights, radius_mm, st.flat(*steep))


def _spanned(st: Stage, low: Span, times: Span) -> Span:
    """Return a span whose low end is drawn, and how many times higher the other end is."""
    start = st.log(*low)
    return start, start * st.log(*times)


def _bouts_of_plugs(st: Stage, times: Floats) -> Floats:
    """Return which of the plugs come: they chug in bouts, with rests of 0.3 to 1.4 s."""
    rest_s, bout_s = st.flat(0.3, 1.1), st.log(0.3, 3.0)
    lengths = np.stack((bout_s * st.varied(400, 0.1, 0.6), np.minimum(1.4, rest_s * st.varied(400, 0.05, 0.3))), axis=1)
    edges = np.cumsum(lengths.ravel()) - bout_s * st.rng.random()
    return np.asarray(np.searchsorted(edges, times % edges[-1]) % 2 == 0)


def _gurgle(st: Stage) -> Floats:
    """Plugs of air: each shakes the pipe's air, bursts into bubbles and stirs a rush."""
    pace = st.log(2.2, 18.0)
    even = st.log(0.8, 60.0)
    calm = np.maximum(st.driven, 0.3) ** 0.3
    chugs = st.chance(0.3)
    rate = max(pace, 4.0) * calm if chugs else pace * calm * np.maximum(st.wander(0.4, st.log(0.02, 0.3)), 0.7)
    longest = 0.5 * min(pace, 4.0) if chugs else 0.7 * min(pace, 3.0)  # in mean gaps: no rest reaches 2 s
    times = st.times(rate, even, longest, st.flat(0.3, 0.9) * st.chance(0.3))
    if chugs:
        times = times[_bouts_of_plugs(st, times)]
    weights = st.varied(len(times), 0.1, 0.6) * st.at(times, st.press())
    length_s = st.log(0.015, 0.3) / max(1.0, pace / 6.0)
    plugs = st.puffs(times, weights, length_s * st.log(0.03, 0.5), length_s)
    # each plug bursts into a cloud: large bubbles alone are heard as notes, not as water
    crowd = max(1, int(st.log(2.0, 40.0) * min(1.0, 10.0 / pace)))
    after = np.repeat(times, crowd) + length_s * st.rng.exponential(st.log(0.3, 1.2), len(times) * crowd)
    loud = np.repeat(weights, crowd) * st.varied(len(after), 0.4, 1.2)
    radii = _spanned(st, (0.6, 4.0), (2.0, 9.0))
    cloud = st.bubbles(after, loud, radii, st.flat(0.5, 3.0))
    thuds = np.diff(plugs, prepend=0.0) + st.noise(plugs * st.log(0.003, 0.1))
    pipe = st.mixed(st.any_column((0.1, 1.2)), (0.1, 2.0))
    glug = st.bubbles(times + 0.01, weights, _spanned(st, (4.0, 12.0), (1.05, 1.8)), 1.0, 4)
    rush = st.noise(st.samples(st.press() * st.flow((0.05, 0.5))) * (st.log(0.02, 1.0) * np.max(plugs) + plugs + 1e-3))
    skin = _skin(st)
    return st.hear(
        (0.0, [(cloud, st.through(pipe, skin))]),
        (st.flat(-15.0, 3.0), [(glug, skin)]),
        (st.flat(-20.0, -3.0), [(thuds, st.through(pipe, skin, st.colour(st.log(300.0, 900.0), 1.0, 1.5)))]),
        (st.flat(-22.0, 2.0), [(rush, st.through(st.jet((200.0, 3500.0), (0.3, 2.0)), pipe, skin))]),
    )


def _rasp(st: Stage, hz: Span, trend: Floats) -> Floats:
    """Return the opening and shutting of a mouth of water, quick or slow, about 1 at its widest."""
    pace = st.log(*hz)
    times = st.times(pace * trend * st.wander(st.log(0.3, 3.0), st.log(0.03, 0.35)), st.log(1.2, 120.0))
    return st.puffs(times, st.varied(len(times), 0.1, 0.7), st.log(0.02, 0.2) / pace, st.log(0.08, 0.8) / pace)


def _gulps(st: Stage, hz: Span) -> Floats:
    """Return on the grid gulps that open and shut, with a share left between them."""
    pace = st.wander(0.4, st.log(0.03, 0.4)) * st.log(*hz)
    phase = np.cumsum(pace) / GRID_HZ + st.rng.random()
    share, bend = st.flat(0.35, 0.95), st.log(0.4, 2.5)
    within = np.minimum(1.0, (phase % 1.0) / share) ** bend
    loud = st.varied(int(phase[-1]) + 2, 0.05, 0.6)[phase.astype(int)]
    return np.asarray(np.sin(np.pi * within) ** st.flat(0.4, 1.5) * loud + st.log(0.01, 0.2), dtype=np.float64)


def _ends(st: Stage) -> Floats:
    """Return the times at which the drive ends."""
    last = np.flatnonzero(np.diff(st.drive > 0, append=False) & (st.drive > 0))
    return np.asarray((last + 1) * (st.step / st.rate), dtype=np.float64)


def _slurp(st: Stage) -> Floats:
    """An inlet draws air: a mouth of water rasps, gulps or breathes into a column that changes; bubbles follow."""
    place = st.place(st.flat(1.0, 6.0))
    grown = np.minimum(1.0, (place + 1e-3) / st.log(0.05, 1.2)) ** st.log(0.3, 2.5)
    fallen = np.minimum(1.0, (1.001 - place) / st.log(0.03, 1.0)) ** st.log(0.3, 2.0)
    air = st.press() * grown * fallen * st.flow((0.03, 0.5))
    way = st.rng.random()
    if way < 0.6:
        air = air * _gulps(st, (0.7, 7.0))
    if way > 0.4:  # a snore, with more or less breath in it
        rough = _rasp(st, (14.0, 130.0), 2.0 ** (st.flat(-1.0, 1.0) * place))
        strength = st.samples(air) * (rough + (st.log(0.05, 1.0) if way < 0.8 else 0.02))
    else:  # breathy
        strength = st.samples(air * st.eddies(2.0, st.log(20.0, 200.0), st.log(0.1, 0.8)))
    sucked = st.noise(strength)
    flaps = np.diff(strength, prepend=0.0)
    rate, radii = st.log(20.0, 400.0) * np.minimum(air, 3.0), _spanned(st, (0.6, 3.0), (2.5, 7.0))
    carried = _crowd(st, rate, radii, (0.5, 2.5), st.log(0.01, 0.4))
    shift, metres, skin = st.flat(-1.2, 1.2), (0.05, 0.9), _skin(st)
    colour = st.through(st.jet((300.0, 3000.0), (0.4, 2.0), (0.6, 2.2)), skin)
    outlet = st.through(skin, st.mixed(st.wall(), (0.1, 1.0)))
    layers: list[_Layer] = [
        (0.0, _morph(st, convolved([(sucked, colour)]), place, metres, shift)),
        (st.flat(-25.0, 5.0), [(carried, outlet)]),
    ]
    if way > 0.4:
        layers.append((st.flat(-25.0, -3.0), [(flaps, st.through(st.mixed(st.any_column(), (0.5, 4.0)), colour))]))
    if st.chance(0.4):
        ends = _ends(st) + st.flat(-0.05, 0.12)
        plop = st.bubbles(ends, np.ones(len(ends)), _spanned(st, (4.0, 9.0), (1.05, 1.5)), 1.0, 3)
        plop += st.log(0.02, 0.5) * st.noise(st.puffs(ends, np.ones(len(ends)), 0.02, st.log(0.02, 0.09)))
        layers.append((st.flat(-28.0, -10.0), [(plop, skin)]))
    return st.hear(*layers)


def _trickle(st: Stage) -> Floats:
    """Drops and a thin film: each place drips after its own fashion; drops tick on walls and shut small bubbles."""
    lifted = st.colour(st.log(300.0, 1200.0), st.flat(0.8, 2.0), 0.0)
    skin = st.through(lifted, st.mixed(st.pane() if st.chance(0.4) else st.wall(), (0.03, 0.5)))
    gusts = st.driven**0.5 * st.flow((0.05, 0.5))
    radii = _spanned(st, (0.35, 1.3), (1.6, 5.0))
    layers: list[_Layer] = [(0.0, [(_crowd(st, st.log(40.0, 900.0) * gusts, radii, (0.5, 3.2)), skin)])]
    ticks = np.zeros(st.n)
    for _ in range(int(st.rng.integers(0, 4))):
        chaos = st.flat(0.2, 0.95) * st.chance(0.6)
        times = st.times(st.log(4.0, 70.0) * gusts, st.log(1.0, 40.0), chaos=chaos)
        weights = st.varied(len(times), 0.1, 0.7) * st.at(times, st.press())
        ticks += st.log(0.3, 1.0) * st.train(times, weights)
    contact = st.colour(st.log(1500.0, 6000.0), st.flat(0.5, 2.0), st.flat(0.5, 2.0), 2.0)
    film = st.noise(st.samples(st.press() * st.flow((0.05, 0.6))))
    layers.append((st.flat(-12.0, 3.0), [(ticks, st.through(contact, skin))]))
    layers.append((st.flat(-30.0, 1.0), [(film, st.through(st.jet((1500.0, 7000.0), (0.7, 2.5)), skin))]))
    return st.hear(*layers)


def _splash(st: Stage) -> Floats:
    """Water falls on a surface: a hail of impacts, a torn jet and the bubbles that it takes under."""
    unrest = st.flow((0.08, 0.5))
    times = st.times(st.log(30.0, 2500.0) * st.driven**0.4 * unrest, st.log(0.4, 2.0))
    weights = st.varied(len(times), 0.3, 1.1) * st.at(times, st.press()) * st.rng.standard_normal(len(times))
    hail = st.train(times, weights)
    slap = st.noise(st.puffs(times, np.abs(weights), st.log(0.0003, 0.004), st.log(0.004, 0.05)))
    jet = st.noise(st.samples(st.press() * unrest * st.eddies(2.0, 250.0, st.log(0.1, 0.8))))
    skin, radii = _skin(st, (0.1, 1.0)), _spanned(st, (0.5, 3.0), (2.5, 7.0))
    crowd = _crowd(st, st.log(30.0, 600.0) * st.driven**0.5 * unrest, radii, (1.0, 3.0))
    main = st.jet((250.0, 4500.0), (0.5, 2.0), (0.4, 2.0))
    return st.hear(
        (0.0, [(slap, st.through(main, skin))]),
        (st.flat(-14.0, 4.0), [(hail, st.through(st.jet((300.0, 5000.0), (0.3, 1.5)), skin))]),
        (st.flat(-25.0, 2.0), [(jet, st.through(main, st.jet((300.0, 3000.0), (0.3, 0.8), (0.3, 1.0)), skin))]),
        (st.flat(-14.0, 7.0), [(crowd, skin)]),
    )


def _hiss(st: Stage) -> Floats:
    """Air through a small hole: a jet, coloured by the hole and its tube, at times near a whistle."""
    air = st.press() * st.wander(st.log(0.2, 8.0), st.log(0.005, 0.25))
    if st.chance(0.25):
        air = air * st.eddies(1.0, st.log(10.0, 120.0), st.log(0.03, 0.25))
    sound_of_jet = st.noise(st.samples(air))
    peak_hz = st.log(1200.0, min(8000.0, 0.4 * st.rate))
    hole = st.colour(peak_hz, st.log(0.8, 4.0), st.log(0.7, 3.5), st.flat(0.0, 2.0))
    if st.chance(0.5):
        tube = st.column(st.log(0.015, 0.3), st.log(0.0015, 0.006), st.chance(0.4), st.log(1.0, 4.0))
        hole = st.through(hole, st.mixed(tube, (0.1, 1.5)))
    layers: list[_Layer] = [(0.0, [(sound_of_jet, st.through(hole, st.mixed(st.pane(), (0.01, 0.3))))])]
    if st.chance(0.35):
        hz = peak_hz * st.varied(3, 0.05, 0.5)
        edge = st.modes(hz, st.log(8.0, 80.0) / (np.pi * hz), st.rng.standard_normal(3))
        swept = sound_of_jet * st.samples(st.flow((0.05, 0.6)))
        layers.append((st.flat(-25.0, -2.0), [(swept, st.through(hole, edge))]))
    return st.hear(*layers)


def _flush(st: Stage) -> Floats:
    """A channel that runs full: its flow swells as a U-tube's does, falls off, and gasps when air breaks in."""
    place = st.place(st.flat(3.0, 8.0))
    rise, fall = st.log(0.05, 0.8), st.log(0.03, 0.6)
    swell = np.minimum(1.0, place / rise) ** st.log(0.5, 2.5)
    swell *= np.minimum(1.0, (1.0 - place) / fall) ** st.flat(0.3, 1.2)
    swings = np.cumsum(st.wander(0.3, 0.2)) * st.log(0.4, 4.0) / GRID_HZ
    surge = np.exp(st.log(0.02, 0.6) * np.sin(2.0 * np.pi * swings))
    water = st.press() * np.maximum(swell, 0.03) * surge * st.flow((0.03, 0.4))
    rush = convolved([(st.noise(st.samples(water)), st.jet((150.0, 3000.0), (0.5, 2.0), (0.6, 2.0)))])
    skin = _skin(st, (0.1, 1.2))
    crowd = _crowd(st, st.log(30.0, 500.0) * np.minimum(water, 2.0), _spanned(st, (0.8, 3.0), (2.5, 6.0)), (0.5, 2.5))
    strength = np.zeros(st.n)
    broken = _ends(st)
    for _ in range(int(st.rng.integers(1, 5))):  # gasps
        times = broken + st.flat(-0.5, 0.6)
        weights = st.at(np.maximum(broken - 0.1, 0.0), st.press()) * st.log(0.3, 1.0)
        strength += st.puffs(times, weights, st.log(0.01, 0.2), st.log(0.03, 0.2))
    beat = st.log(14.0, 110.0)
    torn = np.cumsum(np.exp(st.log(0.05, 0.4) * st.rng.standard_normal(int(st.n / st.rate * beat * 1.5) + 9))) / beat
    mouth = st.puffs(torn, st.varied(len(torn), 0.1, 0.6), 0.1 / beat, st.log(0.1, 1.0) / beat) + st.log(0.03, 1.0)
    gasp = st.noise(strength * mouth)
    throat = st.through(st.mixed(st.any_column((0.1, 1.0)), (0.3, 3.0)), st.jet((350.0, 3000.0)), skin)
    return st.hear(
        (0.0, _morph(st, rush, place, (0.2, 1.2), st.flat(-1.2, 0.6))),
        (st.flat(-20.0, 3.0), [(crowd, skin)]),
        (st.flat(-20.0, -6.0), [(gasp, throat)]),
    )


def _roar(st: Stage) -> Floats:
    """Much water in a big pipe: wholly turbulent, through a wide column and the wall, thick with bubbles."""
    water = st.press() * st.flow((0.03, 0.35))
    radius, metres, closed = st.log(0.02, 0.06), st.log(0.2, 1.5), st.chance(0.5)
    pipe = st.mixed(st.column(metres, radius, closed, st.log(4.0, 20.0)), (0.1, 2.0))
    body = st.through(st.jet((120.0, 1400.0), (0.5, 2.0), (0.5, 1.6)), pipe, _skin(st, (0.05, 1.0)))
    beats = st.times(st.log(100.0, 1200.0) * st.driven**0.5, 1.0)
    weights = st.at(beats, water) * st.rng.standard_normal(len(beats))
    crowd = _crowd(st, st.log(60.0, 900.0) * st.driven**0.6, _spanned(st, (1.5, 4.0), (2.0, 5.0)), (0.3, 2.0))
    fine = st.noise(st.samples(water))
    return st.hear(
        (0.0, [(fine, body)]),
        (st.flat(-18.0, 0.0), [(st.train(beats, weights), st.through(body, st.mixed(st.wall(), (0.2, 2.0))))]),
        (st.flat(-22.0, 0.0), [(crowd, pipe)]),
    )


def _force(st: Stage, hz: float, orders: Floats, tilt: float, drift: float) -> Floats:
    """Return a periodic force on a pump: orders of ``hz`` whose strength falls with their number, and wanders a bit."""
    pace = hz * np.exp(drift * np.log(st.wander(0.2, 1.0)))
    phase = st.samples(np.cumsum(pace) / GRID_HZ)
    turn = np.linspace(0.0, 1.0, 4097)
    gains = orders**-tilt * st.varied(len(orders), 0.3, 0.9) * (orders * hz < 0.45 * st.rate)
    wave = gains @ np.sin(2.0 * np.pi * (orders[:, None] * turn + st.rng.random((len(orders), 1))))
    strength = st.press() * st.wander(0.5, st.log(0.003, 0.1))
    return np.interp(phase % 1.0, turn, wave) * st.samples(strength)


def _hum(st: Stage, level_of_flow: Span = (-42.0, -10.0)) -> Floats:
    """A pump's forces on what it stands against: stator, rotor or both, one pump or two that beat."""
    layers: list[_Layer] = []
    body = st.mixed((st.pane, st.housing, lambda: st.crate((0.3, 0.9)))[int(st.rng.integers(3))](), (0.03, 1.5))
    way = st.rng.random()
    if way < 0.7:
        orders = np.arange(1.0, st.rng.integers(3, 25))
        layers.append((0.0, [(_force(st, 2.0 * st.mains_hz, orders, st.log(0.5, 3.0), 0.0), body)]))
        odd = _force(st, st.mains_hz, np.arange(1.0, 12.0, 2.0), st.log(0.5, 2.0), 0.0)
        layers.append((st.flat(-40.0, 0.0), [(odd, body)]))
    if way > 0.5:
        hz, blades = st.log(16.0, 90.0), int(st.rng.integers(2, 10))
        orders = np.unique(np.outer((1, 2, 3, 4), (1, blades)).ravel()).astype(np.float64)
        drift = st.log(0.0002, 0.008)
        layers.append((st.flat(-12.0, 3.0), [(_force(st, hz, orders, st.flat(0.0, 1.5), drift), body)]))
        if st.chance(0.4):
            other = hz * (1.0 + st.log(0.002, 0.04))
            layers.append((st.flat(-10.0, 0.0), [(_force(st, other, orders, st.flat(0.0, 1.5), drift), body)]))
    flow = st.noise(st.samples(st.press() * st.flow((0.02, 0.2))))
    layers.append((st.flat(*level_of_flow), [(flow, st.jet((150.0, 1800.0), (0.5, 2.0), (0.6, 2.0)))]))
    return st.hear(*layers)


def _rattle(st: Stage) -> Floats:
    """Loose parts: a rotor that knocks, a part that bounces on, grit in the impeller, each on what rings."""
    way, touch_s = st.rng.random(), st.log(0.00005, 0.0015)
    pace = st.log(6.0, 60.0) * st.wander(st.log(0.1, 1.0), st.log(0.002, 0.1))
    if way < 0.45:  # once a turn, often twice, at times not at all
        times = st.times(pace, st.log(15.0, 5000.0))
        second = times + st.flat(0.15, 0.6) / float(np.mean(pace))
        times = np.concatenate((times, second[st.rng.random(len(second)) < st.flat(0.0, 1.0)]))
        times = times[st.rng.random(len(times)) > st.flat(0.0, 0.4)]
    elif way < 0.75:  # a bounce with restitution: each gap is the last one's by the same share
        thrown, share = st.times(pace * st.log(0.3, 0.7), st.log(1.5, 100.0)), st.flat(0.55, 0.92)
        hops = np.cumsum(np.concatenate(([0.0], st.log(0.006, 0.04) * share ** np.arange(int(st.rng.integers(2, 10))))))
        times = (thrown[:, None] + hops * st.varied(len(thrown), 0.02, 0.3)[:, None]).ravel()
    else:  # grit: struck at random, oftenest at one place of the turn
        turn = np.cumsum(pace) / GRID_HZ
        often = np.exp(st.flat(0.5, 2.5) * np.cos(2.0 * np.pi * turn))
        times = st.times(st.log(20.0, 150.0) * often / np.mean(often) * st.eddies(0.5, 8.0, st.log(0.1, 0.6)), 1.0)
    blow = st.press() * st.wander(st.log(0.1, 2.0), st.log(0.03, 0.5))
    weights = st.varied(len(times), 0.1, 0.9) * st.at(times, blow)
    hits = st.blows(times, weights, touch_s)
    rung = (st.housing, st.wall, st.pane, st.housing)[int(st.rng.integers(4))]()
    scrape = st.noise(st.puffs(times, weights, 0.0003, st.log(0.001, 0.012)))
    body = st.mixed(rung, (0.5, 20.0))
    return st.hear(
        (0.0, [(hits, st.through(body, st.colour(st.log(400.0, 5000.0), st.flat(0.5, 1.5), 0.1)))]),
        (st.flat(-30.0, -2.0), [(scrape, st.through(body, st.jet((800.0, 5000.0))))]),
        (st.flat(-40.0, -8.0), [(_hum(st), st.blow())]),
    )


_KINDS: dict[SoundKind, Callable[[Stage], Floats]] = {
    "gurgle": _gurgle, "slurp": _slurp, "trickle": _trickle, "splash": _splash, "hiss": _hiss, "flush": _flush,
    "roar": _roar, "hum": _hum, "rattle": _rattle,
}


def sound(kind: SoundKind, rng: np.random.Generator, sample_rate: int, drive: Floats, mains_hz: float) -> Floats:
    """Return a new draw of the kind, at no level: shape (len(drive) * step,), 0 where never driven."""
    st = Stage(rng, sample_rate, checked_drive(drive), mains_hz, step_samples(sample_rate))
    if not st.drive.any():
        return np.zeros(st.n)
    heard = _KINDS[kind](st)
    if st.chance(0.7):
        heard = convolved([(heard, st.reflections())])
    tail_s = 1.6 if kind == "flush" else st.log(0.05, 0.5)
    last = np.maximum.accumulate(np.where(np.repeat(st.drive > 0, st.step), np.arange(st.n), -st.n - 2 * st.rate))
    out: Floats = heard * np.clip(1.0 - (np.arange(st.n) - last) / (tail_s * st.rate), 0.0, 1.0)
    return out


def room(rng: np.random.Generator, sample_rate: int, n: int) -> Floats:
    """Return n samples of a room at rest, at no level: rumble, traffic, traces of hum, at times in a cupboard."""
    bodies = Bodies(rng, sample_rate)

    def wash(centre: Span, below: Span, above: Span) -> Floats:
        return convolved([(rng.standard_normal(n), bodies.jet(centre, below, above))])

    t = np.arange(n) / sample_rate
    tone = wash((40.0, 400.0), (0.3, 1.5), (0.4, 1.6))
    cars = np.full(n, bodies.log(0.05, 1.0))
    for _ in range(int(rng.poisson(n / sample_rate / bodies.log(4.0, 60.0)))):  # passing cars
        near_s = bodies.log(0.8, 5.0)
        cars += bodies.log(0.1, 1.5) / (1.0 + ((t - bodies.flat(0.0, t[-1])) / near_s) ** 2)
    tone += bodies.log(0.03, 1.5) * cars * wash((150.0, 1200.0), (0.5, 2.0), (0.5, 1.5))
    tone += bodies.log(0.002, 0.3) * rng.standard_normal(n)  # the microphone's own
    if bodies.chance(0.6):
        hz = bodies.log(48.0, 62.0) if bodies.chance(0.2) else float(rng.choice([50.0, 60.0]))
        for k in (1, 2, 3, 4, 6, 8, 12):
            gain = bodies.log(0.01, 1.0) / k
            tone += gain * np.sin(2.0 * np.pi * (hz * k * t + rng.random()))
    if bodies.chance(0.5):
        tone = convolved([(tone, bodies.mixed(bodies.crate((0.3, 1.2)), (0.1, 1.5)))])
    return tone
