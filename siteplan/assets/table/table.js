// The hands: pointer, keys and typed entries; what each tool makes of them.
import { T, ask, asking, changed, commit, find, get, keepMine, link, newId, onChange, onSay, onSettled, post, redo, save, take, takeTheirs, tell, undo } from "./state.js";
import { add, area, bearing, centre, cross, dist, dot, edges, length, meet, nearestOn, outwards, said, strip, typed, unit } from "./plane.js";
import { draw, fit, heightAt, hit, lookAt, measure, moving, svg, toPaper, toScreen } from "./paper.js";
import { bind, el, panels, show } from "./panels.js";

const $ = (id) => document.getElementById(id);
const entry = $("entry");
onSay((text) => { $("live").textContent = text; });

// key, tool, kind, title
const TOOLS = [
  ["Draw"], ["L", "draw", "lot", "Lot"], ["B", "draw", "building", "Building"], ["D", "draw", "driveway", "Drive"], ["W", "draw", "walk", "Walk"], ["E", "draw", "easement", "Easement"], ["X", "draw", "no_dig", "No-dig"],
  ["C", "draw", "curb", "Curb"], ["U", "draw", "utility", "Utility"], ["N", "draw", "drain", "Own drain"],
  ["Water"], ["P", "draw", "downspout", "Downspout"], ["S", "draw", "sump", "Sump"], ["I", "draw", "inlet", "Inlet"], ["O", "draw", "curb_outlet", "Curb outlet"], ["Y", "draw", "daylight_outlet", "Daylight"],
  ["Ground"], ["H", "height", null, "Height"],
  ["Aids"], ["J", "picture", null, "Picture under"], ["Q", "deed", null, "Deed calls"], ["V", "select", null, "Take, move"], ["K", "guide", null, "Guide line"], ["T", "strip", null, "Strip beside"], ["M", "measure", null, "Measure"],
];
const STRIPS = ["easement", "driveway", "walk", "no_dig"];
const NAMES = { lot: "Lot", building: "House", driveway: "Drive", walk: "Walk", easement: "Easement", no_dig: "No-dig", curb: "Curb", utility: "Utility", drain: "Drain", downspout: "DS", sump: "Sump", inlet: "Inlet", curb_outlet: "Curb outlet", daylight_outlet: "Daylight" };
let roofArea = "", hi = "", stripKind = "easement";

function tools() {
  const nav = $("tools");
  if (!nav.children.length) {
    for (const [key, tool, kind, title] of TOOLS) {
      if (!tool) nav.append(el("h2", {}, key));
      else nav.append(el("button", { type: "button", class: "tool", "data-tool": tool, "data-kind": kind || "", "aria-keyshortcuts": key, onclick: () => { choose(tool, kind); svg.focus({ preventScroll: true }); } }, title, el("span", { class: "key", "aria-hidden": "true" }, key)));
    }
    const other = el("select", { "aria-label": "Another kind to draw", onchange: (e) => { if (e.target.value) { choose("draw", e.target.value); svg.focus({ preventScroll: true }); e.target.value = ""; } } });
    other.append(el("option", { value: "" }, "More\u2026"));
    for (const k of T.forms.kinds) if (!TOOLS.some((t) => t[2] === k.kind)) other.append(el("option", { value: k.kind }, k.title));
    nav.append(other);
  }
  for (const b of nav.querySelectorAll("button")) b.setAttribute("aria-pressed", String(b.dataset.tool === T.tool && b.dataset.kind === (T.kind || "")));
}

export function choose(tool, kind = null) {
  if (tool === "deed") { deed(); return; }
  if (tool === "picture") { underneath(); return; }
  T.tool = tool; T.kind = kind; T.draft = []; T.snap = null; T.base = null; T.carry = null; T.moved = null;
  if (tool !== "select") { T.selected = null; T.pair = null; }
  entry.value = "";
  if ($("bar").contains(document.activeElement) || document.activeElement === document.body) svg.focus({ preventScroll: true });
  bar();
  const about = T.kinds.get(kind);
  if (tool === "draw") tell(`${about ? about.title : kind}: click or type a place.`);
  changed();
}

// ---- the bar of typed entries

function bar() {
  const on = T.tool !== "select";
  $("bar").hidden = !on;
  if (!on) return;
  const about = T.kinds.get(T.kind), extra = $("barextra"), feet = T.site.metric ? "" : ", 12'6\"";
  extra.replaceChildren();
  let name = "", hint = "";
  if (T.tool === "draw" && about.shape === "Point") {
    name = about.title;
    hint = "Click, or type a place: 25, 55. It is drawn to corners and lines near by.";
    if (T.kind === "downspout") {
      extra.append(el("label", { for: "roof" }, "roof"), el("input", { id: "roof", inputmode: "decimal", value: roofArea, placeholder: T.site.metric ? "m\u00b2" : "ft\u00b2", onchange: (e) => { roofArea = e.target.value; } }));
      for (const f of T.doc.features.filter((b) => b.properties.kind === "building" && !b.locked && b.xy.length <= 12).slice(0, 3)) {
        const share = Math.abs(area(f.xy)) / T.site.factor ** 2 / f.xy.length;
        extra.append(el("button", { type: "button", onclick: () => atCorners(f, share) }, `At ${f.xy.length} corners of ${f.properties.name || "the building"}, an equal part of its outline each (${share.toFixed(0)} ${T.site.metric ? "m\u00b2" : "ft\u00b2"})`));
      }
    }
  } else if (T.tool === "draw") {
    name = `${about.title}: ${T.draft.length ? `corner ${T.draft.length + 1}` : "first corner"}`;
    hint = T.draft.length ? `Length toward the pointer: 40${feet}. With a direction: 40 E, 40 N45E, 40 L (left), several: E40 N30 W40.${T.draft.length === 1 && about.shape === "Polygon" ? " A rectangle: 40 x 30." : ""} Enter alone ends it, Backspace takes a corner back.` : "Click, or type a place: 0, 0.";
  } else if (T.tool === "height") {
    name = T.base ? "Elevation here" : "Height";
    hint = T.base ? `Type it, and what was shot: 98.42 gutter.${hi ? " A rod, with the height of instrument above." : ""}` : "Click or type the place, then its elevation; or all at once: 25, 55, 98.42 gutter.";
    extra.append(el("label", { for: "hi" }, "height of instrument, for rods"), el("input", { id: "hi", inputmode: "decimal", value: hi, onchange: (e) => { hi = e.target.value; bar(); } }));
  } else if (T.tool === "guide") {
    name = "Guide line";
    hint = T.base ? "Type how far off, on the pointer's side." : "Click a side of a lot or building; then type how far off.";
  } else if (T.tool === "strip") {
    name = "Strip";
    hint = T.base ? "Type its width, or its offset and its width: 3 10." : "Click the side that it runs beside; point to its side of it.";
    extra.append(el("label", { for: "of" }, "of"), el("select", { id: "of", onchange: (e) => { stripKind = e.target.value; } }, STRIPS.map((k) => el("option", { value: k, selected: k === stripKind }, T.kinds.get(k) ? T.kinds.get(k).title : k))));
  } else if (T.tool === "measure") {
    name = "Measure";
    hint = measured() || "Click two places.";
  }
  $("barname").textContent = name;
  $("barhint").textContent = hint;
  $("finish").hidden = !(T.tool === "draw" && about.shape !== "Point" && T.draft.length > 1);
  entry.classList.remove("bad");
}

