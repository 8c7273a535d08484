// Tables that sort by a press on a column's head: numbers as numbers, words as words; a second press turns the order.

const LEADING = /^[≥+]?\s*([−-]?\d+(\.\d+)?(e[+-]?\d+)?)/;

function sortKey(text) {
  const found = text.trim().match(LEADING);
  return found ? Number(found[1].replace("−", "-")) : null;
}

function compareCells(one, other) {
  const [a, b] = [sortKey(one), sortKey(other)];
  if (a !== null && b !== null && a !== b) return a - b;
  return one.localeCompare(other, "en", { numeric: true });
}

function sortTable(table, column) {
  const heads = [...table.tHead.rows[0].cells];
  const up = heads[column].getAttribute("aria-sort") !== "ascending";
  heads.forEach((head) => head.removeAttribute("aria-sort"));
  heads[column].setAttribute("aria-sort", up ? "ascending" : "descending");
  const rows = [...table.tBodies[0].rows];
  const text = (row) => row.cells[column].textContent;
  rows.sort((one, other) => {
    const empty = Number(text(one) === "") - Number(text(other) === "");
    return empty || (up ? 1 : -1) * compareCells(text(one), text(other));
  });
  table.tBodies[0].append(...rows);
}

function startTables() {
  for (const table of document.querySelectorAll("table.sorts")) {
    [...table.tHead.rows[0].cells].forEach((head, column) => {
      head.querySelector("button").addEventListener("click", () => sortTable(table, column));
    });
  }
}

function startCopying() {
  for (const button of document.querySelectorAll("button.copy")) {
    button.addEventListener("click", async () => {
      const source = document.getElementById(button.dataset.copies);
      const said = button.parentElement.querySelector("[role=status]");
      getSelection().selectAllChildren(source);
      let done = false;
      try {
        await navigator.clipboard.writeText(source.textContent);
        done = true;
      } catch {
        done = document.execCommand("copy");
      }
      said.textContent = done ? "Copied." : "The text is selected: copy it with your keyboard.";
    });
  }
}
