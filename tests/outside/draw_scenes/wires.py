"""A wire, what is on its ends, and the lines that wires follow."""

import numpy as np
from scipy.ndimage import gaussian_filter1d

from solids import frame, unit
from surfaces import BRASS, COLOURS, COPPER, SLEEVES, STEEL

STEP = 0.1


class Wire:
    """A wire's look, its two ends and its way."""

    def __init__(self, number, rng, names):
        self.number, self.id = number, f"W{number:02d}"
        self.base = rng.choice(names)
        self.radius = rng.uniform(0.13, 0.2)
        self.tracer, self.other, self.stripe = None, None, None
        vary = rng.normal(0, 9, 3) + rng.normal(0, 8)
        self.colour = np.clip(np.array(COLOURS[self.base]) * rng.uniform(0.85, 1.12) + vary, 8, 245).round().astype(int)
        hand = rng.choice([-1, 1])
        if self.base == "GNYE":
            self.other = np.clip(np.array(COLOURS["YE"]) + rng.normal(0, 10, 3), 8, 245).round().astype(int)
            turn = rng.uniform(1.5, 8) if rng.random() < 0.5 else rng.uniform(15, 60)
            self.stripe = (int(rng.integers(1, 3)), rng.uniform(0.3, 0.6), hand * turn)
        elif rng.random() < 0.3:
            self.tracer = rng.choice([name for name in COLOURS if name not in (self.base, "GNYE")])
            self.other = np.clip(np.array(COLOURS[self.tracer]) + rng.normal(0, 9, 3), 8, 245).round().astype(int)
            self.stripe = (int(rng.integers(1, 3)), rng.uniform(0.15, 0.33), hand * rng.uniform(1.2, 6))
        self.rough = rng.uniform(0.22, 0.7)
        self.ends, self.fittings, self.stubs, self.skips = [None, None], ["none", "none"], [None, None], [0.0, 0.0]
        self.bundled, self.covers, self.path, self.flag = False, [], None, None

    def look_like(self, other):
        self.base, self.tracer, self.other, self.stripe, self.rough = other.base, other.tracer, other.other, other.stripe, other.rough
        self.colour = other.colour


def fit_end(scene, wire, end, thing):
    """Draws what is on the wire's end, and gives the straight way out of it."""
    rng, terminal = scene.rng, wire.ends[end]
    at, exits, kind = terminal["at"], terminal["exits"], terminal["kind"]
    sleeve = scene.surface.get(SLEEVES[rng.integers(len(SLEEVES))], rng.uniform(0.25, 0.5), 0.0, 0.5)
    steel = scene.surface.get(STEEL, 0.35, 1.0)
    way, long = exits[0 if rng.random() < 0.55 else rng.integers(len(exits))], 0.4
    if kind == "blade":
        way, long = fit_blade(scene, wire, end, thing, way, sleeve)
    elif kind == "screw":
        way, long = fit_screw(scene, wire, end, thing, way, sleeve, steel)
    elif kind in ("header", "clamp") and rng.random() < 0.7:
        long = fit_ferrule(scene, wire, end, thing, way, sleeve, steel)
    else:
        wire.fittings[end] = dict(lead="lead_out", grommet="none").get(kind, "plain")
        way = unit(way + rng.normal(0, 0.25, 3)) if kind == "grommet" else way
    return np.array([at, at + way * long])


def fit_blade(scene, wire, end, thing, way, sleeve):
    rng, r = scene.rng, wire.radius
    at, out = wire.ends[end]["at"], wire.ends[end]["outward"]
    straight = rng.random() < 0.3
    sleeve = scene.surface.get(BRASS, 0.35, 1.0) if rng.random() < 0.12 else sleeve
    way = out if straight else unit(way + out * rng.uniform(0, 0.25))
    turn = frame(at - out * 0.38, out)
    thing.box((0, 0, 0), (0.86, 0.62 if straight else 0.86, rng.uniform(0.7, 0.95)), sleeve, 0.12, turn)
    long = rng.uniform(1.1, 1.55)
    neck = np.array([at + way * s for s in (0.2, 0.45, 0.65, 0.85, long)])
    thing.tube(neck, [0.38, 0.36, 0.3, r + 0.09, r + 0.07], sleeve, 12)
    wire.fittings[end], wire.skips[end] = ("straight" if straight else "flag"), long - 0.5
    return way, long


