// The sliders and boxes of the price: what a pair costs, takes and saves while they move, and a curve of it.
import { ask } from "./server.js";

const $ = (id) => document.getElementById(id);
// Boxes and prices go as far as this; the server says how far millimetres may.
const PERCENT = 30, WIDE = 300, HIGH = 130, EDGE = 34;
const RULES = {
  bias_leave: "Bias allowed", pairs_from_one_hide: "Pairs from one hide", flaws_under_trim: "Flaws under the trim-off",
};

function made(kind, words = {}, ...inner) {
  const one = document.createElement(kind);
  Object.assign(one, words);
  one.append(...inner);
  return one;
}

export class Prices {
  constructor(hooks) {
    this.hooks = hooks;
    this.now = null;
    $("price-back").addEventListener("click", () => { this.fill(); this.ask(); });
    $("movable").addEventListener("submit", (event) => event.preventDefault());
    $("place-with").addEventListener("click", () => this.hooks.step({
      do: "place_with", moved: this.moved(), seconds: Number($("with-seconds").value.replace(",", ".")),
    }));
  }

  // Opened: what may be moved is asked for, and made if it is not.
  open() { return this.hooks.guarded(() => this.made(true)); }

  async made(begin = false) {
    if ($("price").hidden && !begin) return;
    const found = await ask("/prices");
    const words = found.said || (found.parts ? "" : "Estimating what every millimetre changes ...");
    $("price-said").textContent = words;
    $("price-found").hidden = !found.parts;
    if (!found.parts || JSON.stringify(found) === JSON.stringify(this.now)) return;
    this.now = found;
    this.fill();
    this.show(found.costs);
    this.ask();
  }

  fill() {
    const { parts, stock, rejects, leathers, rules } = this.now;
    this.sliders = [];
    this.curveOf = [parts[0].style, parts[0].part];
    const form = $("movable");
    form.replaceChildren();
    for (const { style, now } of rejects) {
      const set = made("fieldset", {}, made("legend", { textContent: style }));
      for (const one of parts.filter((part) => part.style === style)) {
        const more = (mm) => `${(one.now + mm).toFixed(1)} mm`;
        set.append(this.slider(`${one.part} allowance`, one.low, one.high, 0.5, 0, more, ["more_mm", style, one.part]));
      }
      set.append(this.slider("rejects", 0, Math.max(20, 2 * now), 0.5, now, (at) => `${at} %`, ["rejects", style]));
      form.append(set);
    }
    const set = made("fieldset", {}, made("legend", { textContent: "Prices" }));
    for (const one of stock) {
      const told = (by) => `${(one.price * (1 + by / 100)).toFixed(2)} a ${one.unit.replace("2", "²")}`;
      set.append(this.slider(one.name, -PERCENT, PERCENT, 1, 0, told, ["prices", one.name]));
    }
    form.append(set, this.boxes(leathers, rules));
  }

  slider(words, low, high, step, at, told, of) {
    const input = made("input", { type: "range" }), output = made("output");
    Object.assign(input, { min: low, max: high, step });
    input.value = at;
    const tell = () => { output.textContent = told(input.valueAsNumber); input.setAttribute("aria-valuetext", output.textContent); };
    input.addEventListener("input", () => {
      tell();
      if (of[0] === "more_mm") this.curveOf = of.slice(1);
      this.ask();
    });
    tell();
    this.sliders.push({ input, at, of });
    return made("label", { className: "slider" }, made("span", { textContent: words }), input, output);
  }

  boxes(leathers, rules) {
    const set = made("fieldset", {}, made("legend", { textContent: "Rules and leather" }));
    this.chosen = { rules: {}, leathers: [] };
    for (const [key, words] of Object.entries(RULES)) {
      const input = made("input", { type: "checkbox", checked: rules[key] });
      input.addEventListener("change", () => this.ask());
      this.chosen.rules[key] = () => (input.checked === rules[key] ? null : input.checked);
      set.append(made("label", {}, input, words));
    }
    for (const [key, words] of [["tolerance_deg", "Tolerance °"], ["hide_gap_mm", "Gap mm"]]) {
      const input = made("input", { className: "few", inputMode: "decimal", value: rules[key] });
      const value = () => Number(input.value.replace(",", "."));
      input.addEventListener("change", () => this.ask());
      this.chosen.rules[key] = () => (value() === rules[key] || !Number.isFinite(value()) ? null : value());
      set.append(made("label", {}, words, input));
    }
    for (const [now, all] of leathers) {
      const select = made("select", {}, ...all.map((name) => new Option(name, name, name === now, name === now)));
      select.addEventListener("change", () => this.ask());
      this.chosen.leathers.push(() => (select.value === now ? null : [now, select.value]));
      set.append(made("label", {}, `In place of ${now}`, select));
    }
    return set;
  }

