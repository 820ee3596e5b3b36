"use strict";

/* Tables sort by a click on a heading: up, down, and back to the order of the report. */
const LEADING = /^[<>≤≥~\s]*(-?\d+(?:\.\d+)?(?:e-?\d+)?)/i;

function numberOf(text) {
  const plain = text.replace(/−/g, "-").replace(/\u202f/g, "");
  const found = LEADING.exec(plain);
  if (!found) return null;
  const value = Number(found[1]);
  /* "< 0.0001" stands before 0.0001, "640+" (no end seen) after 640 */
  if (plain.trim().startsWith("<")) return value - Math.abs(value) * 1e-9;
  return plain.trim().endsWith("+") ? value + Math.abs(value) * 1e-9 : value;
}

function compared(a, b, numeric) {
  if (numeric) return a - b;
  return a.localeCompare(b, "en", { numeric: true });
}

function sorted(rows, place, numeric, way) {
  const keyed = rows.map((row, order) => {
    const text = row.cells[place].textContent.trim();
    const key = numeric ? numberOf(text) : text === "–" || text === "" ? null : text;
    return { row, order, key };
  });
  /* what has no value stands last, whichever way */
  keyed.sort((a, b) => {
    if (a.key === null || b.key === null) {
      return (a.key === null) - (b.key === null) || a.order - b.order;
    }
    return way * compared(a.key, b.key, numeric) || a.order - b.order;
  });
  return keyed.map((one) => one.row);
}

function makeSortable(table) {
  const body = table.tBodies[0];
  const first = Array.from(body.rows);
  const heads = Array.from(table.tHead.rows[0].cells);
  if (first.length < 2) return;
  heads.forEach((head, place) => {
    const button = document.createElement("button");
    button.type = "button";
    button.title = "Sort";
    if (!head.textContent.trim()) button.setAttribute("aria-label", "Sort by this column");
    button.append(...head.childNodes);
    head.append(button);
    button.addEventListener("click", () => {
      const before = head.getAttribute("aria-sort");
      heads.forEach((other) => other.removeAttribute("aria-sort"));
      if (before === "descending") {
        body.append(...first);
        return;
      }
      const way = before === "ascending" ? -1 : 1;
      head.setAttribute("aria-sort", way === 1 ? "ascending" : "descending");
      body.append(...sorted(first, place, head.classList.contains("numeric"), way));
    });
  });
}

/* The filter dims what is about other groups and cells; what names none stays as it is. */
function has(element, name, number) {
  return (element.dataset[name] || "").split(" ").includes(number);
}

function isAside(element, group, cell) {
  if (group === undefined) return false;
  if (cell !== undefined && element.dataset.cells !== undefined) return !has(element, "cells", cell);
  return !has(element, "groups", group);
}

function filter(select, said) {
  const { group, cell } = select.selectedOptions[0].dataset;
  let rows = 0;
  document.querySelectorAll("[data-groups]").forEach((element) => {
    const aside = isAside(element, group, cell);
    element.classList.toggle("aside", aside);
    if (!aside && element.matches("tr")) rows += 1;
  });
  said.value = group === undefined ? "" : `${rows} rows of tables; the others are dimmed, and so are their marks in figures`;
}

const form = document.getElementById("sieve");
const select = document.getElementById("subject");
const said = document.getElementById("kept");
document.querySelectorAll("table").forEach(makeSortable);
select.addEventListener("change", () => filter(select, said));
form.addEventListener("submit", (event) => event.preventDefault());
form.hidden = false;
filter(select, said);