$("bar").addEventListener("submit", (e) => { e.preventDefault(); enter(); });
$("finish").addEventListener("click", () => { finish(); svg.focus({ preventScroll: true }); });
entry.addEventListener("keydown", (e) => {
  if (e.key === "Escape") { e.preventDefault(); if (entry.value) entry.value = ""; else cancel(); svg.focus({ preventScroll: true }); }
  if (e.key === "Backspace" && !entry.value && T.draft.length) { e.preventDefault(); T.draft = T.draft.slice(0, -1); bar(); changed(); }
  if (/^Arrow(Up|Down)$/.test(e.key) || (/^Arrow/.test(e.key) && !entry.value)) { svg.focus({ preventScroll: true }); keys(e); }
});

function bad(text) { entry.classList.add("bad"); $("barhint").textContent = text; tell(text); }

function enter() {
  const text = entry.value.trim(), feet = !T.site.metric;
  if (!text) { if (T.tool === "draw" && T.draft.length > 1) finish(); else cancel(); svg.focus({ preventScroll: true }); return; }
  if (T.tool === "height") return enterHeight(text);
  if (T.tool === "guide" || T.tool === "strip") return enterBeside(text);
  const last = T.draft[T.draft.length - 1];
  const pointed = last && T.pointer && dist(last, T.pointer) > 0 ? unit(last, T.pointer) : null;
  const before = T.draft.length > 1 ? unit(T.draft[T.draft.length - 2], last) : null;
  const t = typed(text, feet, pointed, before), k = T.site.factor;
  if (!t) return bad(`\u201c${text}\u201d cannot be read. ${last ? "Type 40, 40 E, 40 N45E, 40 L or 40 x 30." : "Type a place: 25, 55."}`);
  entry.value = "";
  if (t.place) { lookAt([...T.draft, t.place], [t.place]); return put(t.place); }
  if (!last) return bad("Give the first corner as a place: 0, 0.");
  if (t.by) { const at = [last[0] + t.by[0] * k, last[1] + t.by[1] * k]; lookAt([...T.draft, at], [at]); return put(at); }
  if (t.box) {
    const u = axis(), v = [-u[1], u[0]], [w, d] = t.box;
    T.draft = [last, add(last, u, w * k), add(add(last, u, w * k), v, d * k), add(last, v, d * k)];
    lookAt(T.draft);
    return finish();
  }
  for (const [dir, len] of t.runs) T.draft = [...T.draft, add(T.draft[T.draft.length - 1], dir, len * k)];
  T.pointer = T.draft[T.draft.length - 1];
  lookAt(T.draft, [T.pointer]);
  bar();
  changed();
}

// the direction that rectangles stand in: the lot's first side, east-most way round, else east
function axis() {
  const lot = T.doc.features.find((f) => f.properties.kind === "lot");
  if (!lot || T.kind === "lot" || lot.xy.length < 3) return [1, 0];
  let best = [1, 0], most = -1;
  for (const [a, b] of edges(lot)) { const u = unit(a, b); for (const w of [u, [-u[0], -u[1]], [-u[1], u[0]], [u[1], -u[0]]]) if (w[0] > most + 1e-9) { most = w[0]; best = w; } }
  return best;
}

function enterHeight(text) {
  const m = /^(-?[\d.]+)\s*,\s*(-?[\d.]+)\s*,\s*(.+)$/.exec(text);
  let rest = text;
  if (m) { T.base = [Number(m[1]), Number(m[2])]; rest = m[3]; }
  if (!T.base) {
    const t = typed(text, false, null, null);
    if (!t || !t.place) return bad("Give its place first: click, or type 25, 55.");
    entry.value = "";
    lookAt([t.place]);
    return put(t.place);
  }
  const v = /^(-?\d+(?:\.\d+)?|-?\.\d+)(?:\s+(.*))?$/.exec(rest.trim());
  if (!v) return bad("Type an elevation, such as 98.42, and what was shot if you like.");
  if (T.heightsFile === null) return bad("The site's list of shots has a form of its own: add heights there.");
  if (hi && !Number.isFinite(Number(hi))) return bad("The height of instrument is no number.");
  const z = hi ? Math.round((Number(hi) - Number(v[1])) * 1e4) / 1e4 : Number(v[1]);
  const used = new Set(T.doc.heights.map((h) => h.number));
  let n = T.doc.heights.length + 1;
  while (used.has(String(n))) n += 1;
  const at = T.base.map((c) => Math.round(c * 1e4) / 1e4);
  const same = T.doc.heights.findIndex((h) => h.x === at[0] && h.y === at[1]);
  const made = { number: same >= 0 ? T.doc.heights[same].number : String(n), x: at[0], y: at[1], z, note: (v[2] || "").trim() };
  commit({ ...T.doc, heights: same >= 0 ? T.doc.heights.map((h, k) => (k === same ? made : h)) : [...T.doc.heights, made] });
  lookAt([at]);
  tell(`Height ${z}${hi ? `, ${hi} less a rod of ${v[1]}` : ""}.`);
  T.base = null;
  entry.value = "";
  bar();
  svg.focus({ preventScroll: true });
}

