// The day at the table: pieces and hides ticked off, files of one hide, the way of the tool, used against planned.
import { renewed } from "./lists.js";
import { Press } from "./pressed.js";
import { ask, name, take } from "./server.js";

const $ = (id) => document.getElementById(id);
const PLAYED_MS = 15000, STEP_MS = 80;

function made(kind, words = {}, ...inner) {
  const one = document.createElement(kind);
  Object.assign(one, words);
  one.append(...inner);
  return one;
}

export class Day {
  constructor(hooks) {
    this.hooks = hooks;
    this.way = null;
    this.press = new Press(hooks);
    const { step, told, guarded } = hooks;
    $("hide-cut").addEventListener("click", () => {
      const area = $("measured").value.trim().replace(",", ".");
      step(this.done() ? { do: "not_cut", hide: told().id } : {
        do: "cut", hide: told().id, measured_mm2: area ? Number(area) * 1e4 : null,
      });
    });
    $("hide-files").addEventListener("click", () => guarded(() => this.files()));
    $("show-way").addEventListener("click", () => guarded(() => this.show()));
    $("play-way").addEventListener("click", () => this.play());
    $("way-step").addEventListener("input", () => { this.stop(); this.lay(); });
  }

  open() { return this.hooks.guarded(() => this.load()); }

  done() { return this.hooks.told()?.state === "cut"; }

  // What stands in the panel is of the hide and the plan as they are.
  async load() {
    if ($("day").hidden) return;
    const { currency, used, again, part, lays } = await ask("/day")
      .catch((refused) => ({ used: [], again: [refused.message], part: [], lays: [] }));
    this.rolls(lays);
    const words = [...part.map((one) => `Cut in part: ${one}`), ...again.map((one) => `To cut again: ${one}`)];
    $("day-words").replaceChildren(...(words.length ? words : ["Nothing is spoiled."]).map((one) => made("li", { textContent: one })));
    const total = used.find((row) => row[0] === "all" && row[1] === "all") || [];
    const told = (at) => (typeof total[at] === "number" ? String(Math.round(total[at] * 10) / 10) : total[at] ?? "");
    const rows = [
      ["hides", 2, 3], ["leather dm²", 4, 5], ...(lays.length ? [["reinforcement m", 6, 7]] : []),
      ["good vamps", null, 8], ["spoiled", null, 9], ["pairs", 10, 11],
      [`over plan, ${currency}, cutting time left out`, null, 12],
    ];
    $("used").replaceChildren(...rows.map(([said, planned, done]) => made(
      "tr", {}, made("th", { scope: "row", textContent: said }),
      made("td", { textContent: planned === null ? "" : told(planned) }), made("td", { textContent: told(done) }),
    )));
  }

  // The pieces of the hide that is shown, each with its two ticks.
  fill(told) {
    this.clear();
    const done = this.done();
    $("hide-cut").textContent = done ? "The hide is not cut" : "The hide is cut";
    $("hide-cut").disabled = !told.pieces.length;
    $("hide-files").disabled = $("show-way").disabled = !told.pieces.length || done;
    $("measured").value = "";
    this.press.fill(told);
    renewed($("ticks"), told.pieces.map((one) => {
      const words = `no. ${one.number}, ${one.style} ${one.size} ${one.foot}`, of = { hide: told.id, numbers: [one.number] };
      const buttons = [
        this.tick("cut", words, one.spoiled, { do: one.cut ? "not_cut" : "cut", ...of }, one.cut),
        this.tick("spoiled", words, !one.cut, { do: one.spoiled ? "sound" : "spoiled", ...of }, one.spoiled),
      ];
      const row = made("li", {}, made("span", { textContent: words }), ...buttons);
      row.dataset.hide = told.id;  // what its buttons do is of this hide
      return row;
    }));
  }

  // A button that does a step on what the words name; `pressed` where it is a tick.
  tick(does, words, disabled, command, pressed) {
    const button = made("button", { type: "button", textContent: does, disabled });
    if (pressed !== undefined) button.setAttribute("aria-pressed", String(pressed));
    button.dataset.key = `${does}: ${words.split(",", 2).join()}`;
    button.setAttribute("aria-label", `${{ "−": "one ply less", "+": "one ply more" }[does] || does}: ${words}`);
    button.addEventListener("click", () => this.hooks.step(command));
    return button;
  }

