"""The box of sheet metal, and the places of the parts in it."""

import numpy as np

from parts import KINDS, Part, grommet
from solids import frame
from surfaces import STEEL, WALLS


def room(scene):
    rng, a, b = scene.rng, scene.wide / 2, scene.high / 2
    colour = np.clip(np.array(WALLS[rng.integers(len(WALLS))]) * rng.uniform(0.75, 1.1) + rng.normal(0, 6, 3), 12, 235)
    metal = float(rng.random() < 0.2) * 0.7
    wall = scene.surface.get(colour, rng.uniform(0.35, 0.7), metal, 1.3, 0.12)
    side = wall if rng.random() < 0.6 else scene.surface.get(WALLS[rng.integers(len(WALLS))], 0.5, 0.0, 1.3, 0.12)
    made = scene.thing(0)
    made.box((0, 0, -0.5), (scene.wide + 200 * (rng.random() < 0.25), scene.high, 0.5), wall)
    for x in (-1, 1):
        if rng.random() < 0.85:
            made.box((x * (a + 0.25), 0, -0.5), (0.5, scene.high, scene.deep), side, 0.05)
    for y in (-1, 1):
        if rng.random() < 0.85:
            made.box((0, y * (b + 0.25), -0.5), (scene.wide, 0.5, scene.deep), side, 0.05)
    made.box((0, -b - 8, -3), (300, 0.5, 80), scene.surface.get((90, 88, 84), 0.8))
    made.box((0, 0, -30), (400, 300, 1), scene.surface.get(rng.uniform(30, 180, 3) * 0.3 + rng.uniform(20, 100), 0.8))
    if rng.random() < 0.4:
        plate = scene.surface.get(np.clip(colour * rng.uniform(0.7, 1.3), 10, 240), 0.5)
        made.box((0, 0, 0), (scene.wide * rng.uniform(0.5, 0.9), scene.high * rng.uniform(0.5, 0.9), 0.15), plate, 0.05)
    small_things(scene, made, a, b)


def small_things(scene, made, a, b):
    rng = scene.rng
    steel, dark = scene.surface.get(STEEL, 0.3, 1.0), scene.surface.get((12, 12, 12), 0.9)
    for _ in range(rng.integers(4, 22)):
        x, y = rng.uniform(-a, a), rng.uniform(-b, b)
        if rng.random() < 0.6:
            made.lathe([(0.4, 0), (0.35, 0.15), (0.2, 0.26), (0, 0.3)], frame((x, y, 0.1), (0, 0, 1)), steel, 14)
        else:
            made.lathe([(0, 0.17), (rng.uniform(0.15, 0.45), 0.17)], frame((x, y, 0), (0, 0, 1)), dark, 14)
    if rng.random() < 0.4:
        x, y = rng.uniform(-a + 5, a - 5), rng.uniform(-b + 3, b - 3)
        for place in range(rng.integers(3, 8)):
            made.box((x, y + place * 0.9, 0.155), (rng.uniform(4.8, 5), 0.35, 0.01), dark)


def place_parts(scene):
    rng = scene.rng
    kinds = list(rng.choice(list(KINDS), rng.integers(7, 13), p=np.array([3, 1, 2, 1.3, 1, 1.6, 1, 1, 0.7, 0.8, 1, 1]) / 15.4))
    kinds = sorted(set(kinds) - {"control_board", "compressor_cover", "earth_stud"}) + [k for k in kinds if k in (
        "relay", "terminal_strip")] + [k for k in ("control_board", "compressor_cover", "earth_stud") if k in kinds]
    kinds.sort(key=lambda kind: -KINDS[kind][2] * KINDS[kind][3])
    counts = {}
    for kind in kinds[:14]:
        draw, letter, wide, high = KINDS[kind]
        turned = kind not in ("compressor_cover", "earth_stud") and rng.random() < 0.3
        place = scene.free_place((high, wide) if turned else (wide, high))
        if place is None:
            continue
        counts[letter] = counts.get(letter, 0) + 1
        turn = np.radians((rng.choice([-90, 90]) if turned else 0) + rng.normal(0, 1.5))
        part = Part(scene, kind, f"{letter}{counts[letter]}", frame((*place, 0), (0, 0, 1), turn))
        draw(part, rng)
        if rng.random() < 0.4 and kind != "earth_stud":
            here = (place[0] + rng.uniform(-2, 2), place[1] + (wide if turned else high) * 0.95, 0.16)
            scene.thing(0).label(scene.surface, part.name, here, 0.8, rng.normal(0, 0.06))
    place_grommets(scene)


def place_grommets(scene):
    rng, a, b = scene.rng, scene.wide / 2, scene.high / 2
    for number in range(rng.integers(1, 4)):
        side = rng.integers(5)
        if side == 0:
            place = scene.free_place((1.6, 1.6))
            if place is None:
                continue
            spot = frame((*place, 0.1), (0, 0, 1))
        else:
            z = rng.uniform(2.5, min(10, scene.deep - 3))
            x, y = rng.uniform(-a + 3, a - 3), rng.uniform(-b + 3, b - 3)
            spot = [frame((-a, y, z), (1, 0, 0)), frame((a, y, z), (-1, 0, 0)), frame((x, -b, z), (0, 1, 0)),
                    frame((x, b, z), (0, -1, 0))][side - 1]
        grommet(Part(scene, "grommet", f"G{number + 1}", spot), rng)