function enterBeside(text) {
  if (!T.base) return bad("Click a side first.");
  const parts = text.split(/\s+/).map((p) => length(p, !T.site.metric)), k = T.site.factor;
  if (parts.some((p) => p === null || p < 0) || !parts.length || parts.length > 2) return bad("Type a length.");
  const [a, b] = T.base, u = unit(a, b);
  const side = T.pointer || centre(lotXY() || [a, b]);
  if (T.tool === "guide") {
    let n = [-u[1], u[0]];
    if (dot(n, [side[0] - a[0], side[1] - a[1]]) < 0) n = [-n[0], -n[1]];
    T.guides = [...T.guides, { p: add(a, n, parts[0] * k), d: u }];
    tell("Guide line set.");
  } else {
    const [offset, width] = parts.length === 2 ? parts : [0, parts[0]];
    if (!(width > 0)) return bad("A strip has a width.");
    make(stripKind, strip(a, b, side, offset * k, width * k));
  }
  T.base = null;
  entry.value = "";
  bar();
  changed();
}
const lotXY = () => (T.doc.features.find((f) => f.properties.kind === "lot") || {}).xy;

// ---- making things

function nameFor(kind) {
  const stem = NAMES[kind] || T.kinds.get(kind).title, used = new Set(T.doc.features.map((f) => String(f.properties.name || "").toLowerCase()));
  if (kind === "downspout") { let n = 1; while (used.has(`ds-${n}`)) n += 1; return `DS-${n}`; }
  let n = 1, name = stem;
  while (used.has(name.toLowerCase())) { n += 1; name = `${stem} ${n}`; }
  return name;
}
const round = (p) => p.map((c) => Math.round(c * 1e5) / 1e5);

function make(kind, xy, more = {}) {
  if (kind === "lot" && T.doc.features.some((f) => f.properties.kind === "lot")) { tell("The site has a lot already: change or delete it."); T.draft = []; bar(); changed(); return null; }
  const f = { id: newId(), file: T.target, properties: { kind, name: nameFor(kind), ...more }, shape: T.kinds.get(kind).shape, xy: xy.map(round), locked: false };
  commit({ ...T.doc, features: [...T.doc.features, f] });
  tell(`${f.properties.name} drawn.`);
  return f;
}

// a place given by hand or typed
function put(p) {
  if (T.tool === "height") { T.base = p; T.pointer = p; bar(); entry.focus({ preventScroll: true }); changed(); return; }
  if (T.tool === "measure") { T.draft = T.draft.length === 2 ? [p] : [...T.draft, p]; bar(); if (T.draft.length === 2) tell(measured()); changed(); return; }
  if (T.tool === "guide" || T.tool === "strip") return pickSide(p);
  const about = T.kinds.get(T.kind);
  if (about.shape === "Point") {
    const more = {}, roof = Number(roofArea);
    if (T.kind === "downspout" && roofArea && roof > 0) more.roof_area = roof;
    const f = make(T.kind, [p], more);
    T.pointer = p;
    if (f && T.kind !== "downspout") { choose("select"); T.selected = f.id; taken(); }
    else bar();
    return;
  }
  const first = T.draft[0];
  if (T.draft.length > 2 && dist(p, first) * T.view.scale < 8) return finish();
  if (T.draft.length && dist(p, T.draft[T.draft.length - 1]) < 1e-6) return;
  T.draft = [...T.draft, p];
  T.pointer = p;
  bar();
  changed();
}

function pickSide(p) {
  let best = null, least = 14 / T.view.scale;
  for (const f of T.doc.features) if (f.shape !== "Point") for (const e of edges(f)) { const d = dist(nearestOn(e[0], e[1], p), p); if (d < least) { least = d; best = e; } }
  if (!best) return bad("No side lies there: click on a side of the lot, a building or a line.");
  T.base = best;
  T.pointer = lotXY() ? centre(lotXY()) : p;
  bar();
  entry.focus({ preventScroll: true });
  changed();
}

function finish() {
  const about = T.kinds.get(T.kind), least = about && about.shape === "Polygon" ? 3 : 2;
  if (T.draft.length < least) return bad(`Give ${least} corners at least.`);
  const f = make(T.kind, T.draft);
  T.draft = [];
  if (!f) return undefined;
  choose("select");
  T.selected = f.id;
  taken();
  return changed();
}

function atCorners(f, share) {
  const out = (T.site.metric ? 0.15 : 0.5) * T.site.factor, added = [], used = new Set(T.doc.features.map((g) => String(g.properties.name || "").toLowerCase()));
  let n = 0;
  f.xy.forEach((p, k) => {
    do n += 1; while (used.has(`ds-${n}`));
    added.push({ id: newId(), file: T.target, properties: { kind: "downspout", name: `DS-${n}`, roof_area: Math.round(share * 10) / 10 }, shape: "Point", xy: [round(add(p, outwards(f.xy, k), out))], locked: false });
  });
  commit({ ...T.doc, features: [...T.doc.features, ...added] });
  tell(`${added.length} downspouts drawn, each with an equal part of the outline as its roof.`);
  choose("select");
  svg.focus({ preventScroll: true });
}

function measured() {
  if (T.draft.length < 2) return "";
  const [a, b] = T.draft, za = heightAt(a), zb = heightAt(b), run = dist(a, b) / T.site.factor;
  let text = `${said(run, T.site)}  ${bearing(a, b)}`;
  if (za !== null && zb !== null) text += `; ground ${za.toFixed(2)} to ${zb.toFixed(2)}, ${zb <= za ? "falls" : "rises"} ${Math.abs(za - zb).toFixed(2)} (${(Math.abs(za - zb) / run * 100).toFixed(2)} %)`;
  return text;
}

function remove() {
  const f = find(T.selected);
  if (!f) return;
  if (f.locked) { tell("It is not changed here."); return; }
  if (f.height !== undefined) commit({ ...T.doc, heights: T.doc.heights.filter((_, k) => k !== f.height) });
  else commit({ ...T.doc, features: T.doc.features.filter((one) => one.id !== f.id) });
  T.selected = null;
  tell("Deleted. Ctrl+Z brings it back.");
}

function place(f, xy) {
  const at = xy.map(round);
  if (f.height !== undefined) commit({ ...T.doc, heights: T.doc.heights.map((h, k) => (k === f.height ? { ...h, x: at[0][0], y: at[0][1] } : h)) });
  else commit({ ...T.doc, features: T.doc.features.map((one) => (one.id === f.id ? { ...one, xy: at } : one)) });
}

