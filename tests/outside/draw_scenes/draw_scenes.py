"""Draws random pictures of machine wiring, with exact truth, to teach and judge what finds wires on photos.

    pip install bpy==4.5.4 numpy scipy pillow
    python3 draw_scenes/draw_scenes.py OUT_FOLDER --seed N [--count K] [--width 1280 --height 960] [--samples 3]

Writes scene-N.jpg, scene-N.json and scene-N_mask.png for the seeds N to N+K-1. A seed that fails is told and left out.

Everything is invented: a box of sheet metal with relays, screw strips, modules on a rail, a circuit board, a transformer, a capacitor, a
motor cover, plugs, an earth stud and grommets, all of random make, place and colour, and wires between their terminals. Some things look
like wires and are none: pipes, rods, hoses, edges, scratches, tracks on the board. The picture is then given the look of a phone's.

Lengths are in cm: x to the right, y up, z out of the back wall; the origin is the middle of the back wall. Mask: 0 the rest, 1-99 wires,
100+n fittings of wire n, 200-239 parts, 240 cable ties, 241 paper flags, 242 tape and sleeves. Pixels: x to the right, y down, centres
of pixels at .5. The points of a wire's centre line are 0.18 cm apart; one is visible where the mask shows the wire within one pixel.
"""

import argparse
import json
import os
import sys
import time
import traceback

import numpy as np
from PIL import Image

from pictures import as_phone, rendered
from scene import Scene
from truth import part_truth, rounded, wire_truth


def draw(folder, seed, width, height, samples):
    start = time.time()
    scene = Scene(seed, width, height)
    light = rendered(scene, samples, False)
    mask = rendered(scene, 1, True)[..., 0].round().astype(np.uint8)
    quality = int(scene.rng.integers(80, 94))
    name = f"scene-{seed}"
    Image.fromarray(as_phone(scene, light)).save(os.path.join(folder, name + ".jpg"), quality=quality)
    Image.fromarray(mask).save(os.path.join(folder, name + "_mask.png"))
    truth = dict(
        image=name + ".jpg", image_size=[width, height], id_mask=name + "_mask.png", seed=seed, level=scene.level, jpeg_quality=quality,
        samples=samples, camera=dict(position_cm=rounded(scene.camera.eye), focal_px=round(float(scene.camera.focal), 1)),
        wires=[wire_truth(scene, wire, mask) for wire in scene.wires], parts=[part_truth(scene, part, mask) for part in scene.parts],
    )
    with open(os.path.join(folder, name + ".json"), "w") as file:
        json.dump(truth, file)
    print(f"{name}: {scene.level}, {len(scene.wires)} wires, {time.time() - start:.1f} s", flush=True)


def main():
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("folder")
    asked.add_argument("--seed", type=int, required=True)
    asked.add_argument("--count", type=int, default=1)
    asked.add_argument("--width", type=int, default=1280)
    asked.add_argument("--height", type=int, default=960)
    asked.add_argument("--samples", type=int, default=3)
    asked = asked.parse_args()
    os.makedirs(asked.folder, exist_ok=True)
    failed = 0
    for seed in range(asked.seed, asked.seed + asked.count):
        try:
            draw(asked.folder, seed, asked.width, asked.height, asked.samples)
        except Exception:
            failed += 1
            print(f"scene-{seed} failed:\n{traceback.format_exc()}", flush=True)
    sys.exit(1 if failed else 0)


if __name__ == "__main__":
    main()
