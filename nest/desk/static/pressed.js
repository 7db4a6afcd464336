// After the press: what became of each piece that is cut, and the trim left where it was measured.
import { take } from "./server.js";

const $ = (id) => document.getElementById(id);
const OUTCOMES = ["", "good", "pleats", "marks", "bonding", "crack", "short", "other"];
const PARTS = ["toe", "side", "back"];

export class Press {
  constructor(hooks) {
    this.hooks = hooks;
    const now = new Date(), two = (figure) => String(figure).padStart(2, "0");
    $("pressed-on").value = `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
    $("others-good").addEventListener("click", () => this.othersGood());
    $("outcomes-file").addEventListener("click", () => hooks.guarded(() => this.file()));
  }

  // The pieces of the hide that is shown and cut; what has the focus, and what is typed there, stays.
  fill(told) {
    const at = document.activeElement, typed = $("pressed").contains(at) ? { id: at.id, value: at.value } : null;
    const cut = told.pieces.filter((one) => one.cut);
    $("others-good").disabled = !cut.some((one) => !one.pressed?.outcome && !one.spoiled);
    $("pressed").replaceChildren(...cut.map((one) => this.row(told.id, one)));
    const again = typed && $(typed.id);
    if (again) {
      again.value = typed.value;
      again.focus();
    }
  }

  row(hide, one) {
    const known = one.pressed || {}, words = `no. ${one.number}, ${one.style} ${one.size} ${one.foot}`;
    const row = document.createElement("li"), said = document.createElement("span"), outcome = document.createElement("select");
    said.textContent = words;
    outcome.id = `outcome-${one.number}`;
    outcome.append(...OUTCOMES.map((word) => new Option(word || "not known", word)));
    outcome.value = known.outcome ?? "";
    outcome.setAttribute("aria-label", `Outcome of ${words}`);
    const trims = PARTS.map((part) => {
      const input = document.createElement("input");
      Object.assign(input, { id: `trim-${part}-${one.number}`, className: "few", inputMode: "decimal", placeholder: part, value: known[`${part}_mm`] ?? "" });
      input.setAttribute("aria-label", `Trim left at the ${part} of ${words}, mm`);
      return input;
    });
    const commit = () => {
      const mm = trims.map((input) => (input.value.trim() ? Number(input.value.trim().replace(",", ".")) : null));
      if (mm.some(Number.isNaN)) { this.hooks.say(`Trim of ${words}: write a number in mm, such as 9.5.`); return; }
      const same = outcome.value === (known.outcome ?? "") && PARTS.every((part, at) => mm[at] === (known[`${part}_mm`] ?? null));
      if (same || this.sent === JSON.stringify([hide, one.number, outcome.value, mm])) return;
      this.sent = JSON.stringify([hide, one.number, outcome.value, mm]);
      this.send(hide, [one.number], outcome.value, Object.fromEntries(PARTS.map((part, at) => [`${part}_mm`, mm[at]])))
        .finally(() => { this.sent = null; });
    };
    for (const field of [outcome, ...trims]) for (const event of ["change", "blur"]) field.addEventListener(event, commit);
    row.append(said, outcome, ...trims);
    return row;
  }

  async send(hide, numbers, outcome, trims = {}) {
    this.sending = this.hooks.step({ do: "pressed", hide, numbers, outcome, day: $("pressed-on").value, ...trims });
    return this.sending;
  }

  // Pieces with trim measured keep it: each has a step of its own.
  async othersGood() {
    await this.sending;  // what was typed last is known only then
    const { id, pieces } = this.hooks.told();
    const left = pieces.filter((one) => one.cut && !one.spoiled && !one.pressed?.outcome);
    const plain = left.filter((one) => !one.pressed).map((one) => one.number);
    if (plain.length) await this.send(id, plain, "good");
    for (const one of left.filter((one) => one.pressed)) {
      await this.send(id, [one.number], "good", Object.fromEntries(PARTS.map((part) => [`${part}_mm`, one.pressed[`${part}_mm`]])));
    }
  }

  async file() {
    const link = document.createElement("a");
    link.href = URL.createObjectURL(await take("/outcomes"));
    link.download = "outcomes.csv";
    link.click();
    URL.revokeObjectURL(link.href);
    this.hooks.say("The outcomes are in outcomes.csv: for used, replan, trial, teach and drift.");
  }
}
