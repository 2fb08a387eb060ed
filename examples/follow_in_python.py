#!/usr/bin/env python3
# SPDX-License-Identifier: MIT
"""Follow a deformed cloth in Python, standard library only: one pose per trim.

    follow_in_python.py bindings.ttb frame.obj

Prints trim, name, translation, quaternion and flags as CSV. An evaluator of its own, written from src/runtime/FORMAT.md:
it reads the binary table and follows the chosen patch, then the fallback; a trim with neither keeps its rest pose and
says so (flag 4). Hosts with the C runtime at hand link that instead.
"""
import math
import struct
import sys

NONE = 0xFFFFFFFF
FALLBACK, STRETCHED, LOST, NOT_FINITE, INVERTED = 1, 2, 4, 8, 16


def read_table(path):
    with open(path, "rb") as file:
        data = file.read()
    if data[:8] != b"\x89TTB\r\n\x1a\n":
        raise SystemExit(path + ": not a binding table")
    if struct.unpack_from("<2I", data, 8) != (0x01020304, 1):
        raise SystemExit(path + ": unknown byte order or format")
    file_bytes, checksum = struct.unpack_from("<2Q", data, 16)
    if file_bytes != len(data):
        raise SystemExit(path + ": cut short, or bytes after its end")
    state = 0xCBF29CE484222325
    for i, word in enumerate(struct.unpack("<%dQ" % (len(data) // 8), data)):
        if i != 3:
            state = ((state ^ word) * 0x100000001B3) & 0xFFFFFFFFFFFFFFFF
    if state != checksum:
        raise SystemExit(path + ": wrong checksum")
    vertex_count, _, binding_count, patch_count = struct.unpack_from("<4I", data, 60)
    bindings_at, patches_at, vertices_at, weights_at, details_at, texts_at, text_data_at = struct.unpack_from("<7Q", data, 96)

    patches = []
    for p in range(patch_count):
        first, count, reach = struct.unpack_from("<2Id", data, patches_at + 112 * p)
        numbers = struct.unpack_from("<12d", data, patches_at + 112 * p + 16)
        patches.append({
            "reach": reach, "origin": numbers[:3], "frame": [numbers[3:6], numbers[6:9], numbers[9:12]],
            "vertices": struct.unpack_from("<%dI" % count, data, vertices_at + 4 * first),
            "weights": list(struct.iter_unpack("<3d", data[weights_at + 24 * first:weights_at + 24 * (first + count)])),
        })
    bindings = []
    for i in range(binding_count):
        chosen, fallback, trim, _ = struct.unpack_from("<4I", data, bindings_at + 16 * i)
        text, = struct.unpack_from("<I", data, details_at + 104 * i + 52)
        at, size = struct.unpack_from("<2I", data, texts_at + 8 * text)
        bindings.append({
            "trim": trim, "name": data[text_data_at + at:text_data_at + at + size].decode("utf-8", "replace"),
            "patch": None if chosen == NONE else patches[chosen],
            "fallback": None if fallback == NONE else patches[fallback],
        })
    return vertex_count, bindings


def dot(p, q):
    return p[0] * q[0] + p[1] * q[1] + p[2] * q[2]


def cross(p, q):
    return (p[1] * q[2] - p[2] * q[1], p[2] * q[0] - p[0] * q[2], p[0] * q[1] - p[1] * q[0])


def look_at(patch, cloth):
    """The sums of a patch and how far to believe them."""
    base = cloth[patch["vertices"][0]]
    o, t, b, spread = list(base), [0.0] * 3, [0.0] * 3, 0.0
    for vertex, (wc, wa, wb) in zip(patch["vertices"], patch["weights"]):
        rel = [x - y for x, y in zip(cloth[vertex], base)]
        for k in range(3):
            o[k] += wc * rel[k]
            t[k] += wa * rel[k]
            b[k] += wb * rel[k]
        spread = max(spread, dot(rel, rel))
    if not all(abs(x) <= 1e18 for x in o + t + b):  # False for NaN
        return {"belief": "not finite"}
    n = cross(t, b)
    d, squares = math.sqrt(dot(n, n)), dot(t, t) + dot(b, b)
    s1 = (math.sqrt(squares + 2 * d) + math.sqrt(max(squares - 2 * d, 0.0))) / 2
    s2 = d / s1 if s1 > 0 else 0.0
    reach = 4 * patch["reach"]
    state = {"o": o, "t": t, "b": b, "n": n, "d": d}
    if s2 > 0.1 and s1 < 4 and (reach == 0 or spread <= reach * reach):
        state["belief"] = "good"
    elif d > 0.001 * squares:
        state["belief"] = "stretched"
        state["excess"] = max(s1 / 4, 0.1 / s2, math.sqrt(spread) / reach if reach > 0 else 0.0)
    else:
        state["belief"] = "collapsed"
    return state


def rigid(patch, state):
    """Rotation and translation: x -> R x + T."""
    t, b, d = state["t"], state["b"], state["d"]
    tt, bb, tb = dot(t, t), dot(b, b), dot(t, b)
    scale = 1 / (d * math.sqrt(tt + bb + 2 * d))
    u = [((bb + d) * t[k] - tb * b[k]) * scale for k in range(3)]
    v = [((tt + d) * b[k] - tb * t[k]) * scale for k in range(3)]
    uu, vv, uv = (3 - dot(u, u)) / 2, (3 - dot(v, v)) / 2, dot(u, v) / 2  # squares what rounding left
    u, v = [uu * x - uv * y for x, y in zip(u, v)], [vv * y - uv * x for x, y in zip(u, v)]
    n = cross(u, v)
    rotation = [[u[i] * row[0] + v[i] * row[1] + n[i] * row[2] for row in patch["frame"]] for i in range(3)]
    return rotation, [state["o"][i] - dot(rotation[i], patch["origin"]) for i in range(3)]


def follow(binding, cloth):
    chosen, other = binding["patch"], binding["fallback"]
    first = look_at(chosen, cloth) if chosen else {"belief": "collapsed"}
    second = look_at(other, cloth) if other else {"belief": "none"}
    if first["belief"] == "good":
        if len(chosen["vertices"]) <= 3 and second["belief"] == "good":
            # A single triangle may be turned over while the cloth around it is whole.
            at_rest = sum(p[2] * q[2] for p, q in zip(chosen["frame"], other["frame"]))
            if dot(first["n"], second["n"]) * at_rest < 0:
                return rigid(other, second), FALLBACK | INVERTED
        return rigid(chosen, first), 0
    flags = NOT_FINITE if first["belief"] == "not finite" else 0
    if second["belief"] == "good":
        return rigid(other, second), flags | FALLBACK
    one, two = first["belief"] == "stretched", second["belief"] == "stretched"
    if one and (not two or first["excess"] <= second["excess"]):
        return rigid(chosen, first), flags | STRETCHED
    if two:
        return rigid(other, second), flags | STRETCHED | FALLBACK
    return ([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]], [0.0, 0.0, 0.0]), flags | LOST


def quaternion(r):
    """x y z w of a rotation, w >= 0, dividing by the largest of four candidates."""
    trace = r[0][0] + r[1][1] + r[2][2]
    pivots = [r[0][0], r[1][1], r[2][2], trace]
    k = pivots.index(max(pivots))
    if k == 3:
        q = [r[2][1] - r[1][2], r[0][2] - r[2][0], r[1][0] - r[0][1], 1 + trace]
    else:
        i, j = (k + 1) % 3, (k + 2) % 3
        q = [0.0] * 4
        q[k] = 1 + r[k][k] - r[i][i] - r[j][j]
        q[i] = r[k][i] + r[i][k]
        q[j] = r[k][j] + r[j][k]
        q[3] = r[j][i] - r[i][j]
    norm = math.copysign(math.sqrt(sum(x * x for x in q)), q[3])
    return [x / norm for x in q]


def read_vertices(path):
    with open(path, encoding="utf-8") as file:
        return [tuple(float(x) for x in line.split()[1:4]) for line in file if line.startswith("v ")]


def main(table_path, frame_path):
    vertex_count, bindings = read_table(table_path)
    cloth = read_vertices(frame_path)
    if len(cloth) != vertex_count:
        raise SystemExit("%s: %d vertices where the table's cloth has %d" % (frame_path, len(cloth), vertex_count))
    print("trim,name,tx,ty,tz,qx,qy,qz,qw,flags")
    for binding in bindings:
        (rotation, translation), flags = follow(binding, cloth)
        numbers = translation + quaternion(rotation)
        print("%d,%s,%s,%d" % (binding["trim"], binding["name"], ",".join("%.12g" % x for x in numbers), flags))


if __name__ == "__main__":
    if len(sys.argv) != 3:
        raise SystemExit("usage: follow_in_python.py bindings.ttb frame.obj")
    sys.stdout.reconfigure(encoding="utf-8")
    main(sys.argv[1], sys.argv[2])
