"use strict";
// Tables sort by the head that is pressed; numbers by their value, text by the rules of language.
const compare = new Intl.Collator("en", { numeric: true, sensitivity: "base" }).compare;
const told = document.getElementById("told");

const valueOf = (row, column) => {
  const cell = row.cells[column];
  return cell.dataset.v === undefined ? cell.textContent : Number(cell.dataset.v);
};

// What has no value stays at the end, whichever way the others go.
const order = (column, way, numeric) => (a, b) => {
  const [x, y] = [valueOf(a, column), valueOf(b, column)];
  if (!numeric) return way * compare(String(x), String(y));
  const [p, q] = [typeof x === "number", typeof y === "number"];
  return p && q ? way * (x - y) : Number(q) - Number(p);
};

const sort = (table, head, column) => {
  const rows = Array.from(table.tBodies[0].rows);
  const numeric = rows.some((row) => typeof valueOf(row, column) === "number");
  const before = head.getAttribute("aria-sort");
  const falls = before === "none" ? numeric && column > 0 : before === "ascending";
  rows.sort(order(column, falls ? -1 : 1, numeric));
  table.tBodies[0].append(...rows);
  for (const other of table.tHead.rows[0].cells) other.setAttribute("aria-sort", "none");
  const way = falls ? "descending" : "ascending";
  head.setAttribute("aria-sort", way);
  told.textContent = `${table.caption.textContent}: sorted by ${head.textContent}, ${way}`;
};

for (const table of document.querySelectorAll("table")) {
  Array.from(table.tHead.rows[0].cells).forEach((head, column) => {
    const button = document.createElement("button");
    button.type = "button";
    button.append(...head.childNodes);
    head.append(button);
    head.setAttribute("aria-sort", "none");
    button.addEventListener("click", () => sort(table, head, column));
  });
}

// A table that is wider than the screen scrolls by the keyboard as well.
const reach = () => {
  for (const box of document.querySelectorAll(".wide")) {
    if (box.scrollWidth > box.clientWidth) box.tabIndex = 0;
    else box.removeAttribute("tabindex");
  }
};
reach();
addEventListener("resize", reach);

// On paper nothing can be opened: what was closed is open while it prints.
let opened = [];
addEventListener("beforeprint", () => {
  opened = Array.from(document.querySelectorAll("td details:not([open])"));
  for (const item of opened) item.open = true;
});
addEventListener("afterprint", () => {
  for (const item of opened) item.open = false;
});
