"""The parts of a machine that wires go to, each kind drawn at random."""

import numpy as np

from solids import Thing, frame, unit
from surfaces import BRASS, SLEEVES, STEEL


class Part(Thing):
    def __init__(self, scene, kind, name, matrix):
        super().__init__(200 + len(scene.parts), matrix)
        self.scene, self.rng, self.kind, self.name, self.terminals = scene, scene.rng, kind, name, []
        scene.parts.append(self)

    def terminal(self, name, kind, at, outward, exits):
        """outward: off the part's face; exits: ways a wire may go, best first."""
        self.terminals.append(dict(
            id=f"{self.name}.{name}", kind=kind, at=self.place(at), outward=unit(self.way(outward)),
            exits=[unit(self.way(way)) for way in exits], wires=[], part=self,
        ))

    def blade(self, name, at, turn=0.0, wide=0.63):
        steel = self.scene.surface.get(STEEL, 0.3, 1.0)
        local = frame(at, (0, 0, 1), turn)
        self.box((0, 0, 0), (wide, 0.1, 0.85), steel, 0.0, local)
        x, y, z = at
        self.terminal(name, "blade", (x, y, z + 0.5), (0, 0, 1), [(0, -1, 0), (0, 1, 0), (-1, 0, 0), (1, 0, 0)])

    def screw(self, at, radius, metal=STEEL):
        x, y, z = at
        surface, dark = self.scene.surface.get(metal, 0.35, 1.0), self.scene.surface.get((30, 30, 30), 0.7)
        self.cylinder(at, (0, 0, 1), radius, 0.18, surface, 14, 0.05)
        turn = self.rng.uniform(0, np.pi)
        for add in ([0, np.pi / 2] if self.rng.random() < 0.7 else [0]):
            self.box((0, 0, 0), (radius * 1.4, radius * 0.25, 0.012), dark, 0, frame((x, y, z + 0.176), (0, 0, 1), turn + add))


def relay(part, rng):
    wide, high, deep = rng.uniform(3.6, 6), rng.uniform(3.6, 6), rng.uniform(2.5, 5)
    colour = rng.choice([(34, 34, 36), (206, 200, 180), (150, 150, 150), (40, 70, 130), (190, 196, 196)])
    body = part.scene.surface.get(colour, 0.4)
    part.box((0, 0, 0), (wide, high, deep), body, 0.2)
    steel = part.scene.surface.get(STEEL, 0.35, 1.0)
    for side in (-1, 1):
        part.box((side * (wide / 2 + 0.5), 0, 0), (1.2, 2.0, 0.12), steel)
        part.screw((side * (wide / 2 + 0.55), 0, 0.12), 0.32)
    spots = [(-1, 1), (1, 1), (0, 0), (-1, -1), (1, -1), (0, 1)][: rng.integers(3, 7)]
    ink = part.scene.surface.get((30, 30, 30) if sum(colour) > 300 else (210, 210, 210), 0.7)
    for place, (x, y) in enumerate(spots):
        at = (x * wide * 0.28, y * high * 0.3, deep)
        part.blade(str(place + 1), at, rng.choice([0, np.pi / 2]) if x == 0 else 0)
        part.text(str(place + 1), (at[0], at[1] - 0.55, deep + 0.01), 0.45, ink)


def round_relay(part, rng):
    radius, deep = rng.uniform(1.6, 2.6), rng.uniform(2, 4.5)
    body = part.scene.surface.get(rng.choice([(36, 36, 38), (200, 196, 184), (120, 60, 40), (60, 64, 70)]), 0.4)
    part.cylinder((0, 0, 0), (0, 0, 1), radius, deep, body, 36, 0.2)
    part.box((0, 0, 0), (radius * 3.2, 1.4, 0.15), part.scene.surface.get(STEEL, 0.4, 1.0))
    count = rng.integers(2, 5)
    for place in range(count):
        turn = 2 * np.pi * place / count + 0.5
        part.blade(str(place + 1), (radius * 0.6 * np.cos(turn), radius * 0.6 * np.sin(turn), deep), turn + np.pi / 2)


