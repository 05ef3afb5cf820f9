/* What stands along the lines: stakes with their stations, fittings; and layers that are off at first: depth, doubt, reach. */
function siteplanAlong(map, layers, data, tools) {
  "use strict";
  var node = tools.node, drawn = tools.drawn, group = layers["Stakes and fittings"];
  var ticks = L.layerGroup().addTo(group);
  function at(x, y) { return L.latLng(y, x); }

  /* where a station lies, and which way the line runs there */
  function spot(line, station) {
    var i = 1;
    while (i < line.station.length - 1 && line.station[i] < station) i++;
    var a = line.station[i - 1], b = line.station[i], share = b > a ? (station - a) / (b - a) : 0;
    return { x: line.x[i - 1] + (line.x[i] - line.x[i - 1]) * share, y: line.y[i - 1] + (line.y[i] - line.y[i - 1]) * share, turn: Math.atan2(line.y[i] - line.y[i - 1], line.x[i] - line.x[i - 1]) };
  }
  var stakes = [];
  data.lines.forEach(function (line, index) {
    var cards = data.crew.lines[index].cards;
    cards.forEach(function (card, i) {
      var where = spot(line, card.at), next = cards[i ? i - 1 : 1];
      where.apart = next ? Math.abs(card.at - next.at) : 0;
      stakes.push(where);
      tools.label(group, card.station, "of-station", [[where.x, where.y]], "beside", { apart: where.apart, least: 44 });
    });
  });
  function tick() {
    ticks.clearLayers();
    var pixel = map.project(at(1, 0)).distanceTo(map.project(at(0, 0)));
    stakes.forEach(function (stake) {
      if (stake.apart * pixel < 7) return;
      var half = 7 / pixel, x = -Math.sin(stake.turn) * half, y = Math.cos(stake.turn) * half;
      L.polyline([at(stake.x - x, stake.y - y), at(stake.x + x, stake.y + y)], { color: "#000", weight: 2.2, interactive: false }).addTo(ticks);
    });
  }

  /* fittings: the most needed first; one that would lie over another waits for a nearer look */
  var marks = data.fittings.map(function (one) {
    var box = node("div", "hit hit-fitting");
    box.appendChild(drawn("svg", { "class": "symbol symbol-fitting symbol-" + one.kind, viewBox: "0 0 24 24", "aria-hidden": "true" }, [drawn("path", { d: one.outline })]));
    var marker = L.marker(at(one.x, one.y), {
      icon: L.divIcon({ className: "nothing fitting", html: box, iconSize: [26, 26], popupAnchor: [0, -6] }), keyboard: false, title: one.title, alt: one.title, zIndexOffset: 400
    });
    marker.bindPopup(tools.card(one), tools.popupOptions);
    marker.on("click", function () { tools.visit(one.line, one.at, false); });
    marker.addTo(group);
    return marker;
  });
  /* boxes of what is shown, for the labels to keep clear of */
  function place(taken) {
    var shown = [];
    marks.forEach(function (marker) {
      if (!marker._map) return;
      var p = map.latLngToContainerPoint(marker.getLatLng());
      var box = [p.x - 9, p.y - 9, p.x + 9, p.y + 9];
      var free = !taken.concat(shown).some(function (other) { return tools.touches(box, other); });
      marker.getElement().classList.toggle("crowded", !free);
      if (free) shown.push(box);
    });
    return shown;
  }

  /* off at first, and made when somebody asks for them */
  function asked(name, make) { layers[name].once("add", make); }
  function dots(name, held, style) {
    asked(name, function () { held.forEach(function (one) {
      L.circleMarker(at(one.x, one.y), Object.assign({ interactive: false }, style, { fillOpacity: 0.35, radius: 4 + 13 * one.share })).addTo(layers[name]);
      tools.label(layers[name], one.text, "of-dot", [[one.x, one.y]], "beside");
    }); });
  }
  dots("Depth of cut", data.along.depth, data.styles.depth);
  dots("Doubt of the ground", data.along.doubt, data.styles.doubt);
  asked("What reaches what", function () { data.reach.forEach(function (one) {
    var ends = one.ends, tie = L.polyline([at(ends[0][0], ends[0][1]), at(ends[1][0], ends[1][1])], one.ok ? data.styles.reach_yes : data.styles.reach_no);
    tie.bindPopup(tools.card({ title: one.title, facts: [[one.ok ? "In reach" : "Not in reach", one.text]] }), tools.popupOptions);
    tie.addTo(layers["What reaches what"]);
    var spots = [0.5, 0.35, 0.65].map(function (share) { return [ends[0][0] + (ends[1][0] - ends[0][0]) * share, ends[0][1] + (ends[1][1] - ends[0][1]) * share]; });
    tools.label(layers["What reaches what"], one.text, one.ok ? "of-dot" : "of-dot fail", spots, "beside");
  }); });
  return { tick: tick, place: place };
}
