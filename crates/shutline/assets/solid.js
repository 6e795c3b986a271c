// A panel that can be turned: [data-solid=URL] holds a still drawing; where WebGL 2 is there, a canvas takes its place.
// The address gives little-endian numbers: count of vertices and of triangles (u32), then x y z of each vertex (f32),
// its stretch as a fraction (f32), and three corners of each triangle (u32). Ink lines and hatches as in all drawings:
// level lines every data-step, hatched over data-light and data-dense.
const VERTEX = `#version 300 es
in vec3 at; in vec3 normal; in float stretch;
uniform mat3 turn; uniform vec2 size; uniform float zoom; uniform vec2 shift; uniform float lines;
out float s; out vec3 n;
void main() {
  vec3 p = turn * at * zoom;
  s = stretch; n = turn * normal;
  // the rim lies a hair before the surface
  gl_Position = vec4((p.xy + shift) / size, -p.z * 0.2 / zoom - 0.002 * lines, 1.0);
}`;
const FRAGMENT = `#version 300 es
precision highp float;
in float s; in vec3 n; out vec4 color;
uniform vec3 ink; uniform vec3 sheet; uniform float step_; uniform float light; uniform float dense; uniform float dpr; uniform highp float lines;
float hatch(float pitch, float weight) {
  float d = mod((gl_FragCoord.x + gl_FragCoord.y) / dpr * 0.7071, pitch);
  return 1.0 - smoothstep(weight * 0.5, weight * 0.5 + 0.7, min(d, pitch - d));
}
void main() {
  if (lines > 0.5) { color = vec4(ink, 1.0); return; }
  vec3 m = normalize(n);
  float shade = 0.10 * (1.0 - abs(m.z));
  float ink_ = shade;
  if (s > dense) ink_ = max(ink_, hatch(5.5, 1.1)); else if (s > light) ink_ = max(ink_, hatch(10.0, 0.9));
  float w = max(fwidth(s), 1e-9);
  float f = s / step_;
  float d = abs(f - floor(f + 0.5)) * step_ / w;
  if (f > 0.5) ink_ = max(ink_, 0.8 * (1.0 - smoothstep(0.4, 1.2, d)));
  if (m.z < 0.0) ink_ = max(ink_, 0.16);
  color = vec4(mix(sheet, ink, ink_), 1.0);
}`;

function program(gl) {
  const part = (kind, text) => {
    const shader = gl.createShader(kind);
    gl.shaderSource(shader, text);
    gl.compileShader(shader);
    if (!gl.getShaderParameter(shader, gl.COMPILE_STATUS)) throw new Error(gl.getShaderInfoLog(shader));
    return shader;
  };
  const made = gl.createProgram();
  gl.attachShader(made, part(gl.VERTEX_SHADER, VERTEX));
  gl.attachShader(made, part(gl.FRAGMENT_SHADER, FRAGMENT));
  gl.linkProgram(made);
  if (!gl.getProgramParameter(made, gl.LINK_STATUS)) throw new Error(gl.getProgramInfoLog(made));
  return made;
}

/** Vertices about their middle, scaled to ±1, with normals; the rim as lines. */
function solid(buffer) {
  const [nv, nt] = new Uint32Array(buffer, 0, 2);
  const raw = new Float32Array(buffer, 8, 3 * nv);
  const stretch = new Float32Array(buffer, 8 + 12 * nv, nv);
  const corners = new Uint32Array(buffer, 8 + 16 * nv, 3 * nt);
  const low = [Infinity, Infinity, Infinity], high = [-Infinity, -Infinity, -Infinity];
  raw.forEach((c, i) => { low[i % 3] = Math.min(low[i % 3], c); high[i % 3] = Math.max(high[i % 3], c); });
  const half = Math.max(1e-6, ...high.map((h, k) => (h - low[k]) / 2));
  const at = raw.map((c, i) => (c - (low[i % 3] + high[i % 3]) / 2) / half);
  const normal = new Float32Array(3 * nv);
  const mean = [0, 0, 0];
  const sides = new Map();
  for (let t = 0; t < corners.length; t += 3) {
    const [a, b, c] = [corners[t], corners[t + 1], corners[t + 2]];
    const u = [0, 1, 2].map((k) => at[3 * b + k] - at[3 * a + k]);
    const v = [0, 1, 2].map((k) => at[3 * c + k] - at[3 * a + k]);
    const n = [u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]];
    n.forEach((x, k) => { mean[k] += x; [a, b, c].forEach((i) => { normal[3 * i + k] += x; }); });
    for (const [p, q] of [[a, b], [b, c], [c, a]]) {
      const back = q * nv + p;
      if (!sides.delete(back)) sides.set(p * nv + q, [p, q]);
    }
  }
  return { at, normal, stretch, corners, rim: new Uint32Array([...sides.values()].flat()), mean };
}

