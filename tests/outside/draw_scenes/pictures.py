"""The rendering of a scene and of its mask, and the look of a phone's picture."""

import contextlib
import os
import sys
import tempfile

import bpy
import numpy as np
from scipy.ndimage import gaussian_filter

from surfaces import encoded


@contextlib.contextmanager
def silence():
    """Keeps what the renderer tells of every sample off the screen."""
    sys.stdout.flush()
    screen, nothing = os.dup(1), os.open(os.devnull, os.O_WRONLY)
    os.dup2(nothing, 1)
    try:
        yield
    finally:
        os.dup2(screen, 1)
        os.close(screen)
        os.close(nothing)


def rendered(scene, samples, flat):
    """The picture in linear light, or the index of what each pixel shows."""
    set_up(scene, samples, flat)
    blender = bpy.context.scene
    if flat:
        scene.camera.lens.dof.use_dof = False
        blender.view_layers[0].material_override = index_material()
        blender.world.node_tree.nodes["Background"].inputs[1].default_value = 0
    handle, name = tempfile.mkstemp(suffix=".exr")
    os.close(handle)
    blender.render.filepath = name
    try:
        with silence():
            bpy.ops.render.render(write_still=True)
        image = bpy.data.images.load(name)
        pixels = np.empty(scene.width * scene.height * 4, np.float32)
        image.pixels.foreach_get(pixels)
    finally:
        os.unlink(name)
    return pixels.reshape(scene.height, scene.width, 4)[::-1, :, :3]


def set_up(scene, samples, flat):
    """A flat picture has no light, blur or noise in it, as a mean of two indices would be a wrong one."""
    render, cycles = bpy.context.scene.render, bpy.context.scene.cycles
    render.engine, render.use_persistent_data = "CYCLES", False
    render.resolution_x, render.resolution_y, render.resolution_percentage = scene.width, scene.height, 100
    settings = render.image_settings
    settings.file_format, settings.color_depth, settings.color_mode = "OPEN_EXR", "32", "RGB"
    cycles.device, cycles.use_adaptive_sampling, cycles.seed = "CPU", False, scene.seed % 100000
    cycles.samples = 1 if flat else samples
    cycles.use_denoising = not flat
    cycles.denoiser, cycles.denoising_prefilter = "OPENIMAGEDENOISE", "FAST"
    cycles.pixel_filter_type, cycles.filter_width = "BOX" if flat else "BLACKMAN_HARRIS", 0.01 if flat else 1.5
    cycles.max_bounces, cycles.diffuse_bounces, cycles.glossy_bounces = (0, 0, 0) if flat else (3, 2, 2)
    cycles.caustics_reflective = cycles.caustics_refractive = False


def index_material():
    material = bpy.data.materials.new("index")
    material.use_nodes = True
    nodes, links = material.node_tree.nodes, material.node_tree.links
    nodes.clear()
    shine, out = nodes.new("ShaderNodeEmission"), nodes.new("ShaderNodeOutputMaterial")
    links.new(nodes.new("ShaderNodeObjectInfo").outputs["Object Index"], shine.inputs["Strength"])
    shine.inputs["Color"].default_value = (1, 1, 1, 1)
    links.new(shine.outputs[0], out.inputs[0])
    return material


def as_phone(scene, light):
    """Exposure, white balance, glare, vignetting, noise and sharpening."""
    rng = scene.rng
    light = exposed(scene, light)
    glare = np.stack([gaussian_filter(light[..., k], scene.width / 40) for k in range(3)], 2)
    light = light * 0.96 + np.minimum(glare, 2) * rng.uniform(0.01, 0.06)
    y, x = np.mgrid[: scene.height, : scene.width]
    far = ((x / scene.width - 0.5) ** 2 + (y / scene.height - 0.5) ** 2)[..., None]
    light = light * (1 - rng.uniform(0.1, 0.7) * far)
    strength = dict(easy=0.004, medium=0.007, hard=0.012)[scene.level] * rng.uniform(0.5, 1.6)
    light = light + rng.normal(0, 1, light.shape) * strength * np.sqrt(np.clip(light, 0, 1) + 0.02)
    light = np.where(light > 0.7, 0.7 + 0.3 * (1 - np.exp(-(light - 0.7) / 0.3)), light)
    shown = encoded(light)
    soft = np.stack([gaussian_filter(shown[..., k], 1.1) for k in range(3)], 2)
    shown = shown + rng.uniform(0.1, 0.7) * (shown - soft)
    return (np.clip(shown, 0, 1) * 255).round().astype(np.uint8)


def exposed(scene, light):
    rng, bright = scene.rng, light.mean(2)
    if scene.level == "hard":
        gain = rng.uniform(0.9, 1.5) / (np.percentile(bright, 97) + 1e-6)
    else:
        gain = min(rng.uniform(0.2, 0.42) / (np.percentile(bright, 55) + 1e-6), 1.25 / (np.percentile(bright, 96) + 1e-6))
    balance = np.exp(rng.normal(0, 0.06, 3))
    # A phone takes most of the light's colour away.
    middle = np.median(light.reshape(-1, 3), 0) + 1e-6
    balance = balance * (middle.mean() / middle) ** rng.uniform(0, 0.4)
    return light * gain * balance
