// SPDX-License-Identifier: MIT
// Loads a bound garment, bends its cloth with the sliders, and follows every trim with the WebAssembly runtime.
import * as THREE from "three";
import { POSE_BYTES, Runtime } from "./runtime.mjs";

const element = (id) => document.getElementById(id);

async function fetched(name) {
  const response = await fetch(name);
  if (!response.ok) throw new Error(`${name}: ${response.status}`);
  return response.arrayBuffer();
}

/** The garment's arrays by name. */
async function loadGarment() {
  const index = JSON.parse(new TextDecoder().decode(await fetched("garment.json")));
  const bytes = await fetched("garment.bin");
  const types = { Float32Array, Uint32Array };
  const garment = { mmPerUnit: index.mmPerUnit };
  for (const [name, { at, count, type }] of Object.entries(index.arrays)) garment[name] = new types[type](bytes, at, count);
  return garment;
}

/** Middle and size of packed points. */
function bounds(points) {
  const low = [Infinity, Infinity, Infinity], high = [-Infinity, -Infinity, -Infinity];
  for (let i = 0; i < points.length; ++i) {
    low[i % 3] = Math.min(low[i % 3], points[i]);
    high[i % 3] = Math.max(high[i % 3], points[i]);
  }
  return { centre: low.map((x, k) => (x + high[k]) / 2), size: low.map((x, k) => high[k] - x) };
}

/** What the sliders do to any point: a roll about the upright axis, a twist along it, and a ripple. */
function deform(from, to, box, { bend, twist, ripple }) {
  const [cx, cy, cz] = box.centre, [width, height] = box.size;
  const curvature = (bend / 100) * (2.6 / width), turn = (twist / 100) * (1.2 / height), depth = (ripple / 100) * 0.02 * width;
  for (let i = 0; i < from.length; i += 3) {
    let x = from[i] - cx, z = from[i + 2] - cz;
    const y = from[i + 1] - cy;
    z += depth * Math.sin((22 * x) / width + (14 * y) / height);
    if (Math.abs(curvature) > 1e-9) {
      const radius = 1 / curvature + z, angle = x * curvature;
      x = radius * Math.sin(angle);
      z = radius * Math.cos(angle) - 1 / curvature;
    }
    const c = Math.cos(turn * y), s = Math.sin(turn * y);
    to[i] = cx + c * x + s * z;
    to[i + 1] = from[i + 1];
    to[i + 2] = cz - s * x + c * z;
  }
}

/** Everything that lies in the module's memory: rest and posed points, cloth, poses. */
function makeArena(runtime, table, garment) {
  const cloth = garment.clothPositions.length, trims = garment.trimPositions.length;
  const at = {
    cloth: runtime.alloc(4 * cloth), rest: runtime.alloc(4 * trims), posed: runtime.alloc(4 * trims),
    poses: runtime.alloc(POSE_BYTES * table.bindingCount),
  };
  runtime.f32(at.rest, trims).set(garment.trimPositions);
  return { at, cloth: runtime.f32(at.cloth, cloth), posed: runtime.f32(at.posed, trims), flags: runtime.u32(at.poses, 8 * table.bindingCount) };
}

/** Largest change of an edge of any trim: of its length, and relative to it where floats can measure that. */
function worstEdge(rest, posed, triangles, mmPerUnit) {
  let worst = 0, worstLength = 0;
  const squared = (p, i, j) => (p[i] - p[j]) ** 2 + (p[i + 1] - p[j + 1]) ** 2 + (p[i + 2] - p[j + 2]) ** 2;
  for (let t = 0; t < triangles.length; t += 3) {
    for (let k = 0; k < 3; ++k) {
      const i = 3 * triangles[t + k], j = 3 * triangles[t + ((k + 1) % 3)];
      const before = Math.sqrt(squared(rest, i, j));
      const change = Math.abs(Math.sqrt(squared(posed, i, j)) - before);
      worstLength = Math.max(worstLength, change);
      if (before * mmPerUnit >= 0.5) worst = Math.max(worst, change / before);
    }
  }
  return { relative: worst, mm: worstLength * mmPerUnit };
}

function meshOf(positions, triangles, material) {
  const geometry = new THREE.BufferGeometry();
  const attribute = new THREE.BufferAttribute(positions, 3);
  attribute.setUsage(THREE.DynamicDrawUsage);
  geometry.setAttribute("position", attribute);
  geometry.setIndex(new THREE.BufferAttribute(triangles, 1));
  const mesh = new THREE.Mesh(geometry, material);
  mesh.frustumCulled = false;
  return mesh;
}

