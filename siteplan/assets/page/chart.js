/* A profile: the cursor, and a zoom along the stations. What is drawn is stretched; words and points keep their size and move. */
function siteplanChart(figure, pick, here) {
  "use strict";
  var LETTER = 6.9, MOST = 16, zoom = 1, first = 0; /* first: share of the line at the left edge */
  var charts = [].map.call(figure.querySelectorAll("svg.chart[data-length]"), function (chart) {
    var d = chart.dataset, left = Number(d.left), right = Number(d.right), top = Number(d.top), bottom = Number(d.bottom), wide = right - left;
    var drawn = chart.querySelector(".along"), moving = [].slice.call(chart.querySelectorAll("[data-x]")), times = chart.querySelector(".times");
    var plain = times.textContent, last = null;
    function to(x) { return left + ((x - left) / wide - first) * zoom * wide; }
    function x(station) { return to(left + wide * station / Number(d.length)); }
    function y(z) { return bottom - (bottom - top) * (z - Number(d.low)) / (Number(d.high) - Number(d.low)); }
    function move(event) {
      if (event.type === "pointermove" && !(event.buttons & 1)) return;
      var box = chart.getBoundingClientRect();
      var along = (event.clientX - box.left) / box.width * chart.viewBox.baseVal.width;
      pick(((along - left) / wide / zoom + first) * Number(d.length));
    }
    chart.addEventListener("pointerdown", move);
    chart.addEventListener("pointermove", move);
    function put() {
      drawn.setAttribute("transform", "matrix(" + zoom + " 0 0 1 " + (left - (left + first * wide) * zoom) + " 0)");
      times.textContent = zoom === 1 ? plain : plain.replace(/[\d.]+/, (Number(times.dataset.times) / zoom).toFixed(1));
      var rows = {};
      moving.forEach(function (part) {
        var at = to(Number(part.dataset.x)), out = at < left - 1 || at > right + 1;
        if (part.tagName === "line") {
          part.setAttribute("x1", at);
          part.setAttribute("x2", at);
        } else if (part.tagName === "circle") part.setAttribute("cx", at);
        else {
          part.setAttribute("x", at);
          var long = LETTER * part.textContent.length + 4, anchor = part.getAttribute("text-anchor");
          var begin = anchor === "start" ? at : anchor === "end" ? at - long : at - long / 2;
          if (part.dataset.room && zoom > 1) {
            /* a cell's words stand in the middle of what is seen of it */
            var half = Number(part.dataset.room) * zoom / 2, low = Math.max(at - half, left), high = Math.min(at + half, right);
            out = high - low < long;
            at = (low + high) / 2;
            part.setAttribute("x", at);
            begin = at - long / 2;
          } else if (part.dataset.room) out = Number(part.dataset.room) < long;
          if (!out && part.dataset.row) {
            var taken = rows[part.dataset.row] = rows[part.dataset.row] || [];
            out = begin < left - 3 || begin + long > right + 8 || taken.some(function (other) { return begin < other[1] && other[0] < begin + long; });
            if (!out) taken.push([begin, begin + long]);
          }
        }
        part.toggleAttribute("data-crowded", out);
      });
      if (last) cursor.apply(null, last);
    }
    function cursor(station, ground, invert) {
      last = [station, ground, invert];
      var rule = chart.querySelector(".cursor"), at = x(station);
      rule.setAttribute("x1", at);
      rule.setAttribute("x2", at);
      var high = chart.querySelector(".cursor-ground"), low = chart.querySelector(".cursor-invert");
      high.setAttribute("cx", at);
      high.setAttribute("cy", ground === null ? -20 : y(ground));
      low.setAttribute("cx", at);
      low.setAttribute("cy", y(invert));
    }
    return { cursor: cursor, put: put, share: function (station) { return station / Number(d.length); } };
  });
  function held(share) { return Math.min(Math.max(share, 0), 1 - 1 / zoom); }
  function put() { charts.forEach(function (chart) { chart.put(); }); }
  function scale(to) {
    var share = charts[0].share(here());
    zoom = Math.min(Math.max(to, 1), MOST);
    first = held(share - 0.5 / zoom);
    put();
    buttons.forEach(function (button) { button.disabled = button.dataset.zoom === "in" ? zoom === MOST : zoom === 1; });
  }
  var steps = { "in": function () { scale(zoom * 2); }, out: function () { scale(zoom / 2); }, whole: function () { scale(1); } };
  var buttons = [].slice.call(figure.querySelectorAll("button.zoom"));
  buttons.forEach(function (button) { button.addEventListener("click", function () { steps[button.dataset.zoom](); }); });
  figure.addEventListener("keydown", function (event) {
    var step = { "+": "in", "=": "in", "-": "out", "0": "whole" }[event.key];
    if (!step || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    steps[step]();
  });
  scale(1);
  return {
    /* the cursor stays in the window: where it would leave, the window follows */
    cursor: function (station, ground, invert) {
      var share = charts[0].share(station);
      if (zoom > 1 && (share < first || share > first + 1 / zoom)) {
        first = held(share - 0.5 / zoom);
        put();
      }
      charts.forEach(function (chart) { chart.cursor(station, ground, invert); });
    }
  };
}
