/* The page's parts as tabs, words that lead to a place, switches that are remembered. Every text is set as text, never as markup. */
function siteplanParts(tools) {
  "use strict";
  var node = tools.node;
  var aside = document.querySelector("aside.panel");
  var parts = [].slice.call(document.querySelectorAll("section.part"));
  var bar = node("div", "part-tabs");
  bar.setAttribute("role", "tablist");
  bar.setAttribute("aria-label", "Parts of the plan");
  var tabs = parts.map(function (part) {
    var tab = node("button", "part-tab", part.dataset.tab);
    tab.type = "button";
    tab.id = part.id + "-tab";
    tab.setAttribute("role", "tab");
    tab.setAttribute("aria-controls", part.id);
    part.setAttribute("role", "tabpanel");
    part.setAttribute("aria-labelledby", tab.id);
    part.tabIndex = 0;
    bar.appendChild(tab);
    return tab;
  });
  aside.insertBefore(bar, aside.firstChild);
  /* one tab stop for the row of tabs; arrows, Home and End move along it and open what they reach */
  function open(index, focus) {
    tabs.forEach(function (tab, i) {
      tab.setAttribute("aria-selected", String(i === index));
      tab.tabIndex = i === index ? 0 : -1;
      parts[i].hidden = i !== index;
    });
    document.documentElement.dataset.part = parts[index].id.slice(5);
    if (focus) tabs[index].focus();
    tools.resized();
  }
  /* where the page scrolls as a whole, a part begins at its head, right under the tabs */
  function begin() {
    aside.scrollTop = 0;
    if (getComputedStyle(aside).overflowY === "visible") window.scrollBy(0, aside.getBoundingClientRect().top - (parseFloat(getComputedStyle(bar).top) || 0) * (bar.currentCSSZoom || 1));
  }
  function shown(id) { return parts.map(function (part) { return part.id; }).indexOf(id); }
  tabs.forEach(function (tab, index) {
    tab.addEventListener("click", function () {
      open(index);
      begin();
    });
    tab.addEventListener("keydown", function (event) {
      var to = { ArrowRight: index + 1, ArrowLeft: index - 1, Home: 0, End: tabs.length - 1 }[event.key];
      if (to === undefined) return;
      event.preventDefault();
      open((to + tabs.length) % tabs.length, true);
    });
  });
  open(0);
  document.addEventListener("click", function (event) {
    var link = event.target.closest && event.target.closest('a[href^="#part-"]');
    if (!link) return;
    event.preventDefault();
    var index = shown(link.getAttribute("href").slice(1));
    if (index >= 0) open(index, true);
  });

  /* words that lead somewhere */
  [].forEach.call(document.querySelectorAll(".go"), function (word) {
    word.setAttribute("role", "button");
    word.tabIndex = 0;
    function go() { tools.lead(word.dataset, word); }
    word.addEventListener("click", go);
    word.addEventListener("keydown", function (event) {
      if (event.key !== "Enter" && event.key !== " ") return;
      event.preventDefault();
      go();
    });
  });

  /* switches: kept for this page as long as the browser keeps anything for it */
  var box = document.getElementById("switches");
  var root = document.documentElement;
  function kept(name, value) {
    try {
      if (value === undefined) return window.localStorage.getItem("siteplan " + name);
      window.localStorage.setItem("siteplan " + name, value);
    } catch (refused) { /* a browser that keeps nothing: the switch holds until the page is closed */ }
    return null;
  }
  function toggle(words, name, act) {
    var button = node("button", "switch", words);
    button.type = "button";
    function set(on) {
      button.setAttribute("aria-pressed", String(on));
      act(on);
    }
    button.addEventListener("click", function () {
      var on = button.getAttribute("aria-pressed") !== "true";
      kept(name, on ? "on" : "off");
      set(on);
    });
    set(kept(name) === "on");
    box.appendChild(button);
    return button;
  }
  tools.turns(toggle("", "sun", function (on) { root.classList.toggle("sun", on); }), tools.words("sun")).title = "Black on white, for bright light";
  tools.turns(toggle("", "large", function (on) {
    root.classList.toggle("large", on);
    /* everything has moved: the stake in hand stays in view */
    if (root.dataset.part === "stakes") begin();
    tools.resized();
  }), tools.words("large"));

  /* what a crew reads, in its own language; everything else stays as it is written */
  var turned = [].slice.call(document.querySelectorAll("[data-es]"));
  turned.forEach(function (words) { words.dataset.en = words.textContent; });
  var spanish = toggle("Espa\u00f1ol", "spanish", function (on) {
    var to = on ? "es" : "en";
    turned.forEach(function (words) {
      words.textContent = words.dataset[to];
      words.lang = to;
    });
    /* on a phone each figure has its column's head beside it */
    [].forEach.call(document.querySelectorAll("table.stakes"), function (table) {
      var heads = [].map.call(table.querySelectorAll("th"), function (head) { return head.textContent; });
      [].forEach.call(table.querySelectorAll("td[data-head]"), function (cell) { cell.dataset.head = heads[cell.cellIndex] || cell.dataset.head; });
    });
    tabs.forEach(function (tab, i) {
      if (!parts[i].dataset.tabEs) return;
      tab.textContent = on ? parts[i].dataset.tabEs : parts[i].dataset.tab;
      tab.lang = to;
    });
    tools.speak(to);
  });
  spanish.lang = "es";

  return { open: function (id) { var index = shown(id); if (index >= 0) open(index); }, toggle: toggle };
}