function makeView(garment, arena, box) {
  const renderer = new THREE.WebGLRenderer({ canvas: element("view"), antialias: true });
  const scene = new THREE.Scene();
  scene.background = new THREE.Color(0xe9e4da);
  const cloth = meshOf(arena.cloth, garment.clothTriangles, new THREE.MeshStandardMaterial({ color: 0x47607d, roughness: 0.95, side: THREE.DoubleSide }));
  const flat = { flatShading: true, side: THREE.DoubleSide };
  const trims = meshOf(arena.posed, garment.trimTriangles, new THREE.MeshStandardMaterial({ color: 0xd9a441, roughness: 0.35, metalness: 0.2, ...flat }));
  const stitches = meshOf(arena.posed, garment.stitchTriangles, new THREE.MeshStandardMaterial({ color: 0xf2e6c9, roughness: 0.8, ...flat }));
  const group = new THREE.Group();
  group.add(cloth, trims, stitches);
  group.position.set(...box.centre.map((x) => -x));
  const pivot = new THREE.Group();
  pivot.add(group);
  scene.add(pivot, new THREE.HemisphereLight(0xffffff, 0x8c8270, 1.6));
  const sun = new THREE.DirectionalLight(0xffffff, 2.2);
  sun.position.set(0.6, 0.8, 1);
  scene.add(sun);
  const reach = Math.hypot(...box.size);
  const camera = new THREE.PerspectiveCamera(35, 1, reach / 100, reach * 10);
  let distance = 1.2 * reach;
  const canvas = element("view");
  canvas.addEventListener("pointermove", (event) => {
    if (event.buttons === 0) return;
    pivot.rotation.y += event.movementX * 0.008;
    pivot.rotation.x = Math.max(-1.2, Math.min(1.2, pivot.rotation.x + event.movementY * 0.008));
  });
  canvas.addEventListener("wheel", (event) => { distance = Math.max(0.1 * reach, Math.min(4 * reach, distance * Math.exp(event.deltaY * 0.001))); }, { passive: true });
  const draw = () => {
    const { clientWidth: width, clientHeight: height } = canvas;
    if (canvas.width !== width || canvas.height !== height) renderer.setSize(width, height, false);
    camera.aspect = width / height;
    camera.position.set(0, 0, distance);
    camera.updateProjectionMatrix();
    renderer.render(scene, camera);
  };
  const changed = () => {
    for (const mesh of [cloth, trims, stitches]) mesh.geometry.attributes.position.needsUpdate = true;
    cloth.geometry.computeVertexNormals();
  };
  return { draw, changed };
}

async function start() {
  const [wasm, tableBytes, garment] = await Promise.all([fetched("trimtack_runtime.wasm"), fetched("bindings.ttb"), loadGarment()]);
  const runtime = await Runtime.load(wasm);
  const table = runtime.open(tableBytes);
  if (3 * table.clothVertices !== garment.clothPositions.length) throw new Error("the table belongs to another cloth");
  const arena = makeArena(runtime, table, garment);
  const box = bounds(garment.clothPositions);
  const view = makeView(garment, arena, box);
  element("count").textContent = String(table.bindingCount);

  const follow = (sliders, soft) => {
    deform(garment.clothPositions, arena.cloth, box, sliders);
    const before = performance.now();
    runtime.evaluate(table, arena.at.cloth, arena.at.poses);
    const took = performance.now() - before;
    if (soft) {
      deform(garment.trimPositions, arena.posed, box, sliders);
    } else {
      const runs = garment.trimRuns;
      for (let i = 0; i < table.bindingCount; ++i)
        runtime.apply(arena.at.poses + POSE_BYTES * i, arena.at.rest + 12 * runs[i], runs[i + 1] - runs[i], arena.at.posed + 12 * runs[i]);
    }
    let flagged = 0;
    for (let i = 0; i < table.bindingCount; ++i) flagged += arena.flags[8 * i + 7] === 0 ? 0 : 1;
    const edge = worstEdge(garment.trimPositions, arena.posed, garment.trimTriangles, garment.mmPerUnit);
    view.changed();
    element("time").textContent = `${took.toFixed(2)} ms`;
    element("rigid").textContent = `${edge.mm.toFixed(4)} mm`;
    element("flagged").textContent = String(flagged);
    return { bindings: table.bindingCount, took, rigid: edge.relative, flagged };
  };

  let shown = "";
  const step = () => {
    const sliders = Object.fromEntries(["bend", "twist", "ripple"].map((id) => [id, Number(element(id).value)]));
    const soft = element("soft").checked, key = JSON.stringify([sliders, soft]);
    if (key !== shown) window.trimtackState = { key, ...follow(sliders, soft) };
    shown = key;
    view.draw();
    requestAnimationFrame(step);
  };
  step();
}

start().catch((error) => {
  element("fault").textContent = error.message;
  throw error;
});
