// A plat or photo underneath: taken from this machine or named in the folder, put in place by known points that are picked on it.
import { $, el } from "./nodes.js";
import { svg } from "./paper.js";
import { T, changed, commit, link, send, tell } from "./state.js";

let nearer = 1, last = "", chosen = null;  // how large the picture is shown; what was said last; the file that was taken

export function underneath() {
  const d = $("dialog");
  nearer = 1;
  last = "";
  chosen = null;
  T.pictureSeen = () => { if (d.open && !(document.activeElement && ["piccolumn", "picrow", "pice", "picn"].includes(document.activeElement.id))) build(d); };
  d.addEventListener("close", () => { T.pictureSeen = null; d.classList.remove("wide"); svg.focus({ preventScroll: true }); }, { once: true });
  build(d);
  d.classList.add("wide");
  d.showModal();
}

const set = (more) => commit({ ...T.doc, settings: { ...T.doc.settings, ...more } });
const points = () => T.doc.settings["plat.image_points"] || [];
const unitName = () => (T.site.metric ? "m" : "ft");

function build(d) {
  const held = d.contains(document.activeElement) ? document.activeElement.id : "", box = d.querySelector(".picture"), at = box ? [box.scrollLeft, box.scrollTop] : [0, 0];
  const told = el("p", { class: "soft", id: "pictold", role: "status" }, last || standing());
  const tellHere = (text) => { last = text; told.textContent = text; tell(text); };
  const shown = T.picture && T.picture.wide;
  d.replaceChildren(el("h2", { id: "dialogname" }, "A plat or photo underneath"), whence(tellHere, d),
    ...(shown ? [el("div", { class: "beside" }, el("div", {}, sheet(tellHere), sizes(d)), el("div", {}, told, known(tellHere, d), list(d)))] : [told]),
    el("p", { class: "soft" }, "It is drawn over, never read as data: lot lines on it are as good as the plat, and no better."), el("p", { class: "row" }, el("button", { type: "button", onclick: () => d.close() }, "Close")));
  const fresh = d.querySelector(".picture");
  if (fresh) [fresh.scrollLeft, fresh.scrollTop] = at;
  const again = held && document.getElementById(held);
  if (again) again.focus();
}

function standing() {
  const p = T.picture;
  if (p && p.fault) return p.fault;
  if (p && p.corners) return p.checked ? `Lies on ${points().length} points; they miss by ${(p.spread / T.site.factor).toFixed(2)} ${unitName()} (root mean square).` : "Lies on two points: a third would tell how well.";
  return p && p.wide ? "Click a known point on the picture, then say where it lies; two at least, best three in far corners." : "Take a PNG, a JPEG or a page of a PDF; a copy goes into the site folder.";
}

// ---- where it comes from

function whence(tellHere, d) {
  const go = () => { if (chosen) take(chosen, page.value.trim(), tellHere, d); };
  const page = el("input", { id: "picpage", inputmode: "numeric", value: "1", autocomplete: "off", onchange: go });
  const file = el("input", { id: "picfile", type: "file", accept: "image/png,image/jpeg,application/pdf", onchange: (e) => { [chosen] = e.target.files; go(); } });
  const name = el("input", { id: "picname", value: T.doc.settings["plat.image"] || "", placeholder: "plat.png", autocomplete: "off", onchange: (e) => { last = ""; set({ "plat.image": e.target.value.trim() || null }); } });
  return el("div", { class: "form" }, el("label", { for: "picfile" }, "Picture on this machine"), file, el("label", { for: "picpage" }, "Its page, if it is a PDF"), page, el("label", { for: "picname" }, "or a file of the site folder"), name);
}

async function take(file, page, tellHere, d) {
  if (!/^[1-9]\d{0,3}$/.test(page)) return tellHere("Give the page as a plain number, from 1.");
  if (file.size > T.pictureMost) return tellHere(`The picture has ${(file.size / 1e6).toFixed(0)} MB, more than ${(T.pictureMost / 1e6).toFixed(0)}. Save it with fewer pixels.`);
  tellHere("The picture is being taken\u2026");
  let reply;
  try { reply = await send(`picture?page=${page}`, file); } catch { return tellHere("The picture did not arrive. Try again."); }
  if (reply.status !== 200) return tellHere(reply.body.refused);
  last = "";
  if (reply.body.name !== T.doc.settings["plat.image"]) set({ "plat.image": reply.body.name, "plat.image_points": null });
  tell("The picture is taken.");
  return build(d);
}

// ---- the picture, and the points picked on it

