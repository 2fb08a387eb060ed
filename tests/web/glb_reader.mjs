// SPDX-License-Identifier: MIT
// A small evaluator of GLB files, written from the glTF 2.0 specification: what a host would compute.

export function openGlb(bytes) {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  if (view.getUint32(0, true) !== 0x46546c67 || view.getUint32(4, true) !== 2) throw new Error('not a GLB 2 file');
  if (view.getUint32(8, true) !== bytes.byteLength) throw new Error('the length in the header is not the file\'s');
  let json = null, bin = null;
  for (let at = 12; at < bytes.byteLength;) {
    const size = view.getUint32(at, true), type = view.getUint32(at + 4, true);
    const chunk = bytes.subarray(at + 8, at + 8 + size);
    if (type === 0x4e4f534a) json = JSON.parse(new TextDecoder('utf-8', { fatal: true }).decode(chunk));
    if (type === 0x004e4942) bin = chunk;
    at += 8 + size;
  }
  return { json, bin };
}

const kComponents = { SCALAR: 1, VEC2: 2, VEC3: 3, VEC4: 4, MAT4: 16 };
const kReaders = { 5121: ['getUint8', 1], 5123: ['getUint16', 2], 5125: ['getUint32', 4], 5126: ['getFloat32', 4] };

// An accessor as a flat array of numbers.
export function read(glb, index) {
  const accessor = glb.json.accessors[index], view = glb.json.bufferViews[accessor.bufferView];
  const [method, size] = kReaders[accessor.componentType], components = kComponents[accessor.type];
  const data = new DataView(glb.bin.buffer, glb.bin.byteOffset, glb.bin.byteLength);
  const start = (view.byteOffset ?? 0) + (accessor.byteOffset ?? 0), stride = view.byteStride ?? size * components;
  const out = new Float64Array(accessor.count * components);
  for (let i = 0; i < accessor.count; ++i) {
    for (let c = 0; c < components; ++c) out[i * components + c] = data[method](start + i * stride + c * size, true);
  }
  return out;
}

export function transform(point, t, q, s) {
  const [x, y, z] = [point[0] * s[0], point[1] * s[1], point[2] * s[2]], [a, b, c, w] = q;
  // p + 2 w (v x p) + 2 v x (v x p)
  const u = [b * z - c * y, c * x - a * z, a * y - b * x];
  return [
    x + 2 * (w * u[0] + b * u[2] - c * u[1]) + t[0],
    y + 2 * (w * u[1] + c * u[0] - a * u[2]) + t[1],
    z + 2 * (w * u[2] + a * u[1] - b * u[0]) + t[2],
  ];
}

// Value of each animated (node, path) at key `k`.
export function keys(glb, k) {
  const values = new Map();
  for (const animation of glb.json.animations ?? []) {
    for (const channel of animation.channels) {
      const sampler = animation.samplers[channel.sampler];
      glb.cache ??= new Map();
      if (!glb.cache.has(sampler.output)) glb.cache.set(sampler.output, read(glb, sampler.output));
      const output = glb.cache.get(sampler.output), count = glb.json.accessors[sampler.input].count;
      const size = output.length / count;
      values.set(`${channel.target.node}/${channel.target.path}`, output.subarray(k * size, (k + 1) * size));
    }
  }
  return values;
}

// Triangle corners of a node's mesh in the space of its parent's parent-less root (one level deep), at key `k` (-1: rest).
export function cornersOf(glb, nodeIndex, k, instance = null) {
  const node = glb.json.nodes[nodeIndex], root = glb.json.nodes[glb.json.scenes[0].nodes[0]];
  const animated = k < 0 ? new Map() : keys(glb, k);
  const t = animated.get(`${nodeIndex}/translation`) ?? instance?.t ?? node.translation ?? [0, 0, 0];
  const q = animated.get(`${nodeIndex}/rotation`) ?? instance?.q ?? node.rotation ?? [0, 0, 0, 1];
  const s = instance?.s ?? node.scale ?? [1, 1, 1], rootT = root.translation ?? [0, 0, 0];
  const weights = animated.get(`${nodeIndex}/weights`) ?? [];
  const out = [];
  for (const primitive of glb.json.meshes[node.mesh].primitives) {
    const points = read(glb, primitive.attributes.POSITION);
    for (let i = 0; i < weights.length; ++i) {
      if (weights[i] === 0) continue;
      const delta = read(glb, primitive.targets[i].POSITION);
      for (let j = 0; j < points.length; ++j) points[j] += weights[i] * delta[j];
    }
    for (const v of read(glb, primitive.indices)) {
      const p = transform(points.subarray(3 * v, 3 * v + 3), t, q, s);
      out.push(p[0] + rootT[0], p[1] + rootT[1], p[2] + rootT[2]);
    }
  }
  return out;
}

export function texcoordsOf(glb, nodeIndex) {
  const out = [];
  for (const primitive of glb.json.meshes[glb.json.nodes[nodeIndex].mesh].primitives) {
    const uv = read(glb, primitive.attributes.TEXCOORD_0);
    for (const v of read(glb, primitive.indices)) out.push(uv[2 * v], uv[2 * v + 1]);
  }
  return out;
}
