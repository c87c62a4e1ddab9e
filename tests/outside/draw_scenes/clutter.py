"""What looks like wires and is none: pipes, rods, hoses, ducts, scratches and drawings on paper."""

import numpy as np
from scipy.ndimage import gaussian_filter1d, maximum_filter

from solids import frame
from surfaces import COPPER, STEEL
from wires import resampled, smoothed


def place_clutter(scene):
    rng, a, b = scene.rng, scene.wide / 2, scene.high / 2
    made = scene.thing(0)
    for _ in range(rng.choice([0, 1, 2], p=[0.5, 0.35, 0.15])):
        sheet(scene)
    for _ in range(rng.choice([0, 1, 2, 3], p=[0.3, 0.3, 0.25, 0.15])):
        kind = rng.integers(5)
        if kind in (0, 1, 2):
            hose = rng.choice([(24, 24, 25), (24, 24, 25), (110, 112, 114), (205, 204, 198), (200, 90, 40)])
            colour, metal, radius = [(COPPER, 1.0, rng.uniform(0.12, 0.5)), (STEEL, 1.0, rng.uniform(0.12, 0.3)),
                                     (hose, 0.0, rng.uniform(0.35, 0.9))][kind]
            path = min((pipe(scene, kind, a, b) for _ in range(8)), key=lambda path: scene.floor_at(path).mean())
            path[:, 2] += gaussian_filter1d(maximum_filter(scene.floor_at(path), 9), 5) + radius
            made.tube(path, radius, scene.surface.get(colour, 0.35, metal), 14)
        elif kind == 3:
            duct(scene, made)
        else:
            scratches(scene, made, a, b)


def pipe(scene, kind, a, b):
    rng = scene.rng
    y, z = rng.uniform(-b + 1, b - 1), rng.uniform(0.1, 1.5)
    points = np.array([(-a + 1, y, z), (-a / 2, y + rng.normal(0, 1), z), (a / 3, y + rng.normal(0, 2), z), (a - 1, y, z)])
    if rng.random() < 0.4:
        points = points[:, [1, 0, 2]] * [1, scene.high / scene.wide, 1]
    return smoothed(resampled(points[[0, -1]] if kind == 1 else points, 0.3), 8 if kind else 3, (0, 0))[0]


def sheet(scene):
    """A drawing on paper: lines as thin as far wires."""
    rng, place = scene.rng, scene.free_place((3.2, 2.6))
    if place is None:
        return
    made = scene.thing(0, frame((*place, 0.17), (0, 0, 1), rng.normal(0, 0.04)))
    wide, high = rng.uniform(4, 6), rng.uniform(3, 5)
    made.box((0, 0, 0), (wide, high, 0.02), scene.surface.get((222, 220, 208), 0.7))
    ink = scene.surface.get(rng.choice([(24, 24, 28), (24, 24, 28), (40, 60, 140), (160, 40, 40)]), 0.7)
    for _ in range(rng.integers(5, 14)):
        x, y, long = rng.uniform(-wide * 0.35, wide * 0.35), rng.uniform(-high * 0.42, high * 0.42), rng.uniform(0.3, 0.45) * wide
        across = rng.random() < 0.6
        size = (min(long, wide - 2 * abs(x)), 0.05) if across else (0.05, min(long, high - 2 * abs(y)))
        made.box((x, y, 0.02), (*size, 0.005), ink)
    for _ in range(rng.integers(1, 6)):
        made.text(str(rng.integers(10, 999)), (rng.uniform(-0.3, 0.3) * wide, rng.uniform(-0.4, 0.4) * high, 0.03), 0.4, ink)


def duct(scene, made):
    """A cable duct: a long box with slots, whose edges run as wires do."""
    rng = scene.rng
    body = scene.surface.get(rng.choice([(140, 144, 148), (220, 220, 216), (80, 110, 160)]), 0.5)
    place = scene.free_place((rng.uniform(5, 9), 1.5))
    if place is None:
        return
    wide = scene.taken[-1][2] * 2
    made.box((*place, 0), (wide, 2.6, 2.2), body, 0.08)
    dark = scene.surface.get((20, 20, 22), 0.8)
    for x in np.arange(-wide / 2 + 0.6, wide / 2 - 0.4, 0.9):
        made.box((place[0] + x, place[1], 2.2), (0.3, 1.6, 0.01), dark)


def scratches(scene, made, a, b):
    rng = scene.rng
    paint = scene.surface.get(rng.choice([(40, 38, 36), (210, 205, 200), (120, 80, 50)]), 0.7)
    for _ in range(rng.integers(1, 5)):
        path = np.cumsum(rng.normal(0, 0.5, (20, 2)) + rng.normal(0, 0.9, 2), 0) + [rng.uniform(-a, a), rng.uniform(-b, b)]
        path = np.column_stack([path, np.full(20, 0.03)]).clip([-a, -b, 0], [a, b, 9])
        made.tube(resampled(path, 0.3), rng.uniform(0.04, 0.08), paint, 5)
