"""Teaches the network of src/tracing/sight.rs, and writes its weights.

    pip install torch numpy scipy pillow
    python3 learn_wires.py FOLDER... --minutes 60 --write assets/wires.weights [--start FILE] [--keep FILE]

assets/wires-longer.weights were taught on from the first by 10,800 steps more, in the second half with the loss of lines weighed 15, not 6.

FOLDERs hold pictures whose truth is exact: NAME.jpg, NAME.json and NAME_mask.png, as tests/data/photos/README.md describes them;
draw_scenes makes such. One folder is drawn from as often as another. A picture is cut, turned, mirrored, resized, recoloured by the mask,
lit anew and blurred; on six of ten cuts wires are drawn besides, some beside wires that are there. Each cell of two by two pixels is to be told, in this order:

- 12 planes: the middle of a wire runs here in this direction (every 15 degrees), also where it is hidden for a short way;
- 4 planes: something else, insulation, lug or sleeve, cover;
- 13 planes: base colour; 14 planes: no tracer, or the tracer's colour;
- 5 planes: the insulation of a wire ends here, the way it leaves (across, down), and how far off its terminal is (across, down, in tens
  of cells).

--ask writes what the network tells of a picture that is made by a formula, for the tests of sight.rs (tests/outside/wire_sight.json, wire_sight_longer.json); with
--minutes 0 nothing is taught before. --keep keeps what was learned, every 500 steps and in the end. --start takes up what --keep kept
before, or the .weights themselves. --without NAME leaves a picture out, so that it can be asked about as one never seen.
"""

import argparse
import glob
import json
import os
import time

import numpy as np
import torch
import torch.nn as nn
import torch.nn.functional as F
from PIL import Image
from scipy.interpolate import CubicSpline
from scipy.ndimage import gaussian_filter

LETTERS = ["BK", "BN", "RD", "OG", "YE", "GN", "BU", "VT", "GY", "WH", "PK", "TQ", "GNYE"]
GNYE = LETTERS.index("GNYE")
DIRECTIONS = 12
# How many planes are told of each: lines, kinds, base colour, tracer; an end, the way the wire leaves it, how far off its terminal is.
PLANES = [DIRECTIONS, 4, 13, 14, 1, 2, 2]
SIZE = 384
# What is written of the last layer: all but the tracers, which are told only to be taught by.
ASKED = [*range(29), *range(43, 48)]
# A hidden stretch of more widths than this is not asked about.
HIDDEN_WIDTHS = 7


def linear(value):
    value = np.asarray(value, np.float32) / 255.0
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4).astype(np.float32)


def encoded(value):
    value = np.clip(value, 0, 1)
    return np.where(value <= 0.0031308, value * 12.92, 1.055 * value ** (1 / 2.4) - 0.055).astype(np.float32)


def lengths(points):
    return np.concatenate([[0], np.cumsum(np.hypot(*np.diff(points[:, :2], axis=0).T))])


def evenly(points, step):
    along = lengths(points)
    at = np.linspace(0, along[-1], max(4, int(along[-1] / step) + 1))
    return np.stack([np.interp(at, along, column) for column in points.T], 1), at