  // What was moved, as the server reads it.
  moved() {
    const found = { more_mm: [], prices: [], rejects: [], instead: this.chosen.leathers.map((one) => one()).filter(Boolean) };
    for (const { input, at, of } of this.sliders) {
      if (input.valueAsNumber !== at) found[of[0]].push([...of.slice(1), input.valueAsNumber]);
    }
    for (const [key, value] of Object.entries(this.chosen.rules)) if (value() !== null) found[key] = value();
    return found;
  }

  // One question at a time; a hand that moved on meanwhile asks again.
  ask() {
    this.stale = true;
    this.asking ??= (async () => {
      try {
        while (this.stale) {
          this.stale = false;
          this.show(await ask("/price", { moved: this.moved() }));
          $("price-said").textContent = "";
          if (this.stale) continue;  // the curve waits until the hand rests
          const { curve, currency } = await ask("/price", { moved: this.moved(), curve: this.curveOf });
          this.curve(curve, currency);
        }
      } catch (refused) {
        $("price-said").textContent = refused.message;
      } finally {
        this.asking = null;
      }
    })();
  }

  searching(on) { this.busy = on; this.enable(); }

  enable() {
    const { more_mm, prices, rejects, instead, ...rules } = this.now ? this.moved() : { more_mm: [], prices: [], rejects: [], instead: [] };
    const any = [more_mm, prices, rejects, instead].some((one) => one.length) || Object.keys(rules).length > 0;
    $("place-with").disabled = !any || this.busy;
    $("price-back").disabled = !any;
  }

  show(costs) {
    const money = (value) => value.toFixed(2), signed = (value) => `${value < 0 ? "−" : "+"}${Math.abs(value).toFixed(2)}`;
    $("price-unit").textContent = costs.currency;
    $("price-rows").replaceChildren(...costs.rows.map((row) => made(
      "tr", {}, made("th", { scope: "row", textContent: row.style || "the order" }),
      made("td", { textContent: money(row.pair) }),
      made("td", { textContent: row.half || row.saving ? `${signed(row.saving)} ±${money(row.half)}` : "" }),
      made("td", { textContent: row.takes_dm2.toFixed(2) }),
    )));
    const { a_year: year } = costs.rows[0];
    $("price-year").textContent = [
      `By estimate, ±${money(costs.half)} (95 %).`, year ? `A year saves ${signed(year)}.` : "", ...costs.notes,
    ].filter(Boolean).join(" ");
    this.enable();
  }

  // A good pair over the range of the part moved last, with its 95 % interval.
  curve(points, currency) {
    const figure = $("price-curve");
    const [style, part] = this.curveOf, { now } = this.now.parts.find((one) => one.style === style && one.part === part);
    const low = Math.min(...points.map(([, pair, half]) => pair - half)), high = Math.max(...points.map(([, pair, half]) => pair + half));
    const first = points[0][0], last = points.at(-1)[0];
    const x = (mm) => EDGE + ((mm - first) / (last - first)) * (WIDE - EDGE - 8);
    const y = (pair) => HIGH - 20 - ((pair - low) / (high - low || 1)) * (HIGH - 30);
    const at = this.sliders.find(({ of }) => of[1] === style && of[2] === part).input.valueAsNumber;
    const line = points.map(([mm, pair]) => `${x(mm)},${y(pair)}`).join(" ");
    const band = [...points.map(([mm, pair, half]) => `${x(mm)},${y(pair + half)}`),
      ...[...points].reverse().map(([mm, pair, half]) => `${x(mm)},${y(pair - half)}`)].join(" ");
    const words = `A good pair of the order, ${currency}, by ${part} allowance of ${style}`;
    const text = (tx, ty, anchor, said) => `<text x="${tx}" y="${ty}" text-anchor="${anchor}">${said}</text>`;
    const svg = new DOMParser().parseFromString(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${WIDE} ${HIGH}" role="img">
      <polygon class="band" points="${band}"/><polyline class="line" points="${line}"/>
      <line class="at" x1="${x(at)}" x2="${x(at)}" y1="8" y2="${HIGH - 20}"/>
      ${text(EDGE - 4, 14, "end", high.toFixed(2))}${text(EDGE - 4, HIGH - 20, "end", low.toFixed(2))}
      ${text(EDGE, HIGH - 5, "start", `${(now + first).toFixed(1)} mm`)}${text(WIDE - 8, HIGH - 5, "end", `${(now + last).toFixed(1)} mm`)}</svg>`,
    "image/svg+xml").documentElement;
    svg.setAttribute("aria-label", words);
    figure.replaceChildren(document.importNode(svg, true), made("figcaption", { textContent: words }));
  }
}
