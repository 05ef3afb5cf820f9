// The lot by its deed's calls.
import { $, el } from "./nodes.js";
import { fit, svg } from "./paper.js";
import { typed } from "./plane.js";
import { taken } from "./question.js";
import { T, changed, commit, newId, post, tell } from "./state.js";

let calls = "", laid = null;
export function deed() {
  const d = $("dialog"), had = T.doc.features.find((f) => f.properties.kind === "lot");
  const text = el("textarea", { id: "calls", rows: 9, spellcheck: "false", placeholder: "N 45\u00b030'15\" E 120.50\nS 44\u00b029'45\" E 80.00\n\u2026" });
  text.value = calls;
  const units = el("select", { id: "deedunit" }, [["ft", "feet"], ["us-ft", "US survey feet"], ["m", "metres"], ["chain", "chains"], ["rod", "rods"], ["link", "links"]].map(([v, t]) => el("option", { value: v, selected: v === (T.site.unit || "ft") }, t)));
  const start = el("input", { id: "deedstart", value: had ? had.xy[0].map((v) => String(v)).join(", ") : "", placeholder: "0, 0", autocomplete: "off" });
  const spread = el("input", { id: "deedspread", type: "checkbox" });
  const told = el("pre", { id: "deedtold", tabindex: "0", role: "region", "aria-label": "What the calls come to" }), put = el("button", { type: "button", class: "main", disabled: true, onclick: () => {
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
