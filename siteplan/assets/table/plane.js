// Plain geometry, lengths as they are typed and said. No state, no page.

export const dist = (a, b) => Math.hypot(a[0] - b[0], a[1] - b[1]);
export const add = (a, d, k = 1) => [a[0] + d[0] * k, a[1] + d[1] * k];
export const unit = (a, b) => { const l = dist(a, b) || 1; return [(b[0] - a[0]) / l, (b[1] - a[1]) / l]; };
export const dot = (a, b) => a[0] * b[0] + a[1] * b[1];
export const cross = (a, b) => a[0] * b[1] - a[1] * b[0];

export function area(xy) {
  let twice = 0;
  for (let k = 0; k < xy.length; k++) {
    const a = xy[k], b = xy[(k + 1) % xy.length];
    twice += (a[0] - xy[0][0]) * (b[1] - xy[0][1]) - (b[0] - xy[0][0]) * (a[1] - xy[0][1]);
  }
  return twice / 2;
}

export function centre(xy) {
  const n = xy.length;
  return [xy.reduce((s, p) => s + p[0], 0) / n, xy.reduce((s, p) => s + p[1], 0) / n];
}

export function nearestOn(a, b, p) {
  const d = [b[0] - a[0], b[1] - a[1]], l2 = dot(d, d);
  const t = l2 ? Math.max(0, Math.min(1, dot([p[0] - a[0], p[1] - a[1]], d) / l2)) : 0;
  return add(a, d, t);
}

export function edges(feature) {
  const xy = feature.xy, found = [];
  const n = feature.shape === "Polygon" ? xy.length : xy.length - 1;
  for (let k = 0; k < n; k++) found.push([xy[k], xy[(k + 1) % xy.length]]);
  return found;
}

export function inside(xy, p) {
  let odd = false;
  for (let k = 0, j = xy.length - 1; k < xy.length; j = k++) {
    const a = xy[k], b = xy[j];
    if ((a[1] > p[1]) !== (b[1] > p[1]) && p[0] < (b[0] - a[0]) * (p[1] - a[1]) / (b[1] - a[1]) + a[0]) odd = !odd;
  }
  return odd;
}

// where two endless lines meet, each a place and a direction
export function meet(p, u, q, v) {
  const c = cross(u, v);
  if (Math.abs(c) < 1e-9) return null;
  return add(p, u, cross([q[0] - p[0], q[1] - p[1]], v) / c);
}

// a polygon's outside along a corner's bisector
export function outwards(xy, k) {
  const n = xy.length, u = unit(xy[(k + n - 1) % n], xy[k]), v = unit(xy[(k + 1) % n], xy[k]);
  const sum = [u[0] + v[0], u[1] + v[1]], l = Math.hypot(...sum);
  if (l < 1e-6) return [u[1], -u[0]];
  const out = [sum[0] / l, sum[1] / l];
  return inside(xy, add(xy[k], out, 1e-4 * (dist(xy[0], xy[1]) || 1))) ? [-out[0], -out[1]] : out;
}

// a strip beside an edge, on the side where `towards` lies
export function strip(a, b, towards, offset, width) {
  const u = unit(a, b);
  let n = [-u[1], u[0]];
  if (dot(n, [towards[0] - a[0], towards[1] - a[1]]) < 0) n = [u[1], -u[0]];
  return [add(a, n, offset), add(b, n, offset), add(b, n, offset + width), add(a, n, offset + width)];
}

// ---- lengths as typed

const FEET = /^(\d+(?:\.\d+)?)'(?:\s*-?\s*(?:(\d+(?:\.\d+)?)?(?:\s*(\d+)\/(\d+))?")?)?$/;
const INCHES = /^(?:(\d+(?:\.\d+)?)\s*)?(?:(\d+)\/(\d+))?"$/;

export function length(text, feet) {
  const t = text.trim().replace(/[\u2019\u2032]/g, "'").replace(/[\u201d\u2033]|''/g, '"').replace(/\s*(ft|m)$/i, "");
  if (/^-?(\d+\.?\d*|\.\d+)$/.test(t)) return Number(t);
  if (!feet) return null;
  let m = FEET.exec(t);
  if (m) return Number(m[1]) + (Number(m[2] || 0) + (m[3] ? Number(m[3]) / Number(m[4]) : 0)) / 12;
  m = INCHES.exec(t);
  return m && (m[1] || m[2]) ? (Number(m[1] || 0) + (m[2] ? Number(m[2]) / Number(m[3]) : 0)) / 12 : null;
}

