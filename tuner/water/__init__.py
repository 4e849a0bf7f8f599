"""Hydraulics of the overflow: sourced formulas, the balance of the box, its quiet window, and the flood check.

A worked example, of a tank with an overflow of 26.6 mm pipes (each figure is worked by hand in the tests):

The pump's label says 4200 L/h and 3.0 m. Against 1.3 m of lift, 1.8 m of line, four elbows and a 20 mm nozzle it
gives sqrt(1.7 m / 3.667e6 s2/m5) = 6.81e-4 m3/s:

>>> from tuner.rig import Rig
>>> from tuner.water import laws
>>> from tuner.water.balance import balance
>>> from tuner.water.plumbing import plumbing_of
>>> from tuner.water.window import quiet_window
>>> p = plumbing_of(Rig())
>>> round(float(laws.supply_flow_m3_s(p, [1.0])) * 3.6e6)
2452

The open channel stays self-venting up to a Froude number of 0.3: 0.3 x 5.557e-4 m2 x sqrt(9.807 x 0.0266) m/s.

>>> round(float(laws.gurgle_flow_m3_s(p)) * 3.6e6)
307

Its middle leaves 2298 L/h to the siphon, at 1.15 m/s. Under 0.91 m of head that needs a loss of 13.5 velocity heads;
entrance, three elbows, exit and friction make 5.4 of them, the valve the other 8.1: open by 0.38, or 1.9 of 5 turns.
One eighth of a turn moves 111 L/h there; the window, less the pump's swing, is 292 L/h or 0.35 turn wide.

>>> w = quiet_window(p, [1.0], [0.0])
>>> round(float(w.setting_mid), 2), round(float(w.setting_width), 2), round(float(w.step_m3_s) * 3.6e6)
(1.9, 0.35, 111)
>>> middle = balance(p, [1.0], w.opening_mid, 0.75)
>>> middle.siphon_regime, middle.channel_regime, round(float(middle.channel_m3_s) * 3.6e6)
('full', 'film', 151)
"""
