// The drawing itself: what T holds, as shapes on the paper. Texts go in as text nodes only.
import { T, find, link } from "./state.js";
import { area, bearing, centre, dist, edges, said } from "./plane.js";

const NS = "http://www.w3.org/2000/svg";
export const svg = document.getElementById("paper");
const SERVICE = { power: ["E", "#b80000"], gas: ["G", "#8a6d00"], telecom: ["C", "#a85a00"], water: ["W", "#0057d9"], irrigation: ["R", "#8e24aa"], sewer: ["S", "#00803a"], drain: ["D", "#00803a"] };
const LETTER = { downspout: "D", sump: "S", inlet: "I", area_drain: "A", curb_outlet: "C", daylight_outlet: "Y", tie_in: "T", discharge_point: "P" };
const ORDER = ["neighbour", "lot", "wet_area", "easement", "no_dig", "driveway", "paving", "walk", "building"];

export function node(name, attributes, text) {
  const made = document.createElementNS(NS, name);
  for (const [key, value] of Object.entries(attributes || {})) made.setAttribute(key, value);
  if (text !== undefined) made.textContent = text;
  return made;
}

let size = [800, 600];
export const toScreen = (p) => [(p[0] - T.view.x) * T.view.scale + size[0] / 2, size[1] / 2 - (p[1] - T.view.y) * T.view.scale];
export const toPaper = (s) => [(s[0] - size[0] / 2) / T.view.scale + T.view.x, (size[1] / 2 - s[1]) / T.view.scale + T.view.y];
export const measure = () => { const r = svg.getBoundingClientRect(); size = [r.width || 800, r.height || 600]; return r; };

export function fit() {
  measure();
  let places = T.doc.features.filter((f) => f.properties.kind !== "neighbour").flatMap((f) => f.xy).concat(T.doc.heights.map((h) => [h.x, h.y]), T.draft);
  if (!T.doc.features.some((f) => f.properties.kind === "lot")) places = places.concat((T.ground.shots || []).map((h) => [h.x, h.y]));
  if (!places.length && T.ground.box) places = T.ground.box;
  if (!places.length) places = [[-10, -10], T.site.metric ? [40, 40] : [110, 150]];
  onto(places, Infinity);
}

// what was typed may lie anywhere: the view goes to it where it is not to be seen
export function lookAt(places, fresh = places) {
  measure();
  const unseen = (p) => { const s = toScreen(p); return !(s[0] >= 0 && s[1] >= 0 && s[0] <= size[0] && s[1] <= size[1]); };
  if (fresh.some(unseen)) onto(places, T.view.scale);
}

function onto(places, most) {
  const x = places.map((p) => p[0]), y = places.map((p) => p[1]), least = places.length > 1 ? 1 : (T.site.metric ? 15 : 50) * T.site.factor;
  const w = Math.max(...x) - Math.min(...x), h = Math.max(...y) - Math.min(...y);
  T.view.x = (Math.max(...x) + Math.min(...x)) / 2;
  T.view.y = (Math.max(...y) + Math.min(...y)) / 2;
  T.view.scale = Math.max(1e-4, Math.min(most, (size[0] - 70) / Math.max(w, least), (size[1] - 90) / Math.max(h, least)));
}

const path = (xy, closed) => xy.length ? xy.map((p, k) => { const s = toScreen(p); return `${k ? "L" : "M"}${s[0].toFixed(1)} ${s[1].toFixed(1)}`; }).join("") + (closed ? "Z" : "") : "";
const moving = (f) => (T.moved && T.moved.id === f.id ? T.moved.xy : f.xy);

// texts in order of weight: what would lie on one already there is left out
let boxes = [];
function label(into, weighty, attributes, text) {
  const wide = text.length * 6.9 + 4, x = Number(attributes.x) - (attributes["text-anchor"] === "middle" ? wide / 2 : 0), y = Number(attributes.y);
  const box = [x, y - 12, x + wide, y + 4];
  if (!weighty && boxes.some((b) => box[0] < b[2] && box[2] > b[0] && box[1] < b[3] && box[3] > b[1])) return;
  boxes.push(box);
  into.append(node("text", attributes, text));
}