def strip(part, rng):
    count, pitch, high = rng.integers(4, 13), rng.uniform(0.95, 1.4), rng.uniform(2.4, 3.2)
    wide = count * pitch
    colour = rng.choice([(28, 28, 30), (28, 28, 30), (60, 60, 64), (200, 196, 180), (60, 70, 60)])
    body, bar = part.scene.surface.get(colour, 0.45), part.scene.surface.get((220, 220, 214), 0.6)
    part.box((0, 0, 0), (wide + 1.6, high, 0.7), body, 0.08)
    metal = BRASS if rng.random() < 0.3 else STEEL
    for place in range(count + 1):
        part.box(((place - count / 2) * pitch, 0, 0.7), (0.16, high, 0.75), body, 0.03)
    part.box((0, 0, 0.7), (wide, 0.45, 0.35), bar)
    ink = part.scene.surface.get((25, 25, 25), 0.7)
    for place in range(count):
        x = (place - (count - 1) / 2) * pitch
        part.text(str(place + 1), (x, 0, 1.07), 0.4, ink)
        for row, name in ((1, "a"), (-1, "b")):
            y = row * high * 0.3
            part.box((x, y, 0.7), (pitch * 0.72, high * 0.3, 0.1), part.scene.surface.get(metal, 0.4, 1.0))
            part.screw((x, y, 0.8), pitch * 0.27, metal)
            part.terminal(f"{place + 1}{name}", "screw", (x, y, 0.98), (0, 0, 1), [(0, row, 0)])


def block(part, rng):
    """A row of clamps in one piece of plastic, wires going in from both sides."""
    count, pitch = rng.integers(3, 11), rng.uniform(0.75, 1.2)
    colour = rng.choice([(225, 222, 210), (40, 40, 42), (120, 124, 128), (40, 120, 60), (200, 110, 40), (60, 90, 160)])
    body, dark = part.scene.surface.get(colour, 0.45), part.scene.surface.get((15, 15, 16), 0.8)
    high, deep = rng.uniform(1.6, 2.4), rng.uniform(1.2, 1.8)
    for place in range(count):
        x = (place - (count - 1) / 2) * pitch
        part.box((x, 0, 0), (pitch * 0.94, high, deep), body, 0.12)
        for row, name in ((1, "a"), (-1, "b")):
            part.cylinder((x, row * high * 0.24, deep), (0, 0, 1), pitch * 0.3, 0.01, dark)
            part.screw((x, row * high * 0.24, deep - 0.1), pitch * 0.22, BRASS)
            part.box((0, 0, 0), (pitch * 0.6, deep * 0.5, 0.02), dark, 0, frame((x, row * high / 2, deep * 0.45), (0, row, 0)))
            part.terminal(f"{place + 1}{name}", "clamp", (x, row * high * 0.5, deep * 0.45), (0, row, 0), [(0, row, 0)])


def rail(part, rng):
    """Modules side by side on a rail."""
    count = rng.integers(2, 7)
    widths = rng.uniform(1.2, 2.6, count)
    total, x = widths.sum() + 0.1 * count, 0.0
    part.box((0, 0, 0), (total + rng.uniform(2, 6), 3.0, 0.6), part.scene.surface.get(STEEL, 0.35, 1.0), 0.1)
    colours = [(200, 202, 202), (190, 190, 186), (52, 54, 58), (70, 110, 150), (130, 136, 120)]
    high = rng.uniform(5.5, 8)
    for place, wide in enumerate(widths):
        middle = x + wide / 2 - total / 2
        body, dark = part.scene.surface.get(rng.choice(colours), 0.45), part.scene.surface.get((20, 20, 22), 0.7)
        part.box((middle, 0, 0.6), (wide, high, 2.6), body, 0.1)
        part.box((middle, 0, 3.2), (wide, high * 0.5, 1.4), body, 0.12)
        part.box((middle, 0.2, 4.6), (wide * 0.4, 1.2, 0.6), part.scene.surface.get(rng.choice(SLEEVES), 0.4), 0.1)
        for row, name in ((1, "t"), (-1, "b")):
            part.screw((middle, row * high * 0.36, 3.2), min(0.36, wide * 0.25))
            part.box((0, 0, 0), (wide * 0.5, 0.7, 0.02), dark, 0, frame((middle, row * high / 2, 2.2), (0, row, 0)))
            part.terminal(f"{place + 1}{name}", "clamp", (middle, row * high / 2, 2.2), (0, row, 0), [(0, row, 0)])
        x += wide + 0.1