class Picture:
    """A picture, what each of its pixels shows, and its wires: middle lines (x, y, 0 seen, 1 hidden, 2 hidden for long) and ends."""

    def __init__(self, name):
        truth = json.load(open(name + ".json"))
        self.rgb = np.asarray(Image.open(name + ".jpg").convert("RGB"))
        self.mask = np.asarray(Image.open(name + "_mask.png").convert("L"))
        self.wires = []
        for wire in truth["wires"]:
            if not wire["in_picture"] or not wire.get("mean_width_px"):
                continue
            line = np.array(wire["centre_line"], float)
            width = wire["mean_width_px"]
            self.wires.append(
                dict(
                    mask=wire["mask_value"],
                    base=LETTERS.index(wire["base"]),
                    tracer=LETTERS.index(wire["tracer"]) if wire["tracer"] else -1,
                    width=width,
                    albedo=wire["base_albedo_srgb"],
                    plain=wire["tracer"] is None and wire["base"] != "GNYE",
                    line=self.middle(wire, line, width),
                    ends=self.ends(wire, line, width),
                )
            )

    @staticmethod
    def middle(wire, line, width):
        seen, along = line[:, 2] > 0, lengths(line)
        hidden = np.zeros(len(line))
        place = 0
        while place < len(line):
            if seen[place]:
                place += 1
                continue
            end = place
            while end < len(line) and not seen[end]:
                end += 1
            run = along[min(end, len(line) - 1)] - along[max(place - 1, 0)]
            hidden[place:end] = 2 if run > HIDDEN_WIDTHS * width else 1
            place = end
        line = np.concatenate([line[:, :2], hidden[:, None]], 1)
        # On through the lug to its terminal.
        for end in (0, 1):
            if wire["ends"][end]["terminal"] == "loose":
                continue
            at = np.array(wire["ends"][end]["px"])
            off = np.hypot(*(at - line[0 if end == 0 else -1, :2]))
            if 3 < off < 8 * width:
                row = np.array([[*at, 1]])
                line = np.concatenate([row, line] if end == 0 else [line, row])
        return evenly(line, 1.0)[0]

    def ends(self, wire, line, width):
        """Where insulation begins to be seen, the way it goes, and where its terminal is from there (none for a loose end)."""
        ends = []
        for end in (0, 1):
            from_end = line if end == 0 else line[::-1]
            if not (from_end[:, 2] > 0).any():
                continue
            first, along = int(np.argmax(from_end[:, 2] > 0)), lengths(from_end)
            at = from_end[first, :2]
            on = min(len(line) - 1, int(np.searchsorted(along, along[first] + 2.0 * width)))
            way = from_end[on, :2] - at
            loose = wire["ends"][end]["terminal"] == "loose"
            terminal = None if loose else np.array(wire["ends"][end]["px"], float) - at
            inside = 0 <= at[0] < self.mask.shape[1] and 0 <= at[1] < self.mask.shape[0]
            far = terminal is not None and np.hypot(*terminal) > 9 * width
            if inside and not far and np.hypot(*way) >= 1 and along[first] <= 6 * width:
                ends.append((at, way / np.hypot(*way), terminal))
        return ends


def a_colour(colours, rng):
    """Black, brown, grey and white more often: they are hard to see."""
    if rng.random() < 0.45:
        wanted = LETTERS.index(rng.choice(["BK", "BN", "GY", "WH"]))
        of_it = [colour for colour in colours if colour[0] == wanted]
        if of_it:
            return of_it[rng.integers(len(of_it))]
    return colours[rng.integers(len(colours))]


