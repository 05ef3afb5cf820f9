// The question to the planner: about what, and when it is asked; ground and picture fetched anew.
import { show } from "./panels.js";
import { fit } from "./paper.js";
import { T, ask, changed, find, get, onSettled, pictured, tell } from "./state.js";

export function question(quick) {
  const f = find(T.selected), about = f && f.height === undefined && (f.properties.kind === "drain" || ["source", "outlet"].includes((T.kinds.get(f.properties.kind) || {}).group)) ? f.id : null;
  const moved = T.moved && about === T.moved.id ? [{ id: T.moved.id, xy: T.moved.xy }] : [];
  ask({ quick, about, moved });
}
let rest = 0;
const settledSoon = () => { clearTimeout(rest); rest = setTimeout(() => { if (!T.dirty && !T.moved) { question(false); loadGround(); } }, 120); };
onSettled(() => { settledSoon(); if (T.doc.settings["plat.image"]) loadPicture(); });

async function loadPicture() {
  const reply = await get("under");
  if (reply.status === 200 && pictured(reply.body.picture)) changed();
}

export async function loadGround() {
  const reply = await get("ground");
  if (reply.status !== 200) return;
  const first = !T.doc.features.length && !T.draft.length && !T.ground.box && reply.body.box;
  T.ground = reply.body;
  if (first) fit();
  changed();
}

export function taken() {
  T.pair = null;
  T.reach = null;
  const f = find(T.selected), about = f && f.height === undefined && T.kinds.get(f.properties.kind);
  if (f) tell(`${f.properties.name || "It"} taken.`);
  if (!T.dirty) question(false);
  if (T.tab === "drawn" || T.tab === "plan" || T.tab === "site") return;
  show(about && (["source", "outlet"].includes(about.group)) ? "answer" : f ? "properties" : "answer");
}