function cancel() {
  if (T.carry) { T.carry = null; T.moved = null; question(false); tell("Left where it was."); }
  else if (T.draft.length || T.base) { T.draft = []; T.base = null; bar(); }
  else if (T.tool !== "select") choose("select");
  else if (T.guides.length && !T.selected) T.guides = [];
  else { T.selected = null; T.pair = null; question(false); }
  changed();
}

// ---- snapping

function snapped(p, touch, free) {
  T.snap = null;
  if (free) return fine(p);
  const tol = (touch ? 18 : 10) / T.view.scale, skip = T.moved ? T.moved.id : null;
  let best = null, least = tol;
  const near = (q, why) => { const d = dist(q, p); if (d < least) { least = d; best = q; T.snap = why; } };
  const others = T.doc.features.filter((f) => f.id !== skip && T.kinds.has(f.properties.kind));
  for (const f of others) for (const q of f.xy) near(q, "corner");
  for (const h of T.doc.heights) near([h.x, h.y], "height");
  for (const q of T.draft) near(q, "corner");
  T.guides.forEach((g, k) => T.guides.slice(k + 1).forEach((o) => { const q = meet(g.p, g.d, o.p, o.d); if (q) near(q, "guides"); }));
  if (best) return best;
  // right angles to the last run, and to the lot
  const last = T.draft[T.draft.length - 1] || (T.carry ? T.carry.from : null), lines = [];
  if (last && T.draft.length) {
    const ways = [axis()];
    if (T.draft.length > 1) ways.push(unit(T.draft[T.draft.length - 2], last));
    for (const u of ways) for (const w of [u, [-u[1], u[0]]]) lines.push([last, w, "right angle"]);
  }
  for (const g of T.guides) lines.push([g.p, g.d, "guide"]);
  let on = null;
  for (const [q, w, why] of lines) { const d = Math.abs(cross(w, [p[0] - q[0], p[1] - q[1]])); if (d < least) { least = d; on = [q, w, why]; } }
  const sides = others.filter((f) => f.shape !== "Point").flatMap((f) => edges(f));
  if (on) {
    let at = add(on[0], on[1], dot(on[1], [p[0] - on[0][0], p[1] - on[0][1]]));
    T.snap = on[2];
    for (const [a, b] of sides) { const q = meet(on[0], on[1], a, unit(a, b)); if (q && dist(q, at) < tol && dist(nearestOn(a, b, q), q) < 1e-6 * (1 + dist(a, b))) { at = q; T.snap = "side"; return at; } }
    if (on[2] === "right angle") { const len = dot(on[1], [at[0] - on[0][0], at[1] - on[0][1]]), s = step(); return add(on[0], on[1], Math.round(len / s) * s); }
    return at;
  }
  least = tol;
  for (const [a, b] of sides) { const q = nearestOn(a, b, p), d = dist(q, p); if (d < least) { least = d; best = q; T.snap = "side"; } }
  return best || fine(p);
}
const step = () => { const px = 4 / T.view.scale / T.site.factor; return [0.01, 0.05, 0.1, 0.25, 0.5, 1, 2, 5].reduce((a, b) => (b <= px ? b : a), 0.01) * T.site.factor; };
const fine = (p) => { const s = step(); return [Math.round(p[0] / s) * s, Math.round(p[1] / s) * s]; };

// ---- the question to the planner

function question(quick) {
  const f = find(T.selected), about = f && f.height === undefined && (f.properties.kind === "drain" || ["source", "outlet"].includes((T.kinds.get(f.properties.kind) || {}).group)) ? f.id : null;
  const moved = T.moved && about === T.moved.id ? [{ id: T.moved.id, xy: T.moved.xy }] : [];
  ask({ quick, about, moved });
}
let rest = 0;
const settledSoon = () => { clearTimeout(rest); rest = setTimeout(() => { if (!T.dirty && !T.moved) { question(false); loadGround(); } }, 120); };
onSettled(() => { settledSoon(); if (T.doc.settings["plat.image"]) loadPicture(); });

async function loadPicture() {
  const reply = await get("under");
  if (reply.status === 200 && JSON.stringify(reply.body.picture) !== JSON.stringify(T.picture)) { T.picture = reply.body.picture; changed(); if (again) again(); }
}
let again = null;

async function loadGround() {
  const reply = await get("ground");
  if (reply.status !== 200) return;
  const first = !T.doc.features.length && !T.draft.length && !T.ground.box && reply.body.box;
  T.ground = reply.body;
  if (first) fit();
  changed();
}

function taken() {
  T.pair = null;
  T.reach = null;
  const f = find(T.selected), about = f && f.height === undefined && T.kinds.get(f.properties.kind);
  if (f) tell(`${f.properties.name || "It"} taken.`);
  if (!T.dirty) question(false);
  if (T.tab === "drawn" || T.tab === "plan" || T.tab === "site") return;
  show(about && (["source", "outlet"].includes(about.group)) ? "answer" : f ? "properties" : "answer");
}

// ---- pointer

const pointers = new Map();
let press = null;
const local = (e) => { const r = measure(); return [e.clientX - r.left, e.clientY - r.top]; };

svg.addEventListener("pointerdown", (e) => {
  if (e.button > 1) return;
  e.preventDefault();
  svg.focus({ preventScroll: true });
  T.keys = false;
  svg.setPointerCapture(e.pointerId);
  const s = local(e);
  pointers.set(e.pointerId, s);
  if (pointers.size === 2) { const [a, b] = [...pointers.values()]; press = { pinch: dist(a, b), mid: [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2] }; T.moved = null; return; }
  const p = toPaper(s), touch = e.pointerType === "touch";
  press = { at: s, p, touch, pan: [T.view.x, T.view.y], far: false, button: e.button };
  if (T.tool !== "select" || T.carry || e.button === 1) return;
  const chosen = find(T.selected);
  if (chosen && !chosen.locked && chosen.shape !== "Point") {
    const k = chosen.xy.findIndex((q) => dist(toScreen(q), s) < (touch ? 22 : 9));
    if (k >= 0) { press.corner = k; press.drag = chosen.id; return; }
  }
  const under = hit(p, touch ? 24 : 10), f = find(under);
  press.under = under;
  if (f && !f.locked && (f.shape === "Point" || (T.selected === under && !["lot", "neighbour"].includes(f.properties.kind)))) press.drag = under;
});

