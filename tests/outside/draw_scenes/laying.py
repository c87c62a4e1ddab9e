"""The laying of wires: which terminals they join, the ways they take, and what is put on them."""

import numpy as np
from scipy.ndimage import gaussian_filter1d, maximum_filter
from scipy.spatial import cKDTree

from solids import frame, unit
from surfaces import COLOURS, SLEEVES
from trunks import along_trunk
from wires import STEP, Wire, finish_loose, fit_end, resampled, smoothed

FLAG, SLEEVE = 241, 242


def connect(scene):
    rng = scene.rng
    count = rng.integers(*dict(easy=(10, 15), medium=(14, 21), hard=(16, 24))[scene.level])
    names, free = usual_colours(scene), [t for part in scene.parts for t in part.terminals]
    rng.shuffle(free)
    for number in range(1, count + 1):
        if len(free) < 2:
            return
        wire = Wire(number, rng, names)
        if scene.wires and rng.random() < 0.2:
            names.extend([scene.wires[-1].base] * 6)
        choose_ends(scene, wire, free)
        lay(scene, wire)
        scene.wires.append(wire)


def usual_colours(scene):
    """A machine is often wired in two or three colours for the most part."""
    rng = scene.rng
    weights = np.full(len(COLOURS), 1.0)
    if rng.random() < 0.5:
        weights[rng.choice(len(COLOURS), rng.integers(2, 4), replace=False)] += 6
    return list(rng.choice(list(COLOURS), 60, p=weights / weights.sum()))


def choose_ends(scene, wire, free):
    rng = scene.rng
    first = free.pop(0)
    first["wires"].append(wire.id)
    wire.ends[0] = first
    draw = rng.random()
    if draw < 0.1:
        wire.ends[1] = "loose"
    elif draw < 0.18:
        wire.ends[1] = "away"
    else:
        same = [t for t in free if t["part"] is first["part"] and np.linalg.norm(t["at"] - first["at"]) < 8
                and t["kind"] not in ("grommet", "lead")]
        others = [t for t in free if t["part"] is not first["part"]] or free
        second = same[rng.integers(len(same))] if same and rng.random() < 0.15 else others[rng.integers(len(others))]
        free[:] = [t for t in free if t is not second]
        second["wires"].append(wire.id)
        wire.ends[1] = second


def lay(scene, wire):
    rng, fitting = scene.rng, scene.thing(100 + wire.number)
    stubs = [fit_end(scene, wire, end, fitting) if isinstance(wire.ends[end], dict) else None for end in (0, 1)]
    if stubs[1] is None:
        stubs[1] = end_in_air(scene, wire, stubs[0])
    leads = [stub[-1] + unit(stub[-1] - stub[-2]) * rng.uniform(0.4, 1.6) for stub in stubs]
    between = route(scene, wire, leads)
    points = np.concatenate([stubs[0], leads[:1], between, leads[1:], stubs[1][::-1]])
    path = resampled(points, STEP)
    heads = [np.linalg.norm(stub[-1] - stub[0]) / STEP for stub in stubs]
    path, ramp = smoothed(path, rng.uniform(5, 13), heads)
    path = kept_apart(scene, wire, path, ramp)
    wire.path = path
    scene.near.append(np.column_stack([path, np.full(len(path), wire.radius)]))
    draw_wire(scene, wire, fitting)


def end_in_air(scene, wire, stub):
    rng = scene.rng
    if wire.ends[1] == "loose":
        end = stub[-1] + [rng.normal(0, 7), rng.uniform(-12, 2), rng.uniform(1, 4)]
        end = np.clip(end, [-scene.wide / 2 + 2, -scene.high / 2 + 1, 1], [scene.wide / 2 - 2, scene.high / 2 - 1, scene.deep])
    else:
        side = rng.integers(4)
        far = [(-1.3, rng.uniform(-1, 1)), (1.3, rng.uniform(-1, 1)), (rng.uniform(-1, 1), -1.35), (rng.uniform(-1, 1), 1.35)][side]
        half = np.array([scene.width, scene.height]) / scene.camera.focal / 2
        reach = scene.camera.distance * rng.uniform(0.72, 0.95)
        end = scene.camera.eye + np.array([far[0] * half[0] * reach, far[1] * half[1] * reach, -reach]) @ scene.camera.turn
    way = unit(rng.normal(0, 1, 3) * [1, 1, 0.4])
    return np.array([end, end + way * 0.5])


