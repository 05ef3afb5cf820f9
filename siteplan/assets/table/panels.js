// The panels beside the drawing: the answer, what is taken, all that is drawn, the site, the plan. Texts go in as text nodes only.
import { T, changed, commit, find, get, link, post, take, tell } from "./state.js";
import { area, dist, edges, said } from "./plane.js";
import { fieldRow } from "./fields.js";
import { el } from "./nodes.js";
import { node } from "./paper.js";

const TABS = [["answer", "Answer"], ["properties", "Taken"], ["drawn", "Drawn"], ["site", "Site"], ["plan", "Plan"]];
const panel = document.getElementById("panel");
let actions = {};
export const bind = (a) => { actions = a; };

function tabs() {
  const list = document.getElementById("tabs");
  if (!list.children.length) {
    TABS.forEach(([key, title], k) => list.append(el("button", { type: "button", role: "tab", id: `tab-${key}`, "aria-controls": "panel", onclick: () => show(key),
      onkeydown: (e) => {
        const to = { ArrowRight: k + 1, ArrowLeft: k - 1, Home: 0, End: TABS.length - 1 }[e.key];
        if (to === undefined) return;
        e.preventDefault();
        const other = TABS[(to + TABS.length) % TABS.length][0];
        show(other);
        document.getElementById(`tab-${other}`).focus();
      } }, title)));
  }
  for (const [key] of TABS) {
    const b = document.getElementById(`tab-${key}`);
    b.setAttribute("aria-selected", String(key === T.tab));
    b.tabIndex = key === T.tab ? 0 : -1;
  }
  panel.setAttribute("aria-labelledby", `tab-${T.tab}`);
}
export function show(key) { T.tab = key; built = ""; changed(); }

let built = "";
export function panels() {
  tabs();
  const mark = KEYS[T.tab]();
  if (mark === built) return;
  const held = panel.contains(document.activeElement) ? document.activeElement.id : "";
  // a field that is being typed in is left alone
  if (held && built.split("|")[0] === mark.split("|")[0] && ["INPUT", "SELECT"].includes(document.activeElement.tagName) && document.activeElement.value !== document.activeElement.defaultValue && document.activeElement.tagName === "INPUT") return;
  const top = panel.scrollTop, same = built.split("|")[0] === mark.split("|")[0];
  built = mark;
  const open = new Set([...panel.querySelectorAll("details[open]")].map((d) => d.dataset.of));
  panel.replaceChildren(...MAKE[T.tab]().filter(Boolean));
  for (const d of panel.querySelectorAll("details")) if (open.has(d.dataset.of)) d.open = true;
  panel.scrollTop = same ? top : 0;
  if (held) { const again = document.getElementById(held); if (again) again.focus(); }
}

const count = new WeakMap();
let counted = 0;
const stamp = (o) => { if (!o) return "-"; if (!count.has(o)) count.set(o, ++counted); return count.get(o); };
const KEYS = {
  answer: () => `answer|${stamp(T.answer)}|${stamp(T.proposed)}|${T.selected}|${T.pair}|${T.show.reach}|${T.site.inches}`,
  properties: () => `properties${T.selected}|${stamp(find(T.selected) && T.selected[0] !== "#" ? find(T.selected) : T.doc.heights)}|${stamp(T.forms)}|${T.site.inches}`,
  drawn: () => `drawn|${stamp(T.doc)}|${T.selected}|${T.troubles.length}`,
  site: () => `site|${stamp(T.doc.settings)}|${stamp(T.forms)}|${stamp(T.steps)}|${stamp(T.refused)}`,
  plan: () => `plan|${JSON.stringify([T.planning.state, T.planning.share, T.planning.version])}|${stamp(T.result)}|${[...T.overlays]}|${T.version}|${T.dirty}`,
};
const MAKE = { answer, properties, drawn, site, plan };

// ---- the answer

