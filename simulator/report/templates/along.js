"use strict";
// The cursor along the course: mouse, finger and keys; rows of tables that light up a stretch.
// `tell` writes what the curves say at one place and returns the same as a spoken sentence.
function along(data, tell) {
  const $ = (id) => document.getElementById(id);
  const reach = $("reach"), slider = $("slider"), cursor = $("cursor"), lit = $("lit");
  const here = $("here"), place = $("place"), status = $("status"), litLeg = $("leg-lit");
  const units = data.units;
  const km = data.km, last = km.length - 1, total = km[last];
  const outputs = {};
  document.querySelectorAll("[data-read]").forEach((o) => { outputs[o.dataset.read] = o; });
  let at = 0;

  const fixed = (x, n) => (Math.abs(x) < 0.5 * Math.pow(10, -n) ? 0 : x).toFixed(n).replace("-", "−");
  const capital = (word) => word.charAt(0).toUpperCase() + word.slice(1);
  const signed = (x, n) => (x >= 0.5 * Math.pow(10, -n) ? "+" : "") + fixed(x, n);

  // Index of the last point at or before a place, and how far it is to the next one (0 to 1).
  function find(k) {
    let low = 0, high = last;
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if (km[middle] <= k) { low = middle; } else { high = middle; }
    }
    const step = km[low + 1] - km[low];
    return [low, step > 0 ? Math.min(1, Math.max(0, (k - km[low]) / step)) : 0];
  }
  function read(name, found) {
    const v = data[name];
    return v[found[0]] + (v[found[0] + 1] - v[found[0]]) * found[1];
  }
  function stretchName(k) {
    // Places are rounded to metres, the end of the last stretch is not.
    const band = data.bands.find((b) => k >= b[1] && k <= b[2]) ||
      (k >= total ? data.bands[data.bands.length - 1] : undefined);
    let lap = "";
    if (data.laps.length > 2) {
      let n = 1;
      while (n < data.laps.length - 1 && k >= data.laps[n]) { n += 1; }
      lap = "lap " + n + ", ";
    }
    return lap + (band ? band[0] : "");
  }
  function moveTo(k) {
    at = Math.min(total, Math.max(0, k));
    const found = find(at);
    cursor.hidden = false;
    cursor.style.left = (100 * at / total) + "%";
    here.setAttribute("cx", read("x", found));
    here.setAttribute("cy", read("y", found));
    const name = stretchName(at);
    place.textContent = capital(units.place) + " " + fixed(at, 2) + (name ? ", " + name : "");
    const said = tell(outputs, (key) => read(key, found), data.grade[found[0]], fixed, signed);
    slider.setAttribute("aria-valuenow", at.toFixed(3));
    slider.setAttribute("aria-valuetext",
      capital(units.distance) + " " + fixed(at, 1) + (name ? ", " + name : "") + ": " + said);
  }
  function fromEvent(event) {
    const box = reach.getBoundingClientRect();
    moveTo(total * (event.clientX - box.left) / box.width);
  }
  reach.addEventListener("pointermove", fromEvent);
  reach.addEventListener("pointerdown", (event) => {
    fromEvent(event);
    slider.focus({ preventScroll: true });
  });
  slider.addEventListener("keydown", (event) => {
    const fine = Math.min(0.1, total / 200), coarse = Math.min(1, total / 10);
    const step = event.shiftKey ? coarse : fine;
    const target = {
      ArrowLeft: at - step, ArrowDown: at - step, ArrowRight: at + step, ArrowUp: at + step,
      PageDown: at - coarse, PageUp: at + coarse, Home: 0, End: total
    }[event.key];
    if (target === undefined) { return; }
    event.preventDefault();
    moveTo(target);
  });

  function light(from, to) {
    lit.hidden = false;
    lit.style.left = (100 * from / total) + "%";
    lit.style.width = (100 * (to - from) / total) + "%";
    const points = [];
    for (let i = 0; i <= last; i += 1) {
      if (km[i] >= from && km[i] <= to) { points.push(data.x[i] + "," + data.y[i]); }
    }
    litLeg.setAttribute("points", points.join(" "));
  }
  document.querySelectorAll("button.go").forEach((button) => {
    button.addEventListener("click", () => {
      const row = button.closest("tr");
      const from = Number(row.dataset.from), to = Number(row.dataset.to);
      document.querySelectorAll("tr.is-here").forEach((r) => r.classList.remove("is-here"));
      row.classList.add("is-here");
      light(from, to);
      moveTo(to);
      $("along").scrollIntoView();
      status.textContent = button.textContent + " is marked on the charts, " + units.place + " " +
        fixed(from, 1) + " to " + fixed(to, 1) + ".";
    });
  });

  window.addEventListener("beforeprint", () => {
    document.querySelectorAll("details").forEach((d) => { d.open = true; });
  });
}
