// A place given by hand, drawn to corners, sides, right angles and guide lines near by.
import { add, cross, dist, dot, edges, meet, nearestOn, unit } from "./plane.js";
import { T } from "./state.js";

// the direction that rectangles stand in: the lot's first side, east-most way round, else east
export function axis() {
  const lot = T.doc.features.find((f) => f.properties.kind === "lot");
  if (!lot || T.kind === "lot" || lot.xy.length < 3) return [1, 0];
  let best = [1, 0], most = -1;
  for (const [a, b] of edges(lot)) { const u = unit(a, b); for (const w of [u, [-u[0], -u[1]], [-u[1], u[0]], [u[1], -u[0]]]) if (w[0] > most + 1e-9) { most = w[0]; best = w; } }
  return best;
}

export function snapped(p, touch, free) {
  T.snap = null;
  if (free) return fine(p);
  const tol = (touch ? 18 : 10) / T.view.scale, skip = T.moved ? T.moved.id : null;
  let best = null, least = tol;
  const near = (q, why) => { const d = dist(q, p); if (d < least) { least = d; best = q; T.snap = why; } };
  const others = T.doc.features.filter((f) => f.id !== skip && T.kinds.has(f.properties.kind));
  for (const f of others) for (const q of f.xy) near(q, "corner");
  for (const h of T.doc.heights) near([h.x, h.y], "height");
  for (const q of T.draft) near(q, "corner");
  T.guides.forEach((g, k) => T.guides.slice(k + 1).forEach((o) => { const q = meet(g.p, g.d, o.p, o.d); if (q) near(q, "guides"); }));
  if (best) return best;
  // right angles to the last run, and to the lot
  const last = T.draft[T.draft.length - 1] || (T.carry ? T.carry.from : null), lines = [];
  if (last && T.draft.length) {
    const ways = [axis()];
    if (T.draft.length > 1) ways.push(unit(T.draft[T.draft.length - 2], last));
    for (const u of ways) for (const w of [u, [-u[1], u[0]]]) lines.push([last, w, "right angle"]);
  }
  for (const g of T.guides) lines.push([g.p, g.d, "guide"]);
  let on = null;
  for (const [q, w, why] of lines) { const d = Math.abs(cross(w, [p[0] - q[0], p[1] - q[1]])); if (d < least) { least = d; on = [q, w, why]; } }
  const sides = others.filter((f) => f.shape !== "Point").flatMap((f) => edges(f));
  if (on) {
    let at = add(on[0], on[1], dot(on[1], [p[0] - on[0][0], p[1] - on[0][1]]));
    T.snap = on[2];
    for (const [a, b] of sides) { const q = meet(on[0], on[1], a, unit(a, b)); if (q && dist(q, at) < tol && dist(nearestOn(a, b, q), q) < 1e-6 * (1 + dist(a, b))) { at = q; T.snap = "side"; return at; } }
    if (on[2] === "right angle") { const len = dot(on[1], [at[0] - on[0][0], at[1] - on[0][1]]), s = step(); return add(on[0], on[1], Math.round(len / s) * s); }
    return at;
  }
  least = tol;
  for (const [a, b] of sides) { const q = nearestOn(a, b, p), d = dist(q, p); if (d < least) { least = d; best = q; T.snap = "side"; } }
  return best || fine(p);
}
export const step = () => { const px = 4 / T.view.scale / T.site.factor; return [0.01, 0.05, 0.1, 0.25, 0.5, 1, 2, 5].reduce((a, b) => (b <= px ? b : a), 0.01) * T.site.factor; };
const fine = (p) => { const s = step(); return [Math.round(p[0] / s) * s, Math.round(p[1] / s) * s]; };
