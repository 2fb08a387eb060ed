#!/usr/bin/env python3
# SPDX-License-Identifier: MIT
"""Writes the conformance vectors: a cloth, a table in both forms, deformed cloths and the exact poses.

Nothing here comes from the C++ library. Weights, rest frames and poses are computed with 50 decimal digits; the rotation
is the polar factor by the eigenvectors of G^T G (Higham 1986), not by the closed form that the runtime uses; the
binary table is written from src/runtime/FORMAT.md with struct. Standard library only. Run: make_vectors.py FOLDER
"""
import json
import math
import os
import random
import struct
import sys
from decimal import Decimal, getcontext

getcontext().prec = 50
D = Decimal
NONE = 0xFFFFFFFF
NX, NY, STEP = 11, 9, 5.0

# Limits of FORMAT.md, "When the cloth has no answer".
SMALLEST, LARGEST, REACH, COLLAPSED = D("0.1"), D(4), D(4), D("0.001")
FALLBACK, STRETCHED, LOST, NOT_FINITE, INVERTED = 1, 2, 4, 8, 16


def sub(p, q):
    return [a - b for a, b in zip(p, q)]


def dot(p, q):
    return sum((a * b for a, b in zip(p, q)), D(0))


def cross(p, q):
    return [p[1] * q[2] - p[2] * q[1], p[2] * q[0] - p[0] * q[2], p[0] * q[1] - p[1] * q[0]]


def unit(p):
    length = dot(p, p).sqrt()
    return [x / length for x in p]


def exact(points):
    return [[D(x) if math.isfinite(x) else None for x in p] for p in points]


def polar(t, b):
    """Columns u, v, n of the rotation nearest to [t b], by the eigenvectors of the 2x2 matrix G^T G."""
    tt, bb, tb = dot(t, t), dot(b, b), dot(t, b)
    half, mean = (tt - bb) / 2, (tt + bb) / 2
    radius = (half * half + tb * tb).sqrt()
    large, small = (mean + radius).sqrt(), (max(mean - radius, D(0))).sqrt()
    if tb == 0 and half == 0:
        e = [D(1), D(0)]
    elif half > 0:
        e = unit([half + radius, tb])
    else:
        e = unit([tb, radius - half])
    f = [-e[1], e[0]]
    # G S^-1 with S^-1 = e e^T / large + f f^T / small.
    s = [[e[i] * e[j] / large + f[i] * f[j] / small for j in range(2)] for i in range(2)]
    u = [t[k] * s[0][0] + b[k] * s[1][0] for k in range(3)]
    v = [t[k] * s[0][1] + b[k] * s[1][1] for k in range(3)]
    return [u, v, cross(u, v)]


def stretches(t, b):
    tt, bb, tb = dot(t, t), dot(b, b), dot(t, b)
    half, mean = (tt - bb) / 2, (tt + bb) / 2
    radius = (half * half + tb * tb).sqrt()
    return (mean + radius).sqrt(), max(mean - radius, D(0)).sqrt()


def sums(patch, cloth):
    q = [cloth[i] for i in patch["vertices"]]
    if any(x is None for p in q for x in p):
        return None
    # c sums to 1 and a, b to 0 only to rounding: sums are over differences from the first vertex (FORMAT.md).
    rel = [sub(p, q[0]) for p in q]
    weighted = lambda w: [sum((D(w[i]) * rel[i][k] for i in range(len(q))), D(0)) for k in range(3)]
    o = [x + y for x, y in zip(q[0], weighted(patch["c"]))]
    spread = max(dot(r, r) for r in rel).sqrt()
    return o, weighted(patch["a"]), weighted(patch["b"]), spread


def belief(patch, cloth):
    s = sums(patch, cloth)
    if s is None:
        return "not finite", s
    large, small = stretches(s[1], s[2])
    whole = s[3] <= REACH * D(patch["reach"])
    if SMALLEST < small and large < LARGEST and whole:
        return "good", s
    area, squares = large * small, large * large + small * small
    return ("stretched" if area > COLLAPSED * squares else "collapsed"), s


def excess(patch, s):
    large, small = stretches(s[1], s[2])
    return max(large / LARGEST, SMALLEST / small, s[3] / (REACH * D(patch["reach"])))


