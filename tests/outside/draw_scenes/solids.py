"""Solids that are put together to things of a scene."""

import bpy
import numpy as np
from mathutils import Matrix


def unit(vector):
    vector = np.asarray(vector, float)
    return vector / (np.linalg.norm(vector) + 1e-9)


def frame(at, axis, turn=0.0):
    """A matrix that takes z to the axis, and the origin to a place."""
    axis = unit(axis)
    aside = unit(np.cross([0, 1, 0.01] if abs(axis[1]) < 0.9 else [0, 0, 1], axis))
    up = np.cross(axis, aside)
    matrix = np.eye(4)
    matrix[:3, 0] = aside * np.cos(turn) + up * np.sin(turn)
    matrix[:3, 1] = up * np.cos(turn) - aside * np.sin(turn)
    matrix[:3, 2], matrix[:3, 3] = axis, at
    return matrix


def sides(rings, count):
    """The faces between rings of so many points each."""
    return [[k * count + i, k * count + (i + 1) % count, (k + 1) * count + (i + 1) % count, (k + 1) * count + i]
            for k in range(rings - 1) for i in range(count)]


def hoops(points, radius, count):
    """Rings across a line; each takes its turn from the one before, so that stripes do not jump."""
    ways = np.gradient(points, axis=0)
    ways /= np.linalg.norm(ways, axis=1)[:, None] + 1e-9
    aside = unit(np.cross(ways[0], [0.3, 0.2, 1.0] if abs(ways[0][2]) < 0.8 else [0, 1, 0]))
    rings, angles = [], np.arange(count) * 2 * np.pi / count
    for point, way, r in zip(points, ways, radius):
        aside = unit(aside - way * (aside @ way))
        other = np.cross(way, aside)
        rings.append(point + r * (np.cos(angles)[:, None] * aside + np.sin(angles)[:, None] * other))
    return rings


class Thing:
    """One object of the scene, of meshes put together; matrix is where its own places are."""

    def __init__(self, index, matrix=None):
        self.index, self.matrix = index, np.eye(4) if matrix is None else matrix
        self.vertices, self.faces, self.slots, self.smooth, self.uv, self.materials = [], [], [], [], [], []
        self.count, self.boxes = 0, []

    def place(self, points):
        return np.asarray(points, float) @ self.matrix[:3, :3].T + self.matrix[:3, 3]

    def way(self, vector):
        return self.matrix[:3, :3] @ np.asarray(vector, float)

    def add(self, vertices, faces, material, smooth=False, uv=None):
        vertices = self.place(vertices)
        if material not in self.materials:
            self.materials.append(material)
        self.vertices.append(vertices)
        self.boxes.append((vertices.min(0), vertices.max(0)))
        for place, face in enumerate(faces):
            self.faces.append([corner + self.count for corner in face])
            self.uv.extend(uv[place] if uv is not None else [(0, 0)] * len(face))
        self.slots.extend([self.materials.index(material)] * len(faces))
        self.smooth.extend([smooth] * len(faces))
        self.count += len(vertices)

    def prism(self, outline, low, high, material, bevel=0.0, to=None):
        """An outline (x, y) from low to high, with its upper edge broken."""
        outline = np.asarray(outline, float)
        size, middle = np.ptp(outline, axis=0), outline.mean(0)
        inner = middle + (outline - middle) * (1 - 2 * bevel / np.maximum(size, 1e-6))
        count = len(outline)
        rings = [(outline, low), (outline, high - bevel)] + ([(inner, high)] if bevel else [])
        points = np.concatenate([np.column_stack([flat, np.full(count, z)]) for flat, z in rings])
        faces = sides(len(rings), count)
        faces.append([(len(rings) - 1) * count + i for i in range(count)])
        faces.append([i for i in reversed(range(count))])
        if to is not None:
            points = points @ to[:3, :3].T + to[:3, 3]
        self.add(points, faces, material)

    def box(self, middle, size, material, bevel=0.0, to=None):
        """The middle of the bottom, and width, height, depth."""
        x, y, z = middle
        a, b, c = size[0] / 2, size[1] / 2, min(bevel, size[0] / 3, size[1] / 3)
        outline = [(-a + c, -b), (a - c, -b), (a, -b + c), (a, b - c), (a - c, b), (-a + c, b), (-a, b - c), (-a, -b + c)]
        if c == 0:
            outline = [(-a, -b), (a, -b), (a, b), (-a, b)]
        self.prism(np.array(outline) + [x, y], z, z + size[2], material, min(bevel, size[2] / 2), to)

    def lathe(self, profile, to, material, count=20, smooth=False):
        """Turned about z: profile of (radius, height)."""
        angles = np.arange(count) * 2 * np.pi / count
        bands = [profile] if smooth else [profile[i : i + 2] for i in range(len(profile) - 1)]
        for band in bands:
            points = np.concatenate([np.column_stack([r * np.cos(angles), r * np.sin(angles), np.full(count, h)]) for r, h in band])
            self.add(points @ to[:3, :3].T + to[:3, 3], sides(len(band), count), material, True)

    def cylinder(self, at, axis, radius, height, material, count=16, bevel=0.0):
        profile = [(0, 0), (radius, 0), (radius, height - bevel), (radius - bevel, height), (0, height)]
        self.lathe(profile, frame(at, axis), material, count)

    def tube(self, points, radius, material, count=10, closed=False):
        points = np.asarray(points, float)
        radius = np.broadcast_to(np.asarray(radius, float), len(points))
        rings = hoops(points, radius, count)
        along = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
        uv = [[(low, i / count), (low, (i + 1) / count), (high, (i + 1) / count), (high, i / count)]
              for low, high in zip(along[:-1], along[1:]) for i in range(count)]
        self.add(np.concatenate(rings), sides(len(rings), count), material, True, uv)
        if not closed:
            self.add(rings[0], [list(reversed(range(count)))], material)
            self.add(rings[-1], [list(range(count))], material)

    def text(self, words, at, size, material, turn=0.0):
        """Words on a face that looks along z."""
        curve = bpy.data.curves.new("t", "FONT")
        curve.body, curve.size, curve.align_x, curve.align_y = words, size, "CENTER", "CENTER"
        curve.materials.append(material)
        written = bpy.data.objects.new("t", curve)
        local = np.eye(4)
        local[:2, :2] = [[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]]
        local[:3, 3] = at
        written.matrix_world = Matrix((self.matrix @ local).tolist())
        written.pass_index = self.index
        bpy.context.scene.collection.objects.link(written)

    def label(self, surface, words, at, size, turn=0.0, paper=(225, 224, 214)):
        wide = size * (0.62 * len(words) + 0.7)
        self.box((0, 0, 0), (wide, size * 1.5, 0.02), surface.get(paper, 0.6), 0, frame(at, (0, 0, 1), turn))
        self.text(words, (at[0], at[1], at[2] + 0.03), size, surface.get((20, 20, 26), 0.6), turn)

    def build(self):
        if not self.vertices:
            return
        mesh = bpy.data.meshes.new("o")
        mesh.from_pydata(np.concatenate(self.vertices).tolist(), [], self.faces)
        for material in self.materials:
            mesh.materials.append(material)
        mesh.polygons.foreach_set("material_index", self.slots)
        mesh.polygons.foreach_set("use_smooth", self.smooth)
        mesh.uv_layers.new().data.foreach_set("uv", np.asarray(self.uv, np.float32).ravel())
        mesh.update()
        made = bpy.data.objects.new("o", mesh)
        made.pass_index = self.index
        bpy.context.scene.collection.objects.link(made)
