// The page put together: what is shown after each change, and how it begins.
import { bar } from "./entry.js";
import { grab } from "./keys.js";
import { canRedo, canUndo, onStepped } from "./history.js";
import { confirmed, place, remove } from "./making.js";
import { $ } from "./nodes.js";
import { notice, pill } from "./notices.js";
import { bind, panels } from "./panels.js";
import { draw, fit, svg } from "./paper.js";
import { loadResult, startPlan, stopPlan, watch } from "./planning.js";
import { loadGround, question, taken } from "./question.js";
import { T, asking, changed, get, onChange, onSay, take } from "./state.js";
import { tools } from "./tools.js";
import { askUnits } from "./units.js";

onSay((text) => { $("live").textContent = text; });

onChange(() => {
  document.title = `${T.doc.settings.name || "Site"} \u2013 drawing table`;
  $("name").textContent = T.doc.settings.name || "Drawing table";
  $("saved").textContent = T.notice ? "not saved" : T.dirty || T.saving ? "saving\u2026" : `saved in the site folder${asking() ? "; working out" : ""}`;
  $("undo").disabled = !canUndo();
  $("redo").disabled = !canRedo();
  $("inches").hidden = T.site.metric;
  $("inches").setAttribute("aria-pressed", String(T.site.inches));
  svg.classList.toggle("select", T.tool === "select" && !T.carry);
  if (T.answer && T.answer.reach) T.reach = T.answer.reach;
  tools();
  draw();
  panels();
  notice();
  pill();
});
window.addEventListener("resize", () => changed());
window.addEventListener("beforeunload", (e) => { if (T.dirty) e.preventDefault(); });

onStepped(() => { bar(); loadGround(); askUnits(); });
function reloaded() { bar(); question(false); loadGround(); }
bind({ confirmed, grab, remove, place, plan: startPlan, stop: stopPlan, reloaded, taken });

const first = await get("state");
if (first.status === 200) {
  take(first.body);
  fit();
  changed();
  question(false);
  loadGround();
  if (T.planning.state === "running") watch(); else loadResult();
  askUnits();
} else {
  T.notice = { kind: "refused", text: first.body.refused };
  changed();
}