let groundGroup = null, groundFor = null;
function ground(into) {
  if (!T.ground.known || !T.show.ground) return;
  if (groundFor !== T.ground) {
    groundFor = T.ground;
    groundGroup = node("g");
    const [nw, ne, sw] = T.ground.corners, o = nw;
    const w = [ne[0] - nw[0], ne[1] - nw[1]], h = [sw[0] - nw[0], sw[1] - nw[1]];
    const image = node("image", { href: `data:image/png;base64,${T.ground.picture}`, width: 1, height: 1, preserveAspectRatio: "none", opacity: .5,
      transform: `matrix(${w[0]} ${w[1]} ${h[0]} ${h[1]} 0 0)` });
    groundGroup.append(image);
    for (const level of T.ground.contours) for (const line of level.lines)
      groundGroup.append(node("path", { class: "contour thin", d: line.map((p, k) => `${k ? "L" : "M"}${(p[0] - o[0]).toFixed(2)} ${(p[1] - o[1]).toFixed(2)}`).join("") }));
    groundGroup.origin = o;
  }
  const s = T.view.scale, at = toScreen(groundGroup.origin);
  groundGroup.setAttribute("transform", `matrix(${s} 0 0 ${-s} ${at[0]} ${at[1]})`);
  into.append(groundGroup);
}

let shown = null, shownFor = "";
function picture(into) {
  const p = T.picture;
  if (!p || !p.corners || !T.show.picture) return;
  const [nw, ne, sw] = p.corners.map(toScreen);
  if (shownFor !== p.name) { shown = node("image", { href: link(`picture?${encodeURIComponent(p.name)}`), width: 1, height: 1, preserveAspectRatio: "none", opacity: .55 }); shownFor = p.name; }
  shown.setAttribute("transform", `matrix(${ne[0] - nw[0]} ${ne[1] - nw[1]} ${sw[0] - nw[0]} ${sw[1] - nw[1]} ${nw[0]} ${nw[1]})`);
  into.append(shown);
}

function levels(into) {
  if (!T.ground.known || !T.show.ground) return;
  for (const level of T.ground.contours) {
    const line = level.lines.reduce((a, b) => (b.length > a.length ? b : a)), s2 = toScreen(line[Math.floor(line.length / 2)]);
    label(into, false, { class: "label level", x: s2[0], y: s2[1] + 4 }, String(level.level));
  }
}

export function heightAt(p) {
  const g = T.ground.known && T.ground.heights;
  if (!g) return null;
  const [nw, ne, sw] = T.ground.corners;
  const e = [(ne[0] - nw[0]) / g.cols, (ne[1] - nw[1]) / g.cols], s = [(sw[0] - nw[0]) / g.rows, (sw[1] - nw[1]) / g.rows];
  const det = e[0] * s[1] - e[1] * s[0], dx = p[0] - nw[0], dy = p[1] - nw[1];
  const col = Math.floor((dx * s[1] - dy * s[0]) / det), row = Math.floor((dy * e[0] - dx * e[1]) / det);
  if (col < 0 || row < 0 || col >= g.cols || row >= g.rows) return null;
  if (!g.values) { const raw = Uint8Array.from(atob(g.data), (c) => c.charCodeAt(0)); g.values = new DataView(raw.buffer); }
  const v = g.values.getInt16(2 * (row * g.cols + col), true);
  return v === g.unknown ? null : (v * g.step + g.base) / g.unit;
}

function shape(into, f) {
  const kind = f.properties.kind, xy = moving(f), taken = f.id === T.selected ? " taken" : "";
  if (f.shape === "Polygon" || f.shape === "LineString") {
    const made = node("path", { class: `${kind}${taken}`, d: path(xy, f.shape === "Polygon") });
    if (kind === "utility" && SERVICE[f.properties.service]) made.style.stroke = SERVICE[f.properties.service][1];
    into.append(made);
    if (kind === "utility") {
      const a = toScreen(xy[0]), b = toScreen(xy[xy.length - 1]);
      into.append(node("text", { class: "label dim", x: (a[0] + b[0]) / 2 + 5, y: (a[1] + b[1]) / 2 }, (SERVICE[f.properties.service] || ["?"])[0]));
    }
  }
}