def tracks(part, rng, wide, high, colour, deep):
    """Copper under the lacquer: it runs as wires do, and is none."""
    lighter = part.scene.surface.get(np.clip(np.array(colour) * 1.35 + 12, 0, 255), 0.35)
    for _ in range(rng.integers(20, 60)):
        x, y = rng.uniform(-wide / 2 + 0.4, wide / 2 - 0.4), rng.uniform(-high / 2 + 0.4, high / 2 - 0.4)
        turn = 0
        thick = rng.uniform(0.04, 0.14)
        for _ in range(rng.integers(2, 5)):
            long = rng.uniform(0.4, 2.2)
            to = np.array([x + long * np.cos(turn), y + long * np.sin(turn)])
            if abs(to[0]) > wide / 2 - 0.2 or abs(to[1]) > high / 2 - 0.2:
                break
            middle = ((x + to[0]) / 2, (y + to[1]) / 2, deep)
            part.box((0, 0, 0), (long, thick, 0.004), lighter, 0, frame(middle, (0, 0, 1), turn))
            x, y = to
            turn += rng.choice([-np.pi / 4, np.pi / 4, np.pi / 2])


def pieces(part, rng, wide, high, top):
    get = part.scene.surface.get
    for _ in range(rng.integers(10, 24)):
        x, y = rng.uniform(-wide / 2 + 0.8, wide / 2 - 0.8), rng.uniform(-high / 2 + 1.8, high / 2 - 1.8)
        kind = rng.integers(4)
        if kind == 0:
            part.box((x, y, top), (rng.uniform(0.5, 1.8), rng.uniform(0.4, 1.2), 0.3), get((26, 26, 28), 0.5), 0.05)
        elif kind == 1:
            part.cylinder((x, y, top), (0, 0, 1), rng.uniform(0.25, 0.6), rng.uniform(0.6, 1.6), get((40, 44, 70), 0.35), 18, 0.06)
        elif kind == 2:
            part.cylinder((x, y, top + 0.2), (rng.random(), rng.random(), 0), 0.13, 0.7, get((190, 160, 110), 0.5), 8)
        else:
            part.text(rng.choice(["R", "C", "D"]) + str(rng.integers(1, 60)), (x, y, top + 0.01), 0.4, get((215, 220, 210), 0.7))


def board(part, rng):
    wide, high = rng.uniform(8, 15), rng.uniform(6, 11)
    colour = rng.choice([(20, 92, 52), (20, 92, 52), (24, 104, 60), (14, 74, 60), (30, 60, 120), (130, 100, 50), (30, 36, 34)])
    get = part.scene.surface.get
    part.box((0, 0, 1.0), (wide, high, 0.16), get(colour, 0.35))
    top = 1.16
    for x in (-1, 1):
        for y in (-1, 1):
            part.cylinder((x * (wide / 2 - 0.4), y * (high / 2 - 0.4), 0), (0, 0, 1), 0.25, 1.0, get(STEEL, 0.4, 1.0), 10)
            part.screw((x * (wide / 2 - 0.4), y * (high / 2 - 0.4), top), 0.28)
    tracks(part, rng, wide, high, colour, top)
    pieces(part, rng, wide, high, top)
    for place in range(rng.integers(0, 4)):
        body = get(rng.choice([(24, 24, 26), (40, 90, 180), (220, 130, 40)]), 0.4)
        part.box((-wide / 2 + 1.6 + place * 2.1, -high / 2 + 2.6, top), (1.9, 1.5, 1.5), body, 0.06)
    sockets(part, rng, wide, high, top)


def sockets(part, rng, wide, high, top):
    get = part.scene.surface.get
    count, pitch = rng.integers(4, 11), rng.uniform(0.4, 0.6)
    count = int(min(count, (wide - 2) / pitch))
    white = get(rng.choice([(224, 224, 216), (224, 224, 216), (190, 60, 50), (40, 40, 42)]), 0.4)
    dark = get((20, 20, 22), 0.8)
    start = rng.uniform(-wide / 2 + 0.8, wide / 2 - 0.8 - count * pitch)
    y = high / 2 - 0.7
    part.box((start + count * pitch / 2, y, top), (count * pitch + 0.2, 0.75, 0.8), white, 0.05)
    for place in range(count):
        x = start + (place + 0.5) * pitch
        part.box((x, y, top + 0.8), (pitch * 0.6, 0.4, 0.01), dark)
        part.terminal(f"J1-{place + 1}", "header", (x, y, top + 0.8), (0, 0, 1), [(0, 0, 1)])
    board_clamps(part, rng, wide, high, top, dark)


