// SPDX-License-Identifier: MIT
// The trimtack runtime in WebAssembly, as a page uses it. Offsets of structs are those of include/trimtack/runtime.h for
// a 32-bit target.

const TABLE_BYTES = 192, INFO_BYTES = 64, BINDING_BYTES = 96, POSE_BYTES = 32;

export class Runtime {
  /** bytes: trimtack_runtime.wasm */
  static async load(bytes) {
    const { instance } = await WebAssembly.instantiate(bytes, {});
    return new Runtime(instance.exports);
  }

  constructor(exports) {
    this.wasm = exports;
  }

  /** Room inside the module's memory. Make all of it before you take views: growing detaches them. */
  alloc(bytes) {
    const at = this.wasm.host_alloc(bytes);
    if (at === 0) throw new Error("out of memory");
    return at;
  }
  f32(at, count) {
    return new Float32Array(this.wasm.memory.buffer, at, count);
  }
  u32(at, count) {
    return new Uint32Array(this.wasm.memory.buffer, at, count);
  }

  statusText(status) {
    const bytes = new Uint8Array(this.wasm.memory.buffer, this.wasm.tt_status_text(status));
    return new TextDecoder().decode(bytes.subarray(0, bytes.indexOf(0)));
  }

  /** Opens a binding table (ArrayBuffer). options: { mmPerUnit, upAxis }, 0: as the table. */
  open(table, { mmPerUnit = 0, upAxis = 0 } = {}) {
    const data = this.alloc(table.byteLength), handle = this.alloc(TABLE_BYTES), options = this.alloc(16), info = this.alloc(INFO_BYTES);
    new Uint8Array(this.wasm.memory.buffer, data, table.byteLength).set(new Uint8Array(table));
    const view = new DataView(this.wasm.memory.buffer, options, 16);
    view.setFloat64(0, mmPerUnit, true);
    view.setUint32(8, upAxis, true);
    view.setUint32(12, 0, true);
    const status = this.wasm.tt_table_open_with(handle, data, table.byteLength, options);
    if (status !== 0) throw new Error(this.statusText(status));
    this.wasm.tt_table_info(handle, info);
    const numbers = this.u32(info, 6);
    return { handle, bindingCount: numbers[2], clothVertices: numbers[4] };
  }

  /** { trim, name } of one binding. */
  binding(table, index) {
    if (this.scratch === undefined) this.scratch = this.alloc(BINDING_BYTES);
    const status = this.wasm.tt_table_binding(table.handle, index, this.scratch);
    if (status !== 0) throw new Error(this.statusText(status));
    const words = this.u32(this.scratch, BINDING_BYTES / 4);
    const [at, size] = [words[22], words[23]];
    return { trim: words[0], name: new TextDecoder().decode(new Uint8Array(this.wasm.memory.buffer, at, size)) };
  }

  /** Poses of all bindings (tt_pose, 32 bytes each) of a cloth of floats, both in the module's memory. */
  evaluate(table, cloth, poses) {
    const status = this.wasm.tt_evaluate(table.handle, cloth, table.clothVertices, 0, 0, table.bindingCount, poses);
    if (status !== 0) throw new Error(this.statusText(status));
  }

  /** Moves `count` points of floats by one pose. */
  apply(pose, rest, count, out) {
    const status = this.wasm.tt_apply(pose, rest, count, 0, out, 0);
    if (status !== 0) throw new Error(this.statusText(status));
  }
}

export { POSE_BYTES };
