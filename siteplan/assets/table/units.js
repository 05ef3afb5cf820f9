// Units first: nothing is drawn in a unit that nobody declared.
import { $, el } from "./nodes.js";
import { fit, svg } from "./paper.js";
import { T, commit } from "./state.js";

export function askUnits() {
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