def board_clamps(part, rng, wide, high, top, dark):
    get = part.scene.surface.get
    count, pitch = rng.integers(2, 8), rng.uniform(0.5, 0.8)
    start = rng.uniform(-wide / 2 + 0.6, wide / 2 - 0.6 - count * pitch)
    green = get(rng.choice([(40, 150, 74), (40, 150, 74), (40, 80, 170), (60, 60, 62), (220, 120, 40)]), 0.4)
    y = -high / 2 + 0.6
    part.box((start + count * pitch / 2, y, top), (count * pitch, 1.0, 1.0), green, 0.08)
    for place in range(count):
        x = start + (place + 0.5) * pitch
        part.screw((x, y + 0.1, top + 0.9), pitch * 0.3)
        part.box((0, 0, 0), (pitch * 0.6, 0.45, 0.02), dark, 0, frame((x, y - 0.5, top + 0.45), (0, -1, 0)))
        part.terminal(f"X{place + 1}", "clamp", (x, y - 0.5, top + 0.45), (0, -1, 0), [(0, -1, 0)])


def transformer(part, rng):
    wide, high, deep = rng.uniform(4.5, 7), rng.uniform(4, 6), rng.uniform(2.8, 4.5)
    get = part.scene.surface.get
    part.box((0, 0, 0), (wide, high * 0.95, deep * 0.75), get((92, 90, 86), 0.5, 0.6), 0.1)
    coil = get(rng.choice([(220, 184, 60), (60, 130, 80), (40, 40, 44), (200, 190, 160), (150, 60, 40)]), 0.5)
    part.box((0, 0, 0.2), (wide * 0.5, high, deep), coil, 0.3)
    part.box((0, 0, 0), (wide + 2.4, 1.6, 0.12), get(STEEL, 0.4, 1.0))
    for side in (-1, 1):
        part.screw((side * (wide / 2 + 0.6), 0, 0.12), 0.33)
    part.label(part.scene.surface, f"{rng.integers(1, 9) * 10} VA", (0, 0.2, deep + 0.2), 0.55)
    for row, name in ((1, "P"), (-1, "S")):
        for place, x in enumerate((-1, 1)):
            part.terminal(f"{name}{place + 1}", "lead", (x * wide * 0.15, row * high / 2, deep * 0.75), (0, row, 0), [(0, row, 0)])


def capacitor(part, rng):
    radius, long = rng.uniform(1.6, 2.8), rng.uniform(6, 10)
    get = part.scene.surface.get
    body = get((176, 178, 180), 0.3, 1.0) if rng.random() < 0.6 else get(rng.choice([(215, 214, 208), (40, 42, 46), (60, 80, 140)]), 0.4)
    part.cylinder((0, -long / 2, radius + 0.1), (0, 1, 0), radius, long, body, 40, 0.15)
    clip = frame((0, rng.uniform(-2, 1), radius + 0.1), (0, 1, 0))
    part.lathe([(radius + 0.08, 0), (radius + 0.08, 0.8)], clip, get(STEEL, 0.4, 1.0), 40)
    part.label(part.scene.surface, f"{rng.integers(2, 40)} uF", (0, rng.uniform(-1, 1), radius * 2 + 0.1), 0.6)
    for place, x in enumerate((-0.5, 0.5)):
        at = (x * radius, -long / 2, radius * 1.3)
        part.box((0, 0, 0), (0.63, 0.1, 0.9), get(STEEL, 0.3, 1.0), 0, frame(at, (0, -1, 0)))
        part.terminal(f"C{place + 1}", "blade", (at[0], at[1] - 0.5, at[2]), (0, -1, 0), [(0, -1, 0), (2 * x, 0, 0)])


def cover(part, rng):
    """The dome of a motor, with its box of leads."""
    radius, get = rng.uniform(5.5, 8.5), part.scene.surface.get
    turns = np.linspace(0, np.pi / 2, 10)
    height, base = radius * rng.uniform(0.8, 1.2), rng.uniform(2, 5)
    profile = [(radius, 0), (radius, base)] + [(radius * np.cos(t), base + height * np.sin(t)) for t in turns[1:]]
    colour = rng.choice([(26, 26, 28), (26, 26, 28), (90, 94, 98), (40, 60, 90), (150, 150, 144)])
    foot = frame((0, -radius, radius * 0.7), (0, 1, 0))
    part.lathe(profile, foot, get(colour, 0.4), 40, True)
    y, z = -radius + base * 0.9, radius * 1.62
    part.box((0, y, z), (4.2, 4.2, 1.6), get((32, 32, 34), 0.5), 0.3)
    part.label(part.scene.surface, "S  C  R"[: rng.integers(1, 8)], (0, y - 0.5, z + 1.6), 0.6)
    for place, name in enumerate("CSR"):
        part.terminal(name, "lead", (place * 1.0 - 1.0, y + 2.1, z + 0.9), (0, 1, 0), [(0, 1, 0)])


