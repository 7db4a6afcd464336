// Showing and hiding layers, and finding every piece of one size.
const wanted = { size: "", style: "" };

const matches = (piece) =>
  (!wanted.size || piece.size === wanted.size) && (!wanted.style || piece.style === wanted.style);

function markMatches(canvas) {
  const placed = plan.drawings[canvas.parentElement.dataset.drawing].placed;
  for (const piece of canvas.querySelectorAll(".piece")) {
    piece.classList.toggle("match", matches(plan.pieces[placed[piece.dataset.k][0]]));
  }
}

function showFound(canvases) {
  const finding = Boolean(wanted.size || wanted.style);
  document.body.classList.toggle("finding", finding);
  canvases.forEach(markMatches);
  const found = document.getElementById("found");
  found.replaceChildren();
  if (!finding) return;
  const where = plan.drawings.map((drawing, i) => [
    drawing, i, drawing.placed.filter(([piece]) => matches(plan.pieces[piece])).length,
  ]).filter(([, , count]) => count);
  const vamps = where.filter(([drawing]) => drawing.kind === "hide");
  const total = (rows) => rows.reduce((sum, [, , count]) => sum + count, 0);
  const backs = where.filter(([drawing]) => drawing.kind === "lay");
  const some = (count, what) => `${count} ${what}${count === 1 ? "" : "s"}`;
  found.append(`${some(total(vamps), "vamp")} on ${some(vamps.length, "hide")}, ${some(total(backs), "reinforcement")}`
    + ` a ply on ${some(backs.length, "lay")}${where.length ? ": " : "."}`);
  where.forEach(([drawing, i, count], k) => {
    const link = html("a", drawing.id);
    link.href = `#drawing-${i}`;
    found.append(k ? ", " : "", link, ` (${count})`);
  });
}

function startFinder() {
  const finder = document.querySelector(".finder");
  if (!finder) return;
  for (const box of finder.querySelectorAll("[data-layer]")) {
    box.addEventListener("change", () => document.body.classList.toggle(`hide-${box.dataset.layer}`, !box.checked));
  }
  const styles = [...new Set(plan.pieces.map((piece) => piece.style))];
  const choices = { size: plan.sizes, style: styles };
  for (const select of finder.querySelectorAll("[data-find]")) {
    const key = select.dataset.find;
    for (const name of choices[key]) {
      const option = html("option", name);
      option.value = name;
      select.append(option);
    }
    if (key === "style") select.parentElement.hidden = styles.length < 2;
    select.addEventListener("change", () => {
      wanted[key] = select.value;
      showFound([...document.querySelectorAll(".canvas > svg")]);
    });
  }
  finder.addEventListener("submit", (event) => event.preventDefault());
}
