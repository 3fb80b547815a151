"""Writes two small scans of one made-up arch, and the pose that Open3D finds between them.

    python3 -m venv .venv && .venv/bin/pip install -r requirements.txt
    .venv/bin/python make_reference.py

Open3D (MIT licence, https://www.open3d.org) is the outside check: its feature matching, consensus and robust
point-to-plane steps share no line with this crate. Its numbers may differ in the last digits from one machine to the
next; the test allows for more than that.
"""

import json
import pathlib

import numpy as np
import open3d as o3d

HERE = pathlib.Path(__file__).parent
EDGE_MM = 0.42
NOISE_MM = 0.008
TEETH = [  # along the ridge, half length, half width, height, heights of four cusps
    (-13.0, 4.3, 4.9, 4.2, (1.2, 0.8, 0.7, 1.4)),
    (-4.2, 4.0, 4.4, 4.0, (0.9, 1.3, 1.1, 0.6)),
    (3.6, 3.4, 4.0, 4.4, (1.5, 0.7, 0.5, 0.9)),
    (10.6, 3.3, 3.6, 4.8, (0.6, 1.6, 0.9, 0.4)),
]
CUSPS = [(-0.45, -0.4), (-0.4, 0.5), (0.5, -0.45), (0.4, 0.4)]
CUT = 1


def height(along, across, cut):
    z = 1.4 * np.exp(-((across / 7.0) ** 4)) + 0.12 * np.sin(0.8 * along + 0.5 * across)
    for index, (place, length, width, tall, cusps) in enumerate(TEETH):
        if cut and index == CUT:
            length, width, tall = length - 0.9, width - 0.9, tall - 1.2
            cusps = [0.4 * cusp for cusp in cusps]
        x, y = (along - place) / length, across / width
        top = sum(h * np.exp(-((x - u) ** 2 + (y - v) ** 2) / 0.12) for h, (u, v) in zip(cusps, CUSPS))
        z = z + np.exp(-1.3 * (x**4 + y**4)) * (tall + top)
    return z


def scan(seed, cut, from_mm, to_mm):
    """Vertices and triangles of one scan, in the arch's frame."""
    rng = np.random.default_rng(seed)
    columns, rows = int((to_mm - from_mm) / EDGE_MM) + 1, int(17.0 / EDGE_MM) + 1
    jitter = rng.uniform(-0.3, 0.3, (2, rows, columns))
    along = from_mm + EDGE_MM * (np.arange(columns)[None, :] + jitter[0])
    across = -8.5 + EDGE_MM * (np.arange(rows)[:, None] + jitter[1])
    angle, radius = along / 30.0, 30.0 - across
    points = np.stack([radius * np.sin(angle), 30.0 - radius * np.cos(angle), height(along, across, cut)], -1)
    points = points.reshape(-1, 3) + rng.normal(0.0, NOISE_MM, (rows * columns, 3))
    a = (np.arange(rows - 1)[:, None] * columns + np.arange(columns - 1)[None, :]).ravel()
    b = a + columns
    return points, np.concatenate([np.stack([a, a + 1, b + 1], 1), np.stack([a, b + 1, b], 1)])


def pose(seed):
    rng = np.random.default_rng(seed)
    w, x, y, z = (q := rng.normal(size=4)) / np.linalg.norm(q)
    matrix = np.eye(4)
    matrix[:3, :3] = o3d.geometry.get_rotation_matrix_from_quaternion([w, x, y, z])
    matrix[:3, 3] = rng.normal(0.0, 40.0, 3)
    return matrix


def write_ply(path, points, triangles):
    head = (
        "ply\nformat binary_little_endian 1.0\n"
        f"element vertex {len(points)}\nproperty float x\nproperty float y\nproperty float z\n"
        f"element face {len(triangles)}\nproperty list uchar int vertex_indices\nend_header\n"
    )
    faces = np.empty(len(triangles), dtype=[("count", "u1"), ("corners", "<i4", 3)])
    faces["count"], faces["corners"] = 3, triangles
    path.write_bytes(head.encode() + points.astype("<f4").tobytes() + faces.tobytes())


def cloud(path, count):
    mesh = o3d.io.read_triangle_mesh(str(path))
    mesh.compute_vertex_normals()
    if count is None:
        points = o3d.geometry.PointCloud(mesh.vertices)
        points.normals = mesh.vertex_normals
        return points
    return mesh.sample_points_uniformly(count, use_triangle_normal=False)


def open3d_pose(fixed_path, moving_path):
    registration = o3d.pipelines.registration
    o3d.utility.random.seed(7)
    fixed, moving = cloud(fixed_path, 400_000), cloud(moving_path, None)
    coarse, features = [], []
    for points in (fixed, moving):
        small = points.voxel_down_sample(1.0)
        coarse.append(small)
        near = o3d.geometry.KDTreeSearchParamHybrid(radius=4.0, max_nn=100)
        features.append(registration.compute_fpfh_feature(small, near))
    found = registration.registration_ransac_based_on_feature_matching(
        coarse[1], coarse[0], features[1], features[0], True, 1.0,
        registration.TransformationEstimationPointToPoint(False), 3,
        [registration.CorrespondenceCheckerBasedOnEdgeLength(0.9)],
        registration.RANSACConvergenceCriteria(400_000, 0.999),
    ).transformation
    for within_mm, cut_mm in [(1.0, 0.5), (0.5, 0.1), (0.3, 0.045), (0.3, 0.045)]:
        step = registration.TransformationEstimationPointToPlane(registration.TukeyLoss(cut_mm))
        stop = registration.ICPConvergenceCriteria(1e-12, 1e-12, 200)
        found = registration.registration_icp(moving, fixed, within_mm, found, step, stop).transformation
    return found


def main():
    fixed_from_arch, moving_from_arch = pose(11), pose(12)
    tooth = np.array([TEETH[CUT][0], 0.0])
    for name, seed, cut, frame, span in [
        ("before", 1, False, fixed_from_arch, (-18.0, 14.5)),
        ("after", 2, True, moving_from_arch, (-17.0, 15.0)),
    ]:
        points, triangles = scan(seed, cut, *span)
        write_ply(HERE / f"{name}.ply", points @ frame[:3, :3].T + frame[:3, 3], triangles)
    found = open3d_pose(HERE / "before.ply", HERE / "after.ply")
    angle = tooth[0] / 30.0
    on_tooth = np.array([30.0 * np.sin(angle), 30.0 - 30.0 * np.cos(angle), height(tooth[0], 0.0, False), 1.0])
    truth = fixed_from_arch @ np.linalg.inv(moving_from_arch)
    place = moving_from_arch @ on_tooth
    print("Open3D is", 1000 * np.linalg.norm((found @ place - truth @ place)[:3]), "µm from the truth at the tooth")
    turn = found[:3, :3] @ truth[:3, :3].T
    print("and", np.degrees(np.linalg.norm(turn - turn.T) / np.sqrt(8.0)), "degrees")
    result = {
        "open3d": o3d.__version__,
        "fixed_from_moving_open3d": found.tolist(),
        "fixed_from_moving_truth": truth.tolist(),
        "tooth_in_moving": place[:3].tolist(),
    }
    (HERE / "reference.json").write_text(json.dumps(result, indent=1) + "\n")


if __name__ == "__main__":
    main()
