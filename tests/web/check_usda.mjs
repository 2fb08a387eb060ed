// SPDX-License-Identifier: MIT
// Every usda sample through two readers by others: one gives the values as written, which are evaluated as the
// PointInstancer schema says and compared with the scene; the other (a USD library) must accept the file's schemas.
import { readFileSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import { transform } from './glb_reader.mjs';

const folder = process.argv[2];
let failures = 0, compared = 0;
function check(condition, text) {
  if (!condition && ++failures < 50) console.log(`FAILED: ${text}`);
}

let parse = null, library = null;
try {
  ({ parse } = await import('@kroxilon/usda-parser/lib/usda-parser.peggy.js'));
  library = await openLibrary();
} catch (error) {
  console.log(`${error.message}: the USD readers are not installed (npm ci in tests/web): SKIPPED`);
  process.exit(77);
}

// The library's WebAssembly build is made for browsers; it needs no more than to believe that this is one.
async function openLibrary() {
  const wasmBinary = readFileSync(new URL('./node_modules/tinyusdz/tinyusdz.wasm', import.meta.url));
  globalThis.window = globalThis;
  process.type = 'renderer';
  const module = await (await import('tinyusdz/tinyusdz.js')).default({ wasmBinary, print: () => {}, printErr: () => {} });
  delete process.type;
  return module;
}

const child = (prim, name) => prim.statements.find((s) => s.type === 'definition' && s.name === name);
const attribute = (prim, name) => prim.statements.find((s) => s.reference === name)?.value;
const meta = (prim, name) => prim.descriptor?.assignments.find((a) => a.identifier === name)?.value;

// "name.timeSamples" as [[time, value], ...].
function samples(prim, name) {
  const found = prim.statements.find((s) => s.reference === `${name}.timeSamples`);
  if (found === undefined) return [];
  return found.value.declarations.values.map((sample) => [sample.index, sample.value]);
}

function largestDifference(a, b) {
  check(a.length === b.length, `lengths ${a.length} and ${b.length} differ`);
  let largest = 0;
  for (let i = 0; i < a.length; ++i) largest = Math.max(largest, Math.abs(a[i] - b[i]));
  return a.length === 0 ? Infinity : largest;
}

// The set of distinct points: enough to compare polygons with a triangle soup, in any order.
function pointSet(flat) {
  const keys = [];
  for (let i = 0; i < flat.length; i += 3) keys.push([flat[i], flat[i + 1], flat[i + 2]]);
  return keys;
}

// Every point of `soup` must be one of `points`.
function farthest(points, soup) {
  let largest = 0;
  for (const p of pointSet(soup)) {
    let nearest = Infinity;
    for (const q of points) nearest = Math.min(nearest, Math.hypot(p[0] - q[0], p[1] - q[1], p[2] - q[2]));
    largest = Math.max(largest, nearest);
  }
  return largest;
}

function checkSample(name, layer, expected, values) {
  const metres = layer.descriptor.assignments.find((a) => a.identifier === 'metersPerUnit').value;
  const up = layer.descriptor.assignments.find((a) => a.identifier === 'upAxis').value;
  check(layer.descriptor.assignments.find((a) => a.identifier === 'timeCodesPerSecond').value === expected.fps, `${name}: rate`);
  const garment = layer.statements.find((s) => s.name === 'garment');
  const shift = attribute(garment, 'xformOp:translate') ?? [0, 0, 0];
  const toHost = (p) => {
    const q = [p[0] + shift[0], p[1] + shift[1], p[2] + shift[2]];
    return (up === 'Y' ? q : [q[0], q[2], -q[1]]).map((v) => v * metres);
  };
  const cloth = child(garment, 'cloth'), trims = child(garment, 'trims');
  const prototypes = child(trims, 'prototypes');
  check(prototypes.subType === 'over', `${name}: prototypes are under an over`);
  const shapes = prototypes.statements.filter((s) => s.type === 'definition');
  check(attribute(trims, 'ids').join() === expected.trims.map((t) => t.trim).join(), `${name}: ids`);
  check(attribute(trims, 'trimNames').join() === expected.trims.map((t) => t.name).join(), `${name}: names`);
  const indices = attribute(trims, 'protoIndices'), scales = attribute(trims, 'scales');
  check(expected.trims.every((t, i) => meta(shapes[indices[i]], 'displayName') === t.shape), `${name}: display names`);
  check((scales !== undefined) === expected.trims.some((t) => t.name === 'cuff button'), `${name}: scales`);
  const perFrame = { points: samples(cloth, 'points'), positions: samples(trims, 'positions'), turns: samples(trims, 'orientationsf') };
  for (const list of Object.values(perFrame)) {
    check(list.map(([time]) => time).join() === expected.frames.join(), `${name}: time codes ${list.map(([t]) => t)}`);
  }
  const counts = attribute(cloth, 'faceVertexCounts'), corners = attribute(cloth, 'faceVertexIndices');
  check(counts.includes(6) && counts.reduce((a, b) => a + b) === corners.length, `${name}: polygons are kept`);
  const uv = attribute(cloth, 'primvars:st'), uvIndices = attribute(cloth, 'primvars:st:indices');
  check(uvIndices.length === corners.length && Math.max(...uvIndices) < uv.length, `${name}: UVs`);
  check(Math.max(...uv.map((p) => p[0])) > 1, `${name}: UVs of the second tile are not flipped or wrapped`);

  const tolerance = 1e-6 * expected.size;
  let at = 0, largest = 0, before = null;
  const next = (count) => values.subarray(at, at += count);
  for (let k = -1; k < expected.frames.length; ++k) {
    const points = k < 0 ? attribute(cloth, 'points') : perFrame.points[k][1];
    largest = Math.max(largest, farthest(points.map(toHost), next(3 * expected.cloth.corners)));
    const positions = k < 0 ? attribute(trims, 'positions') : perFrame.positions[k][1];
    const turns = k < 0 ? attribute(trims, 'orientationsf') : perFrame.turns[k][1];
    expected.trims.forEach((trim, i) => {
      const [w, x, y, z] = turns[i], s = scales?.[i] ?? [1, 1, 1];
      check(Math.abs(Math.hypot(w, x, y, z) - 1) < 1e-6, `${name}: Q2: unit quaternion of ${trim.name}`);
      if (before !== null) check(turns[i].reduce((sum, v, j) => sum + v * before[i][j], 0) >= 0, `${name}: T4: short path`);
      const shape = attribute(shapes[indices[i]], 'points');
      const placed = shape.map((p) => toHost(transform(p, positions[i], [x, y, z, w], s)));
      largest = Math.max(largest, farthest(placed, next(3 * trim.corners)));
      ++compared;
    });
    before = turns;
  }
  check(at === values.length, `${name}: all values compared`);
  check(largest <= tolerance, `${name}: largest difference ${largest} m, allowed ${tolerance} m`);
  console.log(`${name}: largest difference ${(largest / expected.size).toExponential(2)} of the garment's size`);
}

// A package as its specification wants it: stored files at multiples of 64 bytes, the layer first, pictures as they were.
function unpack(name, bytes) {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength), files = new Map(), end = bytes.length - 22;
  check(view.getUint32(end, true) === 0x06054b50, `${name}: end of the archive`);
  let at = view.getUint32(end + 16, true);
  for (let i = 0; i < view.getUint16(end + 10, true); ++i) {
    check(view.getUint32(at, true) === 0x02014b50, `${name}: central directory`);
    const crc = view.getUint32(at + 16, true), size = view.getUint32(at + 20, true), local = view.getUint32(at + 42, true);
    const file = bytes.subarray(at + 46, at + 46 + view.getUint16(at + 28, true)).toString();
    const start = local + 30 + view.getUint16(local + 26, true) + view.getUint16(local + 28, true);
    check(view.getUint16(at + 10, true) === 0 && view.getUint16(local + 8, true) === 0, `${name}: ${file} is stored`);
    check(start % 64 === 0, `${name}: ${file} starts at ${start}`);
    const data = bytes.subarray(start, start + size);
    check(crc32(data) === crc && view.getUint32(local + 14, true) === crc, `${name}: checksum of ${file}`);
    files.set(file, data);
    at += 46 + file.length;
  }
  check(at === end, `${name}: nothing between directory and end`);
  return files;
}

