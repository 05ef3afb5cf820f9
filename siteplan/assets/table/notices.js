// What is told over the drawing: a save that was refused, the spare of what moves.
import { $, el } from "./nodes.js";
import { T, changed, find, keepMine, save, takeTheirs } from "./state.js";

export function notice() {
  const n = T.notice, at = $("notice"), key = JSON.stringify(n);
  if (at.dataset.key === key) return;
  at.dataset.key = key;
  at.hidden = !n;
  at.replaceChildren();
  if (!n) return;
  const text = n.kind === "page" ? "Another page changed this site." : n.kind === "disk" ? `Changed on the disk meanwhile: ${n.names.join(", ")}.` : n.text;
  at.append(el("span", {}, text));
  if (n.kind === "refused") at.append(el("button", { type: "button", onclick: () => { T.notice = null; changed(); save(0); } }, "Try again"), el("button", { type: "button", onclick: takeTheirs }, "Load what is saved"));
  else at.append(el("button", { type: "button", onclick: takeTheirs }, n.kind === "page" ? "Take theirs" : "Take the disk's"), el("button", { type: "button", onclick: keepMine }, "Keep mine"));
}

export function pill() {
  const f = find(T.selected), at = $("pill"), a = T.answer;
  const on = T.moved && f && a && a.pairs && a.pairs.length && f.shape === "Point" && f.height === undefined;
  at.hidden = !on;
  if (!on) return;
  const worst = [...a.pairs].filter((p) => p.source === f.properties.name || p.outlet === f.properties.name);
  const low = worst.length ? (worst[0].outlet === f.properties.name ? worst.reduce((x, y) => ((y.spare ?? -1e9) < (x.spare ?? -1e9) ? y : x)) : worst.reduce((x, y) => ((y.spare ?? -1e9) > (x.spare ?? -1e9) ? y : x))) : null;
  at.textContent = low ? `${low.source} \u2192 ${low.outlet}: ${low.spare_mark ? `${low.spare_mark}, ` : ""}${low.spare_text}` : "";
  at.classList.toggle("short", Boolean(low && !low.serves));
  at.hidden = !low;
}
