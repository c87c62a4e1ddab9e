"""The camera, and the light it sees by."""

import bpy
import numpy as np
from mathutils import Matrix

from solids import frame, unit


class Camera:
    """Looks at a random place of the back wall from a random side; its turn takes places of the scene to its own."""

    def __init__(self, rng, size, wall):
        self.width, self.height = size
        self.focal = self.width * rng.uniform(0.7, 1.2)
        per_cm = rng.choice([rng.uniform(20, 27), rng.uniform(27, 35), rng.uniform(36, 44)], p=[0.55, 0.38, 0.07]) * self.width / 1280
        self.distance = self.focal / per_cm
        room = np.maximum(np.array(wall) - np.array(size) / per_cm * 0.8, 0) / 2
        self.target = np.array([*rng.uniform(-room, room), 2.0])
        tilt, pan = np.radians(rng.normal(0, 9, 2).clip(-25, 25))
        back = unit([np.tan(pan), np.tan(tilt), 1])
        self.eye = self.target + back * self.distance
        aside = unit(np.cross([0, 1, 0], back))
        roll = np.radians(rng.normal(0, 2.5))
        up = np.cross(back, aside)
        self.turn = np.stack([aside * np.cos(roll) + up * np.sin(roll), up * np.cos(roll) - aside * np.sin(roll), back])
        self.lens = self.make_lens(rng)

    def make_lens(self, rng):
        lens = bpy.data.cameras.new("camera")
        lens.sensor_width, lens.sensor_fit, lens.lens = 36, "HORIZONTAL", 36 * self.focal / self.width
        lens.clip_start, lens.clip_end = 0.5, 1000
        if rng.random() < 0.35:
            lens.dof.use_dof, lens.dof.focus_distance = True, self.distance * rng.uniform(0.88, 0.98)
            lens.dof.aperture_fstop = 36 * self.focal / self.width / 10 / (2 * rng.uniform(0.04, 0.12)) / 100
        holder = bpy.data.objects.new("camera", lens)
        matrix = np.eye(4)
        matrix[:3, :3], matrix[:3, 3] = self.turn.T, self.eye
        holder.matrix_world = Matrix(matrix.tolist())
        bpy.context.scene.collection.objects.link(holder)
        bpy.context.scene.camera = holder
        return lens

    def project(self, points):
        local = (np.asarray(points, float) - self.eye) @ self.turn.T
        depth = np.maximum(-local[:, 2], 0.5)
        return np.column_stack([self.width / 2 + self.focal * local[:, 0] / depth,
                                self.height / 2 - self.focal * local[:, 1] / depth]), depth

    def inside(self, pixels):
        return (pixels[:, 0] >= 0) & (pixels[:, 0] < self.width) & (pixels[:, 1] >= 0) & (pixels[:, 1] < self.height)


def light(scene):
    rng, blender = scene.rng, bpy.context.scene
    warm = rng.normal(0, 0.12)
    colour = np.array([1 + warm, 1.0, 1 - warm]).clip(0.6, 1.4)
    blender.world = bpy.data.worlds.new("w")
    blender.world.use_nodes = True
    background = blender.world.node_tree.nodes["Background"]
    background.inputs[0].default_value = (*np.clip(colour[::-1], 0, 2), 1)
    background.inputs[1].default_value = dict(easy=0.5, medium=0.22, hard=0.02)[scene.level] * rng.uniform(0.6, 1.4)
    at, size = lamp_place(scene)
    lamp = bpy.data.lights.new("l", "AREA" if scene.level != "hard" else "SPOT")
    if scene.level == "hard":
        lamp.shadow_soft_size, lamp.spot_size, lamp.spot_blend = size, rng.uniform(0.95, 1.9), 1.0
    else:
        lamp.size = size
    lamp.energy, lamp.color = 20 * np.linalg.norm(at - scene.camera.target) ** 2, colour
    made = bpy.data.objects.new("l", lamp)
    aim = scene.camera.target + [*rng.normal(0, 4, 2), 0] - at
    made.matrix_world = Matrix(frame(at, -aim).tolist())
    blender.collection.objects.link(made)


def lamp_place(scene):
    """A wide light over the camera, a small one from the side, or the phone's own beside its lens; and its size."""
    rng, camera = scene.rng, scene.camera
    if scene.level == "easy":
        return camera.eye + [rng.normal(0, 15), rng.uniform(10, 35), rng.uniform(0, 20)], rng.uniform(30, 70)
    if scene.level == "medium":
        at = camera.target + [rng.choice([-1, 1]) * rng.uniform(20, 60), rng.uniform(-5, 50), rng.uniform(30, 70)]
        return at, rng.uniform(4, 16)
    at = camera.eye + np.array([rng.choice([-1, 1]) * rng.uniform(0.8, 3), rng.uniform(-2, 3), 0]) @ camera.turn
    return at, rng.uniform(0.3, 1.0)
