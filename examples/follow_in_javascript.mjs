// SPDX-License-Identifier: MIT
// Follow a deformed cloth in plain JavaScript: one pose per trim.
//
//   node follow_in_javascript.mjs bindings.ttb frame.obj
//
// Prints trim, name, translation, quaternion and flags as CSV. An evaluator of its own, written from
// src/runtime/FORMAT.md, without dependencies; `readTable` and `follow` also run in a browser. It follows the chosen patch,
// then the fallback; a trim with neither keeps its rest pose and says so (flag 4).

const NONE = 0xffffffff;
const FALLBACK = 1, STRETCHED = 2, LOST = 4, NOT_FINITE = 8, INVERTED = 16;

/** Views of a binary table: typed arrays straight into the buffer. */
export function readTable(buffer) {
  const view = new DataView(buffer);
  const magic = [0x89, 0x54, 0x54, 0x42, 0x0d, 0x0a, 0x1a, 0x0a];
  if (buffer.byteLength < 160 || magic.some((byte, i) => view.getUint8(i) !== byte)) throw new Error("not a binding table");
  if (view.getUint32(8, true) !== 0x01020304 || view.getUint32(12, true) !== 1) throw new Error("unknown byte order or format");
  if (view.getBigUint64(16, true) !== BigInt(buffer.byteLength)) throw new Error("cut short, or bytes after its end");
  checkSum(buffer, view.getBigUint64(24, true));
  const [vertexCount, , bindingCount, patchCount, itemCount] = [0, 4, 8, 12, 16].map((at) => view.getUint32(60 + at, true));
  const [bindingsAt, patchesAt, verticesAt, weightsAt, detailsAt, textsAt, textDataAt] =
    [0, 1, 2, 3, 4, 5, 6].map((k) => Number(view.getBigUint64(96 + 8 * k, true)));
  const vertices = new Uint32Array(buffer, verticesAt, itemCount);
  const weights = new Float64Array(buffer, weightsAt, 3 * itemCount);
  const patches = [];
  for (let p = 0; p < patchCount; ++p) {
    const at = patchesAt + 112 * p;
    const first = view.getUint32(at, true), count = view.getUint32(at + 4, true);
    patches.push({
      vertices: vertices.subarray(first, first + count), weights: weights.subarray(3 * first, 3 * (first + count)),
      reach: view.getFloat64(at + 8, true), origin: new Float64Array(buffer, at + 16, 3),
      frame: new Float64Array(buffer, at + 40, 9),
    });
  }
  const decoder = new TextDecoder();
  const bindings = [];
  for (let i = 0; i < bindingCount; ++i) {
    const [chosen, fallback, trim] = [0, 4, 8].map((at) => view.getUint32(bindingsAt + 16 * i + at, true));
    const text = textsAt + 8 * view.getUint32(detailsAt + 104 * i + 52, true);
    const name = decoder.decode(new Uint8Array(buffer, textDataAt + view.getUint32(text, true), view.getUint32(text + 4, true)));
    bindings.push({ trim, name, patch: chosen === NONE ? null : patches[chosen], fallback: fallback === NONE ? null : patches[fallback] });
  }
  return { vertexCount, bindings };
}

function checkSum(buffer, expected) {
  const words = new BigUint64Array(buffer);  // little-endian machines, as all that run browsers today
  let state = 0xcbf29ce484222325n;
  words.forEach((word, i) => {
    if (i !== 3) state = BigInt.asUintN(64, (state ^ word) * 0x100000001b3n);
  });
  if (state !== expected) throw new Error("wrong checksum");
}

const dot = (p, q) => p[0] * q[0] + p[1] * q[1] + p[2] * q[2];
const cross = (p, q) => [p[1] * q[2] - p[2] * q[1], p[2] * q[0] - p[0] * q[2], p[0] * q[1] - p[1] * q[0]];

/** The sums of a patch and how far to believe them. cloth: x y z of all vertices. */
function lookAt(patch, cloth) {
  const base = cloth.subarray(3 * patch.vertices[0], 3 * patch.vertices[0] + 3);
  const o = [base[0], base[1], base[2]], t = [0, 0, 0], b = [0, 0, 0], rel = [0, 0, 0];
  let spread = 0;
  patch.vertices.forEach((vertex, i) => {
    for (let k = 0; k < 3; ++k) {
      rel[k] = cloth[3 * vertex + k] - base[k];
      o[k] += patch.weights[3 * i] * rel[k];
      t[k] += patch.weights[3 * i + 1] * rel[k];
      b[k] += patch.weights[3 * i + 2] * rel[k];
    }
    spread = Math.max(spread, dot(rel, rel));
  });
  if (![...o, ...t, ...b].every((x) => Math.abs(x) <= 1e18)) return { belief: "not finite" };
  const n = cross(t, b), d = Math.sqrt(dot(n, n)), squares = dot(t, t) + dot(b, b);
  const s1 = (Math.sqrt(squares + 2 * d) + Math.sqrt(Math.max(squares - 2 * d, 0))) / 2, s2 = s1 > 0 ? d / s1 : 0;
  const reach = 4 * patch.reach;
  const state = { o, t, b, n, d };
  if (s2 > 0.1 && s1 < 4 && (reach === 0 || spread <= reach * reach)) return { ...state, belief: "good" };
  if (!(d > 0.001 * squares)) return { ...state, belief: "collapsed" };
  return { ...state, belief: "stretched", excess: Math.max(s1 / 4, 0.1 / s2, reach > 0 ? Math.sqrt(spread) / reach : 0) };
}

