// Everything comes to life: tables and boxes at once, drawings when they come near the screen, all of them for paper.
const drawn = new Map(); // canvas -> view

function draw(canvas) {
  if (drawn.has(canvas)) return;
  drawInto(canvas, Number(canvas.parentElement.dataset.drawing));
  const view = makeView(canvas);
  drawn.set(canvas, view);
  watchPieces(canvas, view);
  markMatches(canvas);
}

makeOutlines();
startTables();
startWhatIf();
startFinder(drawn);

const canvases = [...document.querySelectorAll(".canvas > svg")];
const watcher = new IntersectionObserver((entries) => {
  for (const entry of entries) {
    if (!entry.isIntersecting) continue;
    watcher.unobserve(entry.target);
    draw(entry.target.querySelector(".canvas > svg"));
  }
}, { rootMargin: "400px" });
// The section is watched, not the drawing: what is in it has no place while the browser leaves it out.
canvases.forEach((canvas) => watcher.observe(canvas.closest(".sheet")));

let opened = [];
addEventListener("beforeprint", () => {
  hush();
  for (const canvas of canvases) {
    draw(canvas);
    drawn.get(canvas).all();
    mark(canvas, null);
  }
  opened = [...document.querySelectorAll("details:not([open])")];
  for (const one of opened) one.open = true;
});
addEventListener("afterprint", () => {
  for (const one of opened) one.open = false;
  for (const view of drawn.values()) view.start();
});
