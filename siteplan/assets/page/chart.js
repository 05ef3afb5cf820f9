/* A profile: the cursor, and a zoom along the stations. What is drawn moves with a scale; words and points keep their size. */
function siteplanChart(figure, line, pick) {
  "use strict";
  return [].map.call(figure.querySelectorAll("svg.chart"), function (chart) {
    var d = chart.dataset, left = Number(d.left), right = Number(d.right), top = Number(d.top), bottom = Number(d.bottom);
    function x(station) { return left + (right - left) * station / Number(d.length); }
    function y(z) { return bottom - (bottom - top) * (z - Number(d.low)) / (Number(d.high) - Number(d.low)); }
    function move(event) {
      if (event.type === "pointermove" && !(event.buttons & 1)) return;
      var box = chart.getBoundingClientRect();
      var along = (event.clientX - box.left) / box.width * chart.viewBox.baseVal.width;
      pick((along - left) / (right - left) * Number(d.length));
    }
    chart.addEventListener("pointerdown", move);
    chart.addEventListener("pointermove", move);
    return {
      cursor: function (station, ground, invert) {
        var rule = chart.querySelector(".cursor"), at = x(station);
        rule.setAttribute("x1", at);
        rule.setAttribute("x2", at);
        var high = chart.querySelector(".cursor-ground"), low = chart.querySelector(".cursor-invert");
        high.setAttribute("cx", at);
        high.setAttribute("cy", ground === null ? -20 : y(ground));
        low.setAttribute("cx", at);
        low.setAttribute("cy", y(invert));
      }
    };
  });
}
