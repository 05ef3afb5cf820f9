/* The stake in hand: what to dig to, which pipe, what stands there, and today's rods. The arithmetic is the cut sheet's. */
function siteplanCrew(data, tools) {
  "use strict";
  var node = tools.node, crew = data.crew, place = document.getElementById("crew");
  if (!place || !crew.lines.length) return { visit: function () {}, speak: function () {} };
  var rod = crew.rod, language = "en", hi = null, line = 0, at = 0, cells = {};

  function say(id) { return crew.words[language][id]; }
  function button(cls, act) {
    var made = node("button", cls);
    made.type = "button";
    made.addEventListener("click", act);
    return made;
  }

  /* lines to choose from */
  var choice = node("select");
  data.lines.forEach(function (one, i) {
    var option = node("option", "", "");
    option.value = String(i);
    choice.appendChild(option);
  });
  choice.id = "crew-line";
  choice.addEventListener("change", function () { tools.visit(Number(choice.value), crew.lines[Number(choice.value)].cards[0].at, true); });
  var choiceName = node("label");
  choiceName.htmlFor = choice.id;
  var input = node("input");
  input.id = "crew-hi";
  input.type = "text";
  input.inputMode = rod.twelfth === null ? "decimal" : "text"; /* feet and inches need their marks */
  input.autocomplete = "off";
  input.setAttribute("aria-describedby", "crew-told");
  var inputName = node("label");
  inputName.htmlFor = input.id;
  var told = node("p", "told");
  told.id = "crew-told";
  told.setAttribute("role", "status");
  var asked = node("div", "asked");
  [[choiceName, choice], [inputName, input]].forEach(function (pair) {
    var box = node("div");
    box.appendChild(pair[0]);
    box.appendChild(pair[1]);
    asked.appendChild(box);
  });
  var card = node("article", "stake-card");
  card.setAttribute("aria-live", "polite");
  var back = button("step back", function () { step(-1); }), next = button("step next", function () { step(1); });
  var steps = node("div", "steps");
  steps.appendChild(back);
  steps.appendChild(next);
  [card, steps, asked, told].forEach(function (part) { place.appendChild(part); });

  /* numbers as the cut sheet prints them: whole ticks of the last digit, feet and inches from the unrounded figure */
  function ticks(metres) {
    var scale = Math.pow(10, rod.digits);
    return Math.floor(metres / rod.metres * scale + 0.5 + scale * rod.close);
  }
  function plain(count) { return (count / Math.pow(10, rod.digits)).toFixed(rod.digits); }
  function common(a, b) { return b ? common(b, a % b) : a; }
  function inches(metres) {
    var left = Math.floor(metres / rod.twelfth * 8 + 0.5 + 1e-9);
    var feet = Math.floor(left / 96), whole = Math.floor(left % 96 / 8), part = left % 8, of = part ? common(part, 8) : 1;
    return feet + "'-" + whole + (part ? "\u00a0" + part / of + "/" + 8 / of : "") + '"';
  }
  function reading(target) {
    var text = plain(ticks(hi) - target[0]), exact = hi - target[1];
    return text + "\u00a0" + rod.unit + (rod.twelfth === null || exact < 0 ? "" : " (" + inches(exact) + ")");
  }
  function reach(target) {
    var read = (ticks(hi) - target[0][0]) / Math.pow(10, rod.digits) * rod.metres;
    var top = (ticks(hi) - target[1][0]) / Math.pow(10, rod.digits) * rod.metres;
    return read < rod.shortest || top < rod.shortest ? "beam" : read > rod.longest ? "short" : "";
  }
  /* a length as commands read one: 102.37, 102.37 ft, 102'-4 1/2", 1228.5 in, 31.2m; null for what is none */
  var MARKS = { "\u2032": "'", "\u2019": "'", "\u2018": "'", "\u2033": '"', "\u201d": '"', "\u201c": '"', "\u2212": "-", "\u2044": "/" };
  function metres(text) {
    if (text.length > 60) return null;
    var plainer = text.replace(/[\u2032\u2019\u2018\u2033\u201d\u201c\u2212\u2044]/g, function (mark) { return MARKS[mark]; }).trim().toLowerCase();
    var one = /^([+-]?(?:\d+\.?\d*|\.\d+)(?:e[+-]?\d+)?)\s*(us-ft|ft|feet|in|mm|cm|m)?$/.exec(plainer), value;
    if (one) value = Number(one[1]) * (one[2] ? rod.lengths[one[2]] : rod.typedMetres);
    else {
      var parts = /^([+-]?)\s*(?:(\d+(?:\.\d+)?)\s*(?:'|ft\b|feet\b)\s*-?\s*)?(?:(\d+(?:\.\d+)?(?!\d*\s*\/))?\s*(?:(\d+)\s*\/\s*(\d+))?\s*("|''|in\b|inches\b)?)?$/.exec(plainer);
      if (!parts) return null;
      var feet = parts[2], whole = parts[3], over = parts[4], under = parts[5];
      if (feet === undefined && (parts[6] === undefined || (whole === undefined && over === undefined))) return null;
      if (feet !== undefined && feet.indexOf(".") >= 0 && (whole || over)) return null;
      if (over !== undefined && Number(under) === 0) return null;
      var twelfths = Number(whole || 0) + (over === undefined ? 0 : Number(over) / Number(under));
      if (feet !== undefined && twelfths >= 12) return null;
      value = (Number(feet || 0) + twelfths / 12) * rod.lengths.ft * (parts[1] === "-" ? -1 : 1);
    }
    return Math.abs(value) <= rod.most ? value : null;
  }
  function typed() {
    var text = input.value.trim();
    hi = null;
    input.removeAttribute("aria-invalid");
    told.textContent = "";
    if (!text) { draw(); return; }
    var value = metres(text), any = false;
    if (value === null) {
      input.setAttribute("aria-invalid", "true");
      told.textContent = say("number");
      draw();
      return;
    }
    hi = value;
    crew.lines.forEach(function (one) { one.cards.forEach(function (stake) { if (stake.rods && !reach(stake.rods)) any = true; }); });
    if (!any) {
      hi = null;
      input.setAttribute("aria-invalid", "true");
      told.textContent = say("far");
    } else told.textContent = say("set").replace("{hi}", /^[\d.]+$/.test(text) ? text : (Math.floor(value / rod.typedMetres * Math.pow(10, rod.typedDigits) + 0.5 + Math.pow(10, rod.typedDigits) * rod.close) / Math.pow(10, rod.typedDigits)).toFixed(rod.typedDigits));
    draw();
  }
  input.addEventListener("input", typed);

  function step(by) {
    var cards = crew.lines[line].cards, to = Math.min(Math.max(at + by, 0), cards.length - 1);
    if (to !== at) tools.visit(line, cards[to].at, false);
  }
  function row(name, value, cls) {
    if (!value) return;
    var box = node("div", cls || "");
    box.appendChild(node("dt", "", name));
    box.appendChild(node("dd", "", value));
    cells.list.appendChild(box);
  }
  function draw() {
    var cards = crew.lines[line].cards, stake = cards[at], words = stake[language];
    card.textContent = "";
    card.classList.toggle("by-hand", words.hand.length > 0);
    var head = node("h3", "", data.lines[line].id + "  ");
    head.appendChild(node("span", "station", stake.station));
    head.appendChild(node("small", "", say("of").replace("{n}", String(at + 1)).replace("{all}", String(cards.length))));
    card.appendChild(head);
    words.hand.forEach(function (dig) {
      var box = node("p", "hand-dig");
      box.appendChild(node("strong", "", dig));
      card.appendChild(box);
    });
    cells.list = node("dl");
    row(stake.fill ? say("fill") : say("cut"), words.cut, "most");
    if (hi !== null && stake.rods) {
      var far = reach(stake.rods);
      row(say("rodBottom"), reading(stake.rods[0]), "most rod");
      row(say("rodTop"), reading(stake.rods[1]), "rod");
      if (far) row(say("rod"), say(far).toUpperCase(), "warn");
    }
    row(say("near"), words.near, "words");
    row(say("pipe"), words.pipe);
    row(say("fitting"), words.fitting, "words");
    row(say("grade"), stake.grade);
    row(say("here"), words.point, "words");
    row(say("ties"), words.ties, "words");
    card.appendChild(cells.list);
    back.disabled = at === 0;
    next.disabled = at === cards.length - 1;
    back.textContent = say("back");
    next.textContent = say("next");
    choice.value = String(line);
    choiceName.textContent = say("line");
    inputName.textContent = say("hi");
    [].forEach.call(choice.options, function (option, i) { option.textContent = data.lines[i].id + "  " + crew.lines[i].way[language]; });
  }
  /* the schedules say what the cards say */
  var rows = [];
  [].forEach.call(document.querySelectorAll(".schedule table"), function (table, i) {
    [].forEach.call(table.tBodies, function (body, k) {
      [["point", ".point", ""], ["ties", ".tapes", "ties"]].forEach(function (one) {
        var place = body.querySelector(one[1]);
        if (place) rows.push({ place: place, en: place.textContent, card: crew.lines[i].cards[k], key: one[0], head: one[2] });
      });
    });
  });
  function retell() {
    rows.forEach(function (row) {
      if (language === "en" && !row.place.lang) return;
      var said = row.card[language][row.key];
      row.place.textContent = language === "en" ? row.en : row.head ? say(row.head) + ": " + said : said;
      row.place.lang = language;
    });
  }
  function speak(words) {
    language = words;
    place.lang = words;
    retell();
    typed();
  }
  /* the stake nearest to a station */
  function visit(index, station) {
    var cards = crew.lines[index].cards, best = 0;
    cards.forEach(function (stake, i) { if (Math.abs(stake.at - station) < Math.abs(cards[best].at - station)) best = i; });
    line = index;
    at = best;
    draw();
  }
  speak("en");
  return { visit: visit, speak: speak };
}