def earth(part, rng):
    brass = part.scene.surface.get(BRASS if rng.random() < 0.6 else STEEL, 0.35, 1.0)
    part.cylinder((0, 0, 0), (0, 0, 1), 0.3, 1.7, brass, 12)
    part.cylinder((0, 0, 0.1), (0, 0, 1), 0.7, 0.12, brass, 18)
    part.cylinder((0, 0, 1.0), (0, 0, 1), 0.52, 0.4, brass, 6)
    part.label(part.scene.surface, "PE", (0, 1.5, 0.01), 0.6, 0, (60, 160, 60))
    for place, turn in enumerate(rng.permutation(3)[: rng.integers(1, 4)]):
        way = [(-0.8, -0.6, 0), (0.1, -1, 0), (0.9, 0.2, 0)][turn]
        part.terminal(f"PE{place + 1}", "screw", (0, 0, 0.55 + 0.25 * place), (0, 0, 1), [way])


def plug(part, rng):
    """A plug in line, held on the wall, with wires out of both sides."""
    count, pitch, rows = rng.integers(2, 7), rng.uniform(0.5, 0.75), rng.integers(1, 3)
    body = part.scene.surface.get(rng.choice([(224, 222, 212), (224, 222, 212), (40, 40, 42), (190, 40, 40), (210, 180, 60)]), 0.4)
    wide, deep = count * pitch + 0.4, 0.7 * rows + 0.4
    part.box((0, 0.9, 0.1), (wide, 1.7, deep), body, 0.12)
    part.box((0, -0.9, 0.1), (wide * 0.92, 1.7, deep * 0.9), body, 0.1)
    for side, name in ((1, "a"), (-1, "b")):
        for row in range(rows):
            for place in range(count):
                x, z = (place - (count - 1) / 2) * pitch, 0.1 + deep * 0.9 * (row + 0.5) / rows
                way = (0, side, 0)
                part.terminal(f"{name}{row * count + place + 1}", "lead", (x, side * 1.75, z), way, [way])


def dial(part, rng):
    """A switch with a knob and blades at its sides."""
    wide, high = rng.uniform(3, 4.5), rng.uniform(4, 6)
    get = part.scene.surface.get
    part.box((0, 0, 0), (wide, high, 2.2), get(rng.choice([(215, 212, 200), (46, 46, 50), (120, 124, 130)]), 0.45), 0.2)
    part.cylinder((0, 0.3, 2.2), (0, 0, 1), rng.uniform(0.7, 1.2), 1.0, get((30, 30, 32), 0.4), 24, 0.15)
    for place in range(rng.integers(2, 5)):
        part.blade(str(place + 1), ((place - 1.2) * wide * 0.24, (-1 if place % 2 else 1) * high * 0.38, 2.2))


def grommet(part, rng):
    radius = rng.uniform(0.9, 2.0)
    turns = np.linspace(0, 2 * np.pi, 33)
    ring = np.column_stack([radius * np.cos(turns), radius * np.sin(turns), np.full(33, 0.15)])
    part.tube(ring, 0.32, part.scene.surface.get((28, 28, 28), 0.6), 8, True)
    part.lathe([(0, 0.06), (radius, 0.06)], np.eye(4), part.scene.surface.get((6, 6, 6), 0.9), 24)
    for place in range(min(7, int(radius * 5))):
        turn, off = place * 2 * np.pi / 6, (0 if place == 6 else radius * 0.55)
        part.terminal(f"w{place + 1}", "grommet", (off * np.cos(turn), off * np.sin(turn), 0.08), (0, 0, 1), [(0, 0, 1)])


# How to draw it, the letter of its name, and half its width and height with room to spare.
KINDS = dict(
    relay=(relay, "K", 4.2, 4.2), round_relay=(round_relay, "RL", 4, 3), terminal_strip=(strip, "TB", 9.4, 3.5),
    terminal_block=(block, "X", 6.2, 3), din_modules=(rail, "Q", 11.3, 5), control_board=(board, "A", 8, 6.5),
    transformer=(transformer, "T", 5.4, 4.5), capacitor=(capacitor, "C", 3.5, 6.5), compressor_cover=(cover, "M", 8.5, 8.5),
    earth_stud=(earth, "PE", 1.6, 2.4), plug=(plug, "J", 3, 3), switch=(dial, "S", 3.5, 3.8),
)
