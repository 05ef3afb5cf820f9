// A field of a form: its unit, what holds where it is left empty, its limits and source under it, and why a value was refused.
import { el } from "./nodes.js";
import { tell } from "./state.js";

const LISTS = {
  texts: { said: (v) => v.join("; "), read: (t) => t.split(";").map((one) => one.trim()).filter(Boolean) },
  numbers: { said: (v) => v.join(", "), read: (t) => numbers(t.split(/[,;\s]+/)) },
  rows: { said: (v) => v.map((row) => row.join(" ")).join("; "), read: (t) => { const rows = t.split(";").filter((one) => one.trim()).map((one) => numbers(one.trim().split(/[,\s]+/))); return rows.includes(null) ? null : rows; } },
};
const numbers = (parts) => { const found = parts.filter(Boolean).map(Number); return found.every(Number.isFinite) ? found : null; };

// judged: whether the reader of the file judges what is typed; refused: its words
export function fieldRow(field, value, set, { judged = false, refused = "" } = {}) {
  const id = `f-${field.key.replace(/\W/g, "-")}`, has = value !== undefined && value !== null;
  const told = [field.note ? `${id}-note` : "", refused ? `${id}-why` : ""].filter(Boolean).join(" ") || undefined;
  const more = { id, "aria-describedby": told, "aria-invalid": refused ? "true" : undefined };
  const input = field.type === "choice" ? choice(field, value, has, set, more) : field.type === "yes" ? el("input", { ...more, type: "checkbox", checked: value === true || value === "true", onchange: (e) => set(e.target.checked ? true : null) }) : typed(field, value, has, set, more, judged);
  return [el("label", { for: id }, field.label), el("span", { class: "of" }, input, field.unit ? el("span", { class: "unit" }, field.unit) : null), refused ? el("p", { class: "why", id: `${id}-why` }, refused) : null, field.note ? el("p", { class: "note", id: `${id}-note` }, field.note) : null];
}

function choice(field, value, has, set, more) {
  const options = field.options.map((o) => (typeof o === "string" ? { value: o, label: o } : o));
  if (has && !options.some((o) => o.value === String(value))) options.push({ value: String(value), label: String(value) });
  const usual = field.usual && options.find((o) => o.value === field.usual);
  return el("select", { ...more, class: has ? "set" : "", onchange: (e) => set(e.target.value || null) },
    el("option", { value: "" }, field.usual ? `${usual ? usual.label : field.usual} (usual)` : "\u2014"), options.map((o) => el("option", { value: o.value, selected: has && String(value) === o.value }, o.label)));
}

// what is no number goes on as it was typed where the reader of the file judges it, and is told here where nobody does
function typed(field, value, has, set, more, judged) {
  const list = LISTS[field.type], number = field.type === "number";
  return el("input", { ...more, class: has ? "set" : "", inputmode: number ? "decimal" : undefined, autocomplete: "off", value: !has ? "" : list && Array.isArray(value) ? list.said(value) : String(value), placeholder: field.usual ?? "",
    onchange: (e) => {
      const text = e.target.value.trim();
      e.target.defaultValue = e.target.value;  // no longer being typed
      if (text === "") return set(null);
      if (list) { const read = list.read(text); return set(read === null ? text : read); }
      if (!number || text === "unknown") return set(text);
      const v = Number(text);
      if (Number.isFinite(v)) return set(v);
      if (judged) return set(text);
      e.target.setAttribute("aria-invalid", "true");
      return tell(`${field.label}: give a plain number.`);
    } });
}