def motion(patch, s):
    now = polar(s[1], s[2])
    rest = [[D(patch["frame"][r][c]) for r in range(3)] for c in range(3)]
    rotation = [[sum((now[c][i] * rest[c][j] for c in range(3)), D(0)) for j in range(3)] for i in range(3)]
    origin = [D(x) for x in patch["origin"]]
    translation = [s[0][i] - dot(rotation[i], origin) for i in range(3)]
    return rotation, translation, now


def follow(binding, cloth):
    """(flags, rotation, translation); rotation None where the pose is lost."""
    kind, s = belief(binding, cloth)
    other = binding["fallback"]
    other_kind, other_s = belief(other, cloth) if other else ("none", None)
    if kind == "good":
        rotation, translation, now = motion(binding, s)
        if len(binding["vertices"]) <= 3 and other_kind == "good":
            turned, shift, around = motion(other, other_s)
            at_rest = sum(D(binding["frame"][r][2]) * D(other["frame"][r][2]) for r in range(3))
            if dot(now[2], around[2]) * at_rest < 0:
                return FALLBACK | INVERTED, turned, shift
        return 0, rotation, translation
    flags = NOT_FINITE if kind == "not finite" else 0
    if other_kind == "good":
        return (flags | FALLBACK, *motion(other, other_s)[:2])
    first, second = kind == "stretched", other_kind == "stretched"
    if first and (not second or excess(binding, s) <= excess(other, other_s)):
        return (flags | STRETCHED, *motion(binding, s)[:2])
    if second:
        return (flags | STRETCHED | FALLBACK, *motion(other, other_s)[:2])
    return flags | LOST, None, None


def fit(cloth, vertices, anchor, u, v, order):
    """Least squares derivatives at the anchor of a polynomial of this order in the tangent plane."""
    def terms(p):
        x, y = dot(sub(p, anchor), u) / 10, dot(sub(p, anchor), v) / 10
        return [D(1), x, y] + ([x * x, x * y, y * y] if order == 2 else [])
    rows = [terms(cloth[i]) for i in vertices]
    n = len(rows[0])
    m = [[sum((r[i] * r[j] for r in rows), D(0)) for j in range(n)] for i in range(n)]
    out = []
    for which in (1, 2):
        a = [row[:] + [D(1) if i == which else D(0)] for i, row in enumerate(m)]
        for i in range(n):
            pivot = max(range(i, n), key=lambda r: abs(a[r][i]))
            a[i], a[pivot] = a[pivot], a[i]
            for r in range(n):
                if r != i:
                    f = a[r][i] / a[i][i]
                    a[r] = [x - f * y for x, y in zip(a[r], a[i])]
        x = [a[i][n] / a[i][i] for i in range(n)]
        out.append([sum((x[i] * r[i] for i in range(n)), D(0)) / 10 for r in rows])
    return out


def make_patch(cloth, triangle, weights, order, radius):
    anchor = [sum((D(w) * cloth[i][k] for w, i in zip(weights, triangle)), D(0)) for k in range(3)]
    e1, e2 = sub(cloth[triangle[1]], cloth[triangle[0]]), sub(cloth[triangle[2]], cloth[triangle[0]])
    u = unit(e1)
    v = cross(unit(cross(e1, e2)), u)
    vertices = list(triangle)
    if order > 0:
        near = lambda i: dot(sub(cloth[i], anchor), sub(cloth[i], anchor)) <= D(radius) * D(radius)
        vertices += [i for i in range(len(cloth)) if i not in triangle and near(i)]
    a, b = fit(cloth, vertices, anchor, u, v, order)
    c = list(weights) + [0.0] * (len(vertices) - 3)
    patch = {"vertices": vertices, "c": c, "a": [float(x) for x in a], "b": [float(x) for x in b]}
    o, t, bb, spread = sums(patch, cloth)
    frame = polar(t, bb)
    patch["origin"] = [float(x) for x in o]
    patch["frame"] = [[float(frame[col][row]) for col in range(3)] for row in range(3)]
    patch["reach"] = float(spread)
    return patch


def make_cloth():
    rng = random.Random(20)
    points = []
    for j in range(NY):
        for i in range(NX):
            x = i * STEP + rng.uniform(-1, 1)
            y = j * STEP + rng.uniform(-1, 1)
            points.append([120 + x, 900 + y, 40 - x * x / 400])
    faces = []
    for j in range(NY - 1):
        for i in range(NX - 1):
            k = j * NX + i
            faces.append([k, k + 1, k + NX + 1, k + NX])
    return points, faces


def triangle_at(i, j, upper):
    k = j * NX + i
    return [k, k + NX + 1, k + NX] if upper else [k, k + 1, k + NX + 1]


