// The pointer: mouse, pen and fingers; dragging, panning, zooming, the read-out.
import { bar } from "./entry.js";
import { carryTo, drop } from "./keys.js";
import { place, put } from "./making.js";
import { $ } from "./nodes.js";
import { show } from "./panels.js";
import { fit, heightAt, hit, measure, svg, toPaper, toScreen } from "./paper.js";
import { add, dist } from "./plane.js";
import { question, taken } from "./question.js";
import { snapped, step } from "./snapping.js";
import { T, changed, find } from "./state.js";

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
export function zoom(by, at) {
  const s = at || toScreen([T.view.x, T.view.y]), p = toPaper(s);
  T.view.scale = clampScale(T.view.scale * by);
  const q = toPaper(s);
  T.view.x += p[0] - q[0]; T.view.y += p[1] - q[1];
  changed();
}
$("in").addEventListener("click", () => zoom(1.4));
$("out").addEventListener("click", () => zoom(1 / 1.4));
$("fit").addEventListener("click", () => { fit(); changed(); });

export function readout() {
  const p = T.pointer;
  if (!p) return;
  const z = heightAt(p), d = T.site.metric ? 3 : 2;
  $("readout").textContent = `E ${p[0].toFixed(d)}  N ${p[1].toFixed(d)}${z === null ? "" : `  ground ${z.toFixed(2)}`}${T.snap ? `  \u2014 ${T.snap}` : ""}`;
}
