// Things made, moved and deleted: names, corners one by one, downspouts at corners, strips.
import { bad, bar, entry } from "./entry.js";
import { $ } from "./nodes.js";
import { heightAt, svg } from "./paper.js";
import { add, bearing, centre, dist, edges, nearestOn, outwards, said } from "./plane.js";
import { question, taken } from "./question.js";
import { T, changed, commit, find, newId, tell } from "./state.js";
import { choose } from "./tools.js";

const NAMES = { lot: "Lot", building: "House", driveway: "Drive", walk: "Walk", easement: "Easement", no_dig: "No-dig", curb: "Curb", utility: "Utility", drain: "Drain", downspout: "DS", sump: "Sump", inlet: "Inlet", curb_outlet: "Curb outlet", daylight_outlet: "Daylight" };

export const lotXY = () => (T.doc.features.find((f) => f.properties.kind === "lot") || {}).xy;

function nameFor(kind) {
  const stem = NAMES[kind] || T.kinds.get(kind).title, used = new Set(T.doc.features.map((f) => String(f.properties.name || "").toLowerCase()));
  if (kind === "downspout") { let n = 1; while (used.has(`ds-${n}`)) n += 1; return `DS-${n}`; }
  let n = 1, name = stem;
  while (used.has(name.toLowerCase())) { n += 1; name = `${stem} ${n}`; }
  return name;
}
export const round = (p) => p.map((c) => Math.round(c * 1e5) / 1e5);

export function make(kind, xy, more = {}) {
  if (kind === "lot" && T.doc.features.some((f) => f.properties.kind === "lot")) { tell("The site has a lot already: change or delete it."); T.draft = []; bar(); changed(); return null; }
  const f = { id: newId(), file: T.target, properties: { kind, name: nameFor(kind), ...more }, shape: T.kinds.get(kind).shape, xy: xy.map(round), locked: false };
  commit({ ...T.doc, features: [...T.doc.features, f] });
  tell(`${f.properties.name} drawn.`);
  return f;
}

// outlines by corners that the crew named, once a person says that they are what they seem
export function confirmed() {
  const drawn = new Set(T.doc.features.map((f) => f.properties.kind)), added = T.proposed.filter((f) => !drawn.has(f.properties.kind)).map((f) => ({ ...f, id: newId(), file: T.target, xy: f.xy.map(round), locked: false }));
  T.proposed = [];
  if (added.length) commit({ ...T.doc, features: [...T.doc.features, ...added] });
  tell(`${added.map((f) => f.properties.name).join(" and ")} drawn.`);
}

// a place given by hand or typed
export function put(p) {
  if (T.tool === "height") { T.base = p; T.pointer = p; bar(); entry.focus({ preventScroll: true }); changed(); return; }
  if (T.tool === "measure") { T.draft = T.draft.length === 2 ? [p] : [...T.draft, p]; bar(); if (T.draft.length === 2) tell(measured()); changed(); return; }
  if (T.tool === "guide" || T.tool === "strip") return pickSide(p);
  const about = T.kinds.get(T.kind);
  if (about.shape === "Point") {
    const more = {}, roof = Number(T.typed.roof);
    if (T.kind === "downspout" && T.typed.roof && roof > 0) more.roof_area = roof;
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

export function finish() {
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

export function atCorners(f, share) {
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

export function measured() {
  if (T.draft.length < 2) return "";
  const [a, b] = T.draft, za = heightAt(a), zb = heightAt(b), run = dist(a, b) / T.site.factor;
  let text = `${said(run, T.site)}  ${bearing(a, b)}`;
  if (za !== null && zb !== null) text += `; ground ${za.toFixed(2)} to ${zb.toFixed(2)}, ${zb <= za ? "falls" : "rises"} ${Math.abs(za - zb).toFixed(2)} (${(Math.abs(za - zb) / run * 100).toFixed(2)} %)`;
  return text;
}

export function remove() {
  const f = find(T.selected);
  if (!f) return;
  if (f.locked) { tell("It is not changed here."); return; }
  if (f.height !== undefined) commit({ ...T.doc, heights: T.doc.heights.filter((_, k) => k !== f.height) });
  else commit({ ...T.doc, features: T.doc.features.filter((one) => one.id !== f.id) });
  T.selected = null;
  tell("Deleted. Ctrl+Z brings it back.");
}

export function place(f, xy) {
  const at = xy.map(round);
  if (f.height !== undefined) commit({ ...T.doc, heights: T.doc.heights.map((h, k) => (k === f.height ? { ...h, x: at[0][0], y: at[0][1] } : h)) });
  else commit({ ...T.doc, features: T.doc.features.map((one) => (one.id === f.id ? { ...one, xy: at } : one)) });
}

export function cancel() {
  if (T.carry) { T.carry = null; T.moved = null; question(false); tell("Left where it was."); }
  else if (T.draft.length || T.base) { T.draft = []; T.base = null; bar(); }
  else if (T.tool !== "select") choose("select");
  else if (T.guides.length && !T.selected) T.guides = [];
  else { T.selected = null; T.pair = null; question(false); }
  changed();
}