def make_bindings(cloth):
    # (name, role, cell, upper triangle, weights, chosen (order, radius), fallback or None)
    plan = [
        ("front button 1", "trim", (4, 4), False, [0.5, 0.25, 0.25], (0, 0), (1, 12)),
        ("front button 2", "trim", (6, 3), True, [0.25, 0.25, 0.5], (1, 12), (0, 0)),
        ("pocket rivet", "trim", (3, 5), False, [0.125, 0.375, 0.5], (2, 14), (0, 0)),
        ("hem eyelet", "trim", (5, 0), False, [0.5, 0.5, 0.0], (2, 16), None),
        ("bar tack", "stitching", (8, 6), True, [0.25, 0.5, 0.25], (0, 0), None),
        ("cuff snap \u2116 5", "trim", (1, 2), True, [0.375, 0.375, 0.25], (0, 0), (1, 13)),
    ]
    bindings = []
    for trim, (name, role, cell, upper, weights, chosen, fallback) in enumerate(plan):
        triangle = triangle_at(cell[0], cell[1], upper)
        binding = {"trim": trim, "name": name, "role": role,
                   "anchor": {"face": cell[1] * (NX - 1) + cell[0], "triangle": triangle, "weights": weights}}
        binding.update(make_patch(cloth, triangle, weights, *chosen))
        binding["fallback"] = make_patch(cloth, triangle, weights, *fallback) if fallback else None
        binding.update({"gap": trim / 8, "layer": trim % 2, "runner_up": 1 if trim == 3 else None, "order": chosen[0],
                        "radius": float(chosen[1]),
                        "predicted": {"jitter_deg_per_mm": 5.5 + trim, "bias_deg": 0.25, "error_deg": 0.5},
                        "notes": ["sits on the cloth's edge"] if trim == 3 else []})
        bindings.append(binding)
    return bindings


def make_frames(points, bindings):
    rng = random.Random(21)
    frames = {"rest": points}
    c, s = math.cos(1.1), math.sin(1.1)
    frames["rigid"] = [[c * x - s * z + 30, y - 70, s * x + c * z + 5] for x, y, z in points]
    frames["shear"] = [[x + 0.5 * (y - 900), y, z + 0.25 * (y - 900)] for x, y, z in points]
    frames["bend"] = [[120 + 30 * math.sin((x - 120) / 30), y, 40 - 30 * (1 - math.cos((x - 120) / 30))]
                      for x, y, z in points]
    frames["noise"] = [[v + rng.gauss(0, 0.4) for v in p] for p in points]
    bad = [list(p) for p in points]
    t = bindings[0]["anchor"]["triangle"]
    bad[t[2]] = [(p + q) / 2 for p, q in zip(bad[t[0]], bad[t[1]])]  # collapsed: the fallback answers
    bad[bindings[4]["vertices"][1]] = [float("nan")] * 3  # no fallback: lost
    t = bindings[5]["vertices"]
    bad[t[1]], bad[t[2]] = bad[t[2]], bad[t[1]]  # turned over in its surroundings
    far = bindings[1]["vertices"][-1]
    bad[far] = [p + q for p, q in zip(bad[far], (0, 0, 90))]  # torn: the fallback answers
    frames["degenerate"] = bad
    frames["stretched"] = [[6 * x, y, z] for x, y, z in points]  # no cloth does this
    return frames


def fingerprint(vertices, faces):
    state = 0xCBF29CE484222325
    def add(number):
        nonlocal state
        for byte in struct.pack("<I", number):
            state = ((state ^ byte) * 0x100000001B3) & 0xFFFFFFFFFFFFFFFF
    add(vertices)
    for face in faces:
        add(len(face))
        for i in face:
            add(i)
    return state


