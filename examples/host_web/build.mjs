// SPDX-License-Identifier: MIT
// Makes the page's folder: node build.mjs --garment FOLDER --wasm trimtack_runtime.wasm --out dist
// FOLDER is what `trimtack bind` wrote. The meshes are packed into one file of plain arrays; the table goes in as it is.
import { copyFileSync, existsSync, mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

const here = dirname(fileURLToPath(import.meta.url));
const options = Object.fromEntries(process.argv.slice(2).join(" ").split("--").filter(Boolean).map((pair) => pair.trim().split(/ (.*)/)));
if (!options.garment || !options.wasm || !options.out) {
  console.error("usage: node build.mjs --garment FOLDER --wasm trimtack_runtime.wasm --out dist");
  process.exit(2);
}

/** Positions and triangles (fans) of an OBJ that trimtack wrote. */
function readObj(path) {
  const positions = [], triangles = [];
  for (const line of readFileSync(path, "utf8").split("\n")) {
    const words = line.trim().split(/\s+/);
    if (words[0] === "v") positions.push(Number(words[1]), Number(words[2]), Number(words[3]));
    if (words[0] !== "f") continue;
    const corners = words.slice(1).map((word) => parseInt(word, 10) - 1);
    for (let k = 2; k < corners.length; ++k) triangles.push(corners[0], corners[k - 1], corners[k]);
  }
  return { positions, triangles };
}

const parts = JSON.parse(readFileSync(join(options.garment, "parts.json"), "utf8"));
const bindings = JSON.parse(readFileSync(join(options.garment, "bindings.json"), "utf8")).bindings;

/** Combined vertex -> trim id. */
const trimOf = new Map();
for (const component of parts.components)
  if (component.trim !== null)
    for (const [first, end] of component.vertices) for (let v = first; v < end; ++v) trimOf.set(v, component.trim);

/** Appends one trim file's vertices, sorted by binding, so that each trim is one run of points. */
const bindingOf = new Map(bindings.map((binding, i) => [binding.trim, i]));
const points = [];  // { binding, xyz, file, vertex }
const files = ["trims", "stitching"].filter((name) => existsSync(join(options.garment, name + ".obj")));
const meshes = files.map((name) => readObj(join(options.garment, name + ".obj")));
files.forEach((name, file) => {
  let vertex = 0;
  for (const [first, end] of parts.maps[name].vertices)
    for (let combined = first; combined < end; ++combined, ++vertex) {
      const binding = bindingOf.get(trimOf.get(combined));
      const xyz = meshes[file].positions.slice(3 * vertex, 3 * vertex + 3);
      if (binding !== undefined) points.push({ binding, xyz, file, vertex });
    }
});
points.sort((p, q) => p.binding - q.binding || p.file - q.file || p.vertex - q.vertex);
const numberOf = meshes.map((mesh) => new Uint32Array(mesh.positions.length / 3).fill(0xffffffff));
points.forEach((point, i) => (numberOf[point.file][point.vertex] = i));
const runs = new Uint32Array(bindings.length + 1);
for (const point of points) ++runs[point.binding + 1];
for (let i = 0; i < bindings.length; ++i) runs[i + 1] += runs[i];
const trimTriangles = [[], []];
meshes.forEach((mesh, file) => {
  for (let k = 0; k < mesh.triangles.length; k += 3) {
    const corners = [0, 1, 2].map((c) => numberOf[file][mesh.triangles[k + c]]);
    if (corners.every((corner) => corner !== 0xffffffff)) trimTriangles[files[file] === "trims" ? 0 : 1].push(...corners);
  }
});

const cloth = readObj(join(options.garment, "cloth.obj"));
const arrays = {
  clothPositions: new Float32Array(cloth.positions), clothTriangles: new Uint32Array(cloth.triangles),
  trimPositions: new Float32Array(points.flatMap((point) => point.xyz)), trimRuns: runs,
  trimTriangles: new Uint32Array(trimTriangles[0]), stitchTriangles: new Uint32Array(trimTriangles[1]),
};
mkdirSync(join(options.out, "vendor"), { recursive: true });
const index = {};
let at = 0;
for (const [name, array] of Object.entries(arrays)) {
  index[name] = { at, count: array.length, type: array.constructor.name };
  at += array.byteLength;
}
const mmPerUnit = parts.source.mm_per_unit;
writeFileSync(join(options.out, "garment.json"), JSON.stringify({ mmPerUnit, bindings: bindings.length, arrays: index }));
writeFileSync(join(options.out, "garment.bin"), Buffer.concat(Object.values(arrays).map((a) => Buffer.from(a.buffer, a.byteOffset, a.byteLength))));
copyFileSync(join(options.garment, "bindings.ttb"), join(options.out, "bindings.ttb"));
copyFileSync(options.wasm, join(options.out, "trimtack_runtime.wasm"));
for (const name of ["index.html", "page.mjs", "runtime.mjs"]) copyFileSync(join(here, name), join(options.out, name));
copyFileSync(join(here, "node_modules", "three", "build", "three.module.min.js"), join(options.out, "vendor", "three.module.min.js"));
console.log(`${options.out}: ${cloth.positions.length / 3} cloth vertices, ${points.length} trim vertices, ${bindings.length} bindings`);