def draw_wire(light, mask, rng, colours, widths, value, beside):
    """Draws a wire on linear light, over what is there; beside another where a line is given."""
    size = light.shape[0]
    width = rng.choice(widths) * rng.uniform(0.85, 1.15)
    if beside is not None and rng.random() < 0.45:
        way = np.gradient(beside, axis=0)
        across = np.stack([-way[:, 1], way[:, 0]], 1) / (np.hypot(*way.T)[:, None] + 1e-6)
        share = np.linspace(0, 1, len(beside))
        swing = rng.uniform(0, 1.5) * np.sin(2 * np.pi * (share * rng.uniform(0.3, 2) + rng.random()))
        off = width * (rng.choice([-1, 1]) * rng.uniform(0.8, 1.4) + swing)
        line = beside + across * off[:, None]
        line = np.stack([gaussian_filter(line[:, 0], 4), gaussian_filter(line[:, 1], 4)], 1)
    else:
        count, turn = rng.integers(3, 6), rng.uniform(0, 2 * np.pi)
        middle = size / 2 + rng.uniform(-size * 0.35, size * 0.35, 2)
        along, aside = np.array([np.cos(turn), np.sin(turn)]), np.array([-np.sin(turn), np.cos(turn)])
        length = size * rng.uniform(0.35, 0.9)
        knots = [middle + along * length * t + aside * rng.normal(0, size * 0.14) for t in np.linspace(-1, 1, count)]
        line = CubicSpline(np.arange(count), np.stack(knots))(np.linspace(0, count - 1, 600))
    line, at = evenly(line, 0.5)
    way = np.gradient(line, axis=0)
    way /= np.hypot(*way.T)[:, None] + 1e-9
    normal = np.stack([-way[:, 1], way[:, 0]], 1)
    base, albedo = a_colour(colours, rng)
    albedo, tracer, other = linear(np.clip(albedo + rng.normal(0, 8, 3), 3, 250)), -1, None
    if rng.random() < 0.3:
        letter, colour = a_colour(colours, rng)
        if letter != base:
            tracer, other = letter, linear(np.clip(colour + rng.normal(0, 8, 3), 3, 250))
        if rng.random() < 0.3:
            base, tracer = GNYE, -1
            albedo = linear(np.array([20, 120, 50.0]) + rng.normal(0, 12, 3))
            other = linear(np.array([215, 190, 30.0]) + rng.normal(0, 12, 3))
    # Lit from aside as round things are, by as much light as there is around.
    across = np.linspace(-1, 1, int(np.ceil(width / 0.35)))
    around = gaussian_filter(light[::8, ::8].mean(2), 3)
    around = np.clip(np.kron(around, np.ones((8, 8))) / 0.35, 0.05, 2.2)
    lamp = rng.normal(0, 1, 2)
    lamp /= np.hypot(*lamp) + 1e-9
    height = rng.uniform(0.6, 1.6)
    far = np.hypot(1, height)
    x = line[:, 0, None] + normal[:, 0, None] * across * width / 2
    y = line[:, 1, None] + normal[:, 1, None] * across * width / 2
    up = np.sqrt(1 - across * across)[None]
    nx, ny = normal[:, 0, None] * across, normal[:, 1, None] * across
    matt = np.clip((nx * lamp[0] + ny * lamp[1] + up * height) / far, 0, None)
    matt = matt * rng.uniform(0.7, 1.0) + rng.uniform(0.15, 0.35)
    half = np.array([lamp[0], lamp[1], height + far])
    half /= np.linalg.norm(half)
    gloss = np.clip(nx * half[0] + ny * half[1] + up * half[2], 0, 1) ** rng.uniform(15, 60) * rng.uniform(0, 0.5)
    here = around[np.clip(line[:, 1].astype(int), 0, size - 1), np.clip(line[:, 0].astype(int), 0, size - 1)][:, None]
    dirt = 1 + gaussian_filter(rng.normal(0, 1, len(line)), 15) * rng.uniform(0, 1.2)
    surface = np.broadcast_to(albedo, (*x.shape, 3)).copy()
    if other is not None:
        turn = width * rng.uniform(2.5, 12) * rng.choice([-1, 1])
        share = rng.uniform(0.3, 0.5) if base == GNYE else rng.uniform(0.12, 0.35)
        phase = at[:, None] / turn + np.arcsin(np.clip(across, -1, 1))[None] / (2 * np.pi) + rng.random()
        phase = phase * (1 if rng.random() < 0.7 else 2)
        surface[(phase % 1) < share] = other
    colour = (surface * matt[..., None] * dirt[:, None, None] + gloss[..., None]) * here[..., None]
    inside = (x >= 0) & (x < size) & (y >= 0) & (y < size)
    xs, ys = np.clip(x.astype(int), 0, size - 1)[inside], np.clip(y.astype(int), 0, size - 1)[inside]
    layer, covered = np.zeros((size, size, 3), np.float32), np.zeros((size, size), np.float32)
    layer[ys, xs], covered[ys, xs] = colour[inside], 1
    if rng.random() < 0.7:
        shift = (int(-lamp[1] * rng.uniform(1, 9)), int(-lamp[0] * rng.uniform(1, 9)))
        shade = gaussian_filter(np.roll(covered, shift, (0, 1)), rng.uniform(0.8, 4))
        light *= (1 - rng.uniform(0.2, 0.6) * shade)[..., None]
    light *= (1 - gaussian_filter(covered, 0.5))[..., None]
    light += gaussian_filter(layer, (0.5, 0.5, 0))
    mask[covered > 0.5] = value
    return dict(mask=value, base=base, tracer=tracer, width=width, line=line[::2])


