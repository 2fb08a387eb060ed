// SPDX-License-Identifier: MIT
// Every GLB sample through the Khronos validator, and every key of it evaluated and compared with what the scene says.
import { readFileSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import { cornersOf, keys, openGlb, read, texcoordsOf } from './glb_reader.mjs';

const folder = process.argv[2];
let failures = 0, compared = 0;
function check(condition, text) {
  if (!condition) {
    ++failures;
    if (failures < 50) console.log(`FAILED: ${text}`);
  }
}

let validator = null;
try {
  validator = (await import('gltf-validator')).default;
} catch {
  console.log('gltf-validator is not installed (npm ci in tests/web): SKIPPED');
  process.exit(77);
}

async function validate(name, bytes, instancing) {
  const report = await validator.validateBytes(bytes, { maxIssues: 0 });
  const { numErrors, numWarnings } = report.issues;
  // The one allowed warning: the host makes the tangents of a normal map, which have to turn with the cloth.
  const tangents = report.issues.messages.filter((m) => m.code === 'MESH_PRIMITIVE_GENERATED_TANGENT_SPACE').length;
  check(tangents === (name.startsWith('coat_pictures') ? 1 : 0), `${name}: ${tangents} primitives with a normal map`);
  check(numErrors === 0 && numWarnings === tangents, `${name}: ${JSON.stringify(report.issues.messages.slice(0, 5))}`);
  // Allowed remarks: texture coordinates of materials without a picture, and that the validator does not know the
  // instancing extension, nor who uses its accessors.
  const known = report.issues.messages.every((m) => m.code === 'UNUSED_OBJECT' &&
    (m.pointer.endsWith('/TEXCOORD_0') || instancing) ||
    m.code === 'MESH_PRIMITIVE_GENERATED_TANGENT_SPACE' ||
    m.code === 'UNSUPPORTED_EXTENSION' && instancing);
  check(known, `${name}: ${JSON.stringify(report.issues.messages.slice(0, 5))}`);
  console.log(`${name}: errors ${numErrors}, warnings ${numWarnings}, triangles ${report.info.totalTriangleCount}, ` +
    `animations ${report.info.animationCount}`);
}

function largestDifference(a, b) {
  check(a.length === b.length, `lengths ${a.length} and ${b.length} differ`);
  let largest = 0;
  for (let i = 0; i < a.length; ++i) largest = Math.max(largest, Math.abs(a[i] - b[i]));
  return a.length === 0 ? Infinity : largest;
}

function instanceOf(glb, expected) {
  for (const index of glb.json.nodes[0].children) {
    const attributes = glb.json.nodes[index].extensions?.EXT_mesh_gpu_instancing.attributes;
    if (attributes === undefined) continue;
    const at = read(glb, attributes._TRIM).indexOf(expected.trim);
    if (at < 0) continue;
    const slice = (name, n) => name in attributes ? read(glb, attributes[name]).subarray(at * n, (at + 1) * n) : undefined;
    return { index, instance: { t: slice('TRANSLATION', 3), q: slice('ROTATION', 4), s: slice('SCALE', 3) } };
  }
  return {};
}

function checkAnimation(name, glb, expected) {
  const frames = expected.frames.length;
  check((glb.json.animations?.length ?? 0) === (frames === 0 ? 0 : 1), `${name}: one animation`);
  if (frames === 0) return;
  for (const sampler of glb.json.animations[0].samplers) {
    check(sampler.interpolation === expected.interpolation, `${name}: interpolation`);
    const times = read(glb, sampler.input);
    for (let i = 0; i < frames; ++i) {
      const want = (expected.frames[i] - expected.frames[0]) / expected.fps;
      check(Math.abs(times[i] - want) < 1e-6, `${name}: time of frame ${i}`);
    }
  }
  let before = null;
  for (let k = 0; k < frames; ++k) {
    const now = keys(glb, k);
    for (const [path, q] of now) {
      if (!path.endsWith('/rotation')) continue;
      check(Math.abs(Math.hypot(...q) - 1) < 1e-6, `${name}: Q2: unit quaternion ${path}`);
      if (before === null) continue;
      const p = before.get(path);
      check(q[0] * p[0] + q[1] * p[1] + q[2] * p[2] + q[3] * p[3] >= 0, `${name}: T4: short path ${path} at key ${k}`);
    }
    before = now;
  }
}

function checkStructure(name, glb, expected) {
  for (const node of glb.json.nodes) {
    check(!('matrix' in node), `${name}: no matrices`);
    check((node.scale ?? [1]).every((s) => s > 0), `${name}: no reflection`);
  }
  const meshOf = new Map();
  for (const trim of expected.trims) {
    if (expected.instancing) continue;
    const node = glb.json.nodes.find((n) => n.extras?.trim === trim.trim);
    check(node?.name === trim.name, `${name}: node of ${trim.name}`);
    if (meshOf.has(trim.shape)) check(meshOf.get(trim.shape) === node.mesh, `${name}: ${trim.shape} is shared`);
    meshOf.set(trim.shape, node.mesh);
  }
  const names = glb.json.materials.map((m) => m.name);
  check(['twill', 'lining cloth "blue"', 'horn', 'brass'].every((m) => names.includes(m)), `${name}: material names`);
  const brass = glb.json.materials.find((m) => m.name === 'brass');
  check(brass.alphaMode === 'BLEND' && brass.pbrMetallicRoughness.metallicFactor === 1, `${name}: material factors`);
}

// The picture that a texture of a material shows, as hexadecimal digits.
function pictureOf(glb, texture) {
  const image = glb.json.images[glb.json.textures[texture.index].source], view = glb.json.bufferViews[image.bufferView];
  check(image.mimeType === 'image/png', 'picture type');
  return Buffer.from(glb.bin.subarray(view.byteOffset, view.byteOffset + view.byteLength)).toString('hex');
}

function checkPictures(name, glb, expected) {
  check((glb.json.images?.length ?? 0) === expected.pictures.length, `${name}: each picture once`);
  if (expected.pictures.length === 0) return;
  const material = (m) => glb.json.materials.find((x) => x.name === m);
  const colour = expected.pictures[0].hex;
  check(pictureOf(glb, material('twill').pbrMetallicRoughness.baseColorTexture) === colour, `${name}: colour of twill`);
  check(pictureOf(glb, material('horn').pbrMetallicRoughness.baseColorTexture) === colour, `${name}: colour of horn`);
  check(pictureOf(glb, material('twill').normalTexture) === expected.pictures[1].hex, `${name}: normal map of twill`);
  const surface = material('horn').pbrMetallicRoughness;
  check(pictureOf(glb, surface.metallicRoughnessTexture) === expected.pictures[2].hex, `${name}: gloss of horn`);
  check(surface.metallicFactor === 0.25 && surface.roughnessFactor === 0.5, `${name}: factors of the gloss`);
  check(material('twill').pbrMetallicRoughness.roughnessFactor === 0.9, `${name}: twill has a factor alone`);
  check(material('horn').normalTexture === undefined, `${name}: horn has no normal map`);
  check(material('horn').alphaMode === 'MASK' && material('twill').alphaMode === undefined, `${name}: cut out`);
  check(material('horn').pbrMetallicRoughness.baseColorFactor.join() === '1,0.5,1,1', `${name}: the factor stays`);
}

function checkScene(name, glb, expected, values) {
  const tolerance = 1e-6 * expected.size;
  let at = 0;
  const next = (count) => values.subarray(at, at += count);
  const cloth = glb.json.nodes.findIndex((n) => n.name === 'cloth');
  let largest = 0;
  for (let k = -1; k < expected.frames.length; ++k) {
    largest = Math.max(largest, largestDifference(cornersOf(glb, cloth, k), next(3 * expected.cloth.corners)));
    for (const trim of expected.trims) {
      const found = expected.instancing ? instanceOf(glb, trim) :
        { index: glb.json.nodes.findIndex((n) => n.extras?.trim === trim.trim), instance: null };
      largest = Math.max(largest, largestDifference(cornersOf(glb, found.index, k, found.instance), next(3 * trim.corners)));
      ++compared;
      if (k < 0) checkTexcoords(name, texcoordsOf(glb, found.index), trim.texcoords);
    }
  }
  checkTexcoords(name, texcoordsOf(glb, cloth), expected.cloth.texcoords);
  check(at === values.length, `${name}: all values compared`);
  check(largest <= tolerance, `${name}: largest difference ${largest} m, allowed ${tolerance} m`);
  console.log(`${name}: largest difference ${(largest / expected.size).toExponential(2)} of the garment's size`);
}

function checkTexcoords(name, got, want) {
  const flipped = want.map((value, i) => i % 2 === 0 ? value : 1 - value);
  check(largestDifference(got, flipped) < 1e-6, `${name}: texture coordinates`);
}

const samples = readdirSync(folder).filter((file) => file.endsWith('.glb')).sort();
check(samples.length >= 8, `only ${samples.length} samples found`);
for (const file of samples) {
  const name = file.slice(0, -4), bytes = new Uint8Array(readFileSync(join(folder, file)));
  const expected = JSON.parse(readFileSync(join(folder, `${name}.expected.json`), 'utf8'));
  const raw = readFileSync(join(folder, `${name}.expected.bin`));
  const values = new Float64Array(raw.buffer.slice(raw.byteOffset, raw.byteOffset + raw.byteLength));
  await validate(name, bytes, expected.instancing);
  const glb = openGlb(bytes);
  checkStructure(name, glb, expected);
  checkPictures(name, glb, expected);
  checkAnimation(name, glb, expected);
  checkScene(name, glb, expected, values);
}
check(compared >= 8 * 5, 'trims were compared');
console.log(failures === 0 ? `passed: ${compared} poses compared` : `${failures} checks FAILED`);
process.exit(failures === 0 ? 0 : 1);