const unit = (v) => { const l = Math.hypot(...v) || 1; return v.map((x) => x / l); };
const cross = (a, b) => [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
const times = (m, n) => m.map((_, i) => { const r = i % 3, c = Math.floor(i / 3); return m[r] * n[3 * c] + m[3 + r] * n[3 * c + 1] + m[6 + r] * n[3 * c + 2]; });
const about = (axis, angle) => {
  const [s, c] = [Math.sin(angle), Math.cos(angle)];
  return axis === "x" ? [1, 0, 0, 0, c, s, 0, -s, c] : axis === "y" ? [c, 0, -s, 0, 1, 0, s, 0, c] : [c, s, 0, -s, c, 0, 0, 0, 1];
};

/** The panel squarely from outside and a little from above, its longest way level. */
function square(mesh) {
  const out = unit(mesh.mean);
  let right = cross([0, 1, 0], out);
  if (Math.hypot(...right) < 1e-3) right = [1, 0, 0];
  right = unit(right);
  const first = right;
  for (let k = 0; k < 40; k++) {
    const sum = [0, 0, 0];
    for (let i = 0; i < mesh.at.length; i += 3) {
      const p = [mesh.at[i], mesh.at[i + 1], mesh.at[i + 2]];
      const o = p[0] * out[0] + p[1] * out[1] + p[2] * out[2];
      const d = p.map((x, j) => x - o * out[j]);
      const w = d[0] * right[0] + d[1] * right[1] + d[2] * right[2];
      d.forEach((x, j) => { sum[j] += x * w; });
    }
    if (Math.hypot(...sum) > 0) right = unit(sum);
  }
  if (right[0] * first[0] + right[1] * first[1] + right[2] * first[2] < 0) right = right.map((x) => -x);
  const up = cross(out, right);
  const plain = [right[0], up[0], out[0], right[1], up[1], out[1], right[2], up[2], out[2]];
  return times(about("x", 0.44), plain);
}

function rgb(element, name) {
  const probe = document.createElement("span");
  probe.style.color = `var(${name})`;
  element.append(probe);
  const parts = getComputedStyle(probe).color.match(/[\d.]+/g)?.slice(0, 3).map((c) => Number(c) / 255);
  probe.remove();
  return parts?.length === 3 ? parts : [0, 0, 0];
}

async function show(place) {
  const canvas = document.createElement("canvas");
  const gl = canvas.getContext("webgl2", { antialias: true });
  if (!gl) return;
  const answer = await fetch(place.dataset.solid);
  if (!answer.ok) return;
  const mesh = solid(await answer.arrayBuffer());
  const made = program(gl);
  gl.useProgram(made);
  const fill = (name, data, size) => {
    const where = gl.getAttribLocation(made, name);
    gl.bindBuffer(gl.ARRAY_BUFFER, gl.createBuffer());
    gl.bufferData(gl.ARRAY_BUFFER, data, gl.STATIC_DRAW);
    gl.enableVertexAttribArray(where);
    gl.vertexAttribPointer(where, size, gl.FLOAT, false, 0, 0);
  };
  fill("at", mesh.at, 3);
  fill("normal", mesh.normal, 3);
  fill("stretch", mesh.stretch, 1);
  const faces = gl.createBuffer();
  gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, faces);
  gl.bufferData(gl.ELEMENT_ARRAY_BUFFER, mesh.corners, gl.STATIC_DRAW);
  const rim = gl.createBuffer();
  gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, rim);
  gl.bufferData(gl.ELEMENT_ARRAY_BUFFER, mesh.rim, gl.STATIC_DRAW);
  gl.enable(gl.DEPTH_TEST);
  gl.enable(gl.POLYGON_OFFSET_FILL);
  gl.polygonOffset(1, 1);
  const uniform = (name) => gl.getUniformLocation(made, name);
  const start = square(mesh);
  let turn = start, zoom = 0.92, shift = [0, 0], waiting = false;

  const draw = () => {
    waiting = false;
    const dpr = Math.min(window.devicePixelRatio || 1, 2);
    const [w, h] = [Math.max(1, Math.round(canvas.clientWidth * dpr)), Math.max(1, Math.round(canvas.clientHeight * dpr))];
    if (canvas.width !== w || canvas.height !== h) [canvas.width, canvas.height] = [w, h];
    gl.viewport(0, 0, w, h);
    const sheet = rgb(place, "--sheet");
    gl.clearColor(...sheet, 1);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.uniformMatrix3fv(uniform("turn"), false, turn);
    gl.uniform2f(uniform("size"), w / h > 1.7 ? (w / h) / 1.7 : 1, w / h > 1.7 ? 1 / 1.7 : h / w);
    gl.uniform1f(uniform("zoom"), zoom);
    gl.uniform2f(uniform("shift"), ...shift);
    gl.uniform3f(uniform("ink"), ...rgb(place, "--ink"));
    gl.uniform3f(uniform("sheet"), ...sheet);
    gl.uniform1f(uniform("step_"), Number(place.dataset.step) || 1);
    gl.uniform1f(uniform("light"), Number(place.dataset.light) || 1e9);
    gl.uniform1f(uniform("dense"), Number(place.dataset.dense) || 1e9);
    gl.uniform1f(uniform("dpr"), dpr);
    gl.uniform1f(uniform("lines"), 0);
    gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, faces);
    gl.drawElements(gl.TRIANGLES, mesh.corners.length, gl.UNSIGNED_INT, 0);
    gl.uniform1f(uniform("lines"), 1);
    gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, rim);
    gl.drawElements(gl.LINES, mesh.rim.length, gl.UNSIGNED_INT, 0);
  };
  const redraw = () => { if (!waiting) { waiting = true; requestAnimationFrame(draw); } };
  const spin = (dx, dy) => { turn = times(about("x", dy), times(about("y", dx), turn)); redraw(); };
  const closer = (by) => { zoom = Math.min(12, Math.max(0.3, zoom * by)); redraw(); };

  const held = new Map();
  canvas.addEventListener("pointerdown", (e) => { canvas.setPointerCapture(e.pointerId); held.set(e.pointerId, [e.clientX, e.clientY]); });
  for (const end of ["pointerup", "pointercancel"]) canvas.addEventListener(end, (e) => held.delete(e.pointerId));
  canvas.addEventListener("pointermove", (e) => {
    const was = held.get(e.pointerId);
    if (!was) return;
    const [dx, dy] = [e.clientX - was[0], e.clientY - was[1]];
    if (held.size === 1) {
      if (e.shiftKey) { shift = [shift[0] + dx * 0.004, shift[1] - dy * 0.004]; redraw(); } else spin(dx * 0.008, dy * 0.008);
    } else {
      const other = [...held].find(([id]) => id !== e.pointerId)?.[1];
      if (other) {
        const far = (p) => Math.hypot(p[0] - other[0], p[1] - other[1]) || 1;
        closer(far([e.clientX, e.clientY]) / far(was));
        shift = [shift[0] + dx * 0.002, shift[1] - dy * 0.002];
      }
    }
    held.set(e.pointerId, [e.clientX, e.clientY]);
  });
  canvas.addEventListener("wheel", (e) => {
    // the page scrolls as ever unless the canvas was taken in hand
    if (document.activeElement !== canvas && !e.ctrlKey) return;
    e.preventDefault();
    closer(Math.exp(-e.deltaY * 0.0015));
  }, { passive: false });
  canvas.addEventListener("keydown", (e) => {
    const step = 0.12;
    const act = { ArrowLeft: () => spin(-step, 0), ArrowRight: () => spin(step, 0), ArrowUp: () => spin(0, -step), ArrowDown: () => spin(0, step), "+": () => closer(1.2), "-": () => closer(1 / 1.2) }[e.key];
    if (act) { e.preventDefault(); act(); }
  });
  const back = () => { turn = start; zoom = 0.92; shift = [0, 0]; redraw(); };
  const acts = document.createElement("p");
  acts.className = "acts";
  for (const [words, act] of [["Nearer", () => closer(1.3)], ["Farther", () => closer(1 / 1.3)], ["As at first", back]]) {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = words;
    button.addEventListener("click", act);
    acts.append(button);
  }
  canvas.tabIndex = 0;
  canvas.setAttribute("role", "img");
  canvas.setAttribute("aria-label", `${place.dataset.about}: drag or use the arrow keys to turn it`);
  place.replaceChildren(canvas, acts);
  place.dataset.alive = "";
  new ResizeObserver(redraw).observe(canvas);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", redraw);
  draw();
}

for (const place of document.querySelectorAll("[data-solid]")) show(place).catch(() => {});
