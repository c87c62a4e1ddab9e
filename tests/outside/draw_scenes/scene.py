"""A scene: all that is drawn in one picture, in the order in which it is made."""

import bpy
import numpy as np
from scipy.ndimage import gaussian_filter, maximum_filter

from camera import Camera, light
from clutter import place_clutter
from laying import connect
from layout import place_parts, room
from solids import Thing
from surfaces import Materials
from trunks import place_trunks, tie_trunks


class Scene:
    def __init__(self, seed, width, height):
        bpy.ops.wm.read_factory_settings(use_empty=True)
        self.seed, self.width, self.height = seed, width, height
        self.rng = rng = np.random.default_rng(seed)
        self.level = ["easy", "medium", "hard"][rng.choice(3, p=[0.35, 0.4, 0.25])]
        self.surface = Materials(rng, dict(easy=0.2, medium=0.45, hard=0.6)[self.level] * rng.uniform(0.3, 1.5))
        self.wide, self.high, self.deep = rng.uniform(42, 58), rng.uniform(32, 42), rng.uniform(14, 26)
        self.parts, self.wires, self.things, self.taken, self.trunks = [], [], [], [], []
        self.near = [np.zeros((0, 4))]
        self.camera = Camera(rng, (width, height), (self.wide, self.high))
        self.furnish()
        for thing in [*self.parts, *self.things]:
            thing.build()
        light(self)

    def furnish(self):
        """Wires are laid before the parts and before each other; clutter may run through them, or hide a piece of one."""
        room(self)
        place_parts(self)
        self.relief()
        place_clutter(self)
        place_trunks(self)
        connect(self)
        tie_trunks(self)

    def thing(self, index, matrix=None):
        made = Thing(index, matrix)
        self.things.append(made)
        return made

    def free_place(self, half, tries=60):
        rng = self.rng
        for _ in range(tries):
            x = rng.uniform(-self.wide / 2 + half[0] + 0.5, self.wide / 2 - half[0] - 0.5)
            y = rng.uniform(-self.high / 2 + half[1] + 0.5, self.high / 2 - half[1] - 0.5)
            if all(abs(x - p) > half[0] + v or abs(y - q) > half[1] + w for p, q, v, w in self.taken):
                self.taken.append((x, y, *half))
                return x, y
        return None

    def relief(self):
        """How far out of the wall the parts come, on a grid of 0.25 cm."""
        self.grid = np.zeros((int(self.high * 4) + 2, int(self.wide * 4) + 2))
        for part in self.parts:
            if part.kind == "grommet":
                continue
            for low, high in part.boxes:
                x0, y0 = (int((low[0] + self.wide / 2) * 4), int((low[1] + self.high / 2) * 4))
                x1, y1 = (int((high[0] + self.wide / 2) * 4) + 1, int((high[1] + self.high / 2) * 4) + 1)
                piece = self.grid[max(y0, 0) : max(y1, 0), max(x0, 0) : max(x1, 0)]
                np.maximum(piece, high[2], out=piece)
        self.grid = gaussian_filter(maximum_filter(self.grid, 3), 1.0)

    def floor_at(self, points):
        x = ((points[:, 0] + self.wide / 2) * 4).astype(int).clip(0, self.grid.shape[1] - 1)
        y = ((points[:, 1] + self.high / 2) * 4).astype(int).clip(0, self.grid.shape[0] - 1)
        return self.grid[y, x] + 0.15
