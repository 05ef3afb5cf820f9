// Nodes of the page, made and found. Texts go in as text nodes only.

export const $ = (id) => document.getElementById(id);

export function el(name, attributes, ...inside) {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes || {})) {
    if (key.startsWith("on")) made.addEventListener(key.slice(2), value);
    else if (value === true) made.setAttribute(key, "");
    else if (value !== false && value !== undefined && value !== null) made.setAttribute(key, value);
  }
  for (const one of inside.flat(3)) if (one !== null && one !== undefined) made.append(one);
  return made;
}
