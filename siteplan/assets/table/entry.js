// The bar of typed entries: what is asked for, and what is made of what is typed.
import { keys } from "./keys.js";
import { atCorners, cancel, finish, lotXY, make, measured, put } from "./making.js";
import { $, el } from "./nodes.js";
import { lookAt, svg } from "./paper.js";
import { add, area, centre, dist, dot, length, strip, typed, unit } from "./plane.js";
import { axis } from "./snapping.js";
import { T, changed, commit, tell } from "./state.js";

export const entry = $("entry");
const STRIPS = ["easement", "driveway", "walk", "no_dig"];

export function bar() {
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
      extra.append(el("label", { for: "roof" }, "roof"), el("input", { id: "roof", inputmode: "decimal", value: T.typed.roof, placeholder: T.site.metric ? "m\u00b2" : "ft\u00b2", onchange: (e) => { T.typed.roof = e.target.value; } }));
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
    hint = T.base ? `Type it, and what was shot: 98.42 gutter.${T.typed.hi ? " A rod, with the height of instrument above." : ""}` : "Click or type the place, then its elevation; or all at once: 25, 55, 98.42 gutter.";
    extra.append(el("label", { for: "hi" }, "height of instrument, for rods"), el("input", { id: "hi", inputmode: "decimal", value: T.typed.hi, onchange: (e) => { T.typed.hi = e.target.value; bar(); } }));
  } else if (T.tool === "guide") {
    name = "Guide line";
    hint = T.base ? "Type how far off, on the pointer's side." : "Click a side of a lot or building; then type how far off.";
  } else if (T.tool === "strip") {
    name = "Strip";
    hint = T.base ? "Type its width, or its offset and its width: 3 10." : "Click the side that it runs beside; point to its side of it.";
    extra.append(el("label", { for: "of" }, "of"), el("select", { id: "of", onchange: (e) => { T.typed.strip = e.target.value; } }, STRIPS.map((k) => el("option", { value: k, selected: k === T.typed.strip }, T.kinds.get(k) ? T.kinds.get(k).title : k))));
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

export function bad(text) { entry.classList.add("bad"); $("barhint").textContent = text; tell(text); }

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
  if (T.typed.hi && !Number.isFinite(Number(T.typed.hi))) return bad("The height of instrument is no number.");
  const z = T.typed.hi ? Math.round((Number(T.typed.hi) - Number(v[1])) * 1e4) / 1e4 : Number(v[1]);
  const used = new Set(T.doc.heights.map((h) => h.number));
  let n = T.doc.heights.length + 1;
  while (used.has(String(n))) n += 1;
  const at = T.base.map((c) => Math.round(c * 1e4) / 1e4);
  const same = T.doc.heights.findIndex((h) => h.x === at[0] && h.y === at[1]);
  const made = { number: same >= 0 ? T.doc.heights[same].number : String(n), x: at[0], y: at[1], z, note: (v[2] || "").trim() };
  commit({ ...T.doc, heights: same >= 0 ? T.doc.heights.map((h, k) => (k === same ? made : h)) : [...T.doc.heights, made] });
  lookAt([at]);
  tell(`Height ${z}${T.typed.hi ? `, ${T.typed.hi} less a rod of ${v[1]}` : ""}.`);
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
    make(T.typed.strip, strip(a, b, side, offset * k, width * k));
  }
  T.base = null;
  entry.value = "";
  bar();
  changed();
}