/** Rotation (row-major) and translation: x -> R x + T. */
function rigid(patch, { o, t, b, d }) {
  const tt = dot(t, t), bb = dot(b, b), tb = dot(t, b), scale = 1 / (d * Math.sqrt(tt + bb + 2 * d));
  const u = t.map((x, k) => ((bb + d) * x - tb * b[k]) * scale), v = b.map((x, k) => ((tt + d) * x - tb * t[k]) * scale);
  const uu = (3 - dot(u, u)) / 2, vv = (3 - dot(v, v)) / 2, uv = dot(u, v) / 2;  // squares what rounding left
  const x = u.map((c, k) => uu * c - uv * v[k]), y = v.map((c, k) => vv * c - uv * u[k]), n = cross(x, y);
  const rotation = [], f = patch.frame;
  for (let i = 0; i < 3; ++i)
    for (let j = 0; j < 3; ++j) rotation.push(x[i] * f[3 * j] + y[i] * f[3 * j + 1] + n[i] * f[3 * j + 2]);
  const translation = o.map((c, i) => c - dot(rotation.slice(3 * i, 3 * i + 3), patch.origin));
  return { rotation, translation };
}

/** { rotation, translation, flags } of one binding on a cloth (Float64Array or Float32Array of x y z). */
export function follow(binding, cloth) {
  const { patch, fallback } = binding;
  const first = patch ? lookAt(patch, cloth) : { belief: "collapsed" };
  const second = fallback ? lookAt(fallback, cloth) : { belief: "none" };
  if (first.belief === "good") {
    if (patch.vertices.length <= 3 && second.belief === "good") {
      // A single triangle may be turned over while the cloth around it is whole.
      const atRest = [2, 5, 8].reduce((sum, k) => sum + patch.frame[k] * fallback.frame[k], 0);
      if (dot(first.n, second.n) * atRest < 0) return { ...rigid(fallback, second), flags: FALLBACK | INVERTED };
    }
    return { ...rigid(patch, first), flags: 0 };
  }
  const flags = first.belief === "not finite" ? NOT_FINITE : 0;
  if (second.belief === "good") return { ...rigid(fallback, second), flags: flags | FALLBACK };
  const one = first.belief === "stretched", two = second.belief === "stretched";
  if (one && (!two || first.excess <= second.excess)) return { ...rigid(patch, first), flags: flags | STRETCHED };
  if (two) return { ...rigid(fallback, second), flags: flags | STRETCHED | FALLBACK };
  return { rotation: [1, 0, 0, 0, 1, 0, 0, 0, 1], translation: [0, 0, 0], flags: flags | LOST };
}

/** x y z w of a rotation, w >= 0, dividing by the largest of four candidates. */
export function quaternion(r) {
  const trace = r[0] + r[4] + r[8], pivots = [r[0], r[4], r[8], trace], k = pivots.indexOf(Math.max(...pivots));
  let q = [r[7] - r[5], r[2] - r[6], r[3] - r[1], 1 + trace];
  if (k < 3) {
    const i = (k + 1) % 3, j = (k + 2) % 3, at = (row, col) => r[3 * row + col];
    q = [0, 0, 0, at(j, i) - at(i, j)];
    q[k] = 1 + at(k, k) - at(i, i) - at(j, j);
    q[i] = at(k, i) + at(i, k);
    q[j] = at(k, j) + at(j, k);
  }
  const norm = Math.sqrt(q.reduce((sum, x) => sum + x * x, 0)) * (q[3] < 0 ? -1 : 1);
  return q.map((x) => x / norm);
}

async function main(tablePath, framePath) {
  const { readFileSync } = await import("node:fs");
  const bytes = readFileSync(tablePath);
  const table = readTable(bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.byteLength));
  const rows = readFileSync(framePath, "utf8").split("\n").filter((line) => line.startsWith("v "));
  const cloth = Float64Array.from(rows.flatMap((line) => line.trim().split(/\s+/).slice(1, 4).map(Number)));
  if (cloth.length !== 3 * table.vertexCount)
    throw new Error(`${framePath}: ${cloth.length / 3} vertices where the table's cloth has ${table.vertexCount}`);
  const text = (x) => String(Number(x.toPrecision(12)));
  console.log("trim,name,tx,ty,tz,qx,qy,qz,qw,flags");
  for (const binding of table.bindings) {
    const pose = follow(binding, cloth);
    console.log([binding.trim, binding.name, ...[...pose.translation, ...quaternion(pose.rotation)].map(text), pose.flags].join(","));
  }
}

if (typeof process !== "undefined" && process.argv[1] && import.meta.url.endsWith(process.argv[1].split("/").pop())) {
  if (process.argv.length !== 4) {
    console.error("usage: node follow_in_javascript.mjs bindings.ttb frame.obj");
    process.exit(2);
  }
  await main(process.argv[2], process.argv[3]).catch((error) => {
    console.error(error.message);
    process.exit(1);
  });
}