def fit_screw(scene, wire, end, thing, way, sleeve, steel):
    rng, r = scene.rng, wire.radius
    at, out = wire.ends[end]["at"], wire.ends[end]["outward"]
    way = unit(way + out * rng.uniform(0.05, 0.5) + np.cross(way, out) * rng.uniform(-0.25, 0.25))
    long = rng.uniform(1.05, 1.5)
    flat = frame(at - out * 0.14, out)
    thing.lathe([(0.12, 0), (0.42, 0), (0.42, 0.06), (0.12, 0.06)], flat, steel, 16)
    thing.tube([at - out * 0.1 + way * s for s in (0.3, 0.6)], [0.2, 0.12], steel, 8)
    thing.tube([at + way * s for s in (0.5, 0.6, 0.85, long)], [r + 0.05, r + 0.12, r + 0.12, r + 0.06], sleeve, 12)
    wire.fittings[end], wire.skips[end] = rng.choice(["ring", "fork"]), long - 0.4
    return way, long


def fit_ferrule(scene, wire, end, thing, way, sleeve, steel):
    at, r, long = wire.ends[end]["at"], wire.radius, scene.rng.uniform(0.7, 1.2)
    thing.tube([at + way * s for s in (0, 0.3)], min(0.09, r), steel, 8)
    thing.tube([at + way * s for s in (0.15, 0.3, long)], [r * 0.8, r + 0.05, r + 0.06], sleeve, 12)
    wire.fittings[end], wire.skips[end] = "ferrule", long - 0.3
    return long


def finish_loose(scene, wire, end, thing):
    """Bare copper, a lug that is on nothing, or a cut, at an end in the air."""
    rng, r = scene.rng, wire.radius
    path = wire.path if end == 0 else wire.path[::-1]
    way = unit(path[0] - path[8])
    kind = rng.choice(["stripped", "lug", "cut"])
    if kind == "stripped":
        copper = scene.surface.get(COPPER, 0.3, 1.0)
        for _ in range(4):
            spread = rng.normal(0, 0.05, 3)
            thing.tube([path[0], path[0] + way * 0.5 + spread, path[0] + way * rng.uniform(0.7, 1.1) + 2 * spread], r * 0.4, copper, 6)
    if kind == "lug":
        sleeve = scene.surface.get(SLEEVES[rng.integers(len(SLEEVES))], 0.35, 0.0, 0.5)
        thing.tube([path[0] + way * s for s in (-0.5, 0.6, 0.7, 1.6)], [r + 0.06, r + 0.1, 0.38, 0.4], sleeve, 12)
    wire.fittings[end] = kind


def resampled(points, step):
    along = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    at = np.linspace(0, along[-1], max(6, int(along[-1] / step) + 1))
    return np.stack([np.interp(at, along, column) for column in points.T], 1)


def smoothed(points, sigma, heads):
    """Rounds the corners, but not in the straight pieces of so many points at the two ends."""
    soft = np.pad(points, ((60, 60), (0, 0)), "reflect", reflect_type="odd")
    soft = gaussian_filter1d(soft, sigma, axis=0)[60:-60]
    place = np.arange(len(points), dtype=float)
    ramp = np.minimum(np.clip((place - heads[0]) / 5, 0, 1), np.clip((place[::-1] - heads[1]) / 5, 0, 1))[:, None]
    return soft * ramp + points * (1 - ramp), ramp[:, 0]
