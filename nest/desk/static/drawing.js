// The picture of one hide with a hand on it: pieces are dragged and turned, points are drawn.
import { felt } from "./geometry.js";
import { ask, name } from "./server.js";

const UNITS = 10, SNAP_MM = 60;
const mm = ([x, y]) => [x / UNITS, -y / UNITS];
const units = ([x, y]) => [x * UNITS, -y * UNITS];

export class Drawing {
  constructor(box, hooks) {
    this.box = box;
    this.hooks = hooks;
    this.places = new Map();
    this.points = [];
    this.drawing = null;
    box.addEventListener("pointerdown", (event) => this.down(event));
    box.addEventListener("pointermove", (event) => this.move(event));
    box.addEventListener("pointerup", (event) => { if (event.isPrimary) this.up(); });
    box.addEventListener("pointercancel", () => this.drop());
  }

  show(told, selected) {
    const parsed = new DOMParser().parseFromString(told.picture, "image/svg+xml").documentElement;
    this.box.replaceChildren(document.importNode(parsed, true));
    this.svg = this.box.firstElementChild;
    if (this.told?.id !== told.id || this.told.revision !== told.revision) this.places.clear();
    this.told = told;
    this.held = null;
    const wrong = new Set(told.findings.flatMap((one) => one.spots));
    this.groups = [...this.svg.querySelectorAll(".piece")];
    this.groups.forEach((group, k) => {
      const piece = told.pieces[k];
      group.setAttribute("tabindex", "0");
      group.setAttribute("role", "button");
      const state = [piece.spoiled ? "spoiled" : piece.cut ? "cut" : piece.held ? "held" : "", wrong.has(k) ? "wrong" : ""].filter(Boolean).join(", ");
      group.setAttribute("aria-label", `no. ${piece.number}, ${piece.style} ${piece.size} ${piece.foot}${state ? ", " + state : ""}`);
      group.classList.toggle("held", piece.held);
      group.classList.toggle("wrong", wrong.has(k));
      group.classList.toggle("done", piece.cut);
      group.classList.toggle("spoiled", piece.spoiled);
      group.addEventListener("focus", () => this.hooks.select(piece.number));
    });
    this.ring = document.createElementNS("http://www.w3.org/2000/svg", "polyline");
    this.ring.setAttribute("class", "pen");
    this.svg.append(this.ring);
    this.select(selected);
    this.pen();
  }

  select(number) {
    this.told?.pieces.forEach((piece, k) => this.groups[k].classList.toggle("shown", piece.number === number));
  }

  // Pieces that were looked for.
  mark(numbers) {
    this.told?.pieces.forEach((piece, k) => this.groups[k].classList.toggle("looked-for", numbers.includes(piece.number)));
  }

  // Begin to draw points; `done` gets them when Enter is pressed, or the last of `most` is there.
  draw(most, done) {
    this.points = [];
    this.drawing = { most, done };
    this.box.classList.add("pens");
    this.hooks.pens(true);
    this.pen();
  }

  key(key) {
    if (!this.drawing) return false;
    if (key === "Enter") this.finish();
    else if (key === "Escape") this.finish(true);
    else if (key === "Backspace") { this.points.pop(); this.pen(); }
    else return false;
    return true;
  }

  finish(given_up = false) {
    const { done } = this.drawing, points = this.points;
    this.drawing = null;
    this.points = [];
    this.box.classList.remove("pens");
    this.hooks.pens(false);
    this.pen();
    if (!given_up && points.length) done(points);
  }

  pen() {
    this.ring?.setAttribute("points", this.points.map((point) => units(point).join(",")).join(" "));
  }

  at(event) {
    const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(this.svg.getScreenCTM().inverse());
    return mm([point.x, point.y]);
  }

  // Where a piece may lie at a heading; asked for once.
  async rings(number, heading) {
    const key = `${number} ${heading}`;
    if (!this.places.has(key)) {
      this.places.set(key, ask(`/places/${name(this.told.id)}/${number}?heading=${heading}`).then((data) => data.rings));
    }
    return this.places.get(key);
  }

  down(event) {
    if (event.button || !event.isPrimary || !this.svg) return;
    if (this.drawing) {
      this.points.push(this.at(event).map((one) => Math.round(one * 10) / 10));
      this.pen();
      if (this.points.length >= this.drawing.most) this.finish();
      return;
    }
    const k = this.groups.indexOf(event.target.closest(".piece"));
    if (k < 0) return;
    const piece = this.told.pieces[k];
    this.hooks.select(piece.number);
    if (piece.held) return;
    this.box.setPointerCapture(event.pointerId);
    const at = [piece.x, piece.y];
    const held = { piece, group: this.groups[k], from: this.at(event), at, wanted: at, moved: false, rings: null };
    this.held = held;
    held.places = this.rings(piece.number, piece.heading_deg)
      .then((rings) => { held.rings = rings; }, (refused) => this.hooks.say(refused.message));
  }

  move(event) {
    if (!this.held || !event.isPrimary) return;
    const { from, piece, rings } = this.held, now = this.at(event);
    this.held.wanted = [piece.x + now[0] - from[0], piece.y + now[1] - from[1]];
    this.held.moved ||= Math.hypot(now[0] - from[0], now[1] - from[1]) > 2;
    Object.assign(this.held, felt(rings, this.held.wanted, SNAP_MM));
    this.frame ??= requestAnimationFrame(() => { this.frame = null; this.lay(); });
  }

  lay() {
    if (!this.held) return;
    const { group, at, piece, fits } = this.held, [x, y] = units(at);
    group.setAttribute("transform", `translate(${x} ${y}) rotate(${-piece.heading_deg})`);
    group.classList.toggle("wrong", !fits);
  }

  // Let go. A hand may be quicker than the answer that says where the piece may lie; it is laid once that is known.
  async up() {
    const held = this.held;
    this.held = null;
    if (!held?.moved) return;
    await held.places;
    this.hooks.moved(held.piece, felt(held.rings, held.wanted, SNAP_MM).at, held.piece.heading_deg);
  }

  drop() {
    if (this.held) this.hooks.reload();
    this.held = null;
  }
}
