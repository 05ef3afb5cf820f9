// What the page holds, and its talk with the server. One change in flight, one answer in flight, always the newest.

const base = location.pathname.replace(/[^/]*$/, "");
const secret = base.split("/").filter(Boolean)[0] || "";

export const T = {
  doc: { features: [], heights: [], settings: {} }, version: 0, forms: { kinds: [], settings: [] }, kinds: new Map(),
  paper: { metres: 1, told: "local" }, target: "", heightsFile: null, troubles: [],
  past: [], future: [], selected: null, tool: "select", kind: null, draft: [], pointer: null, snap: null, guides: [],
  view: { x: 0, y: 0, scale: 4 }, ground: { known: false }, answer: null, planning: { state: "none" }, result: null, overlays: new Set(),
  site: { metric: false, inches: false, unit: "ft", factor: 1 }, tab: "answer", saving: false, dirty: false, notice: null, moved: null, show: { reach: true, ground: true, picture: true },
  typed: { roof: "", hi: "", strip: "easement" }, refused: new Map(), proposed: [], newest: 0, backed: null, ahead: [], pictureSeen: null, pictureMost: 0,
};

const listeners = [];
export const onChange = (f) => listeners.push(f);
let asked = false;
export function changed() {
  if (asked) return;
  asked = true;
  requestAnimationFrame(() => { asked = false; for (const f of listeners) f(); });
}

export async function get(path) {
  const reply = await fetch(base + path, { cache: "no-store" });
  return { status: reply.status, body: await reply.json() };
}

export async function post(path, body) {
  const reply = await fetch(base + path, {
    method: "POST", cache: "no-store", body: JSON.stringify(body), headers: { "Content-Type": "application/json", "X-Siteplan-Table": secret },
  });
  return { status: reply.status, body: await reply.json() };
}
// the bytes of a file, as they are
export async function send(path, file) {
  const reply = await fetch(base + path, { method: "POST", cache: "no-store", body: file, headers: { "Content-Type": "application/octet-stream", "X-Siteplan-Table": secret } });
  return { status: reply.status, body: await reply.json() };
}
export const link = (path) => base + path;

let say = () => {};
export const onSay = (f) => { say = f; };
export const tell = (text) => say(text);

// ---- the document

export function take(state) {
  T.doc = { features: state.features, heights: state.heights, settings: state.settings };
  T.version = state.version;
  T.loaded = T.doc.settings;
  saved = T.doc;
  T.refused = new Map();
  T.proposed = state.proposed;
  T.forms = state.forms;
  T.kinds = new Map(state.forms.kinds.map((k) => [k.kind, k]));
  T.paper = state.paper;
  T.target = state.target;
  T.heightsFile = state.heights_file;
  T.troubles = state.troubles;
  pictured(state.picture);
  T.pictureMost = state.picture_most;
  T.planning = state.planning;
  T.past = []; T.future = []; T.dirty = false;
  T.newest = state.newest; T.backed = null; T.ahead = [];
  if (!find(T.selected)) T.selected = null;
  units();
}

// the picture underneath as the server tells it; a page that shows its points builds them anew
export function pictured(picture) {
  if (JSON.stringify(picture) === JSON.stringify(T.picture)) return false;
  T.picture = picture;
  if (T.pictureSeen) T.pictureSeen();
  return true;
}

function units() {
  const unit = T.doc.settings.length_unit || "";
  const metric = unit === "m";
  const metres = { "ft": 0.3048, "us-ft": 1200 / 3937, "m": 1 }[unit];
  T.site.metric = metric;
  T.site.unit = unit;
  // paper units in one unit of the site
  T.site.factor = T.paper.told === "local" || !metres ? 1 : metres / T.paper.metres;
  if (metric) T.site.inches = false;
}

export const find = (id) => T.doc.features.find((f) => f.id === id) || (id && id[0] === "#" ? height(id) : null);
function height(id) {
  const k = Number(id.slice(1)), h = T.doc.heights[k];
  return h ? { id, height: k, shape: "Point", xy: [[h.x, h.y]], properties: { kind: "height", name: h.number }, locked: T.heightsFile === null } : null;
}

let serial = 0;
const stamp = Math.random().toString(36).slice(2, 8);
export const newId = () => `p${stamp}-${++serial}`;

export function commit(doc) {
  T.past.push(T.doc);
  T.future = []; T.ahead = [];
  T.doc = doc;
  edited();
}

