// Everything comes to life: tables and boxes at once, drawings when they come near the screen.
const awake = new Map(); // canvas -> view

function wake(canvas) {
  if (awake.has(canvas)) return;
  takeTitles(canvas);
  const view = makeView(canvas);
  awake.set(canvas, view);
  watchPieces(canvas, view);
  markMatches(canvas);
}

watchBars();
startTables();
startWhatIf();
startFinder();

const canvases = [...document.querySelectorAll(".canvas > svg")];
const watcher = new IntersectionObserver((entries) => {
  for (const entry of entries) {
    if (!entry.isIntersecting) continue;
    watcher.unobserve(entry.target);
    wake(entry.target.querySelector(".canvas > svg"));
  }
}, { rootMargin: "400px" });
// The section is watched, not the drawing: what is in it has no place while the browser leaves it out.
canvases.forEach((canvas) => watcher.observe(canvas.closest(".sheet")));

addEventListener("beforeprint", () => {
  hush();
  for (const [canvas, view] of awake) {
    view.all();
    mark(canvas, null);
  }
});
addEventListener("afterprint", () => {
  for (const view of awake.values()) view.start();
});
