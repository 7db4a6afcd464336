// What part of a drawing is seen: zoom and move by changing its viewBox, never beyond the whole.
const NEAREST = 40, STEP = 1.35, DRAG_PX = 4;

function makeView(canvas) {
  const whole = canvas.viewBox.baseVal;
  const all = { x: whole.x, y: whole.y, w: whole.width, h: whole.height };
  // A long drawing opens on its first part, as much of it as fills the window it has.
  const start = canvas.hasAttribute("data-long") ? { ...all, w: all.h * Number(canvas.dataset.long) } : all;
  let seen = { ...start };

  function show(next) {
    const w = Math.min(Math.max(next.w, all.w / NEAREST), all.w);
    const h = w * (next.h / next.w);
    seen = {
      w, h,
      x: Math.min(Math.max(next.x, all.x), all.x + all.w - w),
      y: h >= all.h ? all.y + (all.h - h) / 2 : Math.min(Math.max(next.y, all.y), all.y + all.h - h),
    };
    canvas.setAttribute("viewBox", `${seen.x} ${seen.y} ${seen.w} ${seen.h}`);
    canvas.classList.toggle("zoomed", seen.w < 0.999 * all.w);
  }

  function place(clientX, clientY) {
    return new DOMPoint(clientX, clientY).matrixTransform(canvas.getScreenCTM().inverse());
  }

  const middle = () => ({ x: seen.x + seen.w / 2, y: seen.y + seen.h / 2 });
  const view = {
    all: () => show(all),
    start: () => show(start),
    zoom(factor, at = middle()) {
      const f = Math.min(Math.max(factor, all.w / NEAREST / seen.w), all.w / seen.w);
      show({ x: at.x - (at.x - seen.x) * f, y: at.y - (at.y - seen.y) * f, w: seen.w * f, h: seen.h * f });
    },
    move: (right, down) => show({ ...seen, x: seen.x + right, y: seen.y + down }),
    step: (right, down) => view.move(right * seen.w / 8, down * seen.h / 8),
    towards(at) { // so that a piece reached by the keyboard is seen
      const inside = at.x > seen.x && at.x < seen.x + seen.w && at.y > seen.y && at.y < seen.y + seen.h;
      if (!inside) show({ ...seen, x: at.x - seen.w / 2, y: at.y - seen.h / 2 });
    },
  };

  canvas.addEventListener("wheel", (event) => {
    if (!event.ctrlKey && !canvas.contains(document.activeElement)) return; // the page scrolls
    event.preventDefault();
    view.zoom(Math.exp(Math.sign(event.deltaY) * Math.min(Math.abs(event.deltaY), 60) / 250),
      place(event.clientX, event.clientY));
  }, { passive: false });

  const held = new Map(); // pointers that are down: one moves, two zoom
  let begun = null;
  canvas.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    held.set(event.pointerId, [event.clientX, event.clientY]);
    begun = [event.clientX, event.clientY];
    // Heard by the whole window: a pointer may leave the drawing, and be lifted outside of it.
    addEventListener("pointermove", drag);
    addEventListener("pointerup", lift);
    addEventListener("pointercancel", lift);
  });
  function drag(event) {
    const last = held.get(event.pointerId);
    if (!last) return;
    const now = [event.clientX, event.clientY];
    const moving = canvas.classList.contains("moving");
    if (!moving && held.size === 1 && Math.hypot(now[0] - begun[0], now[1] - begun[1]) < DRAG_PX) return;
    canvas.classList.add("moving");
    const from = place(...last), to = place(...now);
    if (held.size === 2) {
      const other = [...held].find(([id]) => id !== event.pointerId)[1];
      const before = Math.hypot(last[0] - other[0], last[1] - other[1]);
      const after = Math.hypot(now[0] - other[0], now[1] - other[1]);
      if (after > 0) view.zoom(before / after, place(...other));
    } else {
      view.move(from.x - to.x, from.y - to.y);
    }
    held.set(event.pointerId, now);
  }
  function lift(event) {
    held.delete(event.pointerId);
    if (held.size) return;
    canvas.classList.remove("moving");
    removeEventListener("pointermove", drag);
    removeEventListener("pointerup", lift);
    removeEventListener("pointercancel", lift);
  }

  const keys = {
    "+": () => view.zoom(1 / STEP), "=": () => view.zoom(1 / STEP), "-": () => view.zoom(STEP), "0": view.all,
    ArrowLeft: () => view.step(-1, 0), ArrowRight: () => view.step(1, 0),
    ArrowUp: () => view.step(0, -1), ArrowDown: () => view.step(0, 1),
  };
  canvas.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || !(event.key in keys)) return;
    event.preventDefault();
    keys[event.key]();
  });
  for (const button of canvas.parentElement.querySelectorAll("[data-do]")) {
    const act = { in: () => view.zoom(1 / STEP), out: () => view.zoom(STEP), fit: view.all }[button.dataset.do];
    button.addEventListener("click", act);
  }
  view.start();
  return view;
}