function symbol(into, f) {
  const s = toScreen(moving(f)[0]), kind = f.properties.kind, about = T.kinds.get(kind), group = about ? about.group : "";
  const taken = f.id === T.selected ? " taken" : "", letter = LETTER[kind];
  if (kind === "tree") into.append(node("circle", { class: `sym tree${taken}`, cx: s[0], cy: s[1], r: 8 }));
  else if (group === "outlet") into.append(node("path", { class: `sym outlet${taken}`, d: `M${s[0]} ${s[1] + 12}L${s[0] - 12} ${s[1] - 9}H${s[0] + 12}Z` }));
  else if (kind === "sump") into.append(node("rect", { class: `sym${taken}`, x: s[0] - 9, y: s[1] - 9, width: 18, height: 18 }));
  else if (letter) into.append(node("circle", { class: `sym${taken}`, cx: s[0], cy: s[1], r: 9.5 }));
  else into.append(node("path", { class: `sym other${taken}`, d: `M${s[0]} ${s[1] - 7}L${s[0] + 7} ${s[1]}L${s[0]} ${s[1] + 7}L${s[0] - 7} ${s[1]}Z` }));
  if (letter) into.append(node("text", { class: "symtext", x: s[0], y: s[1] + (group === "outlet" ? 2 : 4.2) }, letter));
}

function name(into, f) {
  const xy = moving(f), text = String(f.properties.name ?? "");
  if (!text || (f.properties.kind === "neighbour" && f.id !== T.selected)) return;
  if (f.shape === "Point") {
    const s = toScreen(xy[0]);
    const weighty = ["source", "outlet"].includes((T.kinds.get(f.properties.kind) || {}).group) || f.id === T.selected, told = spare(text), called = text.slice(0, 40);
    const at = weighty ? clear(s, Math.max(called.length, told ? told.text.length * 1.08 : 0) * 6.9 + 4, told ? 31 : 16) : [s[0] + 13, s[1] - 18];
    if (at.length > 2 && off(at, s) > 20) {  // a text that stands far off is led to its point
      const to = [Math.max(at[0], Math.min(s[0], at[2])), Math.max(at[1], Math.min(s[1], at[3]))], l = dist(s, to);
      into.append(node("path", { class: "leader", d: `M${s[0] + (to[0] - s[0]) * 11 / l} ${s[1] + (to[1] - s[1]) * 11 / l}L${to[0]} ${to[1]}` }));
    }
    label(into, weighty, { class: "label", x: at[0], y: at[1] + 12 }, called);
    if (told) label(into, true, { class: `label spare ${told.serves ? "yes" : "no"}`, x: at[0], y: at[1] + 27 }, told.text);
    return;
  }
  const s = toScreen(f.shape === "Polygon" ? (f.properties.kind === "lot" ? [centre(xy)[0], Math.max(...xy.map((p) => p[1]))] : centre(xy)) : xy[Math.floor((xy.length - 1) / 2)]);
  label(into, f.id === T.selected, { class: "label", x: s[0], y: s[1] + (f.properties.kind === "lot" ? 16 : 4), ...(f.shape === "Polygon" ? { "text-anchor": "middle" } : {}) }, text.slice(0, 40));
}

