// Keys: the crosshair, moving what is taken, the list of keys.
import { bar, entry } from "./entry.js";
import { cancel, finish, place, put, remove, round } from "./making.js";
import { redo, undo } from "./history.js";
import { $, el } from "./nodes.js";
import { fit, hit, measure, svg, toScreen } from "./paper.js";
import { add, centre, dist } from "./plane.js";
import { readout, zoom } from "./pointer.js";
import { question, taken } from "./question.js";
import { T, changed, find, tell } from "./state.js";
import { TOOLS, choose } from "./tools.js";

export function grab() {
  const f = find(T.selected);
  if (!f || f.locked) { tell(f ? "It is not changed here." : "Take something first."); return; }
  T.carry = { id: f.id, from: f.shape === "Point" ? f.xy[0] : centre(f.xy) };
  T.pointer = T.carry.from;
  T.keys = true;
  tell(`${f.properties.name || "It"} moves with the arrow keys or the pointer; Enter drops it, Escape leaves it.`);
  svg.focus({ preventScroll: true });
  changed();
}
export function carryTo(p) {
  const f = find(T.carry.id);
  if (!f) { T.carry = null; return; }
  const d = [p[0] - T.carry.from[0], p[1] - T.carry.from[1]];
  T.moved = { id: f.id, xy: f.xy.map((q) => add(q, d)) };
  if (f.shape === "Point" && f.height === undefined) question(true);
}
export function drop() {
  const f = find(T.carry.id), xy = T.moved && T.moved.xy;
  T.carry = null; T.moved = null;
  if (f && xy) place(f, xy);
  tell("Dropped.");
  taken();
  changed();
}

export function keys(e) {
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
