# SPDX-License-Identifier: MIT
"""One run of every exporter against the runtime, on every trim and frame: 1e-6 of the garment's size where a format holds
single precision, 1e-12 where it holds double.

The runtime's answer is worked out twice: by `trimtack follow` (poses.npy), and here from bindings.json and the frames by
the formula of the table's specification. Arrays are read by NumPy; everything else by the few lines below.

    check_formats.py PROGRAM SCRATCH        exit code 77: NumPy is not installed
"""
import json
import re
import shutil
import struct
import subprocess
import sys
import zipfile
from pathlib import Path

try:
    import numpy as np
except ImportError:
    print("NumPy is not installed (Debian: python3-numpy): SKIPPED")
    sys.exit(77)

FLOAT, DOUBLE = 1e-6, 1e-12
program, scratch = sys.argv[1], Path(sys.argv[2])
failures = 0


def check(good, text):
    global failures
    if not good:
        failures += 1
        print("FAILED:", text)


def run(*arguments):
    done = subprocess.run([program, *map(str, arguments)], capture_output=True, text=True)
    if done.returncode not in (0, 1):
        sys.exit(f"trimtack {' '.join(map(str, arguments))}: exit code {done.returncode}\n{done.stderr}")
    return done.stdout


def read_csv(path):
    rows = path.read_text().splitlines()
    return [dict(zip(rows[0].split(","), row.split(","))) for row in rows[1:]]


def read_obj(path):
    """Positions of an OBJ file."""
    return np.array([line.split()[1:4] for line in path.read_text().splitlines() if line.startswith("v ")], float)


def read_ply(path):
    """Vertices of a binary PLY file of triangles and polygons, as written: x y z and whatever follows them."""
    data = path.read_bytes()
    end = data.index(b"end_header\n") + 11
    header = data[:end].decode().split("\n")
    vertices = int(next(line.split()[2] for line in header if line.startswith("element vertex")))
    within = "\n".join(header).split("element vertex")[1].split("element face")[0]
    kinds = {"float": "<f4", "double": "<f8", "uchar": "u1", "float32": "<f4", "float64": "<f8", "uint8": "u1"}
    fields = [(line.split()[2], kinds[line.split()[1]]) for line in within.split("\n") if line.startswith("property")]
    table = np.frombuffer(data, dtype=fields, count=vertices, offset=end)
    return np.stack([table["x"], table["y"], table["z"]], axis=1).astype(float)


def quaternion_matrix(q):
    """(..., 4) x y z w -> (..., 3, 3)."""
    x, y, z, w = np.moveaxis(np.asarray(q, float), -1, 0)
    return np.stack([np.stack([1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)], -1),
                     np.stack([2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)], -1),
                     np.stack([2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)], -1)], -2)


def frame_of(binding, cloth):
    """The table's formula: origin and polar frame of a patch."""
    q = cloth[binding["vertices"]]
    o, t, b = (np.array(binding[k]) @ q for k in "cab")
    d = np.linalg.norm(np.cross(t, b))
    s = np.sqrt(t @ t + b @ b + 2 * d)
    u = ((b @ b + d) * t - (t @ b) * b) / (d * s)
    v = ((t @ t + d) * b - (t @ b) * t) / (d * s)
    return o, np.stack([u, v, np.cross(u, v)], axis=1)


def evaluate(bindings, cloth):
    """(T, 3, 4) poses of one frame."""
    poses = np.empty((len(bindings), 3, 4))
    for i, binding in enumerate(bindings):
        o, turn = frame_of(binding, cloth)
        rotation = turn @ np.array(binding["frame"]).T
        poses[i, :, :3] = rotation
        poses[i, :, 3] = o - rotation @ np.array(binding["origin"])
    return poses


def apply(pose, points):
    return points @ pose[:, :3].T + pose[:, 3]


def read_glb(path):
    data = path.read_bytes()
    length = struct.unpack_from("<I", data, 12)[0]
    document, binary = json.loads(data[20:20 + length]), data[28 + length:]
    parts = {"SCALAR": 1, "VEC2": 2, "VEC3": 3, "VEC4": 4}
    types = {5126: "<f4", 5123: "<u2", 5125: "<u4"}

    def array(index):
        accessor = document["accessors"][index]
        view = document["bufferViews"][accessor["bufferView"]]
        offset = view.get("byteOffset", 0) + accessor.get("byteOffset", 0)
        n = parts[accessor["type"]]
        values = np.frombuffer(binary, types[accessor["componentType"]], accessor["count"] * n, offset)
        return values.reshape(accessor["count"], n).astype(float)

    return document, array