  // Lays of reinforcements, each with its ticks: whole, and ply by ply where there are several.
  rolls(lays) {
    $("of-rolls").hidden = !lays.length;
    renewed($("lays"), lays.map(({ id, roll, plies, pieces, cut, before }) => {
      const words = `lay ${id}, roll ${roll}, ${pieces} pieces${plies > 1 ? `, ${cut} of ${plies} plies cut` : ""}`;
      const to = (count) => ({ do: "cut_lay", lay: id, plies: count });
      const buttons = plies > 1 ? [
        this.tick("−", words, before || !cut, to(cut - 1)), this.tick("+", words, before || cut === plies, to(cut + 1)),
      ] : [];
      buttons.push(this.tick("cut", words, before, to(cut === plies ? 0 : plies), cut === plies));
      return made("li", {}, made("span", { textContent: words }), ...buttons);
    }));
  }

  async files() {
    const id = this.hooks.told().id, [file] = $("table-file").files;
    this.hooks.say(`Writing the files of hide ${id} ...`);
    const link = made("a", { href: URL.createObjectURL(await take(`/hide-files/${name(id)}`, { table: file ? await file.text() : "" })), download: `hide-${id}.zip` });
    link.click();
    URL.revokeObjectURL(link.href);
    this.hooks.say(`The files of hide ${id} are in hide-${id}.zip. Its sheet says what to check first.`);
  }

  async show() {
    this.clear();
    this.way = await ask(`/way/${name(this.hooks.told().id)}`);
    const { steps, seconds } = this.way;
    $("way-step").max = steps.length;
    $("way-step").value = steps.length;
    $("way").hidden = false;
    this.hooks.say(`${steps.length} marks and cuts, ${Math.floor(seconds / 60)} min ${seconds % 60} s on the table.`);
    this.lay();
  }

  clear() {
    this.stop();
    this.way = null;
    $("way").hidden = true;
    document.querySelector("#picture .way")?.remove();
  }

  stop() {
    clearInterval(this.timer);
    this.timer = null;
    $("play-way").textContent = "Play";
  }

  // Draw the way up to the step that the slider stands at: marks and cuts as lines, what the tool travels as dashes.
  lay() {
    const svg = document.querySelector("#picture svg");
    document.querySelector("#picture .way")?.remove();
    if (!this.way || !svg) return;
    const group = document.createElementNS("http://www.w3.org/2000/svg", "g"), upto = $("way-step").valueAsNumber;
    group.setAttribute("class", "way");
    const line = (kind, points) => {
      const made = document.createElementNS("http://www.w3.org/2000/svg", "polyline");
      made.setAttribute("class", kind);
      made.setAttribute("points", points.map(([x, y]) => `${x * 10},${-y * 10}`).join(" "));
      group.append(made);
    };
    let from = this.way.home;
    for (const { kind, points } of this.way.steps.slice(0, upto)) {
      line("travel", [from, points[0]]);
      line(kind, points);
      from = points.at(-1);
    }
    const last = this.way.steps[upto - 1];
    $("way-words").textContent = last ? `Step ${upto} of ${this.way.steps.length}: ${last.kind} of no. ${last.number}` : "At home";
    $("way-step").setAttribute("aria-valuetext", $("way-words").textContent);
    svg.append(group);
  }

  play() {
    if (this.timer) { this.stop(); return; }
    const slider = $("way-step"), many = this.way.steps.length;
    if (slider.valueAsNumber >= many) slider.value = 0;
    const by = Math.max(1, Math.round((many * STEP_MS) / PLAYED_MS));
    $("play-way").textContent = "Pause";
    this.timer = setInterval(() => {
      slider.value = slider.valueAsNumber + by;
      this.lay();
      if (slider.valueAsNumber >= many) this.stop();
    }, STEP_MS);
  }
}