svg.addEventListener("pointermove", (e) => {
  const s = local(e), touch = e.pointerType === "touch";
  if (pointers.has(e.pointerId)) pointers.set(e.pointerId, s);
  if (press && press.pinch && pointers.size === 2) {
    const [a, b] = [...pointers.values()], mid = [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2], d = dist(a, b);
    const p = toPaper(press.mid);
    T.view.scale = clampScale(T.view.scale * d / press.pinch);
    const q = toPaper(mid);
    T.view.x += p[0] - q[0]; T.view.y += p[1] - q[1];
    press.pinch = d; press.mid = mid;
    changed();
    return;
  }
  if (!press) { hover(s, e, touch); return; }
  if (!press.far && dist(s, press.at) > (touch ? 9 : 4)) press.far = true;
  if (!press.far) return;
  if (press.drag) return dragging(s, e, touch);
  T.view.x = press.pan[0] - (s[0] - press.at[0]) / T.view.scale;
  T.view.y = press.pan[1] + (s[1] - press.at[1]) / T.view.scale;
  svg.classList.add("moving");
  changed();
});

function hover(s, e, touch) {
  const raw = toPaper(s);
  T.pointer = T.tool === "select" && !T.carry ? raw : snapped(raw, touch, e.altKey);
  if (T.tool === "select" && !T.carry) { const f = find(hit(raw, 10)); svg.classList.toggle("over", Boolean(f && !f.locked)); }
  if (T.carry) carryTo(T.pointer);
  readout();
  if (T.tool === "measure" && T.draft.length === 1) bar();
  changed();
}

function dragging(s, e, touch) {
  const f = find(press.drag), raw = toPaper(s);
  if (!f) return;
  T.selected = f.id;
  if (press.corner !== undefined) {
    T.moved = { id: f.id, xy: f.xy };
    const to = snapped(raw, touch, e.altKey);
    T.moved = { id: f.id, xy: f.xy.map((q, k) => (k === press.corner ? to : q)) };
    if (f.properties.kind === "drain") question(true);
  } else if (f.shape === "Point") {
    T.moved = { id: f.id, xy: f.xy };
    T.moved = { id: f.id, xy: [snapped(raw, touch, e.altKey)] };
    question(true);
    if (T.tab !== "answer" && T.tab !== "plan") show("answer");
  } else {
    const s2 = step(), d = [Math.round((raw[0] - press.p[0]) / s2) * s2, Math.round((raw[1] - press.p[1]) / s2) * s2];
    T.moved = { id: f.id, xy: f.xy.map((q) => add(q, d)) };
  }
  T.pointer = f.shape === "Point" ? T.moved.xy[0] : raw;
  svg.classList.add("moving");
  readout();
  changed();
}

function lift(e) {
  pointers.delete(e.pointerId);
  svg.classList.remove("moving");
  const was = press;
  if (was && was.pinch) { if (!pointers.size) press = null; return; }
  press = null;
  if (!was || e.type === "pointercancel") { T.moved = null; changed(); return; }
  if (was.far) {
    if (was.drag && T.moved) { const f = find(was.drag), xy = T.moved.xy; T.moved = null; T.snap = null; if (f) place(f, xy); taken(); }
    changed();
    return;
  }
  if (was.button === 1) return;
  if (T.carry) { drop(); return; }
  if (T.tool === "select") { T.selected = was.under || null; taken(); changed(); return; }
  put(snapped(was.p, was.touch, e.altKey));
}
svg.addEventListener("pointerup", lift);
svg.addEventListener("pointercancel", lift);
svg.addEventListener("wheel", (e) => { e.preventDefault(); zoom(Math.exp(-e.deltaY * (e.deltaMode ? .05 : .0016)), local(e)); }, { passive: false });
svg.addEventListener("contextmenu", (e) => e.preventDefault());

const clampScale = (v) => Math.max(.02, Math.min(2000, v));
function zoom(by, at) {
  const s = at || toScreen([T.view.x, T.view.y]), p = toPaper(s);
  T.view.scale = clampScale(T.view.scale * by);
  const q = toPaper(s);
  T.view.x += p[0] - q[0]; T.view.y += p[1] - q[1];
  changed();
}
$("in").addEventListener("click", () => zoom(1.4));
$("out").addEventListener("click", () => zoom(1 / 1.4));
$("fit").addEventListener("click", () => { fit(); changed(); });

function readout() {
  const p = T.pointer;
  if (!p) return;
  const z = heightAt(p), d = T.site.metric ? 3 : 2;
  $("readout").textContent = `E ${p[0].toFixed(d)}  N ${p[1].toFixed(d)}${z === null ? "" : `  ground ${z.toFixed(2)}`}${T.snap ? `  \u2014 ${T.snap}` : ""}`;
}

// ---- moving by keys

function grab() {
  const f = find(T.selected);
  if (!f || f.locked) { tell(f ? "It is not changed here." : "Take something first."); return; }
  T.carry = { id: f.id, from: f.shape === "Point" ? f.xy[0] : centre(f.xy) };
  T.pointer = T.carry.from;
  T.keys = true;
  tell(`${f.properties.name || "It"} moves with the arrow keys or the pointer; Enter drops it, Escape leaves it.`);
  svg.focus({ preventScroll: true });
  changed();
}
function carryTo(p) {
  const f = find(T.carry.id);
  if (!f) { T.carry = null; return; }
  const d = [p[0] - T.carry.from[0], p[1] - T.carry.from[1]];
  T.moved = { id: f.id, xy: f.xy.map((q) => add(q, d)) };
  if (f.shape === "Point" && f.height === undefined) question(true);
}
function drop() {
  const f = find(T.carry.id), xy = T.moved && T.moved.xy;
  T.carry = null; T.moved = null;
  if (f && xy) place(f, xy);
  tell("Dropped.");
  taken();
  changed();
}

// ---- keys