function answer() {
  const a = T.answer, chosen = find(T.selected);
  const head = el("h2", {}, chosen && ["source", "outlet"].includes(group(chosen)) ? `What ${chosen.properties.name || chosen.properties.kind} has to spare` : "What each source has to spare");
  if (!a) return [head, el("p", { class: "soft" }, "Working it out\u2026")];
  const drawn = new Set(T.doc.features.map((f) => f.properties.kind)), put = T.proposed.filter((f) => !drawn.has(f.properties.kind));
  if (put.length) return [el("h2", {}, "By the crew's corners"), ...put.map((f) => el("p", {}, el("strong", {}, `${f.properties.name}: `), `${f.xy.map((q, k) => said(dist(q, f.xy[(k + 1) % f.xy.length]) / T.site.factor, T.site)).join(", ")}, ${f.properties.note || ""}`)), el("p", {}, `Are they the ${put.map((f) => f.properties.name.toLowerCase()).join(" and ")}?`), el("p", { class: "row" }, el("button", { type: "button", class: "main", id: "confirm", onclick: () => { actions.confirmed(); changed(); } }, "Draw them"), el("button", { type: "button", onclick: () => { T.proposed = []; changed(); } }, "They are not"))];
  if (a.faults.length) return [el("h2", {}, "Before there is an answer"), ...a.faults.map((f) => el("p", { class: "fault" }, el("strong", {}, `${f.where}: `), `${f.what}. ${f.mend}`))];
  const own = (a.own || []).map((one) => el("div", { class: `pair ${one.breaks.length ? "short" : "falls"}` }, el("strong", {}, `Own drain ${one.name}`), one.breaks.length ? one.breaks.map((b) => el("span", {}, b.why)) : el("span", {}, "keeps cover, depth and grade all the way")));
  const drain = chosen && chosen.properties.kind === "drain" && (a.own || []).find((one) => one.profile && (one.name === chosen.properties.name || one.name === chosen.properties.from));
  if (drain) return [el("h2", {}, `Own drain ${drain.name}`), ...own, profile({ source: String(chosen.properties.from || ""), outlet: String(chosen.properties.to || ""), way: drain })];
  if (own.length && !a.pairs.length) return [el("h2", {}, "Drains of your own"), ...own];
  if (!a.pairs.length) return [head, el("p", {}, "Draw a source of water and an outlet: a downspout or a sump, and a curb outlet or a daylight outlet.")];
  const rows = [...a.pairs].sort((p, q) => p.source.localeCompare(q.source, undefined, { numeric: true }) || (q.spare ?? -1e9) - (p.spare ?? -1e9));
  const list = rows.map((p) => el("button", { type: "button", class: `pair ${p.serves ? "falls" : "short"}`, "aria-pressed": String(Boolean(T.pair && T.pair[0] === p.source && T.pair[1] === p.outlet)),
    onclick: () => { T.pair = T.pair && T.pair[0] === p.source && T.pair[1] === p.outlet ? null : [p.source, p.outlet]; changed(); } },
    el("strong", {}, `${p.source} \u2192 ${p.outlet}`), el("span", {}, `${p.serves ? "Falls" : "Does not fall"}${p.spare_mark ? `, ${p.spare_mark}` : ""}: ${p.spare_text}${p.quick ? " (first answer, while it moves)" : ""}`),
    p.needed_text ? el("span", {}, `${p.length_text} long; needs ${p.needed_text}, has ${p.available_text}`) : null));
  const charted = rows.find((p) => T.pair ? p.source === T.pair[0] && p.outlet === T.pair[1] : p.best && p.way && p.way.profile);
  const reach = a.reach;
  return [head, el("div", {}, list), ...own, charted && charted.way && charted.way.profile ? profile(charted) : null,
    reach ? el("label", { class: "row" }, el("input", { type: "checkbox", id: "reach", checked: T.show.reach, onchange: (e) => { T.show.reach = e.target.checked; changed(); } }), reach.dots.length ? `Where ${reach.source} could come to daylight (green; at most ${reach.most_text} above the ground)` : `${reach.source} can come to daylight nowhere on the lot`) : null,
    el("p", { class: "soft" }, "One line at a time, in the smallest pipe, before lines share a trench. Plan proves the whole yard, sizes and covers. The rules shown are the ones loaded; local code and licensed practice decide.")];
}
const group = (f) => (T.kinds.get(f.properties.kind) || {}).group;

