"""The truth of a picture: where its wires, parts and terminals are, and what of them the mask shows."""

import numpy as np
from scipy.ndimage import maximum_filter

from wires import resampled


def rounded(values):
    return [round(float(value), 1) for value in values]


def wire_truth(scene, wire, mask):
    camera = scene.camera
    pixels, depth = camera.project(resampled(wire.path, 0.18))
    inside = camera.inside(pixels)
    visible = inside & seen_at(scene, pixels, mask == wire.number)
    width = 2 * wire.radius * camera.focal / depth
    flag = wire.flag and dict(text=wire.flag[0], corners_px=[rounded(corner) for corner in camera.project(wire.flag[1])[0]])
    covers = [camera.project(np.array(cover))[0] for cover in wire.covers]
    return dict(
        id=wire.id, mask_value=wire.number, fitting_mask_value=100 + wire.number, **look_truth(wire),
        mean_width_px=round(float(width[inside].mean()), 2) if inside.any() else None, in_picture=bool(inside.any()),
        visible_share=round(float(visible.sum() / max(inside.sum(), 1)), 3), visible_pixels=int((mask == wire.number).sum()),
        ends=[end_truth(scene, wire, end, pixels, visible) for end in (0, 1)], bundled=wire.bundled, paper_label=flag,
        covers=[dict(from_px=rounded(c[0]), to_px=rounded(c[1])) for c in covers],
        centre_line=[[*rounded(pixel), int(seen)] for pixel, seen in zip(pixels, visible)],
    )


def seen_at(scene, pixels, shown):
    """Forgives one pixel, for a line seldom meets the middle of a pixel."""
    shown = maximum_filter(shown.astype(np.uint8), 3)
    at = pixels.astype(int).clip(0, [scene.width - 1, scene.height - 1])
    return shown[at[:, 1], at[:, 0]] > 0


def look_truth(wire):
    return dict(
        base=str(wire.base), tracer=str(wire.tracer) if wire.tracer else None, base_albedo_srgb=wire.colour.tolist(),
        tracer_albedo_srgb=None if wire.other is None else wire.other.tolist(), diameter_mm=round(wire.radius * 20, 2),
        stripe=wire.stripe and dict(zip(("count", "share", "turn_cm"), (round(value, 2) for value in wire.stripe))),
    )


def end_truth(scene, wire, end, pixels, visible):
    pixel = pixels[0 if end == 0 else -1]
    within = bool(scene.camera.inside(pixel[None])[0])
    name = wire.ends[end]["id"] if isinstance(wire.ends[end], dict) else "loose"
    made = dict(terminal=name, fitting=str(wire.fittings[end]), px=rounded(pixel), in_picture=within)
    if name == "loose":
        made["visible"] = bool(visible[:6].any() if end == 0 else visible[-6:].any())
    return made


def part_truth(scene, part, mask):
    corners = scene.camera.project(np.concatenate(part.vertices))[0]
    low = corners.min(0).clip(0, [scene.width, scene.height])
    high = corners.max(0).clip(0, [scene.width, scene.height])
    return dict(
        id=part.name, kind=part.kind, mask_value=part.index, box_px=rounded([*low, *high]),
        in_picture=bool((high - low).min() > 0), visible_pixels=int((mask == part.index).sum()),
        terminals=[terminal_truth(scene, part, terminal, mask) for terminal in part.terminals],
    )


def terminal_truth(scene, part, terminal, mask):
    """A terminal counts as visible where its part shows, or the wire on it or that wire's fitting."""
    pixel = scene.camera.project(terminal["at"][None])[0][0]
    within = bool(scene.camera.inside(pixel[None])[0])
    own = [part.index] + [int(name[1:]) + add for name in terminal["wires"] for add in (0, 100)]
    x, y = pixel.astype(int).clip(-9, 99999)
    near = mask[max(y - 2, 0) : y + 3, max(x - 2, 0) : x + 3]
    seen = within and bool(np.isin(near, own).any())
    return dict(id=terminal["id"], kind=terminal["kind"], px=rounded(pixel), in_picture=within, visible=seen, wires=terminal["wires"])