export function edited() {
  units();
  T.dirty = true;
  if (!find(T.selected)) T.selected = null;
  save();
  changed();
}

let timer = 0;
export function save(soon = 180) {
  clearTimeout(timer);
  timer = setTimeout(put, soon);
}

async function put(anyway = false) {
  if (T.saving || !T.dirty || (T.notice && !anyway)) return;
  T.saving = true;
  const doc = T.doc, gone = Object.fromEntries(Object.keys(T.loaded || {}).map((key) => [key, null]));  // a setting that is there no more is taken out
  changed();
  let reply;
  try {
    reply = await post("change", { version: T.version, features: doc.features, heights: doc.heights, settings: { ...gone, ...doc.settings }, anyway });
  } catch {
    reply = { status: 0, body: { refused: "the server does not answer: start siteplan draw again" } };
  }
  T.saving = false;
  if (reply.status === 200) {
    T.version = reply.body.version;
    T.notice = null;
    saved = doc;
    if (T.loaded !== doc.settings) { T.loaded = doc.settings; await reform(); }
    if (T.doc === doc) { T.dirty = false; settled(); } else if (T.dirty) put(); else settled();  // taken anew, on another paper
  } else if (reply.status === 409) {
    T.notice = reply.body.outdated ? { kind: "page" } : { kind: "disk", names: reply.body.disk };
  } else if (!handBack(doc, (reply.body.faults || []).filter((f) => f.key))) {
    T.notice = { kind: "refused", text: reply.body.refused };
  }
  changed();
}

// settings that no command would read go back to what they were; the reader's own words stand beside their fields
function handBack(doc, faults) {
  if (!faults.length) return false;
  const settings = { ...T.doc.settings };
  for (const f of faults) {
    T.refused.set(f.key, { typed: doc.settings[f.key], text: `${f.where}: ${f.what.replace(/\.$/, "")}. ${f.mend}` });
    if (T.loaded[f.key] === undefined) delete settings[f.key]; else settings[f.key] = T.loaded[f.key];
  }
  const before = T.past[T.past.length - 1], same = before && before.features === T.doc.features && before.heights === T.doc.heights && JSON.stringify(before.settings) === JSON.stringify(settings);
  T.doc = same ? T.past.pop() : { ...T.doc, settings };
  T.refused = new Map(T.refused);
  say(faults.map((f) => f.what).join("; "));
  if (JSON.stringify(settings) === JSON.stringify(T.loaded) && T.doc.features === saved.features && T.doc.heights === saved.heights) { T.dirty = false; settled(); } else put();
  return true;
}
let saved = { features: null, heights: null };  // what the server holds

// units, system and books decide forms and paper: asked again when settings were saved
async function reform() {
  const reply = await get("state");
  if (reply.status !== 200 || reply.body.version !== T.version) return;
  if (reply.body.paper.told !== T.paper.told || reply.body.paper.metres !== T.paper.metres) { take(reply.body); return; }
  T.forms = reply.body.forms;
  T.kinds = new Map(T.forms.kinds.map((k) => [k.kind, k]));
  T.target = reply.body.target;
  T.proposed = reply.body.proposed;
  T.heightsFile = reply.body.heights_file;
  T.troubles = reply.body.troubles;
  pictured(reply.body.picture);
}

let settle = () => {};
export const onSettled = (f) => { settle = f; };
export function settled() { settle(); }

export async function takeTheirs() {
  const reply = await post("reread", {});
  if (reply.status === 200) { T.notice = null; take(reply.body); settled(); } else T.notice = { kind: "refused", text: reply.body.refused };
  changed();
}

export async function keepMine() {
  const reply = await get("alive");
  T.version = reply.body.version;
  T.notice = null;
  T.dirty = true;
  await put(true);
}

// ---- the answer under the hand: the newest question only, one at a time

let busy = false, next = null;
export function ask(question) {
  next = question;
  if (!busy) pump();
}
async function pump() {
  busy = true;
  while (next) {
    const now = next;
    next = null;
    try {
      const reply = await post("answer", now);
      if (reply.status === 200 && !(now.quick && next && !next.quick)) T.answer = { ...reply.body, quick: Boolean(now.quick), about: now.about || null, ways: now.quick && T.answer ? T.answer.ways : null };
    } catch { /* the heartbeat tells */ }
    changed();
  }
  busy = false;
}
export const asking = () => busy;
