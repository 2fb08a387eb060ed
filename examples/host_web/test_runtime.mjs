// SPDX-License-Identifier: MIT
// The WebAssembly runtime against the exact poses: node test_runtime.mjs trimtack_runtime.wasm tests/conformance
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { POSE_BYTES, Runtime } from "./runtime.mjs";

const [wasm, folder] = process.argv.slice(2);
const bytes = (name) => { const b = readFileSync(join(folder, name)); return b.buffer.slice(b.byteOffset, b.byteOffset + b.byteLength); };
const runtime = await Runtime.load(readFileSync(wasm));
const table = runtime.open(bytes("bindings.ttb"));
const expected = JSON.parse(readFileSync(join(folder, "expected.json"), "utf8"));
const cloth = runtime.alloc(12 * table.clothVertices), wide = runtime.alloc(24 * table.clothVertices);
const poses = runtime.alloc(POSE_BYTES * table.bindingCount), doubles = runtime.alloc(64 * table.bindingCount);
const matrix = runtime.alloc(96), broken = bytes("bindings.ttb");
let compared = 0, faults = 0;
const demand = (holds, what) => { if (!holds) { ++faults; console.error(what); } };

demand(runtime.binding(table, 0).name === "front button 1" && runtime.binding(table, 5).name.endsWith("5"), "names");
for (const frame of expected.frames) {
  const rows = readFileSync(join(folder, frame.file), "utf8").split("\n").filter((line) => line.startsWith("v "));
  const positions = rows.flatMap((line) => line.split(/\s+/).slice(1, 4).map(Number));
  runtime.f32(cloth, positions.length).set(positions);
  new Float64Array(runtime.wasm.memory.buffer, wide, positions.length).set(positions);
  runtime.evaluate(table, cloth, poses);
  demand(runtime.wasm.tt_evaluate_f64(table.handle, wide, table.clothVertices, 0, 0, table.bindingCount, doubles) === 0, "evaluates");
  frame.poses.forEach((pose, i) => {
    demand(runtime.u32(poses + POSE_BYTES * i, 8)[7] === pose.flags, `${frame.frame} ${i}: flags in float`);
    demand(runtime.u32(doubles + 64 * i, 16)[14] === pose.flags, `${frame.frame} ${i}: flags`);
    if (pose.matrix === null) return;
    runtime.wasm.tt_pose_matrix_f64(doubles + 64 * i, matrix);
    const got = new Float64Array(runtime.wasm.memory.buffer, matrix, 12);
    pose.matrix.flat().forEach((x, k) => demand(Math.abs(got[k] - x) < (k % 4 === 3 ? 1e-10 : 3e-14), `${frame.frame} ${i}: ${got[k]} is not ${x}`));
    ++compared;
  });
}
new Uint8Array(broken)[200] ^= 1;
try {
  runtime.open(broken);
  demand(false, "a broken table was opened");
} catch (error) {
  demand(/checksum/.test(error.message), `refused for another reason: ${error.message}`);
}
demand(compared === 41, `only ${compared} poses compared`);
console.log(`${compared} poses agree`);
process.exit(faults === 0 ? 0 : 1);