// where a text of a point stands clear of lines, symbols and other texts: its upper left corner, the least bad of places about the point
let strokes = [], spots = [];
const off = (box, p) => Math.hypot(Math.max(box[0] - p[0], 0, p[0] - box[2]), Math.max(box[1] - p[1], 0, p[1] - box[3]));
function clear(s, wide, high) {
  const places = [[13, -18], [-13 - wide, -18], [-wide / 2, -13 - high], [-wide / 2, 13], [9, -9 - high], [9, 9], [-9 - wide, -9 - high], [-9 - wide, 9]];
  // farther off where all of those are taken: still nearer to its point than to another
  for (const far of [16, 32]) places.push([13 + far, -18], [-13 - far - wide, -18], [-wide / 2, -13 - far - high], [-wide / 2, 13 + far], [9 + far, -9 - far - high], [9 + far, 9 + far], [-9 - far - wide, -9 - far - high], [-9 - far - wide, 9 + far]);
  let best = null, least = Infinity;
  for (const [dx, dy] of places) {
    const box = [s[0] + dx, s[1] + dy, s[0] + dx + wide, s[1] + dy + high];
    let bad = box[0] < 0 || box[1] < 0 || box[2] > size[0] || box[3] > size[1] ? 6 : 0;
    const own = off(box, s);
    if (spots.some((p) => off(box, p) < own)) bad += 2;  // it would be read as the other's
    for (const b of boxes) if (box[0] < b[2] && box[2] > b[0] && box[1] < b[3] && box[3] > b[1]) bad += 3;
    for (const [a, b] of strokes) if (bad < least && crosses(box, a, b)) bad += 1;
    if (bad < least) { least = bad; best = box; }
    if (!least) break;
  }
  return best;
}
// whether a run goes through a box
function crosses(box, a, b) {
  let from = 0, to = 1;
  for (const k of [0, 1]) {
    const d = b[k] - a[k];
    if (Math.abs(d) < 1e-9) { if (a[k] < box[k] || a[k] > box[k + 2]) return false; continue; }
    const t = [(box[k] - a[k]) / d, (box[k + 2] - a[k]) / d];
    from = Math.max(from, Math.min(...t)); to = Math.min(to, Math.max(...t));
  }
  return from <= to;
}
// every run that is drawn, on the screen
function drawnRuns() {
  const runs = [], some = (shape, xy) => { for (const [a, b] of edges({ shape, xy })) { const p = toScreen(a), q = toScreen(b); if (crosses([0, 0, ...size], p, q)) runs.push([p, q]); } };
  for (const f of T.doc.features) if (f.shape !== "Point" && T.kinds.has(f.properties.kind) && f.xy.length > 1) some(f.shape, moving(f));
  for (const pair of (T.answer && T.answer.pairs) || []) if (pair.way && pair.best) some("LineString", pair.way.xy);
  if (T.result && T.overlays.has("plan")) for (const line of T.result.lines) some("LineString", line.xy);
  return runs.slice(0, 4000);
}

// the best spare of a source, as the panel begins with it
function spare(called) {
  if (!T.answer || !T.answer.pairs) return null;
  const of = T.answer.pairs.filter((p) => p.source === called && p.spare !== null);
  if (!of.length) return null;
  const best = of.reduce((a, b) => (b.spare > a.spare ? b : a));
  return { serves: best.spare >= 0, text: `${best.spare_mark}${T.answer.quick ? " \u2248" : ""}` };
}

function dimensions(into, f, xy) {
  if (f.shape === "Point") return;
  const drawn = edges({ shape: f.shape, xy });
  if (drawn.length > 24) return;
  const mid = centre(xy);
  for (const [a, b] of drawn) {
    const sa = toScreen(a), sb = toScreen(b);
    if (dist(sa, sb) < 34) continue;
    let out = [-(sb[1] - sa[1]), sb[0] - sa[0]];
    const l = Math.hypot(...out) || 1, m = [(sa[0] + sb[0]) / 2, (sa[1] + sb[1]) / 2], c = toScreen(mid);
    if ((m[0] - c[0]) * out[0] + (m[1] - c[1]) * out[1] < 0) out = [-out[0], -out[1]];
    into.append(node("text", { class: "label dim", x: m[0] + out[0] / l * 13, y: m[1] + out[1] / l * 13 + 4, "text-anchor": "middle" }, said(dist(a, b) / T.site.factor, T.site)));
  }
}

function answers(into) {
  if (!T.answer) return;
  const reach = T.answer.reach || (T.answer.quick ? null : T.reach);
  if (T.show.reach && reach && reach.dots.length) {
    const r = Math.max(1.5, reach.metres / T.paper.metres * T.view.scale / 2), top = Math.max(...reach.dots.map((d) => d[2]), 1e-6);
    const g = node("g", { opacity: .55 });
    for (const [x, y, z] of reach.dots) {
      const s = toScreen([x, y]), k = Math.round(4 * z / top);
      g.append(node("rect", { class: "dot", x: s[0] - r, y: s[1] - r, width: 2 * r, height: 2 * r, fill: ["#cfe6d8", "#a5d4bd", "#74bd9c", "#3f9f79", "#00775a"][k] }));
    }
    into.append(g);
  }
  for (const one of T.answer.own || []) for (const b of one.breaks) if (b.xy.length > 1) into.append(node("path", { class: "halo", d: path(b.xy) }), node("path", { class: "broken", d: path(b.xy) }));
  for (const pair of T.answer.pairs) {
    if (!pair.way) continue;
    const chosen = T.pair ? pair.source === T.pair[0] && pair.outlet === T.pair[1] : pair.best;
    if (!chosen && !(T.pair && pair.source === T.pair[0])) continue;
    into.append(node("path", { class: "halo", d: path(pair.way.xy) }), node("path", { class: `way${chosen ? "" : " other"}${pair.serves ? "" : " no"}`, d: path(pair.way.xy) }));
  }
}