def cut(picture, colours, rng):
    """A piece of a picture and what is to be told of it."""
    mask, wires = picture.mask, picture.wires
    height, width = mask.shape
    scale = np.exp(rng.uniform(np.log(0.75), np.log(1.5))) * (0.75 if width > 1400 else 1.0)
    turn = rng.uniform(-0.45, 0.45) + rng.choice([0, 0, 0, np.pi / 2, -np.pi / 2, np.pi])
    to = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]]) @ np.diag([rng.choice([-1, 1]), 1.0])
    to = to * scale
    middle = np.array([rng.uniform(0, width), rng.uniform(0, height)])
    if rng.random() < 0.6:
        line = wires[rng.integers(len(wires))]["line"]
        line = line[(line[:, 0] > 0) & (line[:, 0] < width) & (line[:, 1] > 0) & (line[:, 1] < height)]
        if len(line):
            middle = line[rng.integers(len(line)), :2] + rng.uniform(-120, 120, 2)
    here = lambda points: (points - middle) @ to.T + SIZE / 2
    back = np.linalg.inv(to)
    y, x = np.mgrid[0:SIZE, 0:SIZE].astype(np.float32) + 0.5 - SIZE / 2
    x, y = back[0, 0] * x + back[0, 1] * y + middle[0] - 0.5, back[1, 0] * x + back[1, 1] * y + middle[1] - 0.5
    inside = (x >= 0) & (x <= width - 1) & (y >= 0) & (y <= height - 1)
    x, y = np.clip(x, 0, width - 1.001), np.clip(y, 0, height - 1.001)
    left, top = x.astype(int), y.astype(int)
    sx, sy = (x - left)[..., None], (y - top)[..., None]
    rgb = picture.rgb
    upper = rgb[top, left] * (1 - sx) + rgb[top, left + 1] * sx
    lower = rgb[top + 1, left] * (1 - sx) + rgb[top + 1, left + 1] * sx
    light = linear(upper * (1 - sy) + lower * sy)
    shown = mask[np.round(y).astype(int), np.round(x).astype(int)]
    bases = [wire["base"] for wire in wires]
    if rng.random() < 0.7:
        for number, wire in enumerate(wires):
            if not wire["plain"] or rng.random() < 0.5:
                continue
            letter, colour = a_colour(colours, rng)
            new = linear(np.clip(colour + rng.normal(0, 6, 3), 2, 250)) + 0.004
            times = new / (linear(wire["albedo"]) + 0.004)
            if times.max() <= 25 and (shown == wire["mask"]).any():
                light[shown == wire["mask"]] *= times
                bases[number] = letter
    drawn = []
    if rng.random() < 0.6:
        for number in range(rng.integers(1, 5)):
            line = here(wires[rng.integers(len(wires))]["line"][:, :2])
            line = line[((line > -20) & (line < SIZE + 20)).all(1)]
            widths = [wire["width"] * scale for wire in wires]
            beside = line if len(line) > 60 else None
            drawn.append(draw_wire(light, shown, rng, colours, widths, 90 + number, beside))
    light = light * np.exp2(rng.normal(0, 0.45)) * np.exp2(rng.normal(0, 0.10, 3))
    light = np.where(light > 0.8, 0.8 + 0.2 * np.tanh((light - 0.8) / 0.2), light)
    out = encoded(light) ** np.exp(rng.normal(0, 0.12))
    if rng.random() < 0.3:
        blur = rng.uniform(0.3, 1.0)
        out = gaussian_filter(out, (blur, blur, 0))
    out = np.clip(out + rng.normal(0, rng.uniform(0, 0.025), out.shape), 0, 1).astype(np.float32)

    half = SIZE // 2
    asked = (inside[::2, ::2] & inside[1::2, 1::2]).astype(np.float32)
    lines = np.zeros((DIRECTIONS, half, half), np.float32)
    all_lines = [(here(wire["line"][:, :2]) / 2, wire["line"][:, 2], wire["width"] * scale) for wire in wires]
    all_lines += [(wire["line"] / 2, np.zeros(len(wire["line"])), wire["width"]) for wire in drawn]
    for line, hidden, wide in all_lines:
        tell_line(lines, asked, line, hidden, wide)
    ends = np.zeros((6, half, half), np.float32)
    for wire in wires:
        for at, way, terminal in wire["ends"]:
            off = None if terminal is None else terminal @ to.T / 2
            tell_end(ends, here(at) / 2, way @ to.T / scale, off, wire["width"] * scale)
    for wire in drawn:
        line, step = wire["line"], int(2 * wire["width"])
        for at, on in ((0, min(len(line) - 1, step)), (-1, max(-len(line), -1 - step))):
            way = line[on] - line[at]
            if np.hypot(*way) > 0:
                tell_end(ends, line[at] / 2, way / np.hypot(*way), None, wire["width"])
    cell = shown[::2, ::2]
    kinds = np.zeros((half, half), np.int64)
    kinds[(cell >= 1) & (cell <= 99)] = 1
    kinds[(cell > 100) & (cell <= 199)] = 2
    kinds[cell >= 240] = 3
    kinds[~(inside[::2, ::2] & inside[1::2, 1::2])] = -100
    base_of, tracer_of = np.full(256, -100), np.full(256, -100)
    for wire, base in zip(wires, bases):
        base_of[wire["mask"]], tracer_of[wire["mask"]] = base, wire["tracer"] + 1
    for wire in drawn:
        base_of[wire["mask"]], tracer_of[wire["mask"]] = wire["base"], wire["tracer"] + 1
    base, tracer = base_of[cell], tracer_of[cell]
    base[kinds == -100], tracer[kinds == -100] = -100, -100
    planes = np.concatenate([lines, ends])
    return (out.transpose(2, 0, 1).astype(np.float16), planes.astype(np.float16), asked.astype(np.uint8), *(
        kind.astype(np.int16) for kind in (kinds, base, tracer)
    ))