def usda_samples(text, name, numbers):
    """'name.timeSamples = { time: [(..), ..], .. }' as an array of shape (F, N, numbers)."""
    block = re.search(re.escape(name) + r"\.timeSamples = \{\n(.*?)\n        \}", text, re.S).group(1)
    frames = []
    for line in block.split("\n"):
        values = np.array(re.findall(r"[-+0-9.einf]+", line.split(":", 1)[1]), float)
        frames.append(values.reshape(-1, numbers))
    return np.array(frames)


def report(what, largest, size, bound):
    check(largest <= bound * size, f"{what}: {largest / size:.3g} of the garment's size, allowed {bound:g}")
    print(f"{what}: {largest / size:.2g}")


def main():
    shutil.rmtree(scratch, ignore_errors=True)
    scratch.mkdir(parents=True)
    run("demo", scratch / "coat", "--frames", 3, "--quiet")
    bound, frames = scratch / "coat/bound", sorted((scratch / "coat/frames").glob("*.obj"))
    posed, out = scratch / "posed", scratch / "scenes"
    run("follow", bound, *frames, "-o", posed, "--bake", "obj", "--whole", "npy", "--quiet")
    formats = ["json", "csv", "ttb", "glb", "usda", "usdz", "ply", "npy", "placements"]
    summary = json.loads(run("export", bound, *frames, "-o", out, "--json", *sum([["--format", f] for f in formats], [])))

    # One summary names every file, with its length, and nothing else is there.
    check(summary["formats"] == formats and summary["frames"] == 3, "the summary's formats and frames")
    named = {f["name"]: f["bytes"] for f in summary["files"]}
    there = {str(p.relative_to(out)): p.stat().st_size for p in out.rglob("*") if p.is_file()}
    there.pop("trimtack.manifest.json")
    check(named == there, f"files named and files written differ: {set(named) ^ set(there)}")
    for own in ("bindings.json", "bindings.csv", "bindings.ttb"):
        check((out / own).read_bytes() == (bound / own).read_bytes(), f"{own} is the folder's own")

    # Cloth frames, in cloth.obj's order.
    parts = json.loads((bound / "parts.json").read_text())
    order = np.concatenate([np.arange(a, b) for a, b in parts["cloth_vertex_of"]]) \
        if isinstance(parts["cloth_vertex_of"][0], list) else np.array(parts["cloth_vertex_of"])
    whole = [read_obj(f) for f in frames]
    cloth = np.array([w[order] for w in whole])
    size = np.linalg.norm(np.ptp(cloth[0], axis=0))

    # The runtime against the formula.
    bindings = json.loads((bound / "bindings.json").read_text())["bindings"]
    poses = np.load(posed / "poses.npy")
    check(poses.dtype == np.float64 and poses.shape == (3, len(bindings), 3, 4), "poses.npy: type and shape")
    wanted = np.array([evaluate(bindings, c) for c in cloth])
    centre = np.array([b["origin"] for b in bindings])
    reach = np.concatenate([centre[:, None], centre[:, None] + 20 * np.eye(3)], axis=1)  # points that the trims move

    def moved(matrices):
        return np.einsum("ftij,tkj->ftki", matrices[..., :3], reach) + matrices[..., None, :, 3]

    target = moved(poses)
    distance = lambda matrices: np.abs(moved(matrices) - target).max()
    report("runtime and formula", distance(wanted), size, DOUBLE)
    rows = read_csv(posed / "poses.csv")
    check(len(rows) == 3 * len(bindings) and all(r["quality"] == "chosen" for r in rows), "poses.csv: rows, quality")
    csv = np.array([[float(r[f"m{i}{j}"]) for i in range(3) for j in range(4)] for r in rows]).reshape(poses.shape)
    report("poses.csv matrices", distance(csv), size, DOUBLE)
    turned = quaternion_matrix([[float(r[k]) for k in ("qx", "qy", "qz", "qw")] for r in rows]).reshape(poses.shape[:2] + (3, 3))
    at = np.array([[float(r[k]) for k in ("tx", "ty", "tz")] for r in rows]).reshape(poses.shape[:2] + (3, 1))
    report("poses.csv quaternions", distance(np.concatenate([turned, at], -1)), size, DOUBLE)

    # How each pose was found is told per pose: a mirror image, and cloth collapsed under one trim.
    def qualities(name, deformed):
        np.save(scratch / f"{name}.npy", deformed)
        run("follow", bound, scratch / f"{name}.npy", "-o", scratch / name, "--quiet")
        return [row["quality"] for row in read_csv(scratch / name / "poses.csv")]

    check(set(qualities("mirrored", cloth[:1] * [-1, 1, 1])) == {"mirrored"}, "poses.csv: a mirror image")
    collapsed = cloth[:1].copy()
    collapsed[0, bindings[0]["vertices"]] = collapsed[0, bindings[0]["vertices"][0]]
    found = qualities("collapsed", collapsed)
    check(found[0] in ("fallback", "lost", "stretched"), f"poses.csv: collapsed cloth, {found[0]}")
    check(found.count("chosen") > 0.9 * len(found), "poses.csv: the others are as they were")

    # Baked meshes: each vertex of trims.obj and stitching.obj moved by the pose of its trim.
    trim_of_id = {b["trim"]: i for i, b in enumerate(bindings)}
    owner = np.full(len(whole[0]), -1)
    for component in parts["components"]:
        trim = trim_of_id.get(component["trim"])
        if component["role"] == "cloth" or trim is None:
            continue
        for first, end in component["vertices"]:
            owner[first:end] = trim
    rest = read_obj(scratch / "coat/coat.obj")
    whole_posed = np.load(posed / "whole/frames.npy")
    bound_vertices = np.flatnonzero(owner >= 0)
    check(len(bound_vertices) > 1000, "bound vertices")
    truth = np.array([np.einsum("vij,vj->vi", p[owner[bound_vertices], :, :3], rest[bound_vertices]) +
                      p[owner[bound_vertices], :, 3] for p in poses])
    report("whole garments as NPY, trims", np.abs(whole_posed[:, bound_vertices] - truth).max(), size, DOUBLE)
    report("whole garments as NPY, cloth", np.abs(whole_posed[:, order] - cloth).max(), size, DOUBLE)
    # Which vertices trims.obj holds, found once at rest by their positions, then compared frame by frame.
    for part in ("trims", "stitching"):
        at_rest = read_obj(bound / f"{part}.obj")
        index = {tuple(p): [] for p in at_rest}
        for v in bound_vertices:
            if tuple(rest[v]) in index:
                index[tuple(rest[v])].append(np.searchsorted(bound_vertices, v))
        chosen = [index[tuple(p)][0] for p in at_rest]
        alone = np.array([len(index[tuple(p)]) == 1 for p in at_rest])
        check(alone.sum() > 0.9 * len(alone), f"{part}.obj: vertices found again")
        baked = [read_obj(posed / f"baked/{part}_{i + 1:04d}.obj") for i in range(3)]
        report(f"baked {part}.obj", max(np.abs(b - t[chosen])[alone].max() for b, t in zip(baked, truth)), size, DOUBLE)
        # PLY repeats a vertex for each of its texture coordinates: every point must be a posed one, and the other way round.
        for i in range(3):
            points = np.unique(np.round(read_ply(out / f"frames/{part}_{i + 1:04d}.ply"), 6), axis=0)
            expected = np.unique(np.round(truth[i][chosen].astype(np.float32).astype(float), 6), axis=0)
            check(len(points) == len(expected), f"{part} {i + 1}: PLY has {len(points)} points, not {len(expected)}")
            if len(points) == len(expected):
                report(f"PLY frame {i + 1}, {part}", np.abs(points - expected).max(), size, FLOAT)
    for i in range(3):
        points = np.unique(read_ply(out / f"frames/cloth_{i + 1:04d}.ply"), axis=0)
        expected = np.unique(cloth[i].astype(np.float32).astype(float), axis=0)
        check(points.shape == expected.shape and np.abs(points - expected).max() == 0, f"PLY frame {i + 1}, cloth")

    # Arrays and placements: shape -> posed; at rest shape -> rest is known from the same files without frames.
    at_rest = scratch / "rest"
    run("export", bound, "-o", at_rest, "--format", "placements", "--format", "npy", "--format", "glb", "--format", "usda", "--quiet")
    report("cloth.npy", np.abs(np.load(out / "cloth.npy") - cloth).max(), size, DOUBLE)
    placed, placed_rest = np.load(out / "placements.npy"), np.load(at_rest / "placements.npy")
    check(placed.shape == poses.shape and placed.dtype == np.float64, "placements.npy: type and shape")

    def composed(placement):
        """The pose after a placement at rest, (F, T, 3, 4)."""
        linear = np.einsum("ftij,tjk->ftik", poses[..., :3], placement[:, :, :3])
        return np.concatenate([linear, np.einsum("ftij,tj->fti", poses[..., :3], placement[:, :, 3])[..., None] + poses[..., 3:]], -1)

    def shape_points(matrices):
        """Points about a shape's origin, moved."""
        points = np.array([[0, 0, 0], [10, 0, 0], [0, 10, 0], [0, 0, 10]], float)
        return np.einsum("ftij,kj->ftki", matrices[..., :3], points) + matrices[..., None, :, 3]

    expected = shape_points(composed(placed_rest[0]))
    report("placements.npy", np.abs(shape_points(placed) - expected).max(), size, DOUBLE)

    def placements_csv(path):
        rows = read_csv(path)
        scale = np.array([float(r["scale"]) for r in rows])
        turn = quaternion_matrix([[float(r[k]) for k in ("qx", "qy", "qz", "qw")] for r in rows]) * scale[:, None, None]
        at = np.array([[float(r[k]) for k in ("tx", "ty", "tz")] for r in rows])
        return np.concatenate([turn, at[..., None]], -1).reshape(-1, len(bindings), 3, 4), rows

    matrices, rows = placements_csv(out / "placements.csv")
    report("placements.csv", np.abs(shape_points(matrices) - expected).max(), size, DOUBLE)
    shapes = {r["shape"]: read_obj(out / r["shape"]) for r in rows[:len(bindings)]}
    worst = 0
    for trim, row in enumerate(rows[:len(bindings)]):
        mine = bound_vertices[owner[bound_vertices] == trim]
        shape = np.sort(apply(placed_rest[0][trim], shapes[row["shape"]]), axis=0)
        worst = max(worst, np.abs(shape - np.sort(rest[mine], axis=0)).max())
    report("shapes at rest are the trims", worst, size, FLOAT)

    # Scenes: nodes and instances against the same placements; single precision.
    millimetres = 1000
    document, array = read_glb(out / "coat.glb")
    shift = np.array(document["nodes"][0].get("translation", [0, 0, 0]))
    sampler_of = {(c["target"]["node"], c["target"]["path"]): document["animations"][0]["samplers"][c["sampler"]]["output"]
                  for c in document["animations"][0]["channels"]}
    glb = np.empty_like(poses)
    for index, node in enumerate(document["nodes"]):
        trim = trim_of_id.get(node.get("extras", {}).get("trim"))
        if trim is None:
            continue
        glb[:, trim, :, :3] = quaternion_matrix(array(sampler_of[index, "rotation"])) * node.get("scale", [1])[0]
        glb[:, trim, :, 3] = millimetres * (array(sampler_of[index, "translation"]) + shift)
    report("GLB nodes", np.abs(shape_points(glb) - expected).max(), size, FLOAT)
    cloth_mesh = document["meshes"][next(n for n in document["nodes"] if n["name"] == "cloth")["mesh"]]
    primitive = cloth_mesh["primitives"][0]
    base = array(primitive["attributes"]["POSITION"])
    # Vertices with several texture coordinates are repeated; their places at rest say which cloth vertex they are.
    number_of = {p.tobytes(): i for i, p in enumerate((0.001 * rest[order] - shift).astype(np.float32))}
    numbers = [number_of.get(p.tobytes()) for p in base.astype(np.float32)]
    check(None not in numbers and set(numbers) == set(number_of.values()), "GLB cloth: every vertex is there")
    moving = [millimetres * (base + array(target["POSITION"]) + shift) for target in primitive["targets"]]
    report("GLB cloth", max(np.abs(m - c[numbers]).max() for m, c in zip(moving, cloth)), size, FLOAT)
    text = (out / "coat.usda").read_text()
    positions, turns = usda_samples(text, "point3f[] positions", 3), usda_samples(text, "quatf[] orientationsf", 4)
    scales = re.search(r"float3\[\] scales = (.*)", text)
    scale = np.array(re.findall(r"[-0-9.e]+", scales.group(1)), float).reshape(-1, 3)[:, 0] if scales else np.ones(len(bindings))
    usda = np.concatenate([quaternion_matrix(turns[..., [1, 2, 3, 0]]) * scale[None, :, None, None], positions[..., None]], -1)
    report("usda instances", np.abs(shape_points(usda) - expected).max(), size, FLOAT)
    cloth_samples = usda_samples(text, "point3f[] points", 3)
    report("usda cloth", np.abs(cloth_samples - cloth).max(), size, FLOAT)
    with zipfile.ZipFile(out / "coat.usdz") as package:
        check(package.testzip() is None, "usdz: checksums")
        check(package.read(package.namelist()[0]).decode() == text, "usdz: its layer is the usda")

    print("passed" if failures == 0 else f"{failures} checks FAILED")
    return 0 if failures == 0 else 1


sys.exit(main())
