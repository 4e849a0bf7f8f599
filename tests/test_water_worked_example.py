"""A reef-sized overflow worked by hand, step by step, against the program.

Tank 1.2 x 0.6 m. Pump: 4200 L/h at no head, 3.0 m at no flow, lifting 1.3 m through 1.8 m of 26.6 mm line with four
elbows and one 20 mm nozzle. Siphon: 26.6 mm, 0.90 m drop, 1.2 m long, three elbows, gate valve of five turns. Open
channel: 26.6 mm. Sea water of 25 degrees: kinematic viscosity 0.937e-6 m2/s. g = 9.80665 m/s2.

Every figure below is worked with pencil arithmetic (plain powers and roots of the formula named) and compared with
the program; the tolerance is that of arithmetic with three or four digits.
"""

from __future__ import annotations

from math import log10, pi, sqrt

import pytest

from tuner.rig import Rig
from tuner.water.balance import balance
from tuner.water.laws import (
    gurgle_flow_m3_s,
    opening_for_siphon_flow,
    siphon_flow_m3_s,
    supply_flow_m3_s,
)
from tuner.water.plumbing import plumbing_of
from tuner.water.valves import valve_loss_k
from tuner.water.window import quiet_window

BY_HAND = 0.005
G = 9.80665
BORE = 0.0266
AREA = 5.557e-4  # pi/4 x 0.0266^2
P = plumbing_of(Rig())


def swamee_jain(reynolds: float) -> float:
    return 0.25 / log10(1.5e-6 / BORE / 3.7 + 5.74 / reynolds**0.9) ** 2


def test_area_of_the_pipe() -> None:
    assert pi / 4 * BORE**2 == pytest.approx(AREA, rel=1e-3)


def test_supply() -> None:
    inside_pump = 3.0 / (4200 / 3.6e6) ** 2  # 2.204e6 s2/m5: H = 3.0 - b Q^2 through both figures of the label
    assert inside_pump == pytest.approx(2.204e6, rel=1e-3)
    friction = swamee_jain(1.5 * BORE / 0.937e-6)  # Re 42 600
    assert friction == pytest.approx(0.0219, abs=2e-4)
    losses = 0.65 + 4 * 0.9 + friction * 1.8 / BORE  # entrance, four elbows, friction: 5.73
    assert losses == pytest.approx(5.73, abs=0.02)
    line = losses / AREA**2 / (2 * G)  # 9.46e5
    jet = 1 / (3.142e-4) ** 2 / (2 * G)  # nozzle of 20 mm: 5.17e5
    flow = sqrt((3.0 - 1.3) / (inside_pump + line + jet))  # sqrt(1.7 / 3.667e6) = 6.81e-4 m3/s
    assert flow * 3.6e6 == pytest.approx(2451, abs=5)
    assert supply_flow_m3_s(P, [1.0]) == pytest.approx(flow, rel=BY_HAND)


def test_quiet_flow_of_the_open_channel() -> None:
    # 0.3 x A x sqrt(g D) = 0.3 x 5.557e-4 x 0.5107 = 8.514e-5 m3/s = 306.5 L/h
    assert 0.3 * AREA * sqrt(G * BORE) * 3.6e6 == pytest.approx(306.5, abs=0.2)
    assert gurgle_flow_m3_s(P) * 3.6e6 == pytest.approx(306.5, abs=0.3)


def test_loss_that_the_valve_must_make_in_the_middle_of_the_window() -> None:
    siphon = (2451.7 - 306.5 / 2) / 3.6e6  # 6.385e-4 m3/s
    speed = siphon / AREA  # 1.149 m/s
    assert speed == pytest.approx(1.149, abs=2e-3)
    friction = swamee_jain(speed * BORE / 0.937e-6)  # Re 32 600: 0.0232
    assert friction == pytest.approx(0.0232, abs=3e-4)
    fixed = 0.65 + 3 * 0.9 + 1.0 + friction * 1.2 / BORE  # entrance, elbows, exit, friction: 5.40
    total = 2 * G * 0.907 / speed**2  # level about 7 mm over the crest: head 0.907 m -> 13.5
    wanted = total - fixed
    assert wanted == pytest.approx(8.1, abs=0.15)
    opening = float(opening_for_siphon_flow(P, siphon, P.crest_height_m + 0.007))
    assert float(valve_loss_k("gate", opening)) == pytest.approx(wanted, rel=0.02)
    # between K 21.4 at 1/4 open and 3.75 at 1/2 open: about 0.38 open, 1.9 turns of five
    assert opening * 5 == pytest.approx(1.9, abs=0.05)


def test_window_in_turns() -> None:
    # the window is 306.5 L/h less twice the pump's swing of 0.3 % of 2451.7: 291.8 L/h. One eighth of a turn near
    # 0.38 open moves 4.5 % (the reference siphon moves 6 % at 0.35 and 4 % at 0.5; here friction damps it) of 2300 L/h:
    # 105-115 L/h, so that the window is about 2.7 eighths wide: 0.34 turn.
    w = quiet_window(P, [1.0], [0.0])
    assert w.width_m3_s * 3.6e6 == pytest.approx(306.5 - 2 * 0.003 * 2451.7, abs=1)
    assert w.step_m3_s * 3.6e6 == pytest.approx(110, abs=5)
    assert w.setting_width == pytest.approx(0.34, abs=0.02)


def test_balance_in_the_middle() -> None:
    w = quiet_window(P, [1.0], [0.0])
    b = balance(P, [1.0], float(w.opening_mid), 0.75)
    assert b.channel_m3_s * 3.6e6 == pytest.approx(153, abs=6)
    assert float(b.siphon_m3_s) == pytest.approx(float(siphon_flow_m3_s(P, b.level_m, w.opening_mid)), rel=1e-4)
    assert (b.siphon_regime, b.channel_regime) == ("full", "film")
    assert b.to_emergency_m > 0.02


def test_back_siphon() -> None:
    # 15 mm over the weir's edge is more than the nozzle's 12.7 mm: 0.72 m2 x 0.0154 m = 11.1 L out of the tank
    effective = 0.30 * 0.6
    head = (supply_flow_m3_s(P, [1.0]) / (0.606 * 2 / 3 * sqrt(2 * G) * effective)) ** (2 / 3) - 0.001
    assert head == pytest.approx(0.0154, abs=3e-4)
    assert 0.72 * head * 1e3 == pytest.approx(11.1, abs=0.2)
