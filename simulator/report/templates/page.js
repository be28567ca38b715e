"use strict";
(function () {
  const data = JSON.parse(document.getElementById("data").textContent);
  along(data, (outputs, read, grade, fixed, signed) => {
    const gap = read("gap"), height = read("height");
    const speed1 = read("speed1"), speed2 = read("speed2");
    outputs.height.textContent = fixed(height, 0) + " " + data.units.height + ", " + signed(grade, 1) + " %";
    outputs.speed1.textContent = fixed(speed1, 1);
    outputs.speed2.textContent = fixed(speed2, 1);
    outputs.gap.textContent = signed(gap, 1);
    const side = gap >= 0 ? " behind " : " ahead of ";
    return "height " + fixed(height, 0) + " " + data.units.heights + ", grade " + fixed(grade, 1) + " percent, " + data.first + " " + fixed(speed1, 1) +
      ", " + data.other + " " + fixed(speed2, 1) + " " + data.units.speeds + ", " + data.other + " " +
      fixed(Math.abs(gap), 1) + " seconds" + side + data.first;
  });
}());