const LEN = `(?:\\d+(?:\\.\\d+)?'(?:\\s*-?\\s*(?:\\d+(?:\\.\\d+)?)?(?:\\s*\\d+/\\d+)?")?|(?:\\d+\\s+)?\\d+/\\d+"|\\d+(?:\\.\\d+)?"|\\d+(?:\\.\\d+)?|\\.\\d+)`;
const DEG = `\\d+(?:\\.\\d+)?[\u00b0dD](?:\\s*\\d+(?:\\.\\d+)?')?(?:\\s*\\d+(?:\\.\\d+)?")?`;
const WAY = `(?:[NS]\\d+(?:\\.\\d+)?[EW]|[NS]\\s*${DEG}\\s*[EW]|[NS][EW]|[NSEW]|[LR](?![A-Z]))`;
const RUN = new RegExp(`\\s*;?\\s*(?:(${WAY})\\s*(${LEN})(?![\\d.]|\\s*[\u00b0])|(${LEN})\\s*(${WAY})(?![A-Z])|(${LEN}))`, "iy");

function degrees(text) {
  const m = /^(\d+(?:\.\d+)?)(?:[\u00b0dD](?:\s*(\d+(?:\.\d+)?)')?(?:\s*(\d+(?:\.\d+)?)")?)?$/.exec(text.trim());
  return m ? Number(m[1]) + Number(m[2] || 0) / 60 + Number(m[3] || 0) / 3600 : null;
}

const PLAIN = { N: [0, 1], S: [0, -1], E: [1, 0], W: [-1, 0], NE: [1, 1], NW: [-1, 1], SE: [1, -1], SW: [-1, -1] };

// a direction by name; `last` is the run before, for left and right
function heading(text, last) {
  const t = text.toUpperCase().replace(/\s+/g, "");
  if (t === "L" || t === "R") return last ? (t === "L" ? [-last[1], last[0]] : [last[1], -last[0]]) : null;
  if (PLAIN[t]) { const l = Math.hypot(...PLAIN[t]); return [PLAIN[t][0] / l, PLAIN[t][1] / l]; }
  const m = /^([NS])(.+)([EW])$/.exec(t), d = m && degrees(m[2]);
  if (d === null || d === undefined || d > 90) return null;
  const a = d * Math.PI / 180;
  return [(m[3] === "E" ? 1 : -1) * Math.sin(a), (m[1] === "N" ? 1 : -1) * Math.cos(a)];
}

// What was typed while drawing. `feet`: whether feet and inches may be typed; `pointed`: where the hand points, for a length alone.
// -> {place}, {by}, {box}, {runs}, or null
export function typed(text, feet, pointed, last) {
  const t = text.trim().replace(/[\u2019\u2032]/g, "'").replace(/[\u201d\u2033]/g, '"');
  let m = /^(by\s+)?(-?\d+(?:\.\d+)?)\s*,\s*(-?\d+(?:\.\d+)?)$/i.exec(t);
  if (m) return m[1] ? { by: [Number(m[2]), Number(m[3])] } : { place: [Number(m[2]), Number(m[3])] };
  m = /^(.+?)\s*[x\u00d7]\s*(.+)$/i.exec(t);
  if (m) {
    const w = signed(m[1], feet), d = signed(m[2], feet);
    if (w && d) return { box: [w, d] };
  }
  const runs = [];
  let at = 0, way = last;
  while (at < t.length) {
    RUN.lastIndex = at;
    m = RUN.exec(t);
    if (!m) return null;
    const name = m[1] || m[4], len = length(m[2] || m[3] || m[5], feet);
    const dir = name ? heading(name, way) : runs.length ? null : pointed;
    if (!dir || !(len > 0)) return null;
    runs.push([dir, len]);
    way = dir;
    at = RUN.lastIndex;
    while (at < t.length && /[\s;]/.test(t[at])) at++;
  }
  return runs.length ? { runs } : null;
}

function signed(text, feet) {
  const minus = text.trim().startsWith("-"), v = length(text.trim().replace(/^-/, ""), feet);
  return v === null ? null : minus ? -v : v;
}

// ---- lengths as said

function feetInches(v) {
  const minus = v < 0 ? "-" : "";
  let ticks = Math.round(Math.abs(v) * 96);  // eighths of an inch
  const feet = Math.floor(ticks / 96);
  ticks -= feet * 96;
  const whole = Math.floor(ticks / 8), part = ticks % 8;
  const cut = part % 4 === 0 ? [part / 4, 2] : part % 2 === 0 ? [part / 2, 4] : [part, 8];
  return `${minus}${feet}'-${whole}${part ? ` ${cut[0]}/${cut[1]}` : ""}"`;
}

export function said(v, site) {
  if (site.metric) return `${v.toFixed(2)} m`;
  return site.inches ? feetInches(v) : `${v.toFixed(2)} ft`;
}

export function bearing(a, b) {
  const east = b[0] - a[0], north = b[1] - a[1];
  if (!east && !north) return "";
  let d = Math.round(Math.atan2(Math.abs(east), Math.abs(north)) * 180 / Math.PI * 60);  // minutes
  const text = `${Math.floor(d / 60)}\u00b0${String(d % 60).padStart(2, "0")}'`;
  if (d === 0) return north > 0 ? "due N" : "due S";
  if (d === 5400) return east > 0 ? "due E" : "due W";
  return `${north >= 0 ? "N" : "S"} ${text} ${east >= 0 ? "E" : "W"}`;
}