function keys(e) {
  const held = e.ctrlKey || e.metaKey;
  if (held && e.key.toLowerCase() === "z") { e.preventDefault(); if (e.shiftKey) redo(); else undo(); return; }
  if (held && e.key.toLowerCase() === "y") { e.preventDefault(); redo(); return; }
  if (held) return;
  const arrow = { ArrowUp: [0, 1], ArrowDown: [0, -1], ArrowLeft: [-1, 0], ArrowRight: [1, 0] }[e.key];
  if (arrow) {
    e.preventDefault();
    const s = (T.site.metric ? .1 : .5) * (e.shiftKey ? 20 : 1) * (e.altKey ? .1 : 1) * 2 * T.site.factor;
    const from = T.pointer || [T.view.x, T.view.y];
    T.pointer = round([from[0] + arrow[0] * s, from[1] + arrow[1] * s]);
    T.keys = true; T.snap = null;
    const at = toScreen(T.pointer), r = measure();
    if (at[0] < 20 || at[1] < 20 || at[0] > r.width - 20 || at[1] > r.height - 20) { T.view.x = T.pointer[0]; T.view.y = T.pointer[1]; }
    if (T.carry) carryTo(T.pointer);
    readout();
    tell($("readout").textContent);
    changed();
    return;
  }
  if (e.key === "Enter" || e.key === " ") {
    e.preventDefault();
    if (T.carry) return drop();
    if (T.tool === "select") { if (T.pointer) { T.selected = hit(T.pointer, 12); taken(); if (!T.selected) tell("Nothing lies there."); changed(); } return; }
    if (e.key === "Enter" && T.tool === "draw" && T.draft.length && T.pointer && dist(T.pointer, T.draft[T.draft.length - 1]) < 1e-6) return finish();
    return put(T.keys ? T.pointer || [T.view.x, T.view.y] : T.pointer || [T.view.x, T.view.y]);
  }
  if (e.key === "Escape") { e.preventDefault(); cancel(); return; }
  if (e.key === "?") { e.preventDefault(); help(); return; }
  if (e.key === "Backspace" && T.draft.length) { e.preventDefault(); T.draft = T.draft.slice(0, -1); bar(); changed(); return; }
  if (e.key === "Delete" || e.key === "Backspace") { e.preventDefault(); remove(); return; }
  if (T.tool !== "select") {
    if (e.key.length === 1 && !e.altKey) { e.preventDefault(); entry.focus({ preventScroll: true }); entry.value += e.key; }
    return;
  }
  if (e.key === "+" || e.key === "=") zoom(1.3);
  else if (e.key === "-") zoom(1 / 1.3);
  else if (e.key === "0" || e.key.toLowerCase() === "f") { fit(); changed(); }
  else if (e.key.toLowerCase() === "g") grab();
  else {
    const tool = TOOLS.find((t) => t[1] && t[0] === e.key.toUpperCase());
    if (tool && e.key.length === 1) { e.preventDefault(); choose(tool[1], tool[2]); }
  }
}
svg.addEventListener("keydown", keys);
// what a thing that holds the focus does with a key itself; all other keys are the drawing's, wherever the focus is
const OWN_KEYS = { BUTTON: ["Enter", " "], SUMMARY: ["Enter", " "], A: ["Enter"] };
function keepsKey(at, key) {
  if (at.closest("dialog")) return true;
  if (at.tagName === "TEXTAREA" || at.isContentEditable) return true;
  if (at.tagName === "INPUT") return !["checkbox", "radio", "button"].includes(at.type) || key === " " || (at.type === "radio" && key.startsWith("Arrow"));
  if (at.tagName === "SELECT") return !(key === "Escape" || (key.length === 1 && /[\d.,+?-]/.test(key)));
  if (at.id === "panel") return [" ", "ArrowUp", "ArrowDown", "PageUp", "PageDown", "Home", "End"].includes(key);
  return (OWN_KEYS[at.tagName] || []).includes(key);
}
document.addEventListener("keydown", (e) => {
  if (e.target === svg || e.defaultPrevented || e.isComposing || e.key === "Tab") return;
  const at = e.target.closest ? e.target : document.body, undoes = (e.ctrlKey || e.metaKey) && ["z", "y"].includes(e.key.toLowerCase());
  if (undoes && !["INPUT", "TEXTAREA"].includes(at.tagName) && !at.closest("dialog")) return keys(e);
  if (!keepsKey(at, e.key)) keys(e);
});

function help() {
  const rows = [
    ["Arrows", "move the crosshair; with Shift 20 steps, with Alt a tenth"], ["Enter", "place, take or drop; on the last corner: end the shape"], ["Escape", "back"],
    ...TOOLS.filter((t) => t[1]).map((t) => [t[0], t[3]]), ["G", "move what is taken, by arrows or pointer"], ["Delete", "delete it"], ["Ctrl+Z", "undo, as far back as you like"], ["Ctrl+Shift+Z", "redo"],
    ["F, +, \u2212", "fit, nearer, farther"], ["Alt", "held while pointing: no snapping"],
    ["40", "while drawing: 40 toward the pointer"], ["40 E, 40 N45E", "40 in a direction"], ["40 L, 40 R", "turn left or right by a right angle, then 40"], ["E40 N30 W40", "several sides at once"], ["40 x 30", "a rectangle from the first corner"], ["25, 55", "a place"], ["by 10, 5", "a place from the last corner"],
  ];
  if (!T.site.metric) rows.push(["12'6 1/2\"", "feet and inches, wherever a length is typed"]);
  const d = $("dialog");
  d.replaceChildren(el("h2", { id: "dialogname" }, "Keys and entries"), el("dl", {}, rows.map(([k, t]) => [el("dt", {}, el("kbd", {}, k)), el("dd", {}, t)])), el("p", { class: "row" }, el("button", { type: "button", onclick: () => d.close() }, "Close")));
  d.showModal();
}
$("help").addEventListener("click", help);
$("undo").addEventListener("click", undo);
$("redo").addEventListener("click", redo);
$("inches").addEventListener("click", () => { T.site.inches = !T.site.inches; changed(); });

// ---- units first: nothing is drawn in a unit that nobody declared

