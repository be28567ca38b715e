"use strict";
(function () {
  const status = document.getElementById("status");
  document.querySelectorAll("table.sortable").forEach((table) => {
    const heads = Array.from(table.tHead.rows[0].cells);
    heads.forEach((head, column) => {
      head.querySelector("button").addEventListener("click", () => {
        const isText = head.classList.contains("text");
        const before = head.getAttribute("aria-sort");
        const up = before ? before === "descending" : isText;
        heads.forEach((other) => other.removeAttribute("aria-sort"));
        head.setAttribute("aria-sort", up ? "ascending" : "descending");
        const body = table.tBodies[0];
        const keyed = Array.from(body.rows).map((row) => [row.cells[column].dataset.sort, row]);
        keyed.sort((a, b) => {
          if (a[0] === "" || b[0] === "") { return (a[0] === "") - (b[0] === ""); }
          const x = Number(a[0]), y = Number(b[0]);
          const order = isNaN(x) || isNaN(y) ? a[0].localeCompare(b[0]) : x - y;
          return up ? order : -order;
        });
        keyed.forEach((pair) => body.appendChild(pair[1]));
        status.textContent = "Sorted by " + head.textContent.trim() +
          (up ? ", smallest first." : ", largest first.");
      });
    });
  });
}());