function results(into) {
  if (!T.result) return;
  for (const layout of T.result.layouts) if (T.overlays.has(layout.number)) for (const line of layout.lines) into.append(node("path", { class: "planned over", d: path(line.xy) }));
  if (!T.overlays.has("plan")) return;
  for (const line of T.result.lines) {
    into.append(node("path", { class: "halo", d: path(line.xy) }), node("path", { class: `planned ${line.state}`, d: path(line.xy) }));
    const a = toScreen(line.xy[0]), b = toScreen(line.xy[1]);
    into.append(node("text", { class: "label", x: (a[0] + b[0]) / 2 + 6, y: (a[1] + b[1]) / 2 }, `${line.id} ${line.pipe}`.slice(0, 30)));
  }
}

function heights(into, told) {
  const every = [...T.doc.heights.map((h, k) => ({ ...h, id: `#${k}` })), ...(T.ground.shots || [])];
  const near = T.view.scale * T.site.factor > (T.site.metric ? 6 : 2);
  for (const h of every) {
    const at = T.moved && T.moved.id === h.id ? T.moved.xy[0] : [h.x, h.y], s = toScreen(at);
    if (s[0] < -40 || s[1] < -40 || s[0] > size[0] + 40 || s[1] > size[1] + 40) continue;
    into.append(node("path", { class: `sym height${h.id === T.selected ? " taken" : ""}`, d: `M${s[0] - 5} ${s[1]}H${s[0] + 5}M${s[0]} ${s[1] - 5}V${s[1] + 5}` }));
    if (near || every.length < 40) label(told, h.id === T.selected, { class: "label level", x: s[0] + 6, y: s[1] + 14 }, h.z === null ? "?" : h.z.toFixed(2));
  }
}

function draft(into) {
  for (const g of T.guides) {
    const a = toScreen([g.p[0] - g.d[0] * 1e4, g.p[1] - g.d[1] * 1e4]), b = toScreen([g.p[0] + g.d[0] * 1e4, g.p[1] + g.d[1] * 1e4]);
    into.append(node("line", { class: "guide", x1: a[0], y1: a[1], x2: b[0], y2: b[1] }));
  }
  const about = T.kinds.get(T.kind), polygon = T.tool === "draw" && about && about.shape === "Polygon";
  if (T.draft.length) {
    into.append(node("path", { class: T.tool === "measure" ? "rubber" : "draft", d: path(T.draft, polygon && T.draft.length > 2), ...(polygon ? {} : { fill: "none" }) }));
    for (const p of T.draft) { const s = toScreen(p); into.append(node("circle", { class: "handle", cx: s[0], cy: s[1], r: 4 })); }
    if (T.draft.length > 1) dimensions(into, { shape: "LineString" }, T.draft);
    if (T.pointer) {
      const last = T.draft[T.draft.length - 1];
      into.append(node("path", { class: "rubber", d: path([last, T.pointer]) }));
      const s = toScreen(T.pointer), l = dist(last, T.pointer);
      if (l > 0) into.append(node("text", { class: "label", x: s[0] + 14, y: s[1] + 24 }, `${said(l / T.site.factor, T.site)}  ${bearing(last, T.pointer)}`));
    }
  }
  if (T.pointer && (T.tool !== "select" || T.keys)) {
    const s = toScreen(T.pointer);
    into.append(node("path", { class: "cross", d: `M${s[0] - 16} ${s[1]}H${s[0] + 16}M${s[0]} ${s[1] - 16}V${s[1] + 16}` }));
    if (T.snap) into.append(node("rect", { class: "snapmark", x: s[0] - 6, y: s[1] - 6, width: 12, height: 12 }));
  }
}