def tell_line(lines, asked, line, hidden, wide):
    half = lines.shape[1]
    near = (line > -4).all(1) & (line < half + 4).all(1)
    if not near.any():
        return
    way = np.gradient(line, axis=0)
    turn = np.arctan2(way[:, 1], way[:, 0]) % np.pi
    sigma = max(0.8, 0.2 * wide / 2)
    reach = np.arange(-int(np.ceil(2.5 * sigma)), int(np.ceil(2.5 * sigma)) + 1)
    told = near & (hidden <= 1.5)
    at, turn = line[told], turn[told]
    cell = np.floor(at).astype(int)
    x, y = np.broadcast_arrays(cell[:, 0, None, None] + reach[None, None], cell[:, 1, None, None] + reach[None, :, None])
    off = (x + 0.5 - at[:, 0, None, None]) ** 2 + (y + 0.5 - at[:, 1, None, None]) ** 2
    heat = np.exp(-off / (2 * sigma * sigma)).astype(np.float32)
    good = (x >= 0) & (x < half) & (y >= 0) & (y < half)
    nearest = np.round(turn / (np.pi / DIRECTIONS)).astype(int)
    for step in (-1, 0, 1):
        direction = nearest + step
        alike = np.exp(-(((turn - direction * np.pi / DIRECTIONS) / 0.22) ** 2)).astype(np.float32)
        direction = np.broadcast_to((direction % DIRECTIONS)[:, None, None], x.shape)
        np.maximum.at(lines, (direction[good], y[good], x[good]), (heat * alike[:, None, None])[good])
    cell = np.floor(line[near & (hidden > 1.5)]).astype(int)
    reach = int(np.ceil(0.8 * wide / 2))
    for dy in range(-reach, reach + 1):
        for dx in range(-reach, reach + 1):
            x, y = cell[:, 0] + dx, cell[:, 1] + dy
            good = (x >= 0) & (x < half) & (y >= 0) & (y < half)
            asked[y[good], x[good]] = 0


def tell_end(ends, at, way, terminal, wide):
    """Planes: likely, the way (2), the terminal (2), whether it has one."""
    half = ends.shape[1]
    if not ((at > -5).all() and (at < half + 5).all()):
        return
    sigma = max(1.0, 0.25 * wide / 2)
    reach = int(np.ceil(3 * sigma))
    left, right = max(0, int(at[0]) - reach), min(half, int(at[0]) + reach + 1)
    top, bottom = max(0, int(at[1]) - reach), min(half, int(at[1]) + reach + 1)
    if left >= right or top >= bottom:
        return
    x, y = np.meshgrid(np.arange(left, right) + 0.5, np.arange(top, bottom) + 0.5)
    heat = np.exp(-((x - at[0]) ** 2 + (y - at[1]) ** 2) / (2 * sigma * sigma)).astype(np.float32)
    part = ends[:, top:bottom, left:right]
    more = heat > part[0]
    part[0][more] = heat[more]
    part[1][more], part[2][more] = way
    if terminal is not None:
        part[3][more] = ((terminal[0] + at[0] - x) / 10)[more]
        part[4][more] = ((terminal[1] + at[1] - y) / 10)[more]
    part[5][more] = terminal is not None


