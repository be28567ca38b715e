"use strict";
(function () {
  const data = JSON.parse(document.getElementById("data").textContent);
  along(data, (outputs, read, grade, fixed, signed) => {
    const height = read("height"), speed = read("speed"), power = read("power");
    outputs.height.textContent = fixed(height, 0) + " " + data.units.height + ", " + signed(grade, 1) + " %";
    outputs.speed.textContent = fixed(speed, 1);
    outputs.power.textContent = fixed(power, 0);
    let said = "height " + fixed(height, 0) + " " + data.units.heights + ", grade " + fixed(grade, 1) +
      " percent, " + fixed(speed, 1) + " " + data.units.speeds + ", " + fixed(power, 0) + " watts";
    if (data.reserve) {
      outputs.reserve.textContent = fixed(read("reserve"), 0);
      said += ", W prime " + fixed(read("reserve"), 0) + " percent";
    }
    return said;
  });
}());
