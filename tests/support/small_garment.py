#!/usr/bin/env python3
# SPDX-License-Identifier: MIT
"""Writes a small combined export for slow tools: a wavy sheet of 20 x 20 cells with six discs and four stitches.
    small_garment.py OUT.obj
"""
import math
import sys

out = []
cells = 20


def height(x):
    return 5 * math.sin(0.02 * x)


def vertex(x, y, z):
    out.append(f"v {x:.6f} {y:.6f} {z:.6f}")


for j in range(cells + 1):
    for i in range(cells + 1):
        vertex(10 * i, 10 * j, height(10 * i))
for j in range(cells):
    for i in range(cells):
        a = (cells + 1) * j + i + 1
        out.append(f"f {a} {a + 1} {a + cells + 2} {a + cells + 1}")
first = (cells + 1) ** 2 + 1


def prism(x, y, radius, thick, sides, stretch):
    global first
    for z in (0.1, thick):
        for k in range(sides):
            angle = 2 * math.pi * k / sides
            vertex(x + stretch * radius * math.cos(angle), y + radius * math.sin(angle), height(x) + z)
    for k in range(sides):
        a, b = first + k, first + (k + 1) % sides
        out.append(f"f {a} {b} {b + sides} {a + sides}")
    out.append("f " + " ".join(str(first + sides - 1 - k) for k in range(sides)))
    out.append("f " + " ".join(str(first + sides + k) for k in range(sides)))
    first += 2 * sides


for t in range(6):
    prism(60, 25 + 30 * t, 8, 3, 12, 1)
for t in range(4):
    prism(120, 40 + 6 * t, 0.3, 0.6, 6, 5)
with open(sys.argv[1], "w", encoding="ascii") as file:
    file.write("\n".join(out) + "\n")
