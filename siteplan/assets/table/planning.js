// The plan asked for, watched and loaded; the server's heartbeat.
import { $ } from "./nodes.js";
import { show } from "./panels.js";
import { T, changed, get, post, save, tell } from "./state.js";

export async function startPlan() {
  if (T.dirty || T.saving) { save(0); setTimeout(startPlan, 250); return; }
  show("plan");
  const reply = await post("plan", {});
  T.planning = reply.body;
  changed();
  watch();
}
export async function stopPlan() { const reply = await post("stop", {}); T.planning = reply.body; changed(); }
let watching = false;
export async function watch() {
  if (watching) return;
  watching = true;
  while (T.planning.state === "running") {
    await new Promise((done) => setTimeout(done, 350));
    try { await heartbeat(); } catch { break; }
  }
  watching = false;
  if (T.planning.state === "done") { await loadResult(); tell("The plan is made."); }
  changed();
}
export async function loadResult() {
  const reply = await get("result");
  if (reply.status === 200 && !reply.body.none) { T.result = reply.body; T.overlays.add("plan"); changed(); }
}
$("plan").addEventListener("click", startPlan);

async function heartbeat() {
  const asked = T.version, reply = await get("alive");
  if (reply.status !== 200) return;
  T.planning = reply.body.planning;
  if (asked === T.version && reply.body.version !== asked && !T.saving && !T.notice) T.notice = { kind: "page" };
  else if (asked === T.version && reply.body.disk.length && !T.saving && !T.dirty && !T.notice) T.notice = { kind: "disk", names: reply.body.disk };
  changed();
}
setInterval(() => heartbeat().catch(() => { T.notice = { kind: "refused", text: "The server does not answer: start siteplan draw again. What is drawn here and not saved stays on this page." }; changed(); }), 5000);
