// The tools down the side: their keys, and which one is in hand.
import { deed } from "./deed.js";
import { bar, entry } from "./entry.js";
import { place } from "./making.js";
import { $, el } from "./nodes.js";
import { svg } from "./paper.js";
import { T, changed, tell } from "./state.js";
import { underneath } from "./underlay.js";

// key, tool, kind, title
export const TOOLS = [
  ["Draw"], ["L", "draw", "lot", "Lot"], ["B", "draw", "building", "Building"], ["D", "draw", "driveway", "Drive"], ["W", "draw", "walk", "Walk"], ["E", "draw", "easement", "Easement"], ["X", "draw", "no_dig", "No-dig"],
  ["C", "draw", "curb", "Curb"], ["U", "draw", "utility", "Utility"], ["N", "draw", "drain", "Own drain"],
  ["Water"], ["P", "draw", "downspout", "Downspout"], ["S", "draw", "sump", "Sump"], ["I", "draw", "inlet", "Inlet"], ["O", "draw", "curb_outlet", "Curb outlet"], ["Y", "draw", "daylight_outlet", "Daylight"],
  ["Ground"], ["H", "height", null, "Height"],
  ["Aids"], ["J", "picture", null, "Picture under"], ["Q", "deed", null, "Deed calls"], ["V", "select", null, "Take, move"], ["K", "guide", null, "Guide line"], ["T", "strip", null, "Strip beside"], ["M", "measure", null, "Measure"],
];

export function tools() {
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
