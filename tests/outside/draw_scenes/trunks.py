"""Trunks: ways that several wires share, and the ties that hold them together."""

import numpy as np
from scipy.ndimage import gaussian_filter1d, maximum_filter

from solids import frame, unit
from wires import STEP, resampled, smoothed

TIE = 240


def place_trunks(scene):
    rng, a, b = scene.rng, scene.wide / 2 - 3, scene.high / 2 - 3
    for _ in range(rng.choice([0, 1, 2], p=[0.2, 0.45, 0.35])):
        x, y = rng.uniform(-a * 0.7, a * 0.7), rng.uniform(-b * 0.7, b * 0.7)
        points = [(-a, y), (x, y), (x, b if rng.random() < 0.5 else -b)] if rng.random() < 0.6 else [(-a, y), (a, y + rng.normal(0, 2))]
        if rng.random() < 0.5:
            points = [(-p, q) for p, q in points]
        points = np.array([(p + rng.normal(0, 0.6), q + rng.normal(0, 0.6), rng.uniform(0.8, 3)) for p, q in points])
        line = smoothed(resampled(points, STEP), 18, (0, 0))[0]
        line[:, 2] = gaussian_filter1d(np.maximum(line[:, 2], scene.floor_at(line) + 0.6), 12)
        ties = np.cumsum(rng.uniform(35, 110, 20)).astype(int)
        ties = ties[ties < len(line) - 20]
        spread = np.ones(len(line)) * rng.uniform(1.0, 1.5)
        spread[ties] = 0.85
        spread = gaussian_filter1d(-maximum_filter(-spread, 9), 7)
        scene.trunks.append(dict(line=line, wires=[], used=[], ties=ties, spread=spread))


def along_trunk(scene, wire, trunk, near):
    rng = scene.rng
    shift = [int(rng.integers(5, 25)), int(rng.integers(5, 25))]
    step = 1 if near[1] > near[0] else -1
    chosen = slice(near[0] + step * shift[0], near[1] - step * shift[1], step)
    piece, spread = trunk["line"][chosen].copy(), trunk["spread"][chosen, None]
    number = len(trunk["wires"])
    slot = np.array([(0, 0), (1, 0), (-1, 0), (0.5, 0.87), (-0.5, 0.87), (0.5, -0.87), (-0.5, -0.87), (0, 1.73), (1.5, 0.87)][number])
    ways = np.gradient(piece, axis=0) * step
    aside = np.cross(ways, [0, 0, 1])
    aside /= np.linalg.norm(aside, axis=1)[:, None] + 1e-9
    waver = gaussian_filter1d(rng.normal(0, 1, (len(piece), 2)), 30, axis=0) * 0.5
    piece += aside * (slot[0] * 0.37 + waver[:, :1]) * spread + np.array([0, 0, 1]) * (slot[1] * 0.33 + waver[:, 1:]) * spread
    if trunk["wires"] and rng.random() < 0.35:
        wire.look_like(trunk["wires"][-1])
    trunk["wires"].append(wire)
    trunk["used"].append(sorted((near[0] + step * shift[0], near[1] - step * shift[1])))
    return piece[::4]


def tie_trunks(scene):
    for trunk in scene.trunks:
        colour = (226, 224, 216) if scene.rng.random() < 0.6 else (28, 28, 30)
        material = scene.surface.get(colour, 0.4)
        for place in trunk["ties"]:
            here = [wire for wire, (low, high) in zip(trunk["wires"], trunk["used"]) if low < place < high]
            if len(here) > 1:
                tie(scene, trunk["line"], place, here, material)
                for wire in here:
                    wire.bundled = True


def tie(scene, line, place, wires, material):
    """A band round the wires that are near this place of the trunk."""
    at, way = line[place], unit(line[place + 3] - line[place - 3])
    local = frame(at, way)
    spots = []
    for wire in wires:
        nearest = wire.path[np.argmin(np.linalg.norm(wire.path - at, axis=1))]
        flat = (nearest - at) @ local[:3, :3]
        if np.hypot(flat[0], flat[1]) < 1.6:
            spots.append((flat[0], flat[1], wire.radius))
    if len(spots) < 2:
        return
    spots, turns = np.array(spots), np.linspace(0, 2 * np.pi, 37)
    ways = np.column_stack([np.cos(turns), np.sin(turns)])
    middle = spots[:, :2].mean(0)
    reach = ((spots[:, :2] - middle) @ ways.T + spots[:, 2:] + 0.03).max(0)
    reach = np.maximum(reach, 0.15)
    band(scene.thing(TIE, local), scene.rng.uniform(0.18, 0.3), middle, ways, reach, unit([0.3, 0.2, 1]) @ local[:3, :3], material)


def band(made, wide, middle, ways, reach, front, material):
    """The band itself, and its lock on the side that a camera is likely to see."""
    rings = [np.column_stack([middle + ways * (reach + out)[:, None], np.full(37, z)])
             for out, z in ((0, -wide), (0.06, -wide), (0.06, wide), (0, wide))]
    faces = [[k * 37 + i, k * 37 + i + 1, (k + 1) * 37 + i + 1, (k + 1) * 37 + i] for k in range(3) for i in range(36)]
    made.add(np.concatenate(rings), faces, material)
    top = middle + unit(front[:2]) * reach[np.argmax(ways @ front[:2])]
    made.box((*top, -wide * 1.3), (0.45, 0.4, wide * 2.6), material, 0.05)