def layer(planes_in, planes_out, edge=3, stride=1):
    return nn.Sequential(
        nn.Conv2d(planes_in, planes_out, edge, stride, edge // 2, bias=False),
        nn.BatchNorm2d(planes_out),
        nn.ReLU(inplace=True),
    )


class Net(nn.Module):
    def __init__(self):
        super().__init__()
        self.e0 = nn.Sequential(layer(3, 24, 5, 2), layer(24, 24))
        self.e1 = nn.Sequential(layer(24, 40, 3, 2), layer(40, 40))
        self.e2 = nn.Sequential(layer(40, 96, 3, 2), layer(96, 96))
        self.e3 = nn.Sequential(layer(96, 192, 3, 2), layer(192, 192), layer(192, 192))
        self.u2, self.d2 = nn.Conv2d(192, 96, 1), layer(96, 96)
        self.u1, self.d1 = nn.Conv2d(96, 40, 1), layer(40, 40)
        self.u0, self.d0 = nn.Conv2d(40, 24, 1), nn.Sequential(layer(24, 32), layer(32, 32))
        self.out = nn.Conv2d(32, sum(PLANES), 1)
        nn.init.constant_(self.out.bias[:DIRECTIONS], -4.0)
        nn.init.constant_(self.out.bias[43:44], -4.0)

    def forward(self, x):
        double = lambda x: F.interpolate(x, scale_factor=2, mode="nearest")
        fine = self.e0(x - 0.5)
        middle = self.e1(fine)
        coarse = self.e2(middle)
        told = self.e3(coarse)
        told = self.d2(coarse + double(self.u2(told)))
        told = self.d1(middle + double(self.u1(told)))
        told = self.d0(fine + double(self.u0(told)))
        return self.out(told)

    def write(self, path):
        """Half precision, little end first: weights, bias, layer by layer in the order of sight.rs; the norms taken into the weights."""
        parts = []

        def put(weight, bias):
            parts.extend(value.detach().numpy().astype("<f2").ravel() for value in (weight, bias))

        def normed(block):
            times = block[1].weight / torch.sqrt(block[1].running_var + block[1].eps)
            put(block[0].weight * times[:, None, None, None], block[1].bias - block[1].running_mean * times)

        for block in (*self.e0, *self.e1, *self.e2, *self.e3):
            normed(block)
        for narrow, blocks in ((self.u2, [self.d2]), (self.u1, [self.d1]), (self.u0, self.d0)):
            put(narrow.weight, narrow.bias)
            for block in blocks:
                normed(block)
        put(self.out.weight[ASKED], self.out.bias[ASKED])
        np.concatenate(parts).tofile(path)


    def read(self, path, cuts):
        """Takes up what `write` wrote. The norms, which went into the weights, are measured anew on some cuts."""
        numbers = torch.from_numpy(np.fromfile(path, "<f2").astype(np.float32))

        def take(value):
            nonlocal numbers
            with torch.no_grad():
                value.copy_(numbers[: value.numel()].reshape(value.shape))
            numbers = numbers[value.numel() :]

        def normed(block):
            take(block[0].weight)
            take(block[1].bias)
            block[1].running_var.fill_(1 - block[1].eps)
            blocks.append(block)

        blocks = []
        for block in (*self.e0, *self.e1, *self.e2, *self.e3):
            normed(block)
        for narrow, of_it in ((self.u2, [self.d2]), (self.u1, [self.d1]), (self.u0, self.d0)):
            take(narrow.weight)
            take(narrow.bias)
            for block in of_it:
                normed(block)
        for value in (self.out.weight, self.out.bias):
            part = value[ASKED].clone()
            take(part)
            with torch.no_grad():
                value[ASKED] = part
        sums = {block: [] for block in blocks}
        hooks = [
            block[0].register_forward_hook(lambda _, __, out, block=block: sums[block].append(torch.stack([out.mean((0, 2, 3)), (out**2).mean((0, 2, 3))])))
            for block in blocks
        ]
        self.eval()
        with torch.no_grad():
            for _ in range(20):
                self(next(cuts)[0].float())
            for block in blocks:
                mean, square = torch.stack(sums[block]).mean(0)
                spread = (square - mean**2).clamp(min=1e-6)
                block[1].running_mean.copy_(mean)
                block[1].running_var.copy_(spread)
                block[1].weight.copy_(torch.sqrt(spread + block[1].eps))
                block[1].bias.add_(mean)
        for hook in hooks:
            hook.remove()
        self.train()


def loss_of(told, planes, asked, kinds, base, tracer):
    lines, ends, likely = planes[:, :DIRECTIONS], planes[:, DIRECTIONS + 1 :], planes[:, DIRECTIONS]
    # Split once: the gradient of each slice would be a tensor of all planes.
    told_lines, told_kinds, told_base, told_tracer, told_likely, told_way, told_off = told.split(PLANES, 1)
    odds = F.binary_cross_entropy_with_logits
    loss = (odds(told_lines, lines, reduction="none") * (1 + 6 * lines) * asked[:, None]).mean() * 6
    loss = loss + 0.5 * F.cross_entropy(told_kinds, kinds, ignore_index=-100)
    loss = loss + 0.25 * F.cross_entropy(told_base, base, ignore_index=-100)
    loss = loss + 0.15 * F.cross_entropy(told_tracer, tracer, ignore_index=-100)
    loss = loss + 14 * (odds(told_likely[:, 0], likely, reduction="none") * (1 + 20 * likely) * asked).mean()
    at = ((likely > 0.3) * asked * likely)[:, None]
    way = (F.smooth_l1_loss(told_way, ends[:, :2], reduction="none") * at).sum() / (at.sum() + 1)
    has = at * ends[:, 4:5]
    off = (F.smooth_l1_loss(told_off, ends[:, 2:4], reduction="none", beta=0.3) * has).sum() / (has.sum() + 1)
    return loss + 0.3 * way + 0.3 * off


class Cuts(torch.utils.data.IterableDataset):
    """Cuts of pictures, as often from one folder as from another, and of large pictures more often."""

    def __init__(self, folders):
        self.pictures = pictures = [picture for folder in folders for picture in folder]
        self.colours = [
            (wire["base"], np.array(wire["albedo"], float))
            for picture in pictures
            for wire in picture.wires
            if wire["plain"]
        ]
        sizes = [np.array([picture.mask.size**0.7 for picture in folder]) for folder in folders]
        self.share = np.concatenate([size / size.sum() / len(folders) for size in sizes])

    def __iter__(self):
        torch.set_num_threads(1)
        rng = np.random.default_rng(time.time_ns() % 2**31 + torch.utils.data.get_worker_info().id)
        while True:
            yield cut(self.pictures[rng.choice(len(self.pictures), p=self.share)], self.colours, rng)


def look(net, planes):
    """What is told of a picture whose edges are multiples of 16: the mean of it as it is and mirrored across, down and both."""
    height, width = planes.shape[1] // 2, planes.shape[2] // 2
    mean = 0
    for across, down in ((0, 0), (1, 0), (0, 1), (1, 1)):
        axes = [axis for axis, mirrored in ((2, across), (1, down)) if mirrored]
        with torch.no_grad():
            told = torch.flip(net(torch.flip(planes, axes)[None])[0], axes)
        if across != down:
            told[:DIRECTIONS] = told[[-number % DIRECTIONS for number in range(DIRECTIONS)]]
        told[[44, 46]] *= -1 if across else 1
        told[[45, 47]] *= -1 if down else 1
        mean = mean + told[:, :height, :width] / 4
    return mean


def ask_it(net, path):
    """What the weights, as they are written, tell of some cells of a small picture."""
    width, height = 96, 64
    x, y = np.meshgrid(np.arange(width), np.arange(height))
    planes = [((x * (3 + channel) + y * (5 - channel) + x * y // 16) % 64) / 63.0 for channel in range(3)]
    told = look(net, torch.tensor(np.array(planes), dtype=torch.float32))
    kinds, base = torch.softmax(told[12:16], 0), torch.softmax(told[16:29], 0)
    planes = torch.cat([torch.sigmoid(told[:12]), kinds[1:3], base, torch.sigmoid(told[43:44]), told[44:46], 10 * told[46:48]])
    cells = [[x, y, [round(float(value), 5) for value in planes[:, y, x]]] for x in (0, 13, 30, 47) for y in (0, 9, 31)]
    json.dump(dict(width=width, height=height, cells=cells), open(path, "w"))


def main():
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("folders", nargs="+")
    ask.add_argument("--minutes", type=float, default=60)
    ask.add_argument("--rate", type=float, default=3e-3)
    ask.add_argument("--without", nargs="*", default=[])
    ask.add_argument("--start")
    ask.add_argument("--keep")
    ask.add_argument("--write")
    ask.add_argument("--ask")
    asked = ask.parse_args()
    named = [[name[:-4] for name in sorted(glob.glob(os.path.join(folder, "*.jpg")))] for folder in asked.folders]
    folders = [[Picture(name) for name in names if os.path.basename(name) not in asked.without] for names in named]
    folders = [[picture for picture in folder if picture.wires] for folder in folders]
    if not all(folders):
        ask.error("a folder has no picture with a wire to be taught by")
    cuts = iter(torch.utils.data.DataLoader(Cuts(folders), batch_size=3, num_workers=2, prefetch_factor=4))
    net = Net().to(memory_format=torch.channels_last)
    if asked.start and asked.start.endswith(".weights"):
        net.read(asked.start, cuts)
    elif asked.start:
        net.load_state_dict(torch.load(asked.start))
    learn = torch.optim.AdamW(net.parameters(), lr=asked.rate, weight_decay=2e-3, fused=True)
    # What is written is the running mean of the weights.
    mean = {name: value.clone() for name, value in net.state_dict().items()}
    pool, taken, step, rng = [], 0, 0, np.random.default_rng(1)
    began, sum_of = time.time(), 0.0
    while (share := (time.time() - began) / max(60 * asked.minutes, 1e-9)) < 1:
        # Three new cuts for every two steps of eight: each is used five times.
        while taken < 1.5 * (step + 1) or len(pool) < 48:
            batch = next(cuts)
            pool.extend([value[number] for value in batch] for number in range(3))
            taken += 3
            del pool[: max(0, len(pool) - 480)]
        chosen = rng.choice(len(pool), 8, replace=False)
        x, planes, where, kinds, base, tracer = (torch.stack([pool[number][of] for number in chosen]) for of in range(6))
        x = (x.float() * torch.empty(8, 1, 1, 1).uniform_(0.85, 1.15) + torch.randn(x.shape) * 0.008).clamp(0, 1)
        for group in learn.param_groups:
            group["lr"] = asked.rate * min(1, (step + 1) / 60) * (0.5 * (1 + np.cos(np.pi * share)) + 0.003)
        with torch.autocast("cpu", dtype=torch.bfloat16):
            told = net(x.to(memory_format=torch.channels_last))
        loss = loss_of(told.float(), planes.float(), where.float(), kinds.long(), base.long(), tracer.long())
        if not torch.isfinite(loss):
            continue
        learn.zero_grad()
        loss.backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 2.0)
        learn.step()
        step, sum_of = step + 1, sum_of + loss.item()
        with torch.no_grad():
            keep = min(0.995, step / (step + 20))
            for name, value in net.state_dict().items():
                if value.dtype.is_floating_point:
                    mean[name].mul_(keep).add_(value, alpha=1 - keep)
                else:
                    mean[name].copy_(value)
        if step % 50 == 0:
            print(f"{step} steps, {time.time() - began:.0f} s, loss {sum_of / 50:.4f}", flush=True)
            sum_of = 0.0
            if asked.keep and step % 500 == 0:
                torch.save(mean, asked.keep + ".new")
                os.replace(asked.keep + ".new", asked.keep)
    net.load_state_dict(mean)
    net.eval()
    if asked.keep:
        torch.save(net.state_dict(), asked.keep)
    if asked.write:
        net.write(asked.write)
    if asked.ask:
        ask_it(net, asked.ask)


if __name__ == "__main__":
    main()
