// Versions of the plan: two side by side in figures and as pictures of the hide that is shown; any gone back to.
import { ask, name } from "./server.js";

const $ = (id) => document.getElementById(id);

function made(kind, words = {}, ...inner) {
  const one = document.createElement(kind);
  Object.assign(one, words);
  one.append(...inner);
  return one;
}

let drawn = 0;

// A picture beside others: what is named in it gets names of its own.
function picture(svg, words) {
  const parsed = document.importNode(new DOMParser().parseFromString(svg, "image/svg+xml").documentElement, true);
  const own = `-beside-${++drawn}`;
  for (const one of parsed.querySelectorAll("[id]")) one.id += own;
  for (const one of parsed.querySelectorAll("use")) one.setAttribute("href", one.getAttribute("href") + own);
  for (const one of parsed.querySelectorAll("[tabindex]")) one.removeAttribute("tabindex");
  return made("figure", { className: "canvas" }, parsed, made("figcaption", { textContent: words }));
}

// The figures of two plans as the rows of a table.
function rows({ standings: [one, other] }) {
  const pairs = (of) => `${of.pairs} of ${of.to_cut}`;
  return [
    ["yield %", one.yield, other.yield], [`cost, ${one.currency}`, one.cost, other.cost],
    ["pairs", pairs(one), pairs(other)], ["hides", one.hides, other.hides],
  ].map(([said, a, b]) => made("tr", {}, made("th", { scope: "row", textContent: said }),
    made("td", { textContent: a }), made("td", { textContent: b })));
}

export class Versions {
  constructor(hooks) {
    this.hooks = hooks;
    const { step, guarded } = hooks;
    $("name_it").addEventListener("click", () => {
      const words = $("version").value.trim();
      if (words) { step({ do: "name", name: words }); $("version").value = ""; }
    });
    $("go").addEventListener("click", () => step({ do: "go_to", number: Number($("one").value) }));
    for (const id of ["one", "other"]) $(id).addEventListener("change", () => guarded(() => this.compare()));
  }

  open() { return this.hooks.guarded(() => this.load()); }

  async load() {
    if ($("versions").hidden) return;
    const { at, states } = await ask("/versions");
    const words = ({ number, name: named, did }) => `${number}: ${named || did}${number === at ? " (now)" : ""}`;
    for (const [id, first] of [["one", Math.max(0, at - 1)], ["other", at]]) {
      const was = this.at === at ? Number($(id).value) : first;
      $(id).replaceChildren(...states.map((state) => new Option(words(state), state.number)));
      $(id).value = states.some(({ number }) => number === was) ? was : at;
    }
    this.at = at;
    await this.compare();
  }

  async compare() {
    const one = Number($("one").value), other = Number($("other").value);
    const found = await ask(`/compared/${one}/${other}`);
    $("compared").replaceChildren(...rows(found));
    $("changed").textContent = found.changed.length ? `Hides that lie otherwise: ${found.changed.join(", ")}.` : "Every hide lies the same.";
    await this.pictures([one, `version ${one}`], [other, `version ${other}`]);
  }

  async pictures(...of) {
    const { id } = this.hooks.told(), words = of.map(([, said]) => `Hide ${id}, ${said}`);
    const svgs = await Promise.all(of.map(([number]) => ask(`/picture/${number}/${name(id)}`)));
    if (this.hooks.told().id !== id || svgs.some((one) => !one.picture)) return;
    $("beside").replaceChildren(...svgs.map((one, k) => picture(one.picture, words[k])));
    $("beside").hidden = false;
  }

  // While a search runs: the best so far, beside the plan as it is.
  async better(found) {
    $("found").replaceChildren(...rows(found));
    $("found-box").hidden = false;
    await this.pictures(["found", "found so far"]).catch(() => {});
  }

  // The search has ended as a step: before and after stay side by side until the next step.
  async ended(at) {
    $("found").replaceChildren(...rows(await ask(`/compared/${at - 1}/${at}`)));
    $("found-box").hidden = false;
    await this.pictures([at - 1, "before"]);
  }

  clear() {
    $("found-box").hidden = true;
    if ($("versions").hidden) { $("beside").hidden = true; $("beside").replaceChildren(); }
  }
}
