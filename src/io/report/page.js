// SPDX-License-Identifier: MIT
"use strict";
(() => {
  const D = JSON.parse(document.getElementById("data").textContent);
  const T = D.trims, COUNT = T.index.length;
  const $ = (id) => document.getElementById(id);
  const VERDICTS = ["good", "close", "fault"], ROLES = ["cloth", "trim", "stitching"];
  const rowOf = new Map(T.index.map((t, i) => [t, i]));
  const make = (tag, props, ...inside) => {
    const e = Object.assign(document.createElement(tag), props || {});
    e.append(...inside);
    return e;
  };
  const plural = (n, one, many) => n.toLocaleString("en") + " " + (n === 1 ? one : many || one + "s");

  // A verdict by shape and colour: circle, diamond, triangle.
  const SHAPES = ['<circle cx="6" cy="6" r="5"/>', '<path d="M6 0L12 6L6 12L0 6Z"/>', '<path d="M6 0L12 11.5H0Z"/>'];
  const mark = (v, word = true) => {
    const e = make("span", { className: "mark v" + v });
    e.innerHTML = '<svg viewBox="0 0 12 12" fill="currentColor" aria-hidden="true">' + SHAPES[v] + "</svg>" + (word ? VERDICTS[v] : "");
    return e;
  };
  const text = (v, m) => {
    const i = D.measures[m];
    return v.toFixed(i.decimals > 4 ? 0 : i.decimals) + (i.unit === "deg" ? "\u00b0" : i.unit ? "\u00a0" + i.unit : "");
  };
  const layerName = (l) => (l === null ? "" : D.layers[l] || "layer " + l);
  const frameText = (f) => (f === 0 ? "at rest" : "frame " + f);
  const causeText = (i) => {
    const m = T.cause[i], name = D.measures[m].name, v = T.value[m][i];
    if (name === "sliver") return "triangle " + Math.round(v) + " times as long as high";
    if (name === "collapse") return plural(v, "collapsed triangle");
    if (name === "lost") return v > 1 ? "no pose" : "fallback pose";
    return name.replace("-", " ") + " " + text(v, m);
  };
  const numbered = T.index.map((t, i) => i).filter((i) => T.verdict[i] > 0);  // rows are worst first
  const numberOf = new Map(numbered.map((i, k) => [T.index[i], k + 1]));

  // ---- headline ----
  const counts = [0, 0, 0];
  T.verdict.forEach((v) => counts[v]++);
  counts[0] += T.left_out;
  {
    const frames = plural(D.frames.length, "frame");
    const first = numbered[0];
    $("headline").textContent = counts[2] > 0
      ? plural(counts[2], "trim") + (counts[2] === 1 ? " is" : " are") + " over a limit in " + frames + ". Worst: " +
        T.name[first] + ", " + causeText(first) + ", " + frameText(T.frame[first]) + "."
      : counts[1] > 0
        ? "Every trim keeps within its limits in " + frames + "; " + counts[1] + (counts[1] === 1 ? " comes" : " come") + " close."
        : "Every trim keeps well within its limits in " + frames + ".";
    for (const v of [2, 1, 0]) $("counts").append(make("li", {}, make("b", { textContent: counts[v].toLocaleString("en") }), mark(v)));
  }

  // ---- picking one trim ----
  let picked = -1, view = null;
  const listeners = [];
  const pick = (t, show) => {
    picked = t;
    for (const f of listeners) f(show);
  };

  // ---- list ----
  const LISTED = 200;
  numbered.slice(0, LISTED).forEach((i) => {
    const li = make("li", { tabIndex: 0 },
      make("div", { className: "top" }, make("span", { className: "no", textContent: numberOf.get(T.index[i]) }), mark(T.verdict[i], false),
        make("span", { textContent: T.name[i] }), make("span", { className: "what", textContent: causeText(i) + ", " + frameText(T.frame[i]) })),
      make("p", { className: "advice", textContent: T.advice[i] }));
    li.dataset.trim = T.index[i];
    li.onclick = () => pick(T.index[i], true);
    li.onkeydown = (e) => { if (e.key === "Enter") pick(T.index[i], true); };
    $("list").append(li);
  });
  if (numbered.length === 0) $("list").append(make("li", { textContent: "Nothing. The closest calls are under Close-ups." }));
  if (numbered.length > LISTED) $("list").append(make("li", { textContent: plural(numbered.length - LISTED, "more trim") + " in the table below." }));
  listeners.push(() => document.querySelectorAll("#list li").forEach((li) => li.classList.toggle("picked", +li.dataset.trim === picked)));

  // ---- pictures and view ----
  const look = (t) => { const i = rowOf.get(t); return { verdict: T.verdict[i], role: T.role[i] }; };
  const NUMBER_COLOURS = ["#3354bf", "#a86400", "#940529"];
  // Numbers beside their trims, moved apart, with a line to the place.
  function drawNumbers(canvas, m, yaw) {
    const c = canvas.getContext("2d"), placed = [], r = 13;
    const drawn = [];
    view.trims.forEach((t, k) => {
      const n = numberOf.get(t);
      if (!n || n > 60) return;
      const w = view.where(k, m, yaw, 0);
      if (w.front >= -0.15) drawn.push({ n, v: look(t).verdict, x: w.x * canvas.width, y: w.y * canvas.height });
    });
    drawn.sort((a, b) => a.n - b.n);
    for (const d of drawn) {
      let at = null;
      for (let ring = 0; ring < 14 && !at; ring++) {
        for (let s = 0; s < 12 && !at; s++) {
          const a = s * Math.PI / 6 + (d.x < canvas.width / 2 ? Math.PI : 0), far = 26 + 14 * ring;
          const x = d.x + far * Math.cos(a), y = d.y + far * Math.sin(a);
          const inside = x > r && y > r && x < canvas.width - r && y < canvas.height - r;
          if (inside && placed.every((p) => Math.hypot(p.x - x, p.y - y) > 2 * r + 2)) at = { x, y };
        }
      }
      if (!at) continue;
      placed.push(at);
      c.strokeStyle = NUMBER_COLOURS[d.v]; c.lineWidth = 2;
      c.beginPath(); c.moveTo(d.x, d.y); c.lineTo(at.x, at.y); c.stroke();
      c.beginPath(); c.arc(d.x, d.y, 7, 0, 7); c.stroke();
      c.fillStyle = NUMBER_COLOURS[d.v];
      c.beginPath(); c.arc(at.x, at.y, r, 0, 7); c.fill();
      c.fillStyle = "#fff"; c.font = "600 " + (d.n > 99 ? 11 : 14) + "px system-ui, sans-serif"; c.textAlign = "center"; c.textBaseline = "middle";
      c.fillText(d.n, at.x, at.y + 0.5);
    }
  }

  let drawing = false;
  const redraw = () => {
    if (drawing || !view) return;
    drawing = true;
    requestAnimationFrame(() => { drawing = false; view.render(); placeLabels(); });
  };
  function placeLabels() {
    const box = $("labels"), wide = view.canvas.clientWidth, high = view.canvas.clientHeight;
    const wanted = [];
    view.trims.forEach((t, k) => { if (numberOf.get(t) <= 40 || t === picked) wanted.push(k); });
    while (box.children.length < wanted.length) box.append(make("span"));
    while (box.children.length > wanted.length) box.lastChild.remove();
    wanted.forEach((k, i) => {
      const t = view.trims[k], w = view.where(k, view.last, view.yaw, view.pitch), e = box.children[i];
      const hidden = w.x < 0 || w.x > 1 || w.y < 0 || w.y > 1 || (w.front < -0.1 && t !== picked);
      e.style.display = hidden ? "none" : "";
      e.style.left = w.x * wide + "px";
      e.style.top = Math.max(10, w.y * high - 20) + "px";
      e.className = "v" + look(t).verdict + (t === picked ? " pick" : "");
      e.textContent = numberOf.get(t) || T.name[rowOf.get(t)];
    });
  }
  function legend() {
    const e = $("legend");
    e.textContent = "";
    if (view.mapped) {
      const ramp = make("span", { className: "ramp" });
      ramp.style.background = view.ramp();
      e.append(view.range[0].toFixed(1) + " mm", ramp, view.range[1].toFixed(1) + " mm between vertices");
    } else {
      for (const v of [2, 1, 0]) e.append(mark(v), " \u00a0 ");
    }
  }
  // The page is there to be read first: the garment to turn comes after the first paint, the front and back from it only
  // where there is no still picture.
  let touched = false;
  function showPicked(show) {
    touched = true;
    if (!view) return;
    const i = rowOf.get(picked);
    view.picked = picked;
    view.tint();
    if (show && i !== undefined) {
      const shot = Math.max(D.mesh.shots.findIndex((s) => s.frame === T.frame[i]), 0);
      $("shot").value = shot;
      view.setShot(shot);
      view.face(picked);
    }
    redraw();
  }
  listeners.push(showPicked);
  D.mesh.shots.forEach((s, i) => $("shot").append(make("option", { value: i, textContent: frameText(s.frame) })));
  if ($("still")) $("pictures").remove();
  function startView() {
    try {
      view = new GarmentView.View($("view"), D.mesh, look, D.up === "z");
      if ($("pictures")) for (const [id, yaw] of [["front", 0], ["back", Math.PI]]) drawNumbers($(id), view.picture($(id), yaw), yaw);
    } catch (e) {
      view = null;
      $("pictures")?.remove();
      $("garment").replaceWith(make("p", { className: "note", textContent: "The garment cannot be turned here (" + e.message + "). Everything else is below." }));
      return;
    }
    $("shot").onchange = () => { view.setShot(+$("shot").value); redraw(); };
    const mode = (mapped) => {
      view.mapped = mapped;
      $("show-verdict").setAttribute("aria-pressed", !mapped);
      $("show-spacing").setAttribute("aria-pressed", mapped);
      legend(); redraw();
    };
    $("show-verdict").onclick = () => mode(false);
    $("show-spacing").onclick = () => mode(true);
    $("reset").onclick = () => { view.home(); redraw(); };
    legend();
    control($("view"));
    if (touched) showPicked(true);
    new ResizeObserver(redraw).observe($("view"));  // also draws for the first time
    document.documentElement.classList.add("drawn");
  }

  function control(canvas) {
    const down = new Map();
    let moved = 0;
    canvas.onpointerdown = (e) => { down.set(e.pointerId, [e.clientX, e.clientY]); canvas.setPointerCapture(e.pointerId); moved = 0; };
    canvas.onpointerup = canvas.onpointercancel = (e) => {
      if (e.type === "pointerup" && down.size === 1 && moved < 5) {
        const box = canvas.getBoundingClientRect(), t = view.pick(e.clientX - box.left, e.clientY - box.top);
        if (t >= 0) pick(t, false);
      }
      down.delete(e.pointerId);
    };
    canvas.onpointermove = (e) => {
      const from = down.get(e.pointerId);
      if (!from) return;
      const dx = e.clientX - from[0], dy = e.clientY - from[1];
      moved += Math.abs(dx) + Math.abs(dy);
      if (down.size === 2) {
        const other = [...down.entries()].find(([id]) => id !== e.pointerId)[1];
        const before = Math.hypot(from[0] - other[0], from[1] - other[1]), now = Math.hypot(e.clientX - other[0], e.clientY - other[1]);
        if (before > 0) view.zoom = Math.max(0.5, Math.min(60, view.zoom * now / before));
      } else if (e.shiftKey || e.buttons === 2) {
        view.shift[0] += 2 * dx / canvas.clientWidth;
        view.shift[1] -= 2 * dy / canvas.clientHeight;
      } else {
        const k = 0.008 / Math.sqrt(Math.max(1, view.zoom / 2));
        view.yaw -= k * dx;
        view.pitch = Math.max(-1.5, Math.min(1.5, view.pitch + k * dy));
      }
      down.set(e.pointerId, [e.clientX, e.clientY]);
      redraw();
    };
    canvas.oncontextmenu = (e) => e.preventDefault();
    canvas.addEventListener("wheel", (e) => {
      e.preventDefault();
      const k = Math.exp(-0.0015 * e.deltaY), zoom = Math.max(0.5, Math.min(60, view.zoom * k)), by = zoom / view.zoom;
      view.zoom = zoom;
      view.shift = view.shift.map((v) => v * by);
      redraw();
    }, { passive: false });
    canvas.onkeydown = (e) => {
      const step = { ArrowLeft: [-0.12, 0], ArrowRight: [0.12, 0], ArrowUp: [0, -0.12], ArrowDown: [0, 0.12] }[e.key];
      if (step) { view.yaw -= step[0]; view.pitch = Math.max(-1.5, Math.min(1.5, view.pitch + step[1])); }
      else if (e.key === "+" || e.key === "=") view.zoom = Math.min(60, view.zoom * 1.2);
      else if (e.key === "-") view.zoom = Math.max(0.5, view.zoom / 1.2);
      else return;
      e.preventDefault();
      redraw();
    };
  }

  // ---- close-ups ----
  for (const s of D.sections) {
    const i = rowOf.get(s.trim), n = numberOf.get(s.trim);
    const a = make("article", {}, make("h3", {}, mark(T.verdict[i], false), make("span", { textContent: (n ? n + "  " : "") + T.name[i] }),
      make("small", { textContent: causeText(i) + ", " + frameText(T.frame[i]) })));
    a.insertAdjacentHTML("beforeend", s.svg);
    if (T.advice[i]) a.append(make("p", { textContent: T.advice[i] }));
    $("cuts").append(a);
  }

  // ---- plots ----
  const series = D.series.data ? GarmentView.u16(D.series.data) : [];
  const WORDS = { lift: "Gap since rest", sink: "Depth in the cloth", tilt: "Tilt", jitter: "Jitter" };
  function plot(channel) {
    const { measure, value } = D.frameWorst[channel], info = D.measures[measure], n = D.frames.length;
    const W = 460, H = 190, L = 46, R = 12, TOP = 30, B = 26;
    const i = rowOf.get(picked);
    const own = [];
    if (i !== undefined && i < D.series.rows) {
      for (let b = 0; b < D.series.buckets; b++) own.push(series[(i * 4 + channel) * D.series.buckets + b] / 100);
    }
    const high = 1.12 * Math.max(info.limit, ...value, ...own, 0.01);
    const x = (k) => L + (n > 1 ? k / (n - 1) : 0.5) * (W - L - R), y = (v) => H - B - v / high * (H - B - TOP);
    const line = (points) => points.map(([k, v], j) => (j ? "L" : "M") + x(k).toFixed(1) + " " + y(v).toFixed(1)).join("");
    let s = `<svg viewBox="0 0 ${W} ${H}" role="img" aria-label="${WORDS[info.name]} over the frames"><text class="name" x="0" y="14">${WORDS[info.name]}, ${info.unit === "deg" ? "degrees" : info.unit}</text>`;
    const step = [0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500].find((v) => high / v <= 5) || 1000;
    for (let v = 0; v <= high; v += step) {
      s += `<path d="M${L} ${y(v).toFixed(1)}H${W - R}" stroke="#e7e2d6"/><text x="${L - 6}" y="${(y(v) + 4).toFixed(1)}" text-anchor="end">${+v.toFixed(2)}</text>`;
    }
    if (n > 0) {
      const points = value.map((v, k) => [k, v]);
      s += `<path d="${line([[0, 0], ...points, [n - 1, 0]])}Z" fill="#d9d4c7" opacity=".8"/><path d="${line(points)}" fill="none" stroke="#8b8574" stroke-width="1.5"/>`;
      for (const k of new Set([0, Math.floor((n - 1) / 2), n - 1])) s += `<text x="${x(k)}" y="${H - 8}" text-anchor="middle">${D.frames[k]}</text>`;
    }
    if (info.limit > 0) s += `<path d="M${L} ${y(info.limit).toFixed(1)}H${W - R}" stroke="#940529" stroke-dasharray="6 4"/><text x="${W - R}" y="${(y(info.limit) - 5).toFixed(1)}" text-anchor="end">limit ${info.limit}</text>`;
    if (own.length) {
      const per = D.series.framesPerBucket;
      s += `<path d="${line(own.map((v, b) => [Math.min(n - 1, b * per + (per - 1) / 2), v]))}" fill="none" stroke="#1f5fae" stroke-width="2.2"/>`;
    }
    return s + "</svg>";
  }
  function plots() {
    const i = rowOf.get(picked);
    $("picked-name").textContent = i === undefined ? "the trim you pick" : T.name[i];
    $("plots").innerHTML = D.frameWorst.map((_, c) => "<figure>" + plot(c) + "</figure>").join("");
  }
  listeners.push(plots);

  // ---- table ----
  const value = (name) => { const m = D.measures.findIndex((x) => x.name === name); return { m, get: (i) => T.value[m][i] }; };
  const columns = [
    { head: "No", get: (i) => i, show: (i) => numberOf.get(T.index[i]) || "" },
    { head: "Verdict", get: (i) => -T.verdict[i], show: (i) => mark(T.verdict[i]), text: true },
    { head: "Trim", get: (i) => T.name[i], show: (i) => T.name[i], text: true },
    { head: "Kind", get: (i) => T.role[i], show: (i) => ROLES[T.role[i]], text: true },
    { head: "Worst in", get: (i) => D.measures[T.cause[i]].name, show: (i) => (T.value[T.cause[i]][i] > 0 ? D.measures[T.cause[i]].name.replace("-", " ") : ""), text: true },
    { head: "Frame", get: (i) => T.frame[i], show: (i) => (T.frame[i] === 0 ? "rest" : T.frame[i]) },
    { head: "Gap at rest", get: (i) => T.gapRest[i], show: (i) => T.gapRest[i].toFixed(2) },
    { head: "Gap from", get: (i) => T.gapMin[i], show: (i) => T.gapMin[i].toFixed(2) },
    { head: "to", get: (i) => T.gapMax[i], show: (i) => T.gapMax[i].toFixed(2) },
    ...["lift", "sink", "tilt", "jitter", "stretch", "shear", "other-layer", "collision"].map((name) => {
      const v = value(name), word = name[0].toUpperCase() + name.slice(1).replace("-", " "), unit = D.measures[v.m].unit;
      return { head: word + (unit === "mm" ? "" : unit === "deg" ? " \u00b0" : " " + unit), get: (i) => -v.get(i), show: (i) => v.get(i).toFixed(D.measures[v.m].decimals), hot: (i) => v.get(i) > D.measures[v.m].limit };
    }),
    { head: "Width", get: (i) => T.width[i], show: (i) => T.width[i].toFixed(1) },
    { head: "On", get: (i) => layerName(T.layer[i]), show: (i) => layerName(T.layer[i]), text: true },
    { head: "Advice", get: (i) => T.advice[i], show: (i) => T.advice[i], text: true, wide: true },
  ];
  const PAGE = 100;
  let order = T.index.map((_, i) => i), sortBy = 0, backwards = false, page = 0, rows = order;
  function sort(c) {
    backwards = c === sortBy && !backwards;
    sortBy = c;
    const get = columns[c].get;
    order = T.index.map((_, i) => i);
    if (c !== 0) order.sort((a, b) => { const x = get(a), y = get(b); return (x < y ? -1 : x > y ? 1 : a - b); });
    if (backwards) order.reverse();
    table(0);
  }
  function table(to) {
    const find = $("find").value.toLowerCase(), only = $("only").value;
    rows = order.filter((i) => (only === "" || T.verdict[i] === +only) && (!find || T.name[i].toLowerCase().includes(find)));
    page = Math.max(0, Math.min(to, Math.ceil(rows.length / PAGE) - 1));
    $("found").textContent = plural(rows.length, "trim") + (T.left_out ? "; " + plural(T.left_out, "more stitch", "more stitches") + ", all good" : "");
    const head = make("tr");
    columns.forEach((c, k) => {
      const b = make("button", { type: "button", textContent: c.head + (k === sortBy ? (backwards ? " \u25b4" : " \u25be") : "") });
      b.onclick = () => sort(k);
      const th = make("th", { className: c.text ? "text" : "" }, b);
      if (k === sortBy) th.ariaSort = backwards ? "descending" : "ascending";
      head.append(th);
    });
    const body = make("tbody");
    for (const i of rows.slice(page * PAGE, (page + 1) * PAGE)) {
      const tr = make("tr", { className: T.index[i] === picked ? "picked" : "" });
      for (const c of columns) tr.append(make("td", { className: (c.text ? "text " : "") + (c.wide ? "wide " : "") + (c.hot && c.hot(i) ? "hot" : "") }, c.show(i)));
      tr.onclick = () => pick(T.index[i], false);
      body.append(tr);
    }
    $("table").replaceChildren(make("thead", {}, head), body);
    const pages = $("pages"), last = Math.ceil(rows.length / PAGE) - 1;
    pages.replaceChildren();
    if (last > 0) {
      const go = (word, p, can) => pages.append(Object.assign(make("button", { type: "button", textContent: word, disabled: !can }), { onclick: () => table(p) }));
      go("Back", page - 1, page > 0);
      pages.append(make("span", { className: "hint", textContent: "page " + (page + 1) + " of " + (last + 1) }));
      go("Next", page + 1, page < last);
    }
  }
  $("find").oninput = () => table(0);
  $("only").onchange = () => table(0);
  listeners.push(() => table(page));

  // ---- cloth, parts, limits ----
  const plain = (id, heads, data, left) => {
    const tr = (cells, tag) => {
      const row = make("tr");
      cells.forEach((c, k) => row.append(make(tag, { className: left.includes(k) ? "text" : "" }, c === "" || c === null || c === undefined ? "" : c)));
      return row;
    };
    $(id).replaceChildren(make("thead", {}, tr(heads, "th")), make("tbody", {}, ...data.map((d) => tr(d, "td"))));
  };
  plain("spacing", ["Layer", "Triangles", "Usual edge mm", "Finest 5 % below", "Coarsest 5 % above", "For its trims"],
    D.spacing.map((s) => [layerName(s.layer), s.triangles.toLocaleString("en"), s.median, s.finest, s.coarsest, s.advice]), [0, 5]);
  plain("part-table", ["Part", "Kind", "Count", "Size mm", "Trade size"],
    D.parts.map((p) => [p.name, ROLES[p.role], p.count.toLocaleString("en"), p.size.map((v) => v.toFixed(1)).join(" x "), p.trade]), [0, 1, 4]);
  plain("limit-table", ["Measure", "What it is", "Limit", "Worst", "Over it"], D.measures.map((m, k) => {
    const all = T.value[k], worst = all.reduce((a, b) => Math.max(a, b), 0);
    const unit = m.unit === "deg" ? "\u00b0" : m.unit ? " " + m.unit : "";
    return [m.name.replace("-", " "), m.meaning, m.limit + unit, text(worst, k), plural(all.filter((v) => v > m.limit).length, "trim")];
  }), [0, 1]);
  for (const [k, v] of D.settings) $("settings").append(make("dt", { textContent: k }), make("dd", { textContent: v }));

  if (numbered.length) picked = T.index[numbered[0]];
  else if (COUNT) picked = T.index[0];
  plots();
  table(0);
  document.documentElement.dataset.ready = Math.round(performance.now());
  requestAnimationFrame(() => setTimeout(startView));
})();
