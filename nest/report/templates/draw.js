// Drawing a hide or a lay: ground, zones, pieces, flaws, arrows. Outlines of pieces are made once and used again.
const FEET = { left: " L", right: " R", either: "" };
const told = new WeakMap(); // what the tip says of an element: lines of text

function makeOutlines() {
  const outlines = document.getElementById("outlines");
  plan.pieces.forEach((piece, i) => {
    outlines.append(svg("path", { id: `cut-${i}`, d: piece.cut, "vector-effect": "non-scaling-stroke" }));
    outlines.append(svg("path", { id: `net-${i}`, d: piece.net, "vector-effect": "non-scaling-stroke" }));
  });
}

function drawInto(canvas, index) {
  const drawing = plan.drawings[index];
  const zones = svg("g", { class: "zones" });
  const pieces = svg("g", { class: "pieces" });
  const flaws = svg("g", { class: "flaws" });
  const arrows = svg("g", { class: "arrows" });
  for (const zone of drawing.zones) {
    const quality = Math.min(Math.max(zone.quality ?? 1, 1), 5);
    const path = svg("path", { class: `zone q${quality}`, d: zone.path });
    told.set(path, zoneWords(zone));
    zones.append(path);
    if (zone.arrow) arrows.append(...arrow(zone));
  }
  drawing.placed.forEach((placed, k) => pieces.append(drawPiece(drawing, placed, k)));
  for (const flaw of drawing.flaws) {
    const path = svg("path", { class: `flaw ${flaw.rule}`, d: flaw.path });
    told.set(path, flawWords(flaw));
    flaws.append(path);
    if (flaw.small) flaws.append(svg("circle", { class: "mark", cx: flaw.at[0], cy: flaw.at[1], r: 175 }));
  }
  canvas.append(
    svg("path", { class: "ground", d: drawing.edge, "fill-rule": "evenodd" }), zones,
    svg("path", { class: "edge", d: drawing.edge }), pieces, flaws, arrows,
  );
}

function drawPiece(drawing, placed, k) {
  const [index, x, y, turn, pair, , lies] = placed;
  const piece = plan.pieces[index];
  const colour = plan.sizes.find((one) => one.size === piece.size);
  const lines = pieceWords(drawing, placed);
  const group = svg("g", {
    class: `piece ${lies}`, transform: `translate(${x} ${y}) rotate(${turn})`, tabindex: "-1", role: "img",
    "aria-label": lines.join("; "), "data-k": k, fill: colour.fill,
  });
  group.style.color = colour.ink;
  const [mx, my] = piece.middle;
  const size = svg("tspan", { x: 0, dy: pair ? "0" : "0.35em" });
  size.textContent = piece.size + FEET[piece.foot];
  const text = svg("text", { transform: `translate(${mx} ${my}) rotate(${-turn})` }, size);
  if (pair) {
    const second = svg("tspan", { x: 0, dy: "1em", class: "pair" });
    second.textContent = `·${pair}`;
    text.append(second);
  }
  group.append(
    svg("use", { class: "cut", href: `#cut-${index}` }), svg("use", { class: "net", href: `#net-${index}` }),
    svg("path", { class: "toe", d: piece.toe }), text,
  );
  told.set(group, lines);
  return group;
}

function arrow({ stretch, arrow: [x, y, half] }) {
  const head = Math.min(110, half / 3);
  const d = `M${-half} 0H${half}M${half - head} ${-head}L${half} 0l${-head} ${head}`
    + `M${head - half} ${-head}L${-half} 0l${head} ${head}`;
  const transform = `translate(${x} ${y}) rotate(${-stretch})`;
  return [svg("path", { class: "arrow under", d, transform }), svg("path", { class: "arrow", d, transform })];
}

function zoneWords(zone) {
  if (zone.quality === null) return [`Roll ${zone.id}`, `stretches most at ${zone.stretch}°`];
  return [`Zone ${zone.id}, class ${zone.quality}`, `stretches most at ${zone.stretch}°`];
}

function flawWords(flaw) {
  const rule = {
    tears: "tears: nothing may be cut over it", coverable: "may lie under the trim-off band",
    clear: "may lie under no piece",
  }[flaw.rule];
  return [`${flaw.kind}, severity ${flaw.severity}`, `flaw ${flaw.id}: ${rule}`];
}

function pieceWords(drawing, [index, , , , pair, away, lies, zones]) {
  const piece = plan.pieces[index];
  const foot = piece.foot === "either" ? "either foot" : piece.foot;
  const lines = [`Size ${piece.size}, ${foot}${pair ? `, pair ${pair}` : ""}`, `${piece.style}, ${piece.role}`];
  if (away === null) lines.push("direction not judged: no zone lies under it");
  else {
    const limit = plan.limits[piece.style];
    lines.push(lies === "bias" ? `at bias, with leave: ${away}° off 45° to the stretch, up to ${limit}° allowed`
      : `${away}° off across the stretch, up to ${limit}° allowed${lies === "wrong" ? ": WRONG" : ""}`);
  }
  if (drawing.kind === "hide") {
    const under = zones.map((i) => `${drawing.zones[i].id} (class ${drawing.zones[i].quality})`);
    if (under.length) lines.push(`net area on ${under.join(", ")}`);
    const elsewhere = pair ? homes.get(pair).filter((id) => id !== drawing.id) : [];
    if (elsewhere.length) lines.push(`its partner lies on hide ${elsewhere[0]}`);
  }
  return lines;
}

const homes = new Map(); // pair -> hides its pieces lie on
for (const drawing of plan.drawings) {
  if (drawing.kind !== "hide") continue;
  for (const placed of drawing.placed) {
    if (placed[4]) homes.set(placed[4], [...(homes.get(placed[4]) ?? []), drawing.id]);
  }
}