function sizes(d) {
  const by = (k) => () => { nearer = Math.max(1, Math.min(8, nearer * k)); build(d); };
  return el("div", { class: "row" }, el("button", { type: "button", id: "picin", "aria-label": "Picture nearer", onclick: by(2) }, "Nearer"), el("button", { type: "button", id: "picout", "aria-label": "Picture farther", onclick: by(.5), disabled: nearer === 1 }, "Farther"),
    el("label", { class: "row" }, el("input", { type: "checkbox", id: "picshown", checked: T.show.picture, onchange: (e) => { T.show.picture = e.target.checked; changed(); } }), "Shown under the drawing"));
}

function sheet(tellHere) {
  const p = T.picture, wide = el("div", { class: "sheet" });
  wide.style.width = `${nearer * 100}%`;
  const img = el("img", { src: link(`picture?${encodeURIComponent(p.name)}`), alt: `Picture ${p.name}`, onclick: (e) => {
    const r = img.getBoundingClientRect(), at = [(e.clientX - r.left) / r.width * p.wide, (e.clientY - r.top) / r.height * p.high].map((v) => Math.round(v * 10) / 10);
    $("piccolumn").value = at[0];
    $("picrow").value = at[1];
    mark(wide, at, "picked", "");
    tellHere(`Column ${at[0]}, row ${at[1]}: say where it lies.`);
    $("picplace").focus({ preventScroll: true });
  } });
  wide.append(img);
  points().forEach((r, k) => mark(wide, r, "", String(k + 1)));
  return el("div", { class: "picture", tabindex: "0", role: "group", "aria-label": "The picture, to pick known points on" }, wide);
}

function mark(wide, at, name, text) {
  if (name) for (const one of wide.querySelectorAll(`.${name}`)) one.remove();
  const made = el("span", { class: `mark ${name}`, "aria-hidden": "true" }, text);
  made.style.left = `${at[0] / T.picture.wide * 100}%`;
  made.style.top = `${at[1] / T.picture.high * 100}%`;
  wide.append(made);
}

// places whose easting and northing are known already: shots, and corners of the lot
function places() {
  const shots = T.doc.heights.map((h) => [`${h.number} ${h.note}`.trim(), h.x, h.y]);
  for (const s of T.ground.shots || []) if (!shots.some((one) => one[1] === s.x && one[2] === s.y)) shots.push([`${s.number} ${s.note || ""}`.trim(), s.x, s.y]);
  const lot = T.doc.features.find((f) => f.properties.kind === "lot");
  return [...shots.map((one) => [`Shot ${one[0]}`, one[1], one[2]]), ...(lot ? lot.xy.map((q, k) => [`Corner ${k + 1} of the lot`, q[0], q[1]]) : [])].slice(0, 300);
}

function known(tellHere, d) {
  const field = (id) => el("input", { id, inputmode: "decimal", autocomplete: "off" }), all = places();
  const column = field("piccolumn"), row = field("picrow"), east = field("pice"), north = field("picn");
  const choice = el("select", { id: "picplace", onchange: (e) => { const one = all[Number(e.target.value)]; if (e.target.value !== "" && one) { east.value = one[1]; north.value = one[2]; } } }, el("option", { value: "" }, all.length ? "typed below" : "none drawn or shot yet: type it below"), all.map((one, k) => el("option", { value: String(k) }, one[0])));
  const add = () => {
    const typed = [column, row, east, north].map((one) => one.value.trim()), v = typed.map(Number);
    if (!typed[0] || !typed[1]) return tellHere("Click the point on the picture first, or type its column and row.");
    if (typed.some((one) => !one) || !v.every(Number.isFinite)) return tellHere("Give easting and northing as plain numbers.");
    last = "";
    set({ "plat.image_points": [...points(), v] });
    return build(d);
  };
  return el("div", { class: "form" }, el("label", { for: "piccolumn" }, "Column on the picture"), column, el("label", { for: "picrow" }, "Row"), row, el("label", { for: "picplace" }, "Known place"), choice, el("label", { for: "pice" }, "Easting"), east, el("label", { for: "picn" }, "Northing"), north, el("span", {}), el("button", { type: "button", onclick: add }, "Add point"));
}

function list(d) {
  const p = T.picture, rows = points();
  return el("ol", { class: "known" }, rows.map((r, k) => el("li", {}, `${k + 1}. column ${r[0]}, row ${r[1]} is E ${r[2]}, N ${r[3]}${p && p.checked && p.residuals[k] ? `; misses by ${(Math.hypot(...p.residuals[k]) / T.site.factor).toFixed(2)} ${unitName()}` : ""} `,
    el("button", { type: "button", "aria-label": `Take point ${k + 1} away`, onclick: () => { last = ""; set({ "plat.image_points": rows.filter((_, j) => j !== k) }); build(d); } }, "Take away"))));
}