function profile(pair) {
  const p = pair.way.profile, W = 340, H = 190, n = p.station.length;
  const low = Math.min(...p.invert, ...p.ground.filter(Number.isFinite)), high = Math.max(...p.ground.filter(Number.isFinite), ...p.invert);
  const far = p.station[n - 1] || 1, x = (s) => 34 + (W - 44) * (1 - s / far), y = (z) => 14 + (H - 44) * (1 - (z - low) / ((high - low) || 1));
  const line = (v) => v.map((z, k) => (Number.isFinite(z) ? `${k && Number.isFinite(v[k - 1]) ? "L" : "M"}${x(p.station[k]).toFixed(1)} ${y(z).toFixed(1)}` : "")).join("");
  const chart = node("svg", { class: "chart", viewBox: `0 0 ${W} ${H}`, role: "img", "aria-label": `Profile from ${pair.source} to ${pair.outlet}: ground ${p.ground[n - 1]} falls to ${p.ground[0]}, invert ${p.invert[n - 1]} to ${p.invert[0]}` });
  chart.append(node("path", { class: "c", d: line(p.ceiling) }), node("path", { class: "g", d: line(p.ground) }), node("path", { class: "i", d: line(p.invert) }),
    node("text", { x: 34, y: 11 }, pair.source.slice(0, 22)), node("text", { x: W - 6, y: 11, "text-anchor": "end" }, pair.outlet.slice(0, 22)),
    node("text", { x: 34, y: H - 6 }, p.invert[n - 1].toFixed(2)), node("text", { x: W - 6, y: H - 6, "text-anchor": "end" }, p.invert[0].toFixed(2)),
    node("text", { x: W / 2, y: H - 6, "text-anchor": "middle" }, "ground \u2014 brown, invert \u2014 blue"));
  return chart;
}

// ---- what is taken

function properties() {
  const f = find(T.selected);
  if (!f) return [el("h2", {}, "Nothing is taken"), el("p", {}, "Click a thing on the drawing, or choose it under Drawn.")];
  if (f.height !== undefined) return aHeight(f);
  const kind = T.kinds.get(f.properties.kind);
  const made = [el("h2", {}, kind ? kind.title : String(f.properties.kind || "Without a kind"))];
  if (f.locked) return [...made, el("p", {}, `Stands in ${f.file} in a form that is not changed here.`)];
  made.push(el("div", { class: "form" }, kind.fields.flatMap((field) => fieldRow(field, f.properties[field.key], (value) => setProperty(f, field.key, value)))));
  if (f.shape === "Point") made.push(place(f));
  else made.push(el("p", { class: "soft" }, f.shape === "Polygon" ? `Area ${areaSaid(f)}; round it ${said(edges(f).reduce((s, [a, b]) => s + dist(a, b), 0) / T.site.factor, T.site)}` : `Length ${said(edges(f).reduce((s, [a, b]) => s + dist(a, b), 0) / T.site.factor, T.site)}`));
  made.push(el("div", { class: "row" }, el("button", { type: "button", id: "grab", onclick: () => actions.grab() }, "Move"), el("button", { type: "button", id: "delete", onclick: () => actions.remove() }, "Delete")));
  return made;
}
const areaSaid = (f) => { const v = Math.abs(area(f.xy)) / T.site.factor ** 2; return T.site.metric ? `${v.toFixed(1)} m\u00b2` : `${v.toFixed(0)} ft\u00b2 (${(v / 43560).toFixed(3)} acre)`; };