function askUnits() {
  if (T.doc.settings.length_unit && T.doc.settings.elevation_unit && T.doc.settings.name && T.doc.settings.crs) return;
  const d = $("dialog");
  const name = el("input", { id: "u-name", value: T.doc.settings.name || "", autocomplete: "off" });
  const choice = (id, now) => el("select", { id }, el("option", { value: "" }, "choose"), [["ft", "feet"], ["us-ft", "US survey feet"], ["m", "metres"]].map(([v, t]) => el("option", { value: v, selected: now === v }, t)));
  const long = choice("u-length", T.doc.settings.length_unit), high = choice("u-height", T.doc.settings.elevation_unit);
  const crs = el("input", { id: "u-crs", value: T.doc.settings.crs || "local", autocomplete: "off", "aria-describedby": "u-crs-note" });
  long.addEventListener("change", () => { if (!high.value) high.value = long.value; });
  const told = el("p", { class: "soft" }, "A unit is declared, never guessed: everything typed on this page is in it.");
  d.replaceChildren(el("h2", { id: "dialogname" }, "Name and units of the site"), el("form", { class: "form", method: "dialog", onsubmit: (e) => {
    if (!name.value.trim() || !long.value || !high.value || !crs.value.trim()) { e.preventDefault(); told.textContent = "Give a name, both units and the system."; return; }
    commit({ ...T.doc, settings: { ...T.doc.settings, name: name.value.trim(), length_unit: long.value, elevation_unit: high.value, crs: crs.value.trim() } });
    T.past = [];
    fit();
    setTimeout(() => svg.focus({ preventScroll: true }), 0);
  } }, el("label", { for: "u-name" }, "Name of the lot"), name, el("label", { for: "u-length" }, "Lengths are in"), long, el("label", { for: "u-height" }, "Elevations are in"), high, el("label", { for: "u-crs" }, "System of the coordinates"), crs, el("p", { class: "note", id: "u-crs-note" }, "local: an assumed grid of your own; or a code such as EPSG:6539"), el("button", { type: "submit", class: "main" }, "Begin")), told);
  d.addEventListener("cancel", (e) => e.preventDefault(), { once: true });
  d.showModal();
}

// ---- the lot by its deed's calls

let calls = "", laid = null;
function deed() {
  const d = $("dialog"), had = T.doc.features.find((f) => f.properties.kind === "lot");
  const text = el("textarea", { id: "calls", rows: 9, spellcheck: "false", placeholder: "N 45\u00b030'15\" E 120.50\nS 44\u00b029'45\" E 80.00\n\u2026" });
  text.value = calls;
  const units = el("select", { id: "deedunit" }, [["ft", "feet"], ["us-ft", "US survey feet"], ["m", "metres"], ["chain", "chains"], ["rod", "rods"], ["link", "links"]].map(([v, t]) => el("option", { value: v, selected: v === (T.site.unit || "ft") }, t)));
  const start = el("input", { id: "deedstart", value: had ? had.xy[0].map((v) => String(v)).join(", ") : "", placeholder: "0, 0", autocomplete: "off" });
  const spread = el("input", { id: "deedspread", type: "checkbox" });
  const told = el("pre", { id: "deedtold" }), put = el("button", { type: "button", class: "main", disabled: true, onclick: () => {
    if (!laid) return;
    const note = `by its deed's calls${spread.checked ? ", misclosure spread by the compass rule" : laid.closes ? "" : `, which miss their start by ${laid.missed.toFixed(3)}: the last side runs back to it`}`;
    const f = { id: newId(), file: T.target, properties: { kind: "lot", name: laid.name || "Lot", note }, shape: "Polygon", xy: laid.xy, locked: false };
    const rest = T.doc.features.filter((one) => one.properties.kind !== "lot" || one.locked);
    d.close();
    commit({ ...T.doc, features: [...rest, f] });
    T.selected = f.id;
    fit(); taken(); changed();
    svg.focus({ preventScroll: true });
  } }, had ? "Draw it in place of the lot" : "Draw it as the lot");
  const lay = async () => {
    calls = text.value;
    const at = typed(start.value.trim(), false, null, null);
    if (start.value.trim() && !(at && at.place)) { told.textContent = "Give the start as east, north: 0, 0."; return; }
    const reply = await post("deed", { text: calls, unit: units.value, start: at && at.place ? at.place : null, spread: spread.checked });
    laid = reply.status === 200 ? reply.body : null;
    told.textContent = laid ? laid.told : (reply.body.faults || []).map((f) => `${f.where}: ${f.what}. ${f.mend}`).join("\n") || reply.body.refused;
    put.disabled = !laid;
    tell(laid ? "Laid out." : told.textContent);
  };
  d.replaceChildren(el("h2", { id: "dialogname" }, "A lot by its deed's calls"), el("p", { class: "soft" }, "One call a line: a bearing and a distance, an azimuth (AZ 45.5 120.50), or a curve (curve to the right, radius 50, arc 78.54). Bearings are taken from the site's own north."),
    el("label", { for: "calls" }, "Calls"), text, el("div", { class: "form" }, el("label", { for: "deedunit" }, "Lengths without a unit are in"), units, el("label", { for: "deedstart" }, "First corner: east, north"), start, el("label", { for: "deedspread" }, "Spread the misclosure by the compass rule"), spread),
    el("p", { class: "row" }, el("button", { type: "button", onclick: lay }, "Lay out"), put, el("button", { type: "button", onclick: () => d.close() }, "Close")), told);
  d.showModal();
  text.focus();
}

// ---- a plat or photo underneath, put in place by known points

function underneath() {
  const d = $("dialog"), set = (more) => commit({ ...T.doc, settings: { ...T.doc.settings, ...more } });
  let picked = null;
  const build = () => {
    const p = T.picture, rows = (T.doc.settings["plat.image_points"] || []);
    const name = el("input", { id: "picname", value: T.doc.settings["plat.image"] || "", placeholder: "plat.png", autocomplete: "off", onchange: (e) => set({ "plat.image": e.target.value.trim() || null }) });
    const east = el("input", { id: "pice", inputmode: "decimal", autocomplete: "off" }), north = el("input", { id: "picn", inputmode: "decimal", autocomplete: "off" });
    const told = el("p", { class: "soft", id: "pictold" }, p && p.fault ? p.fault : p && p.corners ? (p.checked ? `Lies on ${rows.length} points; they miss by ${(p.spread / T.site.factor).toFixed(2)} ${T.site.metric ? "m" : "ft"} (root mean square).` : "Lies on two points: a third would tell how well.") : p && p.wide ? "Click a known point on the picture, then give its easting and northing; two at least, best three in far corners." : "Put a PNG or JPEG into the site folder and name it here.");
    const box = el("div", { class: "picture" });
    if (p && p.wide) {
      const img = el("img", { src: link("picture"), alt: `Picture ${p.name}`, tabindex: "0", onclick: (e) => {
        const r = img.getBoundingClientRect();
        picked = [Math.round((e.clientX - r.left) / r.width * p.wide * 10) / 10, Math.round((e.clientY - r.top) / r.height * p.high * 10) / 10];
        told.textContent = `Column ${picked[0]}, row ${picked[1]}: give its easting and northing.`;
        east.focus();
      } });
      box.append(img);
    }
    const add = () => {
      if (!picked) { told.textContent = "Click the point on the picture first."; return; }
      const e = Number(east.value), n = Number(north.value);
      if (!east.value.trim() || !north.value.trim() || !Number.isFinite(e) || !Number.isFinite(n)) { told.textContent = "Give easting and northing as plain numbers."; return; }
      set({ "plat.image_points": [...rows, [...picked, e, n]] });
      picked = null;
      build();
    };
    const list = rows.map((r, k) => el("li", { class: "row" }, `${k + 1}. column ${r[0]}, row ${r[1]} is E ${r[2]}, N ${r[3]}${p && p.residuals[k] && p.checked ? `; misses by ${Math.hypot(...p.residuals[k]).toFixed(2)}` : ""} `, el("button", { type: "button", "aria-label": `Take point ${k + 1} away`, onclick: () => { set({ "plat.image_points": rows.filter((_, j) => j !== k) }); build(); } }, "Take away")));
    d.replaceChildren(el("h2", { id: "dialogname" }, "A plat or photo underneath"), el("div", { class: "form" }, el("label", { for: "picname" }, "File in the site folder"), name), box, told,
      ...(p && p.wide ? [el("div", { class: "row" }, el("label", { for: "pice" }, "Easting"), east, el("label", { for: "picn" }, "Northing"), north, el("button", { type: "button", onclick: add }, "Add point"))] : []),
      el("ul", {}, list), el("p", { class: "soft" }, "It is drawn over, never read as data: lot lines on it are as good as the plat, and no better."), el("p", { class: "row" }, el("button", { type: "button", onclick: () => d.close() }, "Close")));
  };
  again = () => { if (d.open && document.activeElement && !["pice", "picn"].includes(document.activeElement.id)) build(); };
  d.addEventListener("close", () => { again = null; svg.focus({ preventScroll: true }); }, { once: true });
  build();
  d.showModal();
}

