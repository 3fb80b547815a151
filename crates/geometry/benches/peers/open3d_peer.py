"""Times Open3D's RaycastingScene on the mesh and points that the bench `geometry` wrote, on one thread.

Usage: open3d_peer.py [FOLDER]   (default: target/tmp/geometry-peer of the workspace)
"""

import sys
import time
from pathlib import Path

import numpy as np
import open3d as o3d

WORKSPACE = Path(__file__).resolve().parents[4]
ROUNDS = 5


def load(path, kind):
    return o3d.core.Tensor(np.fromfile(path, kind).reshape(-1, 3))


def fastest_ms(run):
    """Least wall and least processor time over some rounds."""
    wall, cpu = [], []
    for _ in range(ROUNDS):
        start = time.perf_counter(), time.process_time()
        run()
        wall.append(time.perf_counter() - start[0])
        cpu.append(time.process_time() - start[1])
    return 1e3 * min(wall), 1e3 * min(cpu)


def main():
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else WORKSPACE / "target/tmp/geometry-peer"
    scene = o3d.t.geometry.RaycastingScene(nthreads=1)
    scene.add_triangles(load(folder / "vertices.f32", np.float32), load(folder / "triangles.u32", np.uint32))
    print(f"open3d {o3d.__version__}, one thread, ms (wall, CPU), least of {ROUNDS}")
    for path in sorted(folder.glob("*.points.f32")):
        points = load(path, np.float32)
        signed = fastest_ms(lambda: scene.compute_signed_distance(points, nthreads=1))
        plain = fastest_ms(lambda: scene.compute_distance(points, nthreads=1))
        name = path.name.removesuffix(".points.f32")
        print(f"{name:16} signed {signed[0]:8.1f} {signed[1]:8.1f}   unsigned {plain[0]:8.1f} {plain[1]:8.1f}")


main()