function place(f) {
  const set = (k) => (e) => {
    const v = Number(e.target.value);
    if (!Number.isFinite(v) || e.target.value.trim() === "") return;
    const xy = [...f.xy[0]];
    xy[k] = v;
    actions.place(f, [xy]);
  };
  return el("div", { class: "form" }, ["Easting", "Northing"].flatMap((title, k) => [el("label", { for: `at${k}` }, title), el("input", { id: `at${k}`, inputmode: "decimal", value: f.xy[0][k].toFixed(T.site.metric ? 3 : 2), onchange: set(k) })]));
}

function aHeight(f) {
  const h = T.doc.heights[f.height], set = (key, value) => commit({ ...T.doc, heights: T.doc.heights.map((one, k) => (k === f.height ? { ...one, [key]: value } : one)) });
  const fields = [{ key: "number", label: "Point", type: "text", unit: "", note: "" }, { key: "z", label: "Elevation", type: "number", unit: T.doc.settings.elevation_unit || "", note: "" }, { key: "note", label: "What was shot", type: "text", unit: "", note: "such as gutter, top of curb, floor" }];
  return [el("h2", {}, "Height"), el("div", { class: "form" }, fields.flatMap((field) => fieldRow(field, h[field.key], (v) => set(field.key, field.key === "z" ? v : v ?? "")))),
    T.heightsFile === null ? el("p", { class: "soft" }, "The site's list of shots has a form of its own: change it there.") : el("div", { class: "row" }, el("button", { type: "button", onclick: () => actions.grab() }, "Move"), el("button", { type: "button", onclick: () => actions.remove() }, "Delete"))];
}

function setProperty(f, key, value) {
  const properties = { ...f.properties };
  if (value === null || value === "") delete properties[key]; else properties[key] = value;
  commit({ ...T.doc, features: T.doc.features.map((one) => (one.id === f.id ? { ...one, properties } : one)) });
}

// ---- all that is drawn

function drawn() {
  const groups = [["source", "Sources"], ["outlet", "Outlets"], ["area", "Land and buildings"], ["line", "Lines"], ["point", "Other points"]];
  const made = [el("h2", {}, "All that is drawn"), ...T.troubles.map((t) => el("p", { class: "fault" }, t))];
  const item = (id, name, what) => el("li", {}, el("button", { type: "button", id: `d-${id.replace("#", "h")}`, "aria-pressed": String(T.selected === id), onclick: () => { T.selected = id; actions.taken(); changed(); } }, name, el("span", { class: "what" }, what)));
  for (const [key, title] of groups) {
    const of = T.doc.features.filter((f) => T.kinds.has(f.properties.kind) && group(f) === key);
    if (of.length) made.push(el("h3", {}, title), el("ul", { class: "drawn" }, of.map((f) => item(f.id, String(f.properties.name || T.kinds.get(f.properties.kind).title), f.locked ? `${T.kinds.get(f.properties.kind).title}, not changed here` : T.kinds.get(f.properties.kind).title))));
  }
  if (T.doc.heights.length) made.push(el("h3", {}, "Heights"), el("ul", { class: "drawn" }, T.doc.heights.map((h, k) => item(`#${k}`, `${h.number} ${h.note}`, h.z === null ? "not known" : String(h.z)))));
  if (!T.doc.features.length && !T.doc.heights.length) made.push(el("p", {}, "Nothing yet. Begin with the lot: press L, click or type a corner, then type its sides: 90 x 140."));
  return made;
}

// ---- the site

function site() {
  const made = T.forms.settings.filter((g) => g.fields.length).map((g) => {
    const here = g.fields.filter((field) => T.doc.settings[field.key] !== undefined && T.doc.settings[field.key] !== null).length, open = g.title === "The site";
    return el("details", { "data-of": g.title, open }, el("summary", {}, here && !open ? `${g.title} (${here} set here)` : g.title), g.note ? el("p", { class: "soft" }, g.note) : null, el("div", { class: "form" }, g.fields.flatMap(setting)), g.by_hand.length ? el("p", { class: "note" }, `By hand in site.toml: ${g.by_hand.join("; ")}.`) : null);
  });
  made.push(el("p", { class: "soft" }, "Only what differs from the books is written to site.toml; empty a field to go back to them."));
  made.push(history());
  return made;
}