def write_ttb(table):
    """The binary form, from FORMAT.md."""
    patches, bindings, details, texts = [], b"", b"", []
    def number(i):
        return NONE if i is None else i
    def add_text(text):
        texts.append(text.encode("utf-8"))
        return len(texts) - 1
    add_text(table["unit"])
    add_text(table["cloth"]["file"])
    for reason in table["unit_reasons"]:
        add_text(reason)
    for b in table["bindings"]:
        patches.append(b)
        chosen, fallback = len(patches) - 1, NONE
        if b["fallback"]:
            patches.append(b["fallback"])
            fallback = len(patches) - 1
        role = ["cloth", "trim", "stitching"].index(b["role"])
        bindings += struct.pack("<4I", chosen, fallback, b["trim"], role)
        name = add_text(b["name"])
        for note in b["notes"]:
            add_text(note)
        details += struct.pack("<4I3d6I5d", number(b["anchor"]["face"]), *b["anchor"]["triangle"], *b["anchor"]["weights"],
                               number(b["layer"]), number(b["runner_up"]), b["order"], name, name + 1, len(b["notes"]),
                               b["gap"], b["radius"], b["predicted"]["jitter_deg_per_mm"], b["predicted"]["bias_deg"],
                               b["predicted"]["error_deg"])
    first, records, vertices, weights = 0, b"", b"", b""
    for p in patches:
        flat = [x for row in p["frame"] for x in row]
        records += struct.pack("<2I13d", first, len(p["vertices"]), p["reach"], *p["origin"], *flat)
        vertices += struct.pack("<%dI" % len(p["vertices"]), *p["vertices"])
        weights += b"".join(struct.pack("<3d", *w) for w in zip(p["c"], p["a"], p["b"]))
        first += len(p["vertices"])
    vertices += b"\0" * (-len(vertices) % 8)
    at, index = 0, b""
    for text in texts:
        index += struct.pack("<2I", at, len(text))
        at += len(text)
    data = b"".join(texts) + b"\0" * (-at % 8)
    sections, offsets, end = [bindings, records, vertices, weights, details, index, data], [], 160
    for section in sections:
        offsets.append(end)
        end += len(section)
    head = struct.pack("<8s2I3Q2d10I7QQ", b"\x89TTB\r\n\x1a\n", 0x01020304, 1, end, 0, int(table["cloth"]["hash"], 16),
                       table["mm_per_unit"], table["unit_confidence"], {"y": 1, "z": 2}[table["up"]],
                       table["cloth"]["vertices"], table["cloth"]["faces"], len(table["bindings"]), len(patches), first,
                       len(texts), at, len(table["unit_reasons"]), 0, *offsets, 0)
    whole = bytearray(head + b"".join(sections))
    state = 0xCBF29CE484222325
    for i, word in enumerate(struct.unpack("<%dQ" % (len(whole) // 8), whole)):
        if i != 3:
            state = ((state ^ word) * 0x100000001B3) & 0xFFFFFFFFFFFFFFFF
    whole[24:32] = struct.pack("<Q", state)
    return bytes(whole)


def write_obj(path, points, faces):
    with open(path, "w", newline="\n") as out:
        for p in points:
            out.write("v " + " ".join(repr(x) for x in p) + "\n")
        for face in faces:
            out.write("f " + " ".join(str(i + 1) for i in face) + "\n")


def main(folder):
    points, faces = make_cloth()
    bindings = make_bindings(exact(points))
    table = {"format": "trimtack-bindings", "version": 1, "unit": "mm", "mm_per_unit": 1.0, "unit_confidence": 1.0,
             "unit_reasons": ["declared"], "up": "y",
             "cloth": {"file": "cloth.obj", "vertices": len(points), "faces": len(faces),
                       "hash": "%016x" % fingerprint(len(points), faces)},
             "bindings": bindings}
    os.makedirs(os.path.join(folder, "frames"), exist_ok=True)
    write_obj(os.path.join(folder, "cloth.obj"), points, faces)
    with open(os.path.join(folder, "bindings.json"), "w", newline="\n") as out:
        json.dump(table, out, indent=None, separators=(", ", ": "))
        out.write("\n")
    with open(os.path.join(folder, "bindings.ttb"), "wb") as out:
        out.write(write_ttb(table))
    expected = []
    for name, frame in make_frames(points, bindings).items():
        write_obj(os.path.join(folder, "frames", name + ".obj"), frame, faces)
        cloth, poses = exact(frame), []
        for binding in bindings:
            flags, rotation, translation = follow(binding, cloth)
            matrix = rotation and [[float(x) for x in row] + [float(translation[i])] for i, row in enumerate(rotation)]
            poses.append({"trim": binding["trim"], "flags": flags, "matrix": matrix})
        expected.append({"frame": name, "file": "frames/" + name + ".obj", "poses": poses})
    with open(os.path.join(folder, "expected.json"), "w", newline="\n") as out:
        json.dump({"format": "trimtack-expected-poses", "version": 1, "frames": expected}, out, indent=1)
        out.write("\n")


if __name__ == "__main__":
    if len(sys.argv) != 2:
        raise SystemExit(__doc__)
    main(sys.argv[1])