// ---- the plan

async function startPlan() {
  if (T.dirty || T.saving) { save(0); setTimeout(startPlan, 250); return; }
  show("plan");
  const reply = await post("plan", {});
  T.planning = reply.body;
  changed();
  watch();
}
async function stopPlan() { const reply = await post("stop", {}); T.planning = reply.body; changed(); }
let watching = false;
async function watch() {
  if (watching) return;
  watching = true;
  while (T.planning.state === "running") {
    await new Promise((done) => setTimeout(done, 350));
    try { await heartbeat(); } catch { break; }
  }
  watching = false;
  if (T.planning.state === "done") { await loadResult(); tell("The plan is made."); }
  changed();
}
async function loadResult() {
  const reply = await get("result");
  if (reply.status === 200 && !reply.body.none) { T.result = reply.body; T.overlays.add("plan"); changed(); }
}
$("plan").addEventListener("click", startPlan);

async function heartbeat() {
  const reply = await get("alive");
  if (reply.status !== 200) return;
  T.planning = reply.body.planning;
  if (reply.body.version !== T.version && !T.saving && !T.notice) T.notice = { kind: "page" };
  else if (reply.body.disk.length && !T.saving && !T.dirty && !T.notice) T.notice = { kind: "disk", names: reply.body.disk };
  changed();
}
setInterval(() => heartbeat().catch(() => { T.notice = { kind: "refused", text: "The server does not answer: start siteplan draw again. What is drawn here and not saved stays on this page." }; changed(); }), 5000);

function notice() {
  const n = T.notice, at = $("notice"), key = JSON.stringify(n);
  if (at.dataset.key === key) return;
  at.dataset.key = key;
  at.hidden = !n;
  at.replaceChildren();
  if (!n) return;
  const text = n.kind === "page" ? "Another page changed this site." : n.kind === "disk" ? `Changed on the disk meanwhile: ${n.names.join(", ")}.` : n.text;
  at.append(el("span", {}, text));
  if (n.kind === "refused") at.append(el("button", { type: "button", onclick: () => { T.notice = null; changed(); save(0); } }, "Try again"), el("button", { type: "button", onclick: takeTheirs }, "Load what is saved"));
  else at.append(el("button", { type: "button", onclick: takeTheirs }, n.kind === "page" ? "Take theirs" : "Take the disk's"), el("button", { type: "button", onclick: keepMine }, "Keep mine"));
}

function pill() {
  const f = find(T.selected), at = $("pill"), a = T.answer;
  const on = T.moved && f && a && a.pairs && a.pairs.length && f.shape === "Point" && f.height === undefined;
  at.hidden = !on;
  if (!on) return;
  const worst = [...a.pairs].filter((p) => p.source === f.properties.name || p.outlet === f.properties.name);
  const low = worst.length ? (worst[0].outlet === f.properties.name ? worst.reduce((x, y) => ((y.spare ?? -1e9) < (x.spare ?? -1e9) ? y : x)) : worst.reduce((x, y) => ((y.spare ?? -1e9) > (x.spare ?? -1e9) ? y : x))) : null;
  at.textContent = low ? `${low.source} \u2192 ${low.outlet}: ${low.spare_mark ? `${low.spare_mark}, ` : ""}${low.spare_text}` : "";
  at.classList.toggle("short", Boolean(low && !low.serves));
  at.hidden = !low;
}

onChange(() => {
  document.title = `${T.doc.settings.name || "Site"} \u2013 drawing table`;
  $("name").textContent = T.doc.settings.name || "Drawing table";
  $("saved").textContent = T.notice ? "not saved" : T.dirty || T.saving ? "saving\u2026" : `saved in the site folder${asking() ? "; working out" : ""}`;
  $("undo").disabled = !T.past.length;
  $("redo").disabled = !T.future.length;
  $("inches").hidden = T.site.metric;
  $("inches").setAttribute("aria-pressed", String(T.site.inches));
  svg.classList.toggle("select", T.tool === "select" && !T.carry);
  if (T.answer && T.answer.reach) T.reach = T.answer.reach;
  tools();
  draw();
  panels();
  notice();
  pill();
});
window.addEventListener("resize", () => changed());
window.addEventListener("beforeunload", (e) => { if (T.dirty) e.preventDefault(); });

function reloaded() { bar(); question(false); loadGround(); }
bind({ grab, remove, place, plan: startPlan, stop: stopPlan, reloaded, taken });

const first = await get("state");
if (first.status === 200) {
  take(first.body);
  fit();
  changed();
  question(false);
  loadGround();
  if (T.planning.state === "running") watch(); else loadResult();
  askUnits();
} else {
  T.notice = { kind: "refused", text: first.body.refused };
  changed();
}
