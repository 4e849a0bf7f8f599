"""Where to hold the tape: the box with an arrow for one measure, the cabinet with letters, or a small drawing."""

from __future__ import annotations

from rich.text import Text

from tuner.rig import Rig
from tuner.screens.box import BoxHeights, Mark, box_grid, row_of
from tuner.screens.tapedrawings import DRAWINGS

ROWS = 11
_UPRIGHT: dict[str, tuple[int, str, str]] = {  # field: column, from, to
    "channel.crest_height": (15, "floor", "crest"),
    "channel.inlet_height": (10, "floor", "mouth"),
    "emergency.rim_height": (20, "floor", "rim"),
    "siphon.inlet_height": (4, "floor", "inlet"),
    "weir.height": (3, "floor", "weir"),
    "box.depth": (20, "floor", "depth"),
}
_LEVEL: dict[str, tuple[int, int, int]] = {  # field: row from the floor, columns from and to
    "box.length": (1, 3, 20),
    "siphon.inlet_diameter": (3, 5, 7),
}
CABINET = """\
   |               |
 A |~~~~~~~~~~~~~~~|<- tank surface
   |  tank   B ||  |[ box ]<- weir edge
   |           ||  |[~~~~~]<- box water
   |___________||__|[|_|_|]
               ||    | | |    C
             D ||    | | |
    __________ || ___|_|_|__
   |~~~~~~~~~~~||~~~~|~|~|~~|<- sump water
 G |  F    sump||    ' ' ' E|
   |__________pump__________|"""
_LETTERS = {
    "tank.glass_above": "A: from the tank's surface up to the rim of its glass",
    "returns.nozzle_depth": "B: from the tank's surface down to the nozzle's mouth",
    "siphon.drop": "C: from the water in the box straight down to the water in the sump",
    "returns.static_head": "D: from the water in the sump straight up to the tank's surface",
    "siphon.outlet_depth": "E: from the sump's surface down to the pipe's end",
    "channel.outlet_depth": "E: from the sump's surface down to the pipe's end",
    "sump.level": "F: from the sump's floor up to its water",
    "sump.rim": "G: from the sump's floor up to its rim",
}


def _usual() -> BoxHeights:
    rig = Rig()
    return BoxHeights(
        depth=Mark(rig.box.depth_m, "box rim"), weir=Mark(rig.weir.height_m, "weir edge"),
        rim=Mark(rig.emergency.rim_height_m, "E rim"), crest=Mark(rig.channel.crest_height_m, "O crest"),
        mouth=Mark(rig.channel.inlet_height_m, "O mouth"), inlet=Mark(rig.siphon.inlet_height_m, "S inlet"),
        level_low_m=0.166, level_high_m=0.166, tank_m=0.265,
    )


def tape_drawing(field: str, *, ascii_only: bool) -> list[Text]:
    """Return where to hold the tape for a field such as "channel.crest_height"; empty when no drawing would help."""
    if field in _LETTERS:
        return _lettered(CABINET, _LETTERS[field])
    if field in DRAWINGS:
        return _lettered(*DRAWINGS[field])
    if field not in _UPRIGHT and field not in _LEVEL:
        return []
    usual = _usual()
    grid, _ = box_grid(usual, ROWS, ascii_only=ascii_only)
    arrows = "^|v<->" if ascii_only else "▲┃▼◄━►"
    cells: list[tuple[int, int, str]] = []
    if field in _UPRIGHT:
        column, _, upper = _UPRIGHT[field]
        top = row_of(getattr(usual, upper).height_m, usual.depth.height_m, ROWS)
        cells = [(row, column, arrows[1]) for row in range(1, top)]
        cells += [(0, column, arrows[2]), (top, column, arrows[0])]
    else:
        row, left, right = _LEVEL[field]
        cells = [(row, column, arrows[4]) for column in range(left + 1, right)]
        cells += [(row, left, arrows[3]), (row, right, arrows[5])]
    inked = {(row, column): sign for row, column, sign in cells}
    lines = []
    for row in reversed(range(ROWS)):
        line = Text("   ")
        for column, cell in enumerate(grid[row]):
            line.append(inked.get((row, column), cell), "bold reverse" if (row, column) in inked else "")
        lines.append(line)
    lines.append(Text("         S      O    E   S full siphon, O open channel, E dry emergency", "dim"))
    return lines


def _lettered(drawing: str, words: str) -> list[Text]:
    """Return a drawing with what to do with it in its last line."""
    return [*(Text(line) for line in drawing.splitlines()), Text(f"   {words}", "bold")]
