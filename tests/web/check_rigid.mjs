// SPDX-License-Identifier: MIT
// glTF garments in, rigid trims out: every written file through the Khronos validator, and what trimtack reads compared
// with what three.js makes of the same file (nodes, skins, morph targets, animations) at every sampled frame.
import { execFileSync } from 'node:child_process';
import { existsSync, mkdirSync, readFileSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import { openGlb } from './glb_reader.mjs';

const [, , program, folder, trimtack] = process.argv;
let failures = 0, compared = 0;
function check(condition, text) {
  if (!condition && ++failures < 50) console.log(`FAILED: ${text}`);
}

let THREE = null, GLTFLoader = null, validator = null;
try {
  globalThis.self = globalThis;
  THREE = await import('three');
  ({ GLTFLoader } = await import('three/examples/jsm/loaders/GLTFLoader.js'));
  validator = (await import('gltf-validator')).default;
} catch (error) {
  console.log(`${error.message}: readers are not installed (npm ci in tests/web): SKIPPED`);
  process.exit(77);
}

// Models that others made: a skinned hand, and things of several nodes and meshes.
const models = new URL('./node_modules/@webxr-input-profiles/assets/dist/profiles/', import.meta.url).pathname;
const real = ['generic-hand/left.glb', 'generic-hand/right.glb', 'generic-button/none.glb', 'generic-trigger/left.glb']
  .map((name) => join(models, name)).filter((path) => existsSync(path));
if (real.length !== 4) {
  console.log('the models are not installed (npm ci in tests/web): SKIPPED');
  process.exit(77);
}
mkdirSync(folder, { recursive: true });
execFileSync(program, [folder, ...real], { stdio: 'inherit' });

async function validate(file) {
  const report = await validator.validateBytes(new Uint8Array(readFileSync(join(folder, file))), { maxIssues: 0 });
  return report.issues.messages.filter((m) => m.severity < 2);
}

// The file as GLB without pictures: there is no canvas here.
function plainGlb(file) {
  const bytes = readFileSync(join(folder, file));
  const { json, bin } = file.endsWith('.glb') ? openGlb(new Uint8Array(bytes)) : { json: JSON.parse(bytes), bin: null };
  for (const key of ['images', 'textures', 'samplers', 'materials']) delete json[key];
  for (const mesh of json.meshes) for (const primitive of mesh.primitives) delete primitive.material;
  const data = bin ?? Buffer.from(json.buffers[0].uri.split(',')[1], 'base64');
  delete json.buffers[0].uri;
  const text = Buffer.from(JSON.stringify(json)), padded = (n) => Math.ceil(n / 4) * 4;
  const out = Buffer.alloc(28 + padded(text.length) + padded(data.length), ' ');
  out.write('glTF', 0);
  out.writeUInt32LE(2, 4);
  out.writeUInt32LE(out.length, 8);
  out.writeUInt32LE(padded(text.length), 12);
  out.write('JSON', 16);
  text.copy(out, 20);
  const at = 20 + padded(text.length);
  out.writeUInt32LE(padded(data.length), at);
  out.write('BIN\0', at + 4);
  Buffer.from(data).copy(out, at + 8);
  return out.buffer.slice(out.byteOffset, out.byteOffset + out.length);
}

async function load(file) {
  return new Promise((resolve, reject) => new GLTFLoader().parse(plainGlb(file), '', resolve, reject));
}

// Meshes in the order of nodes and primitives.
function meshesOf(gltf) {
  const list = [];
  gltf.scene.traverse((object) => {
    if (!object.isMesh) return;
    const of = gltf.parser.associations.get(object), parent = gltf.parser.associations.get(object.parent);
    list.push({ object, node: of.nodes ?? parent.nodes, primitive: of.primitives ?? 0 });
  });
  return list.sort((a, b) => a.node - b.node || a.primitive - b.primitive).map((entry) => entry.object);
}

function cornersOf(gltf) {
  gltf.scene.updateMatrixWorld(true);
  const out = [], point = new THREE.Vector3();
  for (const mesh of meshesOf(gltf)) {
    mesh.skeleton?.update();
    const count = mesh.geometry.index?.count ?? mesh.geometry.attributes.position.count;
    // A transform that reflects turns the faces over: the corners run the other way round.
    const order = mesh.matrixWorld.determinant() < 0 && !mesh.isSkinnedMesh ? [0, 1, -1] : [0, 0, 0];
    for (let i = 0; i < count; ++i) {
      const corner = i + order[i % 3];
      mesh.getVertexPosition(mesh.geometry.index?.getX(corner) ?? corner, point);
      point.applyMatrix4(mesh.matrixWorld);
      out.push(point.x, point.y, point.z);
    }
  }
  return out;
}

async function compare(name, file) {
  const expected = JSON.parse(readFileSync(join(folder, `${name}.corners.json`), 'utf8'));
  const raw = readFileSync(join(folder, `${name}.corners.bin`));
  const values = new Float64Array(raw.buffer.slice(raw.byteOffset, raw.byteOffset + raw.byteLength));
  const gltf = await load(file);
  let at = 0, largest = 0, size = 0;
  const compareFrame = (what) => {
    const want = values.subarray(at, at += 3 * expected.corners), got = cornersOf(gltf);
    check(got.length === want.length, `${name}: ${what}: ${got.length / 3} corners, trimtack sees ${want.length / 3}`);
    for (let i = 0; i < want.length; ++i) {
      largest = Math.max(largest, Math.abs(got[i] - want[i]));
      size = Math.max(size, Math.abs(want[i]));
    }
    ++compared;
  };
  compareFrame('rest');
  for (const [index, clip] of expected.clips.entries()) {
    for (const seconds of clip.seconds) {
      const mixer = new THREE.AnimationMixer(gltf.scene);
      const action = mixer.clipAction(gltf.animations[index]);
      action.setLoop(THREE.LoopOnce);
      action.clampWhenFinished = true;
      action.play();
      mixer.setTime(seconds);
      compareFrame(`${clip.name} at ${seconds} s`);
      mixer.stopAllAction();
      mixer.uncacheRoot(gltf.scene);
    }
  }
  check(at === values.length, `${name}: all values compared`);
  // three.js computes in float32, matrices and quaternions alike.
  check(largest < 2e-5 * size, `${name}: largest difference ${largest} of ${size}`);
  console.log(`${name}: largest difference ${(largest / size).toExponential(2)} of its size`);
}

const sources = readdirSync(folder).filter((f) => f.endsWith('.corners.json')).map((f) => f.slice(0, -13)).sort();
check(sources.length === 3 + real.length, `${sources.length} sources`);
let written = 0;
for (const name of sources) {
  const file = existsSync(join(folder, `${name}.glb`)) ? `${name}.glb` : `${name}.gltf`;
  const before = await validate(file);
  for (const rigid of [`${name}_nodes.glb`, `${name}_weights.glb`]) {
    if (!existsSync(join(folder, rigid))) continue;
    const after = await validate(rigid);
    // No kind of error or warning that the source did not have already.
    const added = after.filter((m) => !before.some((old) => old.code === m.code));
    check(added.length === 0, `${rigid}: ${JSON.stringify(added.slice(0, 3))}`);
    check(name.startsWith('real_') || after.length === 0, `${rigid}: ${JSON.stringify(after.slice(0, 3))}`);
    ++written;
  }
  console.log(`${name}: errors and warnings in the source: ${before.length}`);
  await compare(name, file);
}
// The whole way through the program: find the clasp's cloth, bind, follow, write.
for (const as of trimtack === undefined ? [] : ['nodes', 'weights']) {
  const out = join(folder, `command_${as}`);
  execFileSync(trimtack, ['rigid', join(folder, 'skinned.glb'), '-o', out, '--as', as, '--trim', 'component:1', '-q']);
  const file = join(`command_${as}`, 'skinned.glb'), issues = await validate(file);
  check(issues.length === 0, `${file}: ${JSON.stringify(issues.slice(0, 3))}`);
  const gltf = await load(file), clasp = gltf.scene.children.find((child) => child.userData.trim !== undefined);
  check((clasp !== undefined) === (as === 'nodes'), `${file}: a node of the trim`);
  if (clasp === undefined) continue;
  const turn = gltf.animations[0].tracks.find((track) => track.name.endsWith('.quaternion') && track.times.length === 25);
  const [x, y, z, w] = turn.values.slice(-4), angle = 2 * Math.atan2(Math.hypot(x, y, z), w) * 180 / Math.PI;
  // The cloth's upper end turns by 90 degrees, its lower end not at all; the clasp sits between.
  check(angle > 20 && angle < 90, `${file}: the clasp turns by ${angle} degrees`);
}
check(written >= 2 * 3 + 4 + 2, `${written} rigid files`);
console.log(failures === 0 ? `passed: ${compared} frames compared, ${written} rigid files valid` : `${failures} checks FAILED`);
process.exit(failures === 0 ? 0 : 1);
