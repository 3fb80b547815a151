"""Writes reference.json: what trimesh, Open3D, numpy and scipy say about body.obj and a few sets of points.

body.obj is a closed body with hollows over random directions, so its triangles are irregular and some are slivers.
It is made here if it is missing, and read back, so that all libraries see the same digits.
"""

import json
import platform
from pathlib import Path

import numpy as np
import open3d as o3d
import scipy
import trimesh
from scipy.optimize import least_squares
from scipy.spatial import ConvexHull
from scipy.stats import median_abs_deviation

HERE = Path(__file__).parent
random = np.random.default_rng(20)


def directions(count):
    vectors = np.random.default_rng(21).normal(size=(count, 3))
    return vectors / np.linalg.norm(vectors, axis=1, keepdims=True)


def make_body(path):
    unit = directions(700)
    faces = ConvexHull(unit).simplices
    a, b, c = (unit[faces[:, k]] for k in range(3))
    inward = np.einsum("ij,ij->i", np.cross(b - a, c - a), a + b + c) < 0
    faces[inward] = faces[inward][:, ::-1]
    x, y, z = unit.T
    radius = 4.0 + 0.7 * np.sin(4 * x) * np.cos(3 * y) + 0.4 * np.sin(6 * z + x)
    vertices = unit * radius[:, None] + [12.0, -31.0, 7.5]
    lines = [f"v {px:.6f} {py:.6f} {pz:.6f}" for px, py, pz in vertices]
    lines += [f"f {i + 1} {j + 1} {k + 1}" for i, j, k in faces]
    path.write_text("\n".join(lines) + "\n")


def read_body(path):
    rows = [line.split() for line in path.read_text().splitlines()]
    vertices = np.array([row[1:] for row in rows if row[0] == "v"], float)
    faces = np.array([row[1:] for row in rows if row[0] == "f"], int) - 1
    return trimesh.Trimesh(vertices, faces, process=False)


def distances(body):
    vertices = body.vertices[random.integers(len(body.vertices), size=300)]
    reach = 10.0 ** random.uniform(-2, 1, size=(300, 1))
    points = np.round(vertices + random.normal(size=(300, 3)) * reach, 6)
    _, distance, _ = trimesh.proximity.closest_point(body, points)
    inside = body.contains(points)
    scene = o3d.t.geometry.RaycastingScene()
    triangles = o3d.core.Tensor(body.faces.astype(np.uint32))
    scene.add_triangles(o3d.core.Tensor(body.vertices.astype(np.float32)), triangles)
    signed = scene.compute_signed_distance(o3d.core.Tensor(points.astype(np.float32)), nsamples=3).numpy()
    return {
        "point": points.tolist(),
        "trimesh_distance_mm": distance.tolist(),
        "trimesh_inside": inside.tolist(),
        "open3d_signed_distance_mm": [float(x) for x in signed],
    }


def rays(body):
    centre = body.vertices.mean(axis=0)
    origins = np.round(centre + random.normal(size=(120, 3)) * 6, 6)
    targets = centre + random.normal(size=(120, 3)) * 2
    vectors = targets - origins
    vectors /= np.linalg.norm(vectors, axis=1, keepdims=True)
    mesher = trimesh.ray.ray_triangle.RayMeshIntersector(body)
    locations, index_ray, _ = mesher.intersects_location(origins, vectors, multiple_hits=True)
    first = [None] * len(origins)
    for location, ray in zip(locations, index_ray):
        along = float(np.linalg.norm(location - origins[ray]))
        first[ray] = along if first[ray] is None else min(first[ray], along)
    return {"origin": origins.tolist(), "direction": vectors.tolist(), "trimesh_first_mm": first}


def sections(body):
    found = []
    centre = body.vertices.mean(axis=0)
    for normal in directions(12):
        point = np.round(centre + random.uniform(-1.5, 1.5, size=3), 6)
        section = body.section(plane_origin=point, plane_normal=normal)
        planar, _ = section.to_2D()
        found.append({
            "point": point.tolist(),
            "normal": normal.tolist(),
            "trimesh_length_mm": float(section.length),
            "trimesh_area_mm2": float(planar.area),
            "trimesh_n_loops": len(planar.polygons_closed),
        })
    return found


def fits():
    values = np.round(random.normal(size=23) * 5, 3)
    angle = random.uniform(0.2, 1.9, size=40)
    arc = np.round([3.0, -2.0] + (0.8 + random.normal(size=(40, 1)) * 0.01) * np.c_[np.cos(angle), np.sin(angle)], 6)
    circle = least_squares(lambda p: np.hypot(*(arc - p[:2]).T) - p[2], [3, -2, 1], xtol=1e-15, ftol=1e-15, gtol=1e-15)
    cloud = np.round(random.normal(size=(50, 3)) * [3, 2, 0.05] @ np.linalg.qr(random.normal(size=(3, 3)))[0] + 20, 6)
    line = np.round(random.normal(size=(50, 2)) * [3, 0.1] @ np.linalg.qr(random.normal(size=(2, 2)))[0] - 7, 6)
    return {
        "values": values.tolist(),
        "numpy_percentiles": {str(p): float(np.percentile(values, p)) for p in [0, 5, 25, 50, 61.7, 95, 100]},
        "scipy_mad": float(median_abs_deviation(values)),
        "arc": arc.tolist(),
        "scipy_circle": circle.x.tolist(),
        "cloud": cloud.tolist(),
        "numpy_plane_normal": np.linalg.svd(cloud - cloud.mean(axis=0))[2][2].tolist(),
        "line": line.tolist(),
        "numpy_line_direction": np.linalg.svd(line - line.mean(axis=0))[2][0].tolist(),
    }


def main():
    path = HERE / "body.obj"
    if not path.exists():
        make_body(path)
    body = read_body(path)
    assert body.is_watertight and body.is_winding_consistent
    reference = {
        "made_by": "make_reference.py",
        "versions": {
            "python": platform.python_version(),
            "trimesh": trimesh.__version__,
            "open3d": o3d.__version__,
            "numpy": np.__version__,
            "scipy": scipy.__version__,
        },
        "trimesh_area_mm2": float(body.area),
        "trimesh_volume_mm3": float(body.volume),
        "distances": distances(body),
        "rays": rays(body),
        "sections": sections(body),
        "fits": fits(),
    }
    (HERE / "reference.json").write_text(json.dumps(reference, indent=None, separators=(",", ":")) + "\n")


main()
