/* The map's hand: labels, symbols, arrows, popups, read-outs, the slider. Every text is set as text, never as markup. */
function siteplanPage(map, layers) {
  "use strict";
  var data = JSON.parse(document.getElementById("plan-data").textContent);
  var SVG = "http://www.w3.org/2000/svg";
  var coarse = window.matchMedia("(pointer: coarse)").matches;

  function node(name, cls, words) {
    var made = document.createElement(name);
    if (cls) made.className = cls;
    if (words !== undefined) made.textContent = words;
    return made;
  }
  function drawn(name, attributes, inside) {
    var made = document.createElementNS(SVG, name);
    Object.keys(attributes).forEach(function (key) { made.setAttribute(key, attributes[key]); });
    (inside || []).forEach(function (part) { made.appendChild(part); });
    return made;
  }
  function at(x, y) { return L.latLng(y, x); }
  /* words on the map in both languages: an element that turns with the switch */
  var language = "en", turning = [];
  function turns(element, texts) {
    turning.push(function () {
      element.textContent = texts[language];
      element.lang = language;
    });
    turning[turning.length - 1]();
    return element;
  }

  /* popups */
  function card(entry) {
    return function () {
      var box = node("div", "card");
      box.appendChild(node("h3", "", entry.title));
      var list = node("dl");
      entry.facts.forEach(function (fact) {
        var row = node("div");
        row.appendChild(node("dt", "", fact[0]));
        row.appendChild(node("dd", "", fact[1]));
        list.appendChild(row);
      });
      box.appendChild(list);
      return box;
    };
  }
  var opener = null; /* what had the focus when a card was opened by key */
  var popupOptions = { maxWidth: Math.min(300, window.innerWidth - 70), maxHeight: 230, autoPanPadding: [12, 12] };
  Object.keys(data.popups).forEach(function (name) {
    layers[name].eachLayer(function (layer) {
      var entry = data.popups[name][layer.feature.id];
      layer.bindPopup(card(entry), popupOptions);
      if (name.slice(-6) === "_touch") reachable(layer, entry.title);
    });
  });
  /* a line on the map takes keyboard focus, and Enter or the space bar does what a click does */
  function reachable(layer, title) {
    function dress() {
      var path = layer.getElement();
      if (!path) return;
      path.setAttribute("tabindex", "0");
      path.setAttribute("role", "button");
      path.setAttribute("aria-label", title);
      path.classList.add("touch");
    }
    layer.on("add", function () {
      dress();
      var path = layer.getElement();
      if (!path || path.dataset.keyed) return;
      path.dataset.keyed = "yes";
      path.addEventListener("keydown", function (event) {
        if (event.key !== "Enter" && event.key !== " ") return;
        event.preventDefault();
        opener = path;
        layer.fire("click", { latlng: layer.getCenter(), byKey: true });
        layer.openPopup(layer.getCenter());
      });
    });
    if (layer._map) layer.fire("add");
  }

  /* what can get in a label's way, and the labels in the order of their worth */
  var labels = [];
  function place(group, x, y, element, options) {
    var marker = L.marker(at(x, y), Object.assign({ interactive: false, keyboard: false }, options, {
      icon: L.divIcon({ className: "nothing", html: element, iconSize: [0, 0] })
    }));
    marker.addTo(group);
    return marker;
  }
  function label(group, words, cls, spots, way, more, poor, near) {
    if (!words) return;
    var element = node("span", "label " + cls, words.en === undefined ? words : undefined);
    if (words.en !== undefined) element.appendChild(turns(node("span"), words));
    if (more) element.appendChild(node("small", "", " " + more));
    if (poor) element.appendChild(poor.en === undefined ? node("strong", "", poor) : turns(node("strong"), poor));
    var marker = place(group, spots[0][0], spots[0][1], element, { zIndexOffset: 500 });
    labels.push({ marker: marker, element: element, spots: spots, way: way, near: near, first: cls.indexOf("of-line") === 0 || Boolean(poor) });
  }

  /* symbols of sources, outlets, trees, marks */
  var size = coarse ? 44 : 30;
  var symbols = [], byKey = {};
  data.marks.forEach(function (mark) {
    var parts = [drawn("path", { d: mark.outline })];
    if (mark.letter) {
      var letter = drawn("text", { x: 12, y: mark.kind === "curb_outlet" ? 14.5 : 16, "text-anchor": "middle" });
      letter.textContent = mark.letter;
      parts.push(letter);
    }
    var box = node("div", "hit hit-" + mark.kind);
    box.appendChild(drawn("svg", { "class": "symbol symbol-" + mark.kind + " " + mark.state, viewBox: "0 0 24 24", "aria-hidden": "true" }, parts));
    var marker = L.marker(at(mark.x, mark.y), {
      icon: L.divIcon({ className: "nothing", html: box, iconSize: [size, size], popupAnchor: [0, -8] }), title: mark.title, alt: mark.title,
      /* where a shot is wanted at a source, the source takes the click */
      zIndexOffset: mark.group === "Sources and outlets" ? 1000 : mark.kind === "shot_wanted" ? -1000 : 0
    });
    marker.bindPopup(card(mark), popupOptions);
    marker.addTo(layers[mark.group]);
    if (mark.key) byKey[mark.key] = marker;
    symbols.push(marker);
  });

  /* labels, the most needed first: where two would touch, the later one moves or goes */
  function labelMarks(wanted) {
    data.marks.forEach(function (mark) {
      var poor = mark.state.indexOf("poor") >= 0;
      if (poor !== wanted) return;
      label(layers[mark.group], mark.label, poor ? "of-mark fail" : "of-mark", [[mark.x, mark.y]], "beside", "", poor ? "not drained" : "");
    });
  }
  labelMarks(true);
  data.lines.forEach(function (line) {
    var spots = [0.5, 0.3, 0.7, 0.15, 0.85].map(function (share) {
      var i = Math.round(share * (line.station.length - 1));
      return [line.x[i], line.y[i]];
    });
    label(layers.Lines, line.label, "of-line " + line.layer, spots, "beside", line.more, line.chance);
  });
  data.attempts.forEach(function (attempt) { label(layers["Best attempts, not legal"], attempt.text, "of-attempt", attempt.spots, "beside"); });
  labelMarks(false);
  data.spots.forEach(function (spot) { label(layers["Wet low spots"], spot.text, "of-wet", [[spot.x, spot.y]], "beside"); });
  data.contours.forEach(function (contour) {
    label(layers.Contours, contour.text, contour.index ? "of-contour index" : "of-contour", contour.places, "on");
  });

  var along = siteplanAlong(map, layers, data, {
    node: node, drawn: drawn, card: card, popupOptions: popupOptions, touches: touches, visit: function (line, station, near) { visit(line, station, near); },
    label: function (group, words, cls, spots, way, near) { label(group, words, cls, spots, way, "", "", near); }
  });

  /* buried services: what a digger must see. Letters in the line about every 90 pixels, name and depth at it, with a leader
     where they stand off; both are placed before anything else, on the part that is in the window */
  var services = layers["Curb, utilities, fences"];
  var letters = L.layerGroup().addTo(services);
  data.utilities.forEach(function (utility) {
    var element = node("span", "label of-utility");
    element.appendChild(node("b", "utility-chip", utility.letter));
    element.appendChild(node("span", "utility-name", utility.name));
    element.appendChild(turns(node("strong"), utility.depth));
    utility.tag = { marker: place(services, utility.points[0][0], utility.points[0][1], element, { zIndexOffset: 600 }), element: element };
  });
  /* places on a path that lie in the window, a few pixels apart, from the middle of what is seen outward */
  function seen(points, step) {
    var frame = map.getSize(), found = [], left = 0;
    points.slice(1).forEach(function (end, i) {
      var a = map.latLngToContainerPoint(at(points[i][0], points[i][1])), b = map.latLngToContainerPoint(at(end[0], end[1]));
      var length = a.distanceTo(b);
      for (var run = left; run <= length; run += step) {
        var x = a.x + (b.x - a.x) * run / length, y = a.y + (b.y - a.y) * run / length;
        if (x > 10 && y > 10 && x < frame.x - 10 && y < frame.y - 10) found.push([x, y]);
      }
      left = length ? run - length : left;
    });
    var middle = (found.length - 1) / 2;
    return found.map(function (spot, i) { return [Math.abs(i - middle), spot]; })
      .sort(function (a, b) { return a[0] - b[0]; }).map(function (pair) { return pair[1]; });
  }
  function around(x, y, half) { return [x - half, y - half, x + half, y + half]; }
  function placeLetters(taken) {
    letters.clearLayers();
    if (!map.hasLayer(services)) return;
    data.utilities.forEach(function (utility) {
      var spots = seen(utility.points, 6), own = [];
      function free(clear) {
        return function (spot) {
          var box = around(spot[0], spot[1], 10);
          return !taken.some(function (other) { return touches(box, other); }) &&
            own.every(function (other) { return Math.hypot(other[0] - spot[0], other[1] - spot[1]) > clear; });
        };
      }
      spots.forEach(function (spot) { if (free(84)(spot)) { own.push(spot); taken.push(around(spot[0], spot[1], 10)); } });
      if (!own.length && spots.length) own.push(spots[0]); /* never none: it then lies over what is there */
      own.forEach(function (spot) {
        var box = node("span", "utility-letter", utility.letter), where = map.containerPointToLatLng(spot);
        box.setAttribute("aria-hidden", "true");
        place(letters, where.lng, where.lat, box, { zIndexOffset: 700 });
      });
    });
  }
  function placeTags(taken, lined, controls) {
    if (!map.hasLayer(services)) return;
    var frame = map.getSize(), tags = [];
    /* one whose depth nobody knows is placed first, and goes only where a control or another tag takes the last place */
    data.utilities.slice().sort(function (a, b) { return Number(b.unknown) - Number(a.unknown); }).forEach(function (utility) {
      var element = utility.tag.element, best = null, w, h;
      var spots = seen(utility.points, 4);
      /* how far off, over pipes and services or not, on few lines or on more: the first that is free */
      [
        [8, false, false], [8, false, true], [36, false, false], [36, false, true], [64, false, true], [100, false, true],
        [8, true, true], [36, true, true], [64, true, true], [100, true, true], [150, true, true],
        [36, true, true, true], [64, true, true, true], [100, true, true, true], [150, true, true, true]
      ].concat(utility.unknown ? [8, 36, 64, 100, 150, 200].map(function (far) { return [far, true, true, true, true]; }) : []).some(function (ring) {
        var d = ring[0], barred = ring[4] ? controls.concat(tags) : taken;
        element.classList.toggle("narrow", ring[2]);
        w = element.offsetWidth;
        h = element.offsetHeight;
        return spots.some(function (spot) {
          return [[d, -h / 2], [-d - w, -h / 2], [-w / 2, d], [-w / 2, -d - h]].some(function (offset) {
            var box = [spot[0] + offset[0] - 2, spot[1] + offset[1] - 2, spot[0] + offset[0] + w + 2, spot[1] + offset[1] + h + 2];
            if (box[0] < 0 || box[1] < 0 || box[2] > frame.x || box[3] > frame.y) return false;
            var clash = function (other) { return touches(box, other); };
            if (barred.some(clash) || (!ring[1] && lined.some(clash))) return false;
            var near = [Math.max(box[0], Math.min(spot[0], box[2])), Math.max(box[1], Math.min(spot[1], box[3]))];
            /* a leader runs through nothing that is written, but where there is no other place */
            for (var share = 0.35; d > 8 && !ring[3] && share < 1; share += 0.05) {
              var dot = around(spot[0] + (near[0] - spot[0]) * share, spot[1] + (near[1] - spot[1]) * share, 1);
              if (taken.some(function (other) { return touches(dot, other); })) return false;
            }
            best = { spot: spot, offset: offset, box: box, near: near, far: d > 8 };
            return true;
          });
        });
      });
      element.classList.toggle("hidden", !best);
      if (!best) return;
      taken.push(best.box);
      tags.push(best.box);
      utility.tag.marker.setLatLng(map.containerPointToLatLng(best.spot));
      element.style.transform = "translate(" + best.offset[0] + "px," + best.offset[1] + "px)";
      if (!best.far) return;
      L.polyline([map.containerPointToLatLng(best.spot), map.containerPointToLatLng(best.near)], { color: "#1a1a1a", weight: 1.5, interactive: false }).addTo(letters);
    });
  }

  function touches(a, b) { return a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3]; }
  function tidy() {
    var taken = symbols.filter(function (marker) { return marker._map; }).map(function (marker) {
      var p = map.latLngToContainerPoint(marker.getLatLng());
      return [p.x - 12, p.y - 12, p.x + 12, p.y + 12];
    });
    var corner = map.getContainer().getBoundingClientRect(), controls = [];
    [].forEach.call(map.getContainer().querySelectorAll(".leaflet-control"), function (part) {
      var box = part.getBoundingClientRect();
      controls.push([box.left - corner.left - 3, box.top - corner.top - 3, box.right - corner.left + 3, box.bottom - corner.top + 3]);
    });
    taken = taken.concat(controls);
    var lined = [];
    placeLetters(taken);

    data.lines.forEach(function (line) {
      if (!map.hasLayer(layers.Lines)) return;
      line.points.slice(1).forEach(function (end, i) {
        var a = map.latLngToContainerPoint(at(line.points[i][0], line.points[i][1]));
        var b = map.latLngToContainerPoint(at(end[0], end[1]));
        var steps = Math.max(1, Math.ceil(a.distanceTo(b) / 10));
        for (var k = 0; k <= steps; k++) {
          var x = a.x + (b.x - a.x) * k / steps, y = a.y + (b.y - a.y) * k / steps;
          lined.push([x - 5, y - 5, x + 5, y + 5]);
        }
      });
    });
    if (map.hasLayer(services)) data.utilities.forEach(function (utility) {
      seen(utility.points, 10).forEach(function (spot) { lined.push(around(spot[0], spot[1], 5)); });
    });
    placeTags(taken, lined, controls);
    var frame = map.getSize(), pixel = map.project(at(1, 0)).distanceTo(map.project(at(0, 0)));
    var placed = false;
    labels.forEach(function (item) {
      /* the names of lines go first, then what stands in them, then everything else */
      if (!placed && !item.first) {
        along.place(taken).forEach(function (box) { taken.push(box); });
        placed = true;
      }
      if (!item.marker._map) return;
      if (item.near && item.near.apart * pixel < item.near.least) {
        item.element.classList.add("hidden");
        return;
      }
      var element = item.element, w = element.offsetWidth, h = element.offsetHeight;
      var offsets = item.way === "on" ? [[-w / 2, -h / 2]] :
        [[15, -h / 2], [-15 - w, -h / 2], [-w / 2, 14], [-w / 2, -14 - h], [12, 10], [12, -10 - h], [-12 - w, 10], [-12 - w, -10 - h]];
      var best = null;
      for (var pass = 0; pass < 2 && !best; pass++) {
        for (var s = 0; s < item.spots.length && !best; s++) {
          var spot = item.spots[s], p = map.latLngToContainerPoint(at(spot[0], spot[1]));
          for (var o = 0; o < offsets.length && !best; o++) {
            var box = [p.x + offsets[o][0] - 2, p.y + offsets[o][1] - 1, p.x + offsets[o][0] + w + 2, p.y + offsets[o][1] + h + 1];
            if (item.way === "on") {
              var sine = Math.abs(Math.sin(spot[2] * Math.PI / 180)), cosine = Math.abs(Math.cos(spot[2] * Math.PI / 180));
              var across = (cosine * w + sine * h) / 2 + 1, down = (sine * w + cosine * h) / 2 + 1;
              box = [p.x - across, p.y - down, p.x + across, p.y + down];
            }
            var clash = function (other) { return touches(box, other); };
            if (box[0] < 0 || box[1] < 0 || box[2] > frame.x || box[3] > frame.y) continue;
            if (taken.some(clash) || (pass === 0 && lined.some(clash))) continue;
            best = { spot: spot, offset: offsets[o], box: box };
          }
        }
        if (item.way === "on") break;
      }
      element.classList.toggle("hidden", !best);
      if (!best) return;
      taken.push(best.box);
      item.marker.setLatLng(at(best.spot[0], best.spot[1]));
      var turn = item.way === "on" ? " rotate(" + best.spot[2] + "deg)" : "";
      element.style.transform = "translate(" + best.offset[0] + "px," + best.offset[1] + "px)" + turn;
    });
  }

  /* arrows downhill along each line, about every 70 pixels */
  var arrows = L.layerGroup().addTo(layers.Lines);
  function point() {
    arrows.clearLayers();
    data.lines.forEach(function (line) {
      line.points.slice(1).forEach(function (high, i) {
        var low = line.points[i];
        var a = map.project(at(low[0], low[1])), b = map.project(at(high[0], high[1]));
        var length = a.distanceTo(b);
        if (length < 26) return;
        var count = Math.max(1, Math.floor(length / 70));
        var turn = Math.atan2(a.y - b.y, a.x - b.x) * 180 / Math.PI;
        for (var k = 0; k < count; k++) {
          var share = (k + 0.5) / count;
          var head = drawn("path", { d: "M-7-6.5L8 0L-7 6.5L-3.5 0z", "class": "arrow", transform: "rotate(" + turn.toFixed(1) + ")" });
          var box = drawn("svg", { viewBox: "-11 -11 22 22", "class": "arrow-box", "aria-hidden": "true" }, [head]);
          place(arrows, low[0] + (high[0] - low[0]) * share, low[1] + (high[1] - low[1]) * share, box, {});
        }
      });
    });
  }

  /* ground under the cursor, read when it is first asked for */
  var metres = null;
  function heights(row, col) {
    if (!metres) metres = heightsOf(data.ground);
    return metres[row * data.ground.cols + col];
  }
  function groundAt(x, y) {
    var g = data.ground, col = x / g.cell - 0.5, row = (data.size[1] - y) / g.cell - 0.5;
    if (col < -0.5 || row < -0.5 || col > g.cols - 0.5 || row > g.rows - 0.5) return NaN;
    col = Math.min(Math.max(col, 0), g.cols - 1.000001);
    row = Math.min(Math.max(row, 0), g.rows - 1.000001);
    var c = Math.floor(col), r = Math.floor(row), u = col - c, v = row - r;
    return (heights(r, c) * (1 - u) + heights(r, c + 1) * u) * (1 - v) + (heights(r + 1, c) * (1 - u) + heights(r + 1, c + 1) * u) * v;
  }

  function words(name) { return { en: data.words.en[name], es: data.words.es[name] }; }
  function control(position, build) {
    var made = L.control({ position: position });
    made.onAdd = build;
    made.addTo(map);
    return made;
  }
  var said = node("div", "cursor-ground", coarse ? "Tap for ground. Two fingers move." : "Ground under the cursor");
  control("bottomleft", function () { return said; });
  map.on(coarse ? "click" : "mousemove click", function (event) {
    var x = event.latlng.lng, y = event.latlng.lat, z = groundAt(x, y), g = data.grid;
    var u = x / data.size[0], v = y / data.size[1], c = g.corners;
    var told = [0, 1].map(function (k) {
      var value = (c[0][k] * (1 - u) + c[1][k] * u) * (1 - v) + (c[2][k] * (1 - u) + c[3][k] * u) * v;
      return g.letters[k] + " " + value.toFixed(g.digits);
    });
    var place = told.join("  ") + " " + g.unit + ", " + g.system;
    var high = isNaN(z) ? "ground not known" : "ground " + (z / data.elevationMetres).toFixed(data.elevationMetres < 1 ? 1 : 2) + " " + data.elevationUnit;
    said.textContent = high + "   " + place;
  });

  /* scale bar in the site's unit */
  var bar = node("div", "bar"), barText = node("span");
  control("bottomleft", function () {
    var box = node("div", "scale");
    box.setAttribute("role", "img");
    box.appendChild(barText);
    box.appendChild(bar);
    return box;
  });
  function scale() {
    var pixels = map.project(at(1, 0)).distanceTo(map.project(at(0, 0))) * data.metres;
    var steps = [0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000];
    var length = steps.filter(function (step) { return step * pixels <= 130; }).pop() || steps[0];
    bar.style.width = (length * pixels).toFixed(1) + "px";
    barText.textContent = length + " " + data.unit;
    bar.parentNode.setAttribute("aria-label", "Scale bar: " + barText.textContent);
  }

  /* north, home */
  control("topright", function () {
    var box = node("div", "north");
    box.appendChild(drawn("svg", { viewBox: "0 0 24 34", "aria-hidden": "true" }, [
      drawn("path", { d: "M12 1L21 26L12 20z", "class": "north-dark" }), drawn("path", { d: "M12 1L3 26L12 20z", "class": "north-light" })
    ]));
    box.appendChild(node("span", "", "grid N"));
    return box;
  });
  var moved = false, fitting = false, homeZoom = 0;
  map.on("zoomstart movestart", function () { if (!fitting) moved = true; });
  function home() {
    fitting = true;
    moved = false;
    map.fitBounds([[data.home[1], data.home[0]], [data.home[3], data.home[2]]], { padding: [26, 26], animate: false });
    homeZoom = map.getZoom();
    fitting = false;
  }
  control("topleft", function () {
    var button = turns(node("button", "home"), words("fit"));
    button.type = "button";
    button.title = "Show the whole lot";
    L.DomEvent.disableClickPropagation(button);
    button.addEventListener("click", home);
    return button;
  });
  var toggle = document.querySelector(".leaflet-control-layers-toggle");
  var layersBox = document.querySelector(".leaflet-control-layers");
  var layersControl = { collapse: function () { if (layersBox) layersBox.classList.remove("leaflet-control-layers-expanded"); } };
  if (toggle) {
    turns(toggle, words("layers"));
    toggle.setAttribute("role", "button");
    toggle.removeAttribute("title");
  }
  if (coarse) {
    map.dragging.disable(); /* one finger scrolls the page; two move and zoom the map */
  }

  /* one place at a time: slider, chart, dot on the map, read-out, stake card and the rows that speak of it go together */
  var dot = L.circleMarker([0, 0], { radius: 8, className: "dot", interactive: false, color: "#000", weight: 3, fillColor: "#fff", fillOpacity: 1 });
  var chosen = -1;
  var figures = [].slice.call(document.querySelectorAll("figure.profile"));
  var tabs = [].slice.call(document.querySelectorAll("button.tab"));
  function choose(index) {
    if (!figures.length) return;
    chosen = index;
    figures.forEach(function (figure, i) { figure.classList.toggle("chosen", i === index); });
    tabs.forEach(function (tab, i) { tab.setAttribute("aria-pressed", String(i === index)); });
    read();
  }
  function slider(index) { return figures[index].querySelector("input.stations"); }
  function read() {
    var line = data.lines[chosen], input = slider(chosen), i = Number(input.value);
    var told = line.told[i];
    input.setAttribute("aria-valuetext", "station " + told[0] + ", ground " + told[1] + ", invert " + told[2]);
    [].forEach.call(figures[chosen].querySelectorAll("dl.reading dd"), function (cell, k) { cell.textContent = told[k]; });
    charts[chosen].cursor(line.station[i], line.ground[i], line.invert[i]);
    dot.setLatLng(at(line.x[i], line.y[i]));
    if (!map.hasLayer(dot)) dot.addTo(map);
    crew.visit(chosen, line.station[i]);
    mark(chosen, i);
  }
  /* rows and findings that speak of this place */
  var leads = [].slice.call(document.querySelectorAll(".go[data-line]"));
  var stops = leads.map(function (word) {
    return word.dataset.at === undefined ? -1 : nearest(data.lines[Number(word.dataset.line)].station, Number(word.dataset.at));
  });
  function mark(index, i) {
    leads.forEach(function (word, k) {
      var own = Number(word.dataset.line) === index && stops[k] === i;
      if (own) word.setAttribute("aria-current", "location"); else word.removeAttribute("aria-current");
      var row = word.closest("tbody, li");
      if (row) row.classList.toggle("here", own);
    });
  }
  function nearest(list, value) {
    var best = 0;
    list.forEach(function (entry, i) { if (Math.abs(entry - value) < Math.abs(list[best] - value)) best = i; });
    return best;
  }
  function set(index, i) {
    slider(index).value = i;
    if (index === chosen) read(); else choose(index);
  }
  /* near enough to see the trench; a map that is nearer already only moves */
  function look(where) {
    var near = Math.min(homeZoom + 1.25, map.getMaxZoom());
    if (map.getZoom() < near) map.setView(where, near, { animate: false });
    else map.panTo(where, { animate: false });
  }
  var narrow = window.matchMedia("(max-width: 899.98px)");
  function visit(index, station, near) {
    if (narrow.matches && document.documentElement.dataset.part === "stakes") near = true; /* the map there is a hand wide */
    var line = data.lines[index], i = nearest(line.station, station), where = at(line.x[i], line.y[i]);
    set(index, i);
    if (near) { look(where); return; }
    var p = map.latLngToContainerPoint(where), frame = map.getSize();
    if (p.x < 40 || p.y < 40 || p.x > frame.x - 40 || p.y > frame.y - 40) map.panTo(where, { animate: false });
  }
  function bounds(points) { return points.map(function (p) { return [p[1], p[0]]; }); }
  function lead(to, word) {
    opener = word;
    if (to.line !== undefined) {
      var index = Number(to.line);
      map.closePopup();
      if (to.at !== undefined) visit(index, Number(to.at), true);
      else {
        choose(index);
        map.fitBounds(bounds(data.lines[index].points), { padding: [40, 40], animate: false });
      }
    } else if (to.key !== undefined) {
      var marker = byKey[to.key];
      if (!marker) return;
      look(marker.getLatLng());
      marker.openPopup();
    } else if (to.utility !== undefined) {
      var own = data.utilities.filter(function (one) { return one.feature === Number(to.utility); });
      if (!own.length) return;
      if (!map.hasLayer(services)) map.addLayer(services);
      map.fitBounds(bounds([].concat.apply([], own.map(function (one) { return one.points; }))), { padding: [40, 40], maxZoom: homeZoom + 1.25, animate: false });
      var box = node("div", "card");
      box.appendChild(node("h3", "", own[0].letter + "  " + own[0].name));
      box.appendChild(node("p", "", own[0].depth[language]));
      L.popup(popupOptions).setLatLng(at.apply(null, own[0].points[Math.floor(own[0].points.length / 2)])).setContent(box).openOn(map);
    }
  }
  var tools = { node: node, drawn: drawn, visit: visit, lead: lead, words: words, turns: turns, speak: function (to) {
    language = to;
    turning.forEach(function (turn) { turn(); });
    crew.speak(to);
    later();
  }, resized: function () { window.setTimeout(function () { map.invalidateSize({ animate: false }); }, 0); } };
  var crew = siteplanCrew(data, tools);
  var parts = siteplanParts(tools);
  var charts = figures.map(function (figure, index) {
    return siteplanChart(figure, function (station) { set(index, nearest(data.lines[index].station, station)); },
      function () { return data.lines[index].station[Number(slider(index).value)]; });
  });
  figures.forEach(function (figure) { figure.querySelector("input.stations").addEventListener("input", read); });
  var fold = document.querySelector("button.fold"), folded = document.querySelector("section.profiles");
  function unfold(open) {
    fold.setAttribute("aria-expanded", String(open));
    folded.classList.toggle("folded", !open);
    tools.resized();
  }
  if (fold) {
    fold.addEventListener("click", function () { unfold(fold.getAttribute("aria-expanded") !== "true"); });
    unfold(!window.matchMedia("(max-width: 899.98px)").matches);
  }
  tabs.forEach(function (tab, index) { tab.addEventListener("click", function () { unfold(true); choose(index); }); });
  ["line_touch"].forEach(function (name) {
    if (!layers[name]) return;
    layers[name].eachLayer(function (layer) {
      layer.on("click", function (event) {
        var index = layer.feature.id, line = data.lines[index], best = 0, least = Infinity;
        line.x.forEach(function (x, i) {
          var far = Math.hypot(x - event.latlng.lng, line.y[i] - event.latlng.lat);
          if (far < least) { least = far; best = i; }
        });
        set(index, best);
      });
    });
  });

  /* one look for room in a frame, however many things have moved; the first one after the page has been shown */
  var waiting = false;
  function later() {
    if (waiting) return;
    waiting = true;
    window.requestAnimationFrame(function () {
      waiting = false;
      tidy();
    });
  }
  map.on("zoomend", function () { scale(); point(); along.tick(); later(); });
  map.on("moveend overlayadd overlayremove", later);
  map.on("overlayadd", function () {
    ["halo", "line_risk", "line_drawn", "line", "line_unsure", "line_fail", "line_pressed", "line_heavy", "line_touch"].forEach(function (name) { if (layers[name] && map.hasLayer(layers[name])) layers[name].bringToFront(); });
  });
  /* a browser lays the paper out without telling the map: it is fitted to the paper's size beforehand */
  function fitted(paper) {
    document.documentElement.classList.toggle("printing", paper);
    map.invalidateSize({ animate: false, pan: false });
    home();
    tidy();
  }
  var kept = null;
  window.addEventListener("beforeprint", function () {
    [].forEach.call(document.querySelectorAll("details"), function (part) { part.open = true; });
    layersControl.collapse();
    kept = kept || { moved: moved, center: map.getCenter(), zoom: map.getZoom() };
    fitted(true);
  });
  window.addEventListener("afterprint", function () {
    if (!kept) return;
    fitted(false);
    if (kept.moved) map.setView(kept.center, kept.zoom, { animate: false });
    kept = null;
  });
  home();
  /* a window that changes refits the lot only while nobody has moved the map */
  map.on("resize", function () { if (!moved) home(); else later(); });
  document.addEventListener("keydown", function (event) {
    if (event.key !== "Escape") return;
    map.closePopup();
    layersControl.collapse();
    if (opener && document.contains(opener)) opener.focus();
    opener = null;
  });
  if (window.location.hash) parts.open(window.location.hash.slice(1));
  scale();
  if (!arrows.getLayers().length) {
    point(); /* a lot that fits at the zoom the map began with has moved nothing */
    along.tick();
  }
  choose(0);
  later();
  if (document.fonts && document.fonts.status !== "loaded") document.fonts.ready.then(later);
}
