"""Small drawings of what is not seen in the box's own section: cut pipes, plans, valves, labels. Plain ASCII."""

from __future__ import annotations

BORE = """\
         .-------.
       .'  .---.  '.
      |  .'     '.  |
      |  |<----->|  |   across the opening, from wall to wall
      |  '.     .'  |
       '.  '---'  .'
         '-------'"""
RUN = """\
      |  |
      |  |  <- from this end ...
      |  '------------.
      '---2--------1  |   along the middle of the pipe;
                   |  |   1 and 2 are its bends
       ... to this |  |
            end -> |  |"""
VALVES = """\
         gate                  ball
      .---------.                 _________
      '----+----'  a wheel       |_________|  a lever
           |                     |
    ====[  |  ]====          ===(O)=========
     several turns            a quarter turn"""
WHEEL = """\
      .---------.
      '----*----'   a mark * on the wheel's rim: back in its place
           |        is one turn
    ====[  |  ]===="""
LEVER = """\
            /
           /  30      the lever along the pipe: 90 degrees, fully open
          /           the lever across the pipe: 0 degrees, closed
    ====(O)========"""
PUMP_LABEL = """\
    .------------------.
    |  Q max 4200 L/h  |   <- flow
    |  H max    3.0 m  |   <- head
    '------------------'"""
CONTROLLER = """\
    .------------------.
    | [-]   72 %   [+] |   press + once: from 72 to 73 is a step of 1 %
    '------------------'"""
PLAN = """\
    from above
     ______________________________
    |             tank             | ^
    |   weir: |w|w|w|w|w|w|        | |
    |        [ S    O    E ] ^     | K
    |        [_____________] v M   | |
    |______________________________| v
             <---- L ---->
    <------------- J ------------->"""
TEETH = """\
     ___     ___     ___     ___
    |   |   |   |   |   |   |   |   <- weir's edge
    |   |___|   |___|   |___|   |   <- bottom of the slots
      b   a                         open share: a / (a + b)"""
SIPHON_TOP = """\
          ____o____      <- the hole o, across it
         |  _____  |
    ~~~~~| |~~~~ | |
         | |     | |
        inlet    down to the sump"""
VENT_TOP = """\
            (+)        <- the air tap
            | |        <- the vent, across its inside
        ____| |____
       |  _______  |
    ~~~| |~~~~~~~| |
      mouth      down to the sump"""
SUMP_PLAN = """\
    the sump from above
     ______________________________
    |          |         |  pump   | ^
    |  drains  |         |   (P)   | S
    |__________|_________|_________| v
    <------------- R ------------->"""
CHAMBER = """\
    |          |~~~~~~~~~|  ^ <- running level
    |          |  pump's |  T
    |          | chamber |  v <- where the pump begins to draw air
    |__________|__[P]____|"""
NOZZLE = """\
         | |
    ~~~~~| |~~~~~~~~~~~~~  ^ <- tank surface
         | |               U
         | o               v <- anti-siphon hole
         | '-------.
         '---------|       <- the nozzle's mouth"""

DRAWINGS: dict[str, tuple[str, str]] = {  # field: drawing, and what to do with it
    "siphon.inner_diameter": (BORE, "the siphon's pipe: its inside, not the size printed on it"),
    "channel.inner_diameter": (BORE, "the open channel's pipe: its inside, not the size printed on it"),
    "emergency.inner_diameter": (BORE, "the dry emergency pipe: its inside, not the size printed on it"),
    "returns.line_diameter": (BORE, "the return line: its inside, not the size printed on it"),
    "siphon.run": (RUN, "the whole way along the siphon's pipe, bends included"),
    "siphon.elbows": (RUN, "count the bends on the way: two here"),
    "returns.line_run": (RUN, "the whole way along the return line, bends included"),
    "returns.elbows": (RUN, "count the bends on the way: two here"),
    "siphon.valve.kind": (VALVES, "which of the two the siphon has"),
    "siphon.valve.turns": (WHEEL, "pumps off: close it gently, then count the turns to fully open"),
    "siphon.valve.setting": (WHEEL, "from your notes, or by a mark; do not close it while a pump runs"),
    "siphon.valve.setting, ball": (LEVER, "from your notes, or by eye; do not close it while a pump runs"),
    "pump.0.flow": (PUMP_LABEL, "Q: the largest flow on the label"),
    "pump.0.head": (PUMP_LABEL, "H: the greatest head on the label"),
    "pump.1.flow": (PUMP_LABEL, "Q: the largest flow on the label"),
    "pump.1.head": (PUMP_LABEL, "H: the greatest head on the label"),
    "pump.0.speed_step": (CONTROLLER, "by how much one press changes the speed"),
    "pump.1.speed_step": (CONTROLLER, "by how much one press changes the speed"),
    "pump.0.speed": (CONTROLLER, "what it shows now: 72 % here"),
    "tank.length": (PLAN, "J: the tank's length, inside the glass"),
    "tank.width": (PLAN, "K: the tank from front to back, inside the glass"),
    "weir.length": (PLAN, "L: along the weir, from its first slot to its last"),
    "box.width": (PLAN, "M: the box from front to back, inside its walls"),
    "weir.open_share": (TEETH, "a: one slot, b: one tooth; a plain edge is 100 %"),
    "siphon.bleed_hole": (SIPHON_TOP, "at the siphon's highest point"),
    "channel.vent_hole": (VENT_TOP, "the vent at the open channel's highest point"),
    "channel.vent_tap_turns": (VENT_TOP, "close the tap, then count its turns to fully open"),
    "channel.vent_setting": (VENT_TOP, "how many of its turns the tap is open now"),
    "sump.length": (SUMP_PLAN, "R: the sump's length, inside its walls"),
    "sump.width": (SUMP_PLAN, "S: the sump from front to back, inside its walls"),
    "sump.pump_chamber": (CHAMBER, "T times the chamber's length times its width"),
    "returns.nozzles": (NOZZLE, "how many such nozzles there are"),
    "returns.nozzle_diameter": (NOZZLE, "across the nozzle's mouth, inside"),
    "returns.siphon_break_depth": (NOZZLE, "U: from the surface down to the hole"),
}
