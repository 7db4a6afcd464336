// Telling what lies under the pointer, and walking from piece to piece by keyboard.
const tip = document.getElementById("tip");
const told = new WeakMap(); // what the tip says of an element: lines of text
let byTouch = false; // whether the last pointer that came down hovers nowhere
addEventListener("pointerdown", (event) => {
  byTouch = event.pointerType !== "mouse";
  if (!event.target.closest?.(".canvas > svg, .bar")) hush();
}, true);

// Titles are for readers without a script, and would be shown twice.
function takeTitles(drawing) {
  for (const title of drawing.querySelectorAll("title")) {
    const lines = title.textContent.split("\n");
    told.set(title.parentElement, lines);
    if (title.parentElement.matches(".piece")) title.parentElement.setAttribute("aria-label", lines.join("; "));
    title.remove();
  }
}

function watchBars() {
  for (const part of document.querySelectorAll(".bar .part-of")) {
    part.addEventListener("click", (event) => {
      if (byTouch) tell([part.textContent], event.clientX, event.clientY);
    });
  }
}

function tell(lines, x, y) {
  tip.replaceChildren(...lines.map((line) => html("p", line)));
  tip.hidden = false;
  const box = tip.getBoundingClientRect();
  tip.style.left = `${Math.max(4, Math.min(x + 14, innerWidth - box.width - 4))}px`;
  tip.style.top = `${y + 18 + box.height < innerHeight ? y + 18 : Math.max(4, y - box.height - 12)}px`;
}

function hush() {
  tip.hidden = true;
}

function mark(canvas, piece) {
  for (const old of canvas.querySelectorAll(".shown, .partner")) old.classList.remove("shown", "partner");
  if (!piece) return;
  piece.classList.add("shown");
  const placed = plan.drawings[canvas.parentElement.dataset.drawing].placed;
  const pair = placed[piece.dataset.k][4];
  placed.forEach((one, k) => {
    if (pair && one[4] === pair && k !== Number(piece.dataset.k)) {
      canvas.querySelector(`[data-k="${k}"]`).classList.add("partner");
    }
  });
}

function watchPieces(canvas, view) {
  canvas.addEventListener("pointermove", (event) => {
    if (event.pointerType !== "mouse") return;
    const under = event.target.closest(".piece, .flaw, .zone");
    if (!under || canvas.classList.contains("moving")) return hush();
    mark(canvas, under.closest(".piece"));
    tell(told.get(under), event.clientX, event.clientY);
  });
  canvas.addEventListener("pointerleave", (event) => {
    if (event.pointerType !== "mouse") return;
    hush();
    mark(canvas, document.activeElement.closest(".piece"));
  });
  canvas.addEventListener("click", (event) => {
    const under = event.target.closest(".piece, .flaw, .zone");
    (event.target.closest(".piece") ?? canvas).focus({ preventScroll: true });
    if (byTouch && under) tell(told.get(under), event.clientX, event.clientY);
  });
  canvas.addEventListener("focusin", (event) => {
    const piece = event.target.closest(".piece");
    if (!piece) return;
    const [, x, y] = plan.drawings[canvas.parentElement.dataset.drawing].placed[piece.dataset.k];
    view.towards({ x, y });
    mark(canvas, piece);
    if (piece.matches(":focus-visible")) {
      const box = piece.getBoundingClientRect();
      tell(told.get(piece), box.right, box.top);
    }
  });
  canvas.addEventListener("focusout", () => {
    hush();
    mark(canvas, null);
  });
  canvas.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const ways = { n: 1, N: 1, p: -1, P: -1, Enter: 1 };
    const now = document.activeElement.closest(".piece");
    if (event.key === "Escape") {
      hush();
      if (now) canvas.focus({ preventScroll: true });
    } else if (event.key in ways && !(event.key === "Enter" && now)) {
      event.preventDefault();
      const wanted = document.body.classList.contains("finding") ? ".piece.match" : ".piece";
      const all = [...canvas.querySelectorAll(wanted)];
      if (!all.length) return;
      const at = all.indexOf(now);
      const next = at < 0 ? (ways[event.key] > 0 ? 0 : -1) : at + ways[event.key];
      all.at(next % all.length).focus({ preventScroll: true });
    }
  });
}
