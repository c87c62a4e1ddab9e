"""Following wires beside a general-purpose library: cheapest ways, and straightening, both by scikit-image.

Usage: in a virtual environment with `pip install scikit-image`:
    python tests/outside/trace_peers.py
It runs `cargo bench --no-default-features --bench trace`, which writes the prices of steps on the test pictures, cheapest ways over them, and points put
through a homography. There: `skimage.graph.route_through_array` on the same prices, and `ProjectiveTransform`. Steps here weigh 5 and 7 for 1 and
the square root of 2. In those weights no other way may be cheaper than ours; in the library's own the difference is at most one part in a hundred.
"""

import os
import subprocess
import tempfile
import time

import numpy
import skimage.graph
import skimage.io
import skimage.transform


def cost(price, way, diagonal):
    way = numpy.array(way)
    steps = numpy.abs(numpy.diff(way, axis=0)).sum(axis=1)
    here = price[way[:, 1], way[:, 0]].astype(float)
    return float((numpy.where(steps == 2, diagonal, 1.0) * (here[:-1] + here[1:]) / 2).sum())


def main():
    with tempfile.TemporaryDirectory() as folder:
        command = ["cargo", "bench", "--no-default-features", "--bench", "trace"]
        subprocess.run(command, env={**os.environ, "COST_FOLDER": folder}, check=True, capture_output=True)
        worst = 0.0
        for line in open(os.path.join(folder, "ways.txt")):
            name, whole, seconds, points = line.strip().split(";")
            price = skimage.io.imread(os.path.join(folder, name + ".pgm"))
            ours = [tuple(map(int, point.split())) for point in points.split(",")]
            start = time.perf_counter()
            route, _ = skimage.graph.route_through_array(price, ours[0][::-1], ours[-1][::-1])
            peer_seconds = time.perf_counter() - start
            theirs = [(x, y) for y, x in route]
            in_ours = cost(price, ours, 1.4), cost(price, theirs, 1.4)
            in_theirs = cost(price, ours, 2**0.5), cost(price, theirs, 2**0.5)
            assert abs(10 * in_ours[0] - int(whole)) < 1e-6 * int(whole), (name, in_ours, whole)
            assert in_ours[0] <= in_ours[1] * (1 + 1e-12), (name, in_ours)
            worst = max(worst, in_theirs[0] / in_theirs[1] - 1)
            print(
                f"{name}: {in_ours[0]:.1f} here, {in_ours[1]:.1f} there in the weights of here; {in_theirs[0]:.1f} and"
                f" {in_theirs[1]:.1f} in the library's; {float(seconds) * 1e3:.0f} ms here, {peer_seconds * 1e3:.0f} ms there"
            )
        print(f"most above the library in its own weights: {100 * worst:.3f} %")
        assert worst < 0.01
        source = numpy.array([[1210, 340], [3011.5, 402], [2890, 2455], [1000, 2303]])
        target = numpy.array([[0, 0], [600, 0], [600, 400], [0, 400]])
        if hasattr(skimage.transform.ProjectiveTransform, "from_estimate"):
            peer = skimage.transform.ProjectiveTransform.from_estimate(source, target)
        else:
            peer = skimage.transform.ProjectiveTransform()
            peer.estimate(source, target)
        points = numpy.loadtxt(os.path.join(folder, "homography.txt"))
        off = numpy.abs(peer(points[:, :2]) - points[:, 2:]).max()
        print(f"homography: at most {off:.2e} from the library's")
        assert off < 1e-6


main()
