/* Heights of the ground as sheets/packed.py tells them: an array of metres, NaN where the ground is not known. */
function heightsOf(told) {
  "use strict";
  var base = told.letters.length, half = Math.floor(base / 2), long = Math.floor(Math.pow(base, 3) / 2), at = 0, place = {};
  for (var k = 0; k < base; k++) place[told.letters.charAt(k)] = k;
  function next() {
    var mark = told.data.charAt(at++);
    if (mark !== "!") return place[mark] - half;
    var number = 0;
    for (var d = 0; d < 3; d++) number = number * base + place[told.data.charAt(at++)];
    return number - long;
  }
  var size = told.rows * told.cols, counts = new Int32Array(size), metres = new Float64Array(size);
  for (var i = 0; i < size; i++) {
    var left = i % told.cols > 0, above = i >= told.cols;
    counts[i] = next() + (left ? counts[i - 1] : 0) + (above ? counts[i - told.cols] : 0) - (left && above ? counts[i - told.cols - 1] : 0);
    metres[i] = told.base + counts[i] * told.step;
  }
  var from = 0;
  told.gaps.forEach(function (length, number) {
    if (number % 2) metres.fill(NaN, from, from + length);
    from += length;
  });
  return metres;
}
