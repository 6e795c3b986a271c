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
  const middle = high.map((h, k) => (h + low[k]) / 2);
  return { at, normal, stretch, corners, rim: new Uint32Array([...sides.values()].flat()), mean, raw, middle, half };
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

/** Tap within this many px of the panel's edge: the place is on the edge. */
const EDGE = 22;

/** Lines over the panel: cuts and zones that are on record, and those that are tapped into a form. */
function overlay(place, mesh, canvas, project) {
  const make = (name, ...classes) => {
    const made = document.createElementNS("http://www.w3.org/2000/svg", name);
    if (classes.length) made.setAttribute("class", classes.join(" "));
    return made;
  };
  const svg = make("svg");
  svg.setAttribute("aria-hidden", "true");
  const known = JSON.parse(place.dataset.lines || "{}");
  const bar = document.createElement("div");
  bar.hidden = true;
  const said = document.createElement("p");
  said.setAttribute("role", "status");
  const acts = document.createElement("p");
  acts.className = "acts";
  bar.append(said, acts);
  /** The box of the form that is tapped into. */
  let box = null;
  const read = () => {
    const lines = [[]];
    for (const row of box.area.value.trimStart().split("\n")) {
      const p = row.trim().split(/[\s,;]+/).map(Number);
      if (!row.trim()) lines.push([]); else if (p.length === 3 && p.every(Number.isFinite)) lines.at(-1).push(p);
    }
    return lines;
  };
  const write = (lines) => {
    const kept = lines.filter((l, i) => l.length || i === lines.length - 1);
    box.area.value = kept.map((l) => l.map((p) => p.map((c) => c.toFixed(1)).join(" ")).join("\n")).join("\n\n");
    tell();
  };
  const tell = () => {
    const count = read().flat().length;
    const what = box.zone ? "Tap around the zone." : "Tap where the cut begins at the edge, then along its way.";
    said.textContent = `${what} ${count} ${count === 1 ? "place" : "places"}. Dragging still turns the panel.`;
    draw();
  };
  const where = ([x, y, z]) => project((x - mesh.middle[0]) / mesh.half, (y - mesh.middle[1]) / mesh.half, (z - mesh.middle[2]) / mesh.half);
  const path = (line, closed, ...classes) => {
    const d = line.map((p, i) => { const [x, y] = where(p); return `${i ? "L" : "M"}${x.toFixed(1)} ${y.toFixed(1)}`; }).join("");
    const made = make("path", ...classes);
    made.setAttribute("d", closed && line.length > 2 ? `${d}Z` : d);
    return made;
  };
  function draw() {
    const parts = [];
    for (const line of known.cuts ?? []) parts.push(path(line, false, "cut"));
    for (const ring of known.zones ?? []) parts.push(path(ring, true, "zone"));
    for (const line of box ? read() : []) {
      if (!line.length) continue;
      parts.push(path(line, box.zone, "tapped"));
      for (const p of line) {
        const [x, y] = where(p);
        const dot = make("circle", "tapped");
        dot.setAttribute("cx", x); dot.setAttribute("cy", y); dot.setAttribute("r", 5);
        parts.push(dot);
      }
    }
    svg.replaceChildren(...parts);
  }
  /** The place on the panel under a point of the canvas, mm; on the edge when that is near. */
  function pick(x, y) {
    const n = mesh.at.length / 3;
    const seen = Array.from({ length: n }, (_, v) => project(mesh.at[3 * v], mesh.at[3 * v + 1], mesh.at[3 * v + 2]));
    const raw = (v) => [mesh.raw[3 * v], mesh.raw[3 * v + 1], mesh.raw[3 * v + 2]];
    let [near, found] = [EDGE, null];
    for (let k = 0; k < mesh.rim.length && !box.zone; k += 2) {
      const [a, b] = [seen[mesh.rim[k]], seen[mesh.rim[k + 1]]];
      const [u, w] = [b[0] - a[0], b[1] - a[1]];
      const t = Math.min(1, Math.max(0, ((x - a[0]) * u + (y - a[1]) * w) / (u * u + w * w || 1)));
      const away = Math.hypot(a[0] + t * u - x, a[1] + t * w - y);
      if (away < near) {
        const [p, q] = [raw(mesh.rim[k]), raw(mesh.rim[k + 1])];
        [near, found] = [away, p.map((c, i) => c + t * (q[i] - c))];
      }
    }
    if (found) return found;
    let front = -Infinity;
    for (let t = 0; t < mesh.corners.length; t += 3) {
      const v = [mesh.corners[t], mesh.corners[t + 1], mesh.corners[t + 2]];
      const [a, b, c] = v.map((i) => seen[i]);
      const area = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
      const wb = ((x - a[0]) * (c[1] - a[1]) - (y - a[1]) * (c[0] - a[0])) / area;
      const wc = ((b[0] - a[0]) * (y - a[1]) - (b[1] - a[1]) * (x - a[0])) / area;
      const wa = 1 - wb - wc;
      if (!(wa >= 0 && wb >= 0 && wc >= 0)) continue;
      const depth = wa * a[2] + wb * b[2] + wc * c[2];
      if (depth > front) {
        const [p, q, r] = v.map(raw);
        [front, found] = [depth, p.map((_, i) => wa * p[i] + wb * q[i] + wc * r[i])];
      }
    }
    return found;
  }
  const tap = (x, y) => {
    const found = box && pick(x, y);
    if (!found) return;
    const lines = read();
    lines.at(-1).push(found);
    write(lines);
  };
  const button = (words, act) => {
    const made = document.createElement("button");
    made.type = "button";
    made.textContent = words;
    made.addEventListener("click", act);
    return made;
  };
  const another = button("Begin another cut", () => { box.area.value += "\n\n"; tell(); box.area.value = box.area.value.replace(/\n{3,}/g, "\n\n"); });
  const end = button("Done, to the form", () => {
    const form = box;
    box = null;
    bar.hidden = true;
    canvas.removeAttribute("data-tapping");
    form.area.closest("form").scrollIntoView({ block: "center" });
    form.area.focus();
    draw();
  });
  acts.append(
    button("Take the last back", () => {
      const lines = read();
      while (lines.length > 1 && !lines.at(-1).length) lines.pop();
      lines.at(-1).pop();
      write(lines);
    }),
    another,
    end,
  );
  for (const spot of document.querySelectorAll("[data-points]")) {
    if (spot.dataset.points !== place.dataset.panel) continue;
    const row = document.createElement("p");
    row.className = "acts";
    row.append(button("Tap on the panel", () => {
      box = { area: spot.querySelector("textarea"), zone: spot.dataset.kind === "zone" };
      another.hidden = box.zone;
      bar.hidden = false;
      canvas.dataset.tapping = "";
      place.scrollIntoView({ block: "center" });
      tell();
    }));
    spot.prepend(row);
  }
  return { svg, bar, draw, tap };
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
    over.draw();
  };
  /** Where a place (about the middle, scaled) lies on the canvas, CSS px, and how near it is. */
  const project = (x, y, z) => {
    const [w, h] = [canvas.clientWidth || 1, canvas.clientHeight || 1];
    const wide = w / h > 1.7;
    const [sx, sy] = [wide ? w / h / 1.7 : 1, wide ? 1 / 1.7 : h / w];
    const row = (r) => (turn[r] * x + turn[3 + r] * y + turn[6 + r] * z) * zoom;
    return [((row(0) + shift[0]) / sx + 1) * w / 2, (1 - (row(1) + shift[1]) / sy) * h / 2, row(2)];
  };
  const stage = document.createElement("div");
  stage.className = "stage";
  const over = overlay(place, mesh, canvas, project);
  const redraw = () => { if (!waiting) { waiting = true; requestAnimationFrame(draw); } };
  const spin = (dx, dy) => { turn = times(about("x", dy), times(about("y", dx), turn)); redraw(); };
  const closer = (by) => { zoom = Math.min(12, Math.max(0.3, zoom * by)); redraw(); };

  const held = new Map();
  let press = null;
  canvas.addEventListener("pointerdown", (e) => {
    canvas.setPointerCapture(e.pointerId);
    held.set(e.pointerId, [e.clientX, e.clientY]);
    press = held.size === 1 ? [e.clientX, e.clientY] : null;
  });
  // a tap is a press that goes nowhere
  canvas.addEventListener("pointerup", (e) => {
    if (press && Math.hypot(e.clientX - press[0], e.clientY - press[1]) < 6) {
      const box = canvas.getBoundingClientRect();
      over.tap(e.clientX - box.left - canvas.clientLeft, e.clientY - box.top - canvas.clientTop);
    }
    press = null;
  });
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
  stage.append(canvas, over.svg);
  place.replaceChildren(stage, over.bar, acts);
  place.dataset.alive = "";
  new ResizeObserver(redraw).observe(canvas);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", redraw);
  draw();
}

for (const place of document.querySelectorAll("[data-solid]")) show(place).catch(() => {});
