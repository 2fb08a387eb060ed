// SPDX-License-Identifier: MIT
// The garment in WebGL 2: the cloth as one mesh, trims as copies of their prototypes. No library.
"use strict";
const GarmentView = (() => {
  const VERDICT_COLOURS = [[0.20, 0.33, 0.75], [0.92, 0.58, 0.07], [0.58, 0.02, 0.16]];  // as in pictures (picture.cpp)
  const STITCH_COLOUR = [0.55, 0.57, 0.56];
  const PICK_COLOUR = [0.98, 0.98, 1.0];
  // From fine to coarse: ink, steel, sage, straw, cream; lightness rises evenly, so that it reads without hue.
  const RAMP = [[0.11, 0.16, 0.24], [0.22, 0.36, 0.50], [0.45, 0.57, 0.54], [0.76, 0.73, 0.53], [0.98, 0.94, 0.82]];

  function bytes(text) {
    const raw = atob(text), out = new Uint8Array(raw.length);
    for (let i = 0; i < raw.length; i++) out[i] = raw.charCodeAt(i);
    return out.buffer;
  }
  const u16 = (text) => new Uint16Array(bytes(text));
  const u32 = (text) => new Uint32Array(bytes(text));
  const f32 = (text) => new Float32Array(bytes(text));

  const CLOTH_VERTEX = `#version 300 es
    uniform mat4 camera; uniform vec3 low; uniform float size; uniform float mapped; uniform vec2 range;
    in vec3 place; in vec3 normal; in float spacing;
    out vec3 facing; out float shade;
    void main() {
      facing = normal;
      shade = mapped > 0.5 ? clamp((log(max(spacing, 0.01)) - range.x) / max(range.y - range.x, 0.01), 0.0, 1.0) : -1.0;
      gl_Position = camera * vec4(low + size * place, 1.0);
    }`;
  const CLOTH_FRAGMENT = `#version 300 es
    precision highp float;
    uniform vec3 light; uniform vec3 ramp[5];
    in vec3 facing; in float shade; out vec4 colour;
    void main() {
      vec3 n = normalize(facing) * (gl_FrontFacing ? 1.0 : -1.0);
      float lit = 0.62 + 0.38 * max(dot(n, light), 0.0) - 0.10 * max(-dot(n, light), 0.0);
      vec3 base = gl_FrontFacing ? vec3(0.87, 0.84, 0.76) : vec3(0.74, 0.71, 0.65);
      if (shade >= 0.0) {
        float k = shade * 4.0; int i = int(min(k, 3.0));
        base = mix(ramp[i], ramp[i + 1], k - float(i));
      }
      colour = vec4(base * lit, 1.0);
    }`;
  const TRIM_VERTEX = `#version 300 es
    uniform mat4 camera;
    in vec3 place; in vec4 tint;
    out vec3 world; out vec3 paint;
    void main() {
      world = place;
      paint = tint.rgb;
      gl_Position = camera * vec4(world, 1.0);
    }`;
  const TRIM_FRAGMENT = `#version 300 es
    precision highp float;
    uniform vec3 light; uniform vec3 eye; uniform float size;
    in vec3 world; in vec3 paint; out vec4 colour;
    void main() {
      // In units of the garment, so that the cross product keeps its digits.
      vec3 w = world / size;
      vec3 n = normalize(cross(dFdx(w), dFdy(w)));
      if (dot(n, eye) < 0.0) n = -n;
      float lit = 0.66 + 0.34 * max(dot(n, light), 0.0);
      colour = vec4(paint * lit, 1.0);
    }`;

  function program(gl, vertex, fragment) {
    const p = gl.createProgram();
    for (const [kind, text] of [[gl.VERTEX_SHADER, vertex], [gl.FRAGMENT_SHADER, fragment]]) {
      const s = gl.createShader(kind);
      gl.shaderSource(s, text);
      gl.compileShader(s);
      if (!gl.getShaderParameter(s, gl.COMPILE_STATUS)) throw new Error(gl.getShaderInfoLog(s));
      gl.attachShader(p, s);
    }
    gl.linkProgram(p);
    if (!gl.getProgramParameter(p, gl.LINK_STATUS)) throw new Error(gl.getProgramInfoLog(p));
    return p;
  }

  function vertexNormals(points, corners) {
    const n = new Float32Array(points.length);
    for (let i = 0; i < corners.length; i += 3) {
      const a = 3 * corners[i], b = 3 * corners[i + 1], c = 3 * corners[i + 2];
      const ux = points[b] - points[a], uy = points[b + 1] - points[a + 1], uz = points[b + 2] - points[a + 2];
      const vx = points[c] - points[a], vy = points[c + 1] - points[a + 1], vz = points[c + 2] - points[a + 2];
      const x = uy * vz - uz * vy, y = uz * vx - ux * vz, z = ux * vy - uy * vx;
      for (const k of [a, b, c]) { n[k] += x; n[k + 1] += y; n[k + 2] += z; }
    }
    return n;
  }

  class View {
    // mesh: as in the data; look: per trim index {verdict, role}; upZ: the file's up axis is z
    constructor(canvas, mesh, look, upZ) {
      const gl = canvas.getContext("webgl2", { antialias: true });
      if (!gl) throw new Error("no WebGL 2");
      this.gl = gl; this.canvas = canvas; this.mesh = mesh; this.look = look; this.upZ = upZ;
      this.trims = u32(mesh.trims); this.meshOf = u32(mesh.meshOf); this.copies = f32(mesh.copies);
      this.centres = f32(mesh.centres); this.outward = f32(mesh.outward);
      this.picked = -1; this.mapped = false; this.shotCache = [];
      this.clothProgram = program(gl, CLOTH_VERTEX, CLOTH_FRAGMENT);
      this.trimProgram = program(gl, TRIM_VERTEX, TRIM_FRAGMENT);
      this.setUpCloth();
      this.setUpTrims();
      this.home();
      this.setShot(0);
    }

    attribute(prog, name, buffer, size, type, normalised) {
      const gl = this.gl, at = gl.getAttribLocation(prog, name);
      if (at < 0) return;
      gl.bindBuffer(gl.ARRAY_BUFFER, buffer);
      gl.enableVertexAttribArray(at);
      gl.vertexAttribPointer(at, size, type, normalised, 0, 0);
    }

    setUpCloth() {
      const gl = this.gl;
      this.clothCorners = u32(this.mesh.cloth);
      const spacing = f32(this.mesh.spacing), sorted = Float32Array.from(spacing.filter((v) => v > 0)).sort();
      const at = (k) => sorted.length ? sorted[Math.floor(k * (sorted.length - 1))] : 1;
      this.range = [at(0.02), at(0.98)];
      this.clothArray = gl.createVertexArray();
      gl.bindVertexArray(this.clothArray);
      this.placeBuffer = gl.createBuffer();
      this.normalBuffer = gl.createBuffer();
      const spacingBuffer = gl.createBuffer();
      gl.bindBuffer(gl.ARRAY_BUFFER, spacingBuffer);
      gl.bufferData(gl.ARRAY_BUFFER, spacing, gl.STATIC_DRAW);
      this.attribute(this.clothProgram, "place", this.placeBuffer, 3, gl.UNSIGNED_SHORT, true);
      this.attribute(this.clothProgram, "normal", this.normalBuffer, 3, gl.FLOAT, false);
      this.attribute(this.clothProgram, "spacing", spacingBuffer, 1, gl.FLOAT, false);
      gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, gl.createBuffer());
      gl.bufferData(gl.ELEMENT_ARRAY_BUFFER, this.clothCorners, gl.STATIC_DRAW);
      gl.bindVertexArray(null);
    }

    // All copies in one buffer: where the processor draws, each instance would cost as much as a mesh of its own.
    setUpTrims() {
      const gl = this.gl;
      this.prototypes = this.mesh.prototypes.map((p) => ({ points: f32(p.points), corners: u16(p.corners) }));
      const sum = (list) => this.meshOf.reduce((n, m) => n + this.prototypes[m][list].length, 0);
      this.trimPlaces = new Float32Array(sum("points"));
      this.trimTints = new Uint8Array(4 * this.trimPlaces.length / 3).fill(255);
      const corners = new Uint32Array(sum("corners"));
      this.firstVertex = new Uint32Array(this.meshOf.length + 1);
      let vertex = 0, corner = 0;
      this.meshOf.forEach((m, k) => {
        for (const c of this.prototypes[m].corners) corners[corner++] = vertex + c;
        this.firstVertex[k + 1] = vertex += this.prototypes[m].points.length / 3;
      });
      this.trimCorners = corner;
      this.trimArray = gl.createVertexArray();
      gl.bindVertexArray(this.trimArray);
      this.trimPlaceBuffer = gl.createBuffer();
      this.tintBuffer = gl.createBuffer();
      this.attribute(this.trimProgram, "place", this.trimPlaceBuffer, 3, gl.FLOAT, false);
      this.attribute(this.trimProgram, "tint", this.tintBuffer, 4, gl.UNSIGNED_BYTE, true);
      gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, gl.createBuffer());
      gl.bufferData(gl.ELEMENT_ARRAY_BUFFER, corners, gl.STATIC_DRAW);
      gl.bindVertexArray(null);
      this.tint();
    }

    tint() {
      const gl = this.gl;
      this.trims.forEach((t, k) => {
        const look = this.look(t);
        const calm = look.role === 2 && look.verdict === 0;
        const c = t === this.picked ? PICK_COLOUR : calm ? STITCH_COLOUR : VERDICT_COLOURS[look.verdict];
        for (let v = 4 * this.firstVertex[k]; v < 4 * this.firstVertex[k + 1]; v += 4) {
          for (let i = 0; i < 3; i++) this.trimTints[v + i] = 255 * c[i];
        }
      });
      gl.bindBuffer(gl.ARRAY_BUFFER, this.tintBuffer);
      gl.bufferData(gl.ARRAY_BUFFER, this.trimTints, gl.DYNAMIC_DRAW);
    }

    // Places of one pose, decoded once.
    shotData(i) {
      if (this.shotCache[i]) return this.shotCache[i];
      const shot = this.mesh.shots[i], raw = u16(shot.poses), n = this.trims.length;
      const middle = new Float32Array(3 * n), turn = new Float32Array(9 * n);
      const signed = (v) => (v > 32767 ? v - 65536 : v) / 32767;
      for (let k = 0; k < n; k++) {
        for (let c = 0; c < 3; c++) middle[3 * k + c] = this.mesh.min[c] + this.mesh.size * raw[7 * k + c] / 65535;
        let x = signed(raw[7 * k + 3]), y = signed(raw[7 * k + 4]), z = signed(raw[7 * k + 5]), w = signed(raw[7 * k + 6]);
        const l = Math.hypot(x, y, z, w) || 1; x /= l; y /= l; z /= l; w /= l;
        turn.set([1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w),
                  2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w),
                  2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)], 9 * k);
      }
      const points = u16(shot.cloth);
      return this.shotCache[i] = { middle, turn, points, normals: vertexNormals(points, this.clothCorners) };
    }

    setShot(i) {
      const gl = this.gl, shot = this.shotData(i);
      this.shot = shot;
      gl.bindBuffer(gl.ARRAY_BUFFER, this.placeBuffer);
      gl.bufferData(gl.ARRAY_BUFFER, shot.points, gl.DYNAMIC_DRAW);
      gl.bindBuffer(gl.ARRAY_BUFFER, this.normalBuffer);
      gl.bufferData(gl.ARRAY_BUFFER, shot.normals, gl.DYNAMIC_DRAW);
      this.meshOf.forEach((m, k) => this.placeCopy(k, this.prototypes[m].points, shot));
      gl.bindBuffer(gl.ARRAY_BUFFER, this.trimPlaceBuffer);
      gl.bufferData(gl.ARRAY_BUFFER, this.trimPlaces, gl.DYNAMIC_DRAW);
    }

    // Copy number k where the pose puts it: turned about its middle, which the pose moves.
    placeCopy(k, points, shot) {
      const c = this.copies, t = shot.turn, rows = new Float64Array(12);
      for (let r = 0; r < 3; r++) {
        for (let j = 0; j < 4; j++) {
          for (let q = 0; q < 3; q++) {
            rows[4 * r + j] += t[9 * k + 3 * r + q] * (c[12 * k + 4 * q + j] - (j === 3 ? this.centres[3 * k + q] : 0));
          }
        }
        rows[4 * r + 3] += shot.middle[3 * k + r];
      }
      for (let i = 0, to = 3 * this.firstVertex[k]; i < points.length; i += 3) {
        const x = points[i], y = points[i + 1], z = points[i + 2];
        for (let r = 0; r < 12; r += 4) this.trimPlaces[to++] = rows[r] * x + rows[r + 1] * y + rows[r + 2] * z + rows[r + 3];
      }
    }

    // Camera: turned about the garment's middle. Coordinates "up" have y up and the wearer's front towards +z.
    home() { this.yaw = 0.35; this.pitch = 0.1; this.zoom = 1; this.shift = [0, 0]; }
    toUp(p) { return this.upZ ? [p[0], p[2], -p[1]] : p; }

    extent() {
      if (this.box) return this.box;
      const p = this.shotData(0).points, low = [65535, 65535, 65535], high = [0, 0, 0];
      for (let i = 0; i < p.length; i++) {
        const c = i % 3;
        if (p[i] < low[c]) low[c] = p[i];
        if (p[i] > high[c]) high[c] = p[i];
      }
      const real = (v, c) => this.mesh.min[c] + this.mesh.size * v / 65535;
      const middle = this.toUp([0, 1, 2].map((c) => 0.5 * (real(low[c], c) + real(high[c], c))));
      const a = this.toUp([0, 1, 2].map((c) => high[c] - low[c])).map((v) => Math.abs(v) * this.mesh.size / 65535);
      return this.box = { middle, half: a.map((v) => Math.max(0.5 * v, 1e-6)) };
    }

    // Rows of the camera's turn, in "up" coordinates.
    axes(yaw, pitch) {
      const cy = Math.cos(yaw), sy = Math.sin(yaw), cp = Math.cos(pitch), sp = Math.sin(pitch);
      return [[cy, 0, -sy], [-sp * sy, cp, -sp * cy], [sy * cp, sp, cy * cp]];
    }

    // Orthographic; column-major for WebGL.
    camera(width, height, yaw, pitch, zoom, shift, still) {
      const { middle, half } = this.extent();
      const [x, y, z] = this.axes(yaw, pitch);
      const reach = Math.hypot(half[0], half[1], half[2]);
      const wide = still ? half[0] : Math.hypot(half[0], half[2]);  // turned, it needs more room
      const scale = zoom / Math.max(half[1] * 1.08, wide * 1.02 * height / width);
      const k = [scale * height / width, scale, -1 / (2.5 * reach)];
      const rows = [x, y, z].map((r, i) => {
        const inFile = this.upZ ? [r[0], -r[2], r[1]] : r;
        const move = -(r[0] * middle[0] + r[1] * middle[1] + r[2] * middle[2]);
        return [inFile[0] * k[i], inFile[1] * k[i], inFile[2] * k[i], move * k[i] + (i < 2 ? shift[i] : 0)];
      });
      rows.push([0, 0, 0, 1]);
      const m = new Float32Array(16);
      for (let r = 0; r < 4; r++) for (let c = 0; c < 4; c++) m[4 * c + r] = rows[r][c];
      return m;
    }

    draw(m, yaw, pitch, width, height) {
      const gl = this.gl;
      gl.viewport(0, 0, width, height);
      gl.clearColor(0, 0, 0, 0);
      gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
      gl.enable(gl.DEPTH_TEST);
      const [x, y, z] = this.axes(yaw, pitch);
      const toFile = (v) => this.upZ ? [v[0], -v[2], v[1]] : v;
      const eye = toFile(z);
      let light = [0, 1, 2].map((i) => -0.35 * x[i] + 0.5 * y[i] + 0.8 * z[i]);
      const l = Math.hypot(...light);
      light = toFile(light.map((v) => v / l));
      gl.useProgram(this.clothProgram);
      const u = (p, name) => gl.getUniformLocation(p, name);
      gl.uniformMatrix4fv(u(this.clothProgram, "camera"), false, m);
      gl.uniform3fv(u(this.clothProgram, "low"), this.mesh.min);
      gl.uniform1f(u(this.clothProgram, "size"), this.mesh.size);
      gl.uniform1f(u(this.clothProgram, "mapped"), this.mapped ? 1 : 0);
      gl.uniform2f(u(this.clothProgram, "range"), Math.log(this.range[0]), Math.log(this.range[1]));
      gl.uniform3fv(u(this.clothProgram, "light"), light);
      gl.uniform3fv(u(this.clothProgram, "ramp"), RAMP.flat());
      gl.bindVertexArray(this.clothArray);
      gl.drawElements(gl.TRIANGLES, this.clothCorners.length, gl.UNSIGNED_INT, 0);
      gl.useProgram(this.trimProgram);
      gl.uniformMatrix4fv(u(this.trimProgram, "camera"), false, m);
      gl.uniform3fv(u(this.trimProgram, "light"), light);
      gl.uniform3fv(u(this.trimProgram, "eye"), eye);
      gl.uniform1f(u(this.trimProgram, "size"), this.mesh.size);
      gl.bindVertexArray(this.trimArray);
      gl.drawElements(gl.TRIANGLES, this.trimCorners, gl.UNSIGNED_INT, 0);
      gl.bindVertexArray(null);
    }

    render() {
      const ratio = Math.min(window.devicePixelRatio || 1, 2);
      const width = Math.max(1, Math.round(this.canvas.clientWidth * ratio));
      const height = Math.max(1, Math.round(this.canvas.clientHeight * ratio));
      if (this.canvas.width !== width || this.canvas.height !== height) { this.canvas.width = width; this.canvas.height = height; }
      this.last = this.camera(width, height, this.yaw, this.pitch, this.zoom, this.shift);
      this.draw(this.last, this.yaw, this.pitch, width, height);
    }

    // A still picture into a 2-D canvas, as high as the garment needs; returns the camera used.
    picture(target, yaw) {
      const { half } = this.extent();
      target.height = Math.round(target.width * Math.min(1.5, Math.max(0.6, (1.12 * half[1]) / (1.02 * half[0]))));
      const { width, height } = target, m = this.camera(width, height, yaw, 0, 1, [0, 0], true);
      this.canvas.width = width; this.canvas.height = height;
      this.draw(m, yaw, 0, width, height);
      target.getContext("2d").drawImage(this.canvas, 0, 0);
      return m;
    }

    // Where trim number k of the drawn ones is on a picture, 0..1 from the upper left; `front`: turned to the eye.
    where(k, m, yaw, pitch) {
      const p = this.shot.middle.subarray(3 * k, 3 * k + 3), o = this.outward.subarray(3 * k, 3 * k + 3);
      const t = this.shot.turn.subarray(9 * k, 9 * k + 9);
      const dir = [0, 1, 2].map((r) => t[3 * r] * o[0] + t[3 * r + 1] * o[1] + t[3 * r + 2] * o[2]);
      const up = this.toUp(dir), z = this.axes(yaw, pitch)[2];
      const at = [0, 1, 2].map((r) => m[r] * p[0] + m[4 + r] * p[1] + m[8 + r] * p[2] + m[12 + r]);
      return { x: 0.5 + 0.5 * at[0], y: 0.5 - 0.5 * at[1], depth: at[2], front: up[0] * z[0] + up[1] * z[1] + up[2] * z[2] };
    }

    pick(x, y) {
      let best = -1, nearest = 18;
      for (let k = 0; k < this.trims.length; k++) {
        const w = this.where(k, this.last, this.yaw, this.pitch);
        if (w.front < -0.2) continue;
        const d = Math.hypot(w.x * this.canvas.clientWidth - x, w.y * this.canvas.clientHeight - y) + (this.look(this.trims[k]).role === 2 ? 4 : 0);
        if (d < nearest) { nearest = d; best = k; }
      }
      return best < 0 ? -1 : this.trims[best];
    }

    // Turns a trim to the front and comes close to it.
    face(trim) {
      const k = this.trims.indexOf(trim);
      if (k < 0) return;
      const o = this.outward.subarray(3 * k, 3 * k + 3), t = this.shot.turn.subarray(9 * k, 9 * k + 9);
      const d = this.toUp([0, 1, 2].map((r) => t[3 * r] * o[0] + t[3 * r + 1] * o[1] + t[3 * r + 2] * o[2]));
      this.yaw = Math.atan2(d[0], d[2]);
      this.pitch = Math.max(-1.2, Math.min(1.2, Math.asin(Math.max(-1, Math.min(1, d[1])))));
      this.zoom = 4; this.shift = [0, 0];
      const m = this.camera(this.canvas.clientWidth || 1, this.canvas.clientHeight || 1, this.yaw, this.pitch, this.zoom, this.shift);
      const w = this.where(k, m, this.yaw, this.pitch);
      this.shift = [-(2 * w.x - 1), 2 * w.y - 1];
    }

    ramp() { return "linear-gradient(to right," + RAMP.map((c) => "rgb(" + c.map((v) => Math.round(255 * v)) + ")").join(",") + ")"; }
  }
  return { View, u16 };
})();