def route(scene, wire, leads):
    rng, (a, b) = scene.rng, leads
    off = np.linalg.norm(b - a)
    for trunk in scene.trunks:
        tree = cKDTree(trunk["line"][:, :2])
        near = [int(tree.query(lead[:2])[1]) for lead in leads]
        if abs(near[0] - near[1]) > 55 and wire.ends[1] != "away" and rng.random() < 0.7 and len(trunk["wires"]) < 9:
            return along_trunk(scene, wire, trunk, near)
    sag = rng.uniform(0, 0.3) * off if rng.random() < 0.75 else rng.uniform(-0.1, 0.05) * off
    out = rng.uniform(0.3, 1.2) if off < 6 else rng.uniform(0, 5)
    share = np.linspace(0.08, 0.92, 14)[:, None]
    bow, away = 4 * share * (1 - share), unit(np.cross(b - a, [0, 0, 1]))
    points = a + (b - a) * share + bow * ([0, -sag, 0] + away * rng.normal(0, 0.08) * off + np.array([0, 0, out]))
    if off > 10 and rng.random() < 0.35:
        corner = np.array([a[0], b[1], 0]) if rng.random() < 0.5 else np.array([b[0], a[1], 0])
        corner = corner + [*rng.normal(0, 1.5, 2), rng.uniform(0.6, 3)]
        points = np.stack([a * 0.6 + corner * 0.4, corner, b * 0.4 + corner * 0.6])
    return points


def kept_apart(scene, wire, path, ramp):
    """Wavers a little; stays before walls and parts, and before or behind the wires laid earlier."""
    rng, r = scene.rng, wire.radius
    waver = gaussian_filter1d(rng.normal(0, 1, path.shape), 12, axis=0) * rng.uniform(0.2, 0.7)
    for place in rng.uniform(0.1, 0.9, rng.choice([0, 1, 2], p=[0.7, 0.2, 0.1])):
        bump = np.exp(-(((np.arange(len(path)) - place * len(path)) / rng.uniform(4, 10)) ** 2))
        waver += bump[:, None] * rng.normal(0, 0.25, 3)
    path = path + waver * gaussian_filter1d(ramp, 6)[:, None] * ramp[:, None]
    tree_points = np.concatenate(scene.near)
    tree = cKDTree(tree_points[:, :3]) if len(tree_points) else None
    for _ in range(3):
        lift = np.maximum(scene.floor_at(path) + r - path[:, 2], 0)
        if wire.ends[1] != "away":
            a, b = scene.wide / 2 - 0.3, scene.high / 2 - 0.3
            path[:, :2] += (path[:, :2].clip([-a, -b], [a, b]) - path[:, :2]) * ramp[:, None]
        if tree is not None:
            off, which = tree.query(path)
            wanted = r + tree_points[which, 3] + 0.02
            lift = np.maximum(lift, np.where(off < wanted, wanted - off * 0.7 + 0.05, 0))
        lift = gaussian_filter1d(maximum_filter(lift, 13), 7)
        path[:, 2] += lift * ramp
    return path


def draw_wire(scene, wire, fitting):
    rng, path = scene.rng, wire.path
    for end in (0, 1):
        if wire.ends[end] == "loose":
            finish_loose(scene, wire, end, fitting)
    stripes, share, pitch = wire.stripe or (1, 0.0, 1.0)
    material = scene.surface.wire(wire.colour, wire.other, stripes, share, pitch, wire.rough)
    low, high = int(wire.skips[0] / STEP), len(path) - int(wire.skips[1] / STEP)
    scene.thing(wire.number).tube(path[low:high:2], wire.radius, material, 10)
    if high - low > 120 and rng.random() < 0.16:
        paper_flag(scene, wire, path, int(rng.integers(low + 40, high - 40)))
    if high - low > 120 and rng.random() < 0.16:
        start, long = int(rng.integers(low + 30, high - 60)), int(rng.integers(8, 28))
        piece = path[start : start + long]
        cover = scene.surface.get(SLEEVES[rng.integers(len(SLEEVES))], 0.5, 0.0, 0.5)
        scene.thing(SLEEVE).tube(piece, wire.radius + rng.uniform(0.03, 0.08), cover, 12)
        wire.covers.append((piece[0], piece[-1]))


def paper_flag(scene, wire, path, place):
    rng = scene.rng
    at, way = path[place], unit(path[place + 3] - path[place - 3])
    front = unit(scene.camera.eye - at)
    turn = rng.normal(0, 0.5)
    matrix = frame(at + front * (wire.radius + 0.03), unit(front + rng.normal(0, 0.15, 3)), turn)
    paper = scene.surface.get(rng.choice([(228, 226, 214), (228, 226, 214), (226, 200, 60)]), 0.7)
    made = scene.thing(FLAG, matrix)
    wide, high = rng.uniform(1.2, 2.4), rng.uniform(0.8, 1.3)
    x, y, words = rng.uniform(-0.4, 0.4) * wide, rng.uniform(-0.3, 0.3) * high, str(rng.integers(1, 99))
    made.box((x, y, 0), (wide, high, 0.03), paper)
    made.text(words, (x, y, 0.04), high * 0.7, scene.surface.get((20, 24, 60), 0.6), 0.1)
    scene.thing(FLAG).tube([at - way * 0.25, at + way * 0.25], wire.radius + 0.04, paper, 10)
    corners = [(x + a * wide / 2, y + b * high / 2, 0.03) for a, b in ((-1, 1), (1, 1), (1, -1), (-1, -1))]
    wire.flag = (words, made.place(corners))
