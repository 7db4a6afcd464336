// Tables that sort by a click on a header and copy as tab-separated text.
const order = new Intl.Collator(undefined, { numeric: true, sensitivity: "base" });

function valueOf(cell) {
  return cell.dataset.value ?? cell.textContent.trim();
}

function sortBy(table, column, header) {
  const down = header.getAttribute("aria-sort") === "ascending";
  for (const other of table.tHead.rows[0].cells) if (other.ariaSort) other.setAttribute("aria-sort", "none");
  header.setAttribute("aria-sort", down ? "descending" : "ascending");
  const body = table.tBodies[0];
  const rows = [...body.rows];
  const sums = rows.filter((row) => row.classList.contains("sum"));
  const lines = rows.filter((row) => !row.classList.contains("sum"));
  const sign = down ? -1 : 1;
  lines.sort((a, b) => {
    const [x, y] = [a, b].map((row) => row.cells[column].dataset.value);
    if (x !== undefined && y !== undefined && !isNaN(x) && !isNaN(y)) return sign * (x - y);
    return sign * order.compare(valueOf(a.cells[column]), valueOf(b.cells[column]));
  });
  body.append(...lines, ...sums);
}

// Text that a spreadsheet would take for a formula is preceded by an apostrophe, as in the CSV file.
function harmless(cell) {
  if (cell.dataset.value !== undefined && !isNaN(cell.dataset.value)) return cell.dataset.value;
  const text = valueOf(cell).replace(/\p{Cc}+/gu, " ");
  return /^\s*[=+\-@＝＋－＠]/u.test(text) ? `'${text}` : text;
}

function tabSeparated(table) {
  const kept = (row) => [...row.cells].filter((cell) => !cell.classList.contains("nocopy"));
  return [...table.rows].map((row) => kept(row).map(harmless).join("\t")).join("\n");
}

async function copy(text) {
  try {
    await navigator.clipboard.writeText(text);
  } catch { // no leave, or no secure context: the old way
    const area = html("textarea", text);
    area.className = "unseen";
    document.body.append(area);
    area.select();
    const done = document.execCommand("copy");
    area.remove();
    if (!done) return false;
  }
  return true;
}

function startTables() {
  for (const table of document.querySelectorAll("table.sorts")) {
    [...table.tHead.rows[0].cells].forEach((header, column) => {
      if (header.classList.contains("nocopy")) return;
      const button = html("button", header.textContent);
      button.type = "button";
      header.replaceChildren(button);
      header.setAttribute("aria-sort", "none");
      button.addEventListener("click", () => sortBy(table, column, header));
    });
    const button = html("button", "Copy for a spreadsheet");
    button.type = "button";
    button.className = "copy";
    button.addEventListener("click", async () => {
      const done = await copy(tabSeparated(table));
      button.textContent = done ? "Copied" : "Not copied: select the table by hand";
      said.textContent = button.textContent;
      setTimeout(() => { button.textContent = "Copy for a spreadsheet"; }, 2000);
    });
    table.parentElement.after(button);
  }
}