function crc32(data) {
  let crc = ~0;
  for (const byte of data) {
    crc ^= byte;
    for (let bit = 0; bit < 8; ++bit) crc = crc >>> 1 ^ (crc & 1 ? 0xedb88320 : 0);
  }
  return ~crc >>> 0;
}

function loads(name, bytes, file, decode = false) {
  const loader = new library.TinyUSDZLoaderNative();
  loader.setLoadTextureInNative(decode);
  check(loader.loadFromBinary(new Uint8Array(bytes), file), `${name}: the USD library says: ${loader.error()}`);
  check(loader.numMeshes() >= 1, `${name}: meshes in the USD library`);
  return loader;
}

function checkPackage(name, layer, expected) {
  const bytes = readFileSync(join(folder, `${name}.usdz`)), files = unpack(name, bytes);
  check([...files.keys()].join() === ['scene.usda', ...expected.pictures.map((p) => `textures/${p.name}`)].join(), `${name}: files`);
  check(files.get('scene.usda').equals(layer), `${name}: the layer is that of the usda`);
  for (const picture of expected.pictures) {
    check(files.get(`textures/${picture.name}`).toString('hex') === picture.hex, `${name}: ${picture.name} in the package`);
    check(readFileSync(join(folder, 'textures', picture.name)).toString('hex') === picture.hex, `${name}: ${picture.name} beside the usda`);
    check(layer.includes(`asset inputs:file = @textures/${picture.name}@`), `${name}: ${picture.name} is asked for`);
  }
  const loader = loads(`${name} as a package`, bytes, `${name}.usdz`, expected.pictures.length > 0);
  if (expected.pictures.length === 0) return;
  // The library decodes the pictures out of the package.
  const picture = (id) => loader.getImage(loader.getTexture(id).textureImageId);
  const [twill, horn] = [loader.getMaterial(0), loader.getMaterial(2)];
  const colour = picture(twill.diffuseColorTextureId), normal = picture(twill.normalTextureId);
  check(colour.decoded && colour.width === 8 && colour.colorSpace === 'srgb', `${name}: colour of twill`);
  check(normal.decoded && normal.width === 4 && normal.colorSpace === 'raw', `${name}: normals of twill`);
  const rough = picture(horn.roughnessTextureId), metal = picture(horn.metallicTextureId);
  check(rough.width === 4 && metal.width === 4 && rough.colorSpace === 'raw', `${name}: gloss of horn`);
  check(layer.includes('float4 inputs:scale = (1, 0.5, 0.25, 1)'), `${name}: factors of the gloss`);
  check(picture(horn.opacityTextureId).width === 8 && horn.opacityThreshold === 0.5, `${name}: horn is cut out`);
  check([...colour.data.subarray(0, 4)].join() === '40,0,0,255', `${name}: first pixel`);
}

const files = readdirSync(folder).filter((file) => file.endsWith('.usda')).sort();
check(files.length >= 6, `only ${files.length} samples found`);
for (const file of files) {
  const name = file.slice(0, -5), bytes = readFileSync(join(folder, file));
  const expected = JSON.parse(readFileSync(join(folder, `${name}.expected.json`), 'utf8'));
  const raw = readFileSync(join(folder, `${name}.expected.bin`));
  const values = new Float64Array(raw.buffer.slice(raw.byteOffset, raw.byteOffset + raw.byteLength));
  checkSample(name, parse(bytes.toString('utf8')), expected, values);
  loads(name, bytes, file);
  checkPackage(name, bytes, expected);
}
console.log(failures === 0 ? `passed: ${compared} poses compared` : `${failures} checks FAILED`);
process.exit(failures === 0 ? 0 : 1);