// a setting's field; a value that was refused stays in it, with the reason
function setting(field) {
  const refused = T.refused.get(field.key);
  const set = (value) => {
    if (T.refused.delete(field.key)) T.refused = new Map(T.refused);
    commit({ ...T.doc, settings: { ...T.doc.settings, [field.key]: value } });
  };
  return fieldRow(field, refused ? refused.typed : T.doc.settings[field.key], set, { judged: true, refused: refused ? refused.text : "" });
}

function history() {
  const d = el("details", { "data-of": "history", ontoggle: (e) => { if (e.target.open) load(); } }, el("summary", {}, "Earlier saves"));
  if (T.steps) d.append(T.steps.length ? el("ul", { class: "drawn" }, T.steps.slice(0, 60).map((s) => el("li", {}, el("button", { type: "button", onclick: () => back(s.number) }, `Before save ${s.number}`, el("span", { class: "what" }, `${new Date(s.time * 1000).toLocaleString()}: ${s.files.join(", ")}`))))) : el("p", {}, "None yet."));
  return d;
}
async function load() { const r = await get("history"), key = JSON.stringify(r.body.steps); if (JSON.stringify(T.steps) !== key) { T.steps = r.body.steps; changed(); } }
async function back(number) {
  const reply = await post("back", { number });
  if (reply.status === 200) { take(reply.body); T.steps = null; actions.reloaded(); tell(`The site stands as before save ${number}.`); } else tell(reply.body.refused);
  changed();
}

// ---- the plan

function plan() {
  const p = T.planning, made = [el("h2", {}, "The plan")];
  if (p.state === "running") made.push(el("p", {}, "Laying out and proving\u2026"), el("progress", { max: 1, value: p.share || undefined, "aria-label": "How far the plan has come" }), el("button", { type: "button", id: "stop", onclick: () => actions.stop() }, "Stop"));
  else made.push(el("button", { type: "button", class: "main", id: "plan2", onclick: () => actions.plan() }, p.state === "none" ? "Plan the site" : "Plan again"));
  if (p.state === "stopped") made.push(el("p", {}, "Stopped. An earlier plan stays as it was."));
  if (p.state === "failed") made.push(...p.faults.map((f) => el("p", { class: "fault" }, el("strong", {}, `${f.where}: `), `${f.what}. ${f.mend}`)));
  if (T.result && p.state !== "running") {
    if (p.state === "done" && (p.version !== T.version || T.dirty)) made.push(el("p", { class: "fault" }, "The drawing was changed since this plan was made."));
    const r = T.result;
    made.push(el("p", {}, `${r.counts.pass} checks pass, ${r.counts.flag} to look at, ${r.counts.fail} fail.`),
      el("p", { class: "row" }, el("a", { href: link("plan/map.html"), target: "_blank", rel: "noopener" }, "Open the map"), el("a", { href: link("plan/trench_schedule.csv"), download: "trench_schedule.csv" }, "Trench schedule")));
    const box = (key, title) => el("label", { class: "row" }, el("input", { type: "checkbox", id: `over-${key}`, checked: T.overlays.has(key), onchange: (e) => { if (e.target.checked) T.overlays.add(key); else T.overlays.delete(key); changed(); } }), title);
    made.push(box("plan", "Lines of the plan"), ...r.layouts.filter((l) => !l.chosen && l.lines.length).map((l) => box(l.number, `Layout ${l.number}${l.title ? `: ${l.title}` : ""}`)));
    made.push(...r.findings.filter((f) => f.status === "fail").slice(0, 20).map((f) => el("p", { class: "fault" }, f.message)));
  }
  if (p.summary) made.push(el("details", { "data-of": "summary" }, el("summary", {}, "What siteplan plan says"), el("pre", {}, p.summary)));
  return made;
}