export function draw() {
  measure();
  const g = node("g");
  picture(g);
  ground(g);
  const flat = T.doc.features.filter((f) => f.shape === "Polygon" && T.kinds.has(f.properties.kind));
  flat.sort((a, b) => ORDER.indexOf(a.properties.kind) - ORDER.indexOf(b.properties.kind));
  for (const f of flat) shape(g, f);
  const dots = node("g");
  answers(dots);
  g.append(dots);
  for (const f of T.doc.features) if (f.shape === "LineString" && T.kinds.has(f.properties.kind)) shape(g, f);
  results(g);
  boxes = [];
  strokes = drawnRuns();
  const told = node("g"), points = T.doc.features.filter((f) => f.shape === "Point" && f.xy.length && T.kinds.has(f.properties.kind));
  spots = points.map((f) => toScreen(moving(f)[0]));
  for (const s of spots) { boxes.push([s[0] - 10, s[1] - 10, s[0] + 10, s[1] + 10]); }
  const weight = (f) => (f.id === T.selected ? 0 : f.shape === "Point" ? 1 : 2);
  for (const f of T.doc.features.filter((one) => one.xy.length && T.kinds.has(one.properties.kind)).sort((a, b) => weight(a) - weight(b))) name(told, f);
  heights(g, told);
  levels(told);
  for (const f of points) symbol(g, f);
  g.append(told);
  const chosen = find(T.selected);
  if (chosen && chosen.shape !== "Point") {
    const xy = moving(chosen);
    dimensions(g, chosen, xy);
    if (!chosen.locked && T.tool === "select") for (const p of xy) { const s = toScreen(p); g.append(node("rect", { class: "handle", x: s[0] - 5, y: s[1] - 5, width: 10, height: 10 })); }
  }
  draft(g);
  scale(g);
  svg.replaceChildren(g);
}

function scale(into) {
  const wanted = 110 / T.view.scale / T.site.factor;
  const step = [0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000].reduce((a, b) => (b <= wanted ? b : a), 0.1);
  const px = step * T.site.factor * T.view.scale, x = size[0] - 70 - px, y = size[1] - 16;
  if (x < 150) return;
  into.append(node("path", { class: "cross", d: `M${x} ${y - 5}V${y}H${x + px}V${y - 5}`, fill: "none" }), node("text", { class: "label dim", x: x + px / 2, y: y - 4, "text-anchor": "middle" }, `${step} ${T.site.metric ? "m" : "ft"}`),
    node("path", { class: "cross", d: `M${size[0] - 30} 44V14M${size[0] - 35} 22L${size[0] - 30} 12L${size[0] - 25} 22`, fill: "none" }), node("text", { class: "label dim", x: size[0] - 30, y: 58, "text-anchor": "middle" }, "N"));
}

// ---- what lies under a place

export function hit(p, reach) {
  const tol = reach / T.view.scale;
  let best = null, least = tol;
  T.doc.heights.forEach((h, k) => { const d = dist([h.x, h.y], p); if (d < least * .8) { least = d / .8; best = `#${k}`; } });
  for (const f of T.doc.features) if (f.shape === "Point" && f.xy.length && T.kinds.has(f.properties.kind)) { const d = dist(f.xy[0], p); if (d < Math.max(tol, 11 / T.view.scale) && d <= least + 1e-9) { least = d; best = f.id; } }
  if (best) return best;
  least = tol * .75;
  for (const f of T.doc.features) if (f.shape === "LineString" && T.kinds.has(f.properties.kind)) for (const [a, b] of edges(f)) { const d = toEdge(a, b, p); if (d < least) { least = d; best = f.id; } }
  if (best) return best;
  for (const f of T.doc.features) if (f.shape === "Polygon" && T.kinds.has(f.properties.kind)) for (const [a, b] of edges(f)) { const d = toEdge(a, b, p); if (d < least) { least = d; best = f.id; } }
  if (best) return best;
  let small = Infinity;
  for (const f of T.doc.features) if (f.shape === "Polygon" && !["lot", "neighbour", "easement"].includes(f.properties.kind) && within(f.xy, p)) { const s = Math.abs(area(f.xy)); if (s < small) { small = s; best = f.id; } }
  return best;
}
import { inside as within, nearestOn } from "./plane.js";
const toEdge = (a, b, p) => dist(nearestOn(a, b, p), p);
