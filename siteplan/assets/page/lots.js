// The map of many lots, nearer and farther: buttons, keys, wheel, drag, two fingers. Without scripts it is the whole map, and a lot a link to its row.
(() => {
  "use strict";
  const svg = document.querySelector(".map svg");
  if (!svg) return;
  const whole = svg.viewBox.baseVal, all = { x: whole.x, y: whole.y, w: whole.width, h: whole.height };
  const most = 200, step = 1.5, far = 4; // times nearer, a press; px before a press is a drag
  let view = { ...all }, dragged = false;
  const held = new Map();

  const bar = document.createElement("p"), said = document.createElement("output");
  bar.className = "bar";
  const press = (word, label, act) => {
    const one = document.createElement("button");
    one.type = "button";
    one.textContent = word;
    one.setAttribute("aria-label", label);
    one.addEventListener("click", act);
    bar.append(one);
  };
  press("+", "Nearer", () => nearer(step));
  press("\u2212", "Farther", () => nearer(1 / step));
  press("Whole map", "Whole map", () => show(all));
  bar.append(said);
  svg.before(bar);
  svg.setAttribute("tabindex", "0");
  svg.classList.add("near");

  function show(next) {
    const w = Math.min(all.w, Math.max(all.w / most, next.w)), h = w * all.h / all.w;
    const x = Math.min(all.x + all.w - w, Math.max(all.x, next.x)), y = Math.min(all.y + all.h - h, Math.max(all.y, next.y));
    view = { x, y, w, h };
    svg.setAttribute("viewBox", `${x} ${y} ${w} ${h}`);
    svg.classList.toggle("in", w < all.w); // a finger on the whole map scrolls the page
  }
  function place(at) {
    const there = new DOMPoint(at.clientX, at.clientY).matrixTransform(svg.getScreenCTM().inverse());
    return { x: there.x, y: there.y };
  }
  function nearer(times, about = { x: view.x + view.w / 2, y: view.y + view.h / 2 }) {
    const w = Math.min(all.w, Math.max(all.w / most, view.w / times)), k = w / view.w;
    show({ x: about.x - (about.x - view.x) * k, y: about.y - (about.y - view.y) * k, w });
  }
  function moved(from, to) {
    show({ ...view, x: view.x + from.x - to.x, y: view.y + from.y - to.y });
  }
  function tell(event) {
    const lot = event.target.closest("a, g"), title = lot && lot.querySelector("title");
    if (title) said.textContent = title.textContent;
  }

  svg.addEventListener("wheel", (event) => {
    if (!event.ctrlKey && document.activeElement !== svg && !svg.contains(document.activeElement)) return;
    event.preventDefault();
    nearer(event.deltaY < 0 ? 1.2 : 1 / 1.2, place(event));
  }, { passive: false });
  svg.addEventListener("keydown", (event) => {
    const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    if (way) show({ ...view, x: view.x + way[0] * view.w / 8, y: view.y + way[1] * view.h / 8 });
    else if (event.key === "+" || event.key === "=") nearer(step);
    else if (event.key === "-") nearer(1 / step);
    else if (event.key === "0") show(all);
    else return;
    event.preventDefault();
  });
  svg.addEventListener("pointerdown", (event) => {
    held.set(event.pointerId, event);
    if (held.size === 1) dragged = false;
  });
  svg.addEventListener("pointermove", (event) => {
    const before = held.get(event.pointerId);
    if (!before) return;
    const others = [...held.values()].filter((one) => one.pointerId !== event.pointerId);
    if (!dragged && !others.length && Math.hypot(event.clientX - before.clientX, event.clientY - before.clientY) < far) return;
    dragged = true;
    svg.setPointerCapture(event.pointerId);
    if (others.length) {
      const [x, y] = [others[0].clientX, others[0].clientY];
      const was = Math.hypot(before.clientX - x, before.clientY - y), is = Math.hypot(event.clientX - x, event.clientY - y);
      if (was > 0) nearer(is / was, place({ clientX: (x + event.clientX) / 2, clientY: (y + event.clientY) / 2 }));
    } else moved(place(before), place(event));
    held.set(event.pointerId, event);
  });
  for (const kind of ["pointerup", "pointercancel"]) svg.addEventListener(kind, (event) => held.delete(event.pointerId));
  svg.addEventListener("click", (event) => { if (dragged) event.preventDefault(); }, true);
  svg.addEventListener("dragstart", (event) => event.preventDefault());
  svg.addEventListener("pointerover", tell);
  svg.addEventListener("focusin", tell);
})();
