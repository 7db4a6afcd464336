// The desk: the list of hides, the picture, what is chosen, and the steps that a hand takes.
import { Day } from "./day.js";
import { Drawing } from "./drawing.js";
import { felt } from "./geometry.js";
import { Prices } from "./price.js";
import { renewed } from "./lists.js";
import { ask, hear, name } from "./server.js";
import { Versions } from "./versions.js";

const $ = (id) => document.getElementById(id);
const TURN_SNAP_MM = 40, KEY_PAUSE_MS = 400;
let plan = null, told = null, chosen = null, exchanging = null, nudged = null;

const say = (text) => { $("said").textContent = text; };
const value = (id) => $(id).value.trim();
const number = (id) => Number(value(id).replace(",", "."));
const piece = () => told?.pieces.find((one) => one.number === chosen);

const drawing = new Drawing($("picture"), {
  select: (at) => select(at), say, reload: () => show(told.id), pens: (on) => { $("pens").hidden = !on; },
  moved: (one, at, heading) => step({ do: "move", hide: told.id, number: one.number, x: at[0], y: at[1], heading_deg: heading }),
});

async function guarded(work) {
  try {
    return await work();
  } catch (refused) {
    say(refused.message);
    await load();
  }
}

// Steps are sent one after the other: each is made for the revision that the one before it left.
let last = Promise.resolve();
const step = (command) => {
  last = last.then(() => guarded(async () => {
    say("");
    versions.clear();
    const answer = await ask("/step", { revision: plan.revision, step: command });
    if (answer.searching) { searching(true); return; }
    plan.revision = answer.revision;
    if (told.revision !== plan.revision) await show(told.id);
    await load();
  }));
  return last;
};

// Load the plan. One loading at a time, for an older answer must not overtake a newer one; who asks meanwhile gets another.
let loading = null, stale = false;
function load() {
  stale = true;
  loading ??= (async () => {
    try {
      while (stale) {
        stale = false;
        await loaded();
      }
    } finally {
      loading = null;
    }
  })();
  return loading;
}

async function loaded() {
  const heard = await ask("/plan");
  if (plan && heard.revision < plan.revision) { stale = true; return; }  // a step was done while this was on its way
  plan = heard;
  $("name").textContent = plan.name;
  $("verdict").textContent = !plan.judged ? "Being judged ..." : !plan.ok ? "Not verified: do not cut" : plan.met ? "Verified, the order is met" : "Verified, the order is short";
  $("verdict").className = !plan.judged ? "quiet" : plan.ok ? "good" : "bad";
  $("undo").disabled = !plan.undo;
  $("redo").disabled = !plan.redo;
  fill($("vamps"), plan.vamps);
  const lacks = [...plan.short, ...plan.elsewhere];
  $("short").replaceChildren(...(lacks.length ? lacks : [plan.judged ? "Every pair of the order has its place." : "Being judged ..."]).map((text) => item(text)));
  await look();
  const known = plan.hides.some((hide) => hide.id === told?.id);
  const first = plan.hides.find((hide) => hide.pieces) || plan.hides[0];
  if (!known && first) await show(first.id);
  else if (known && told.revision !== plan.revision) await show(told.id);
  await day.load();
  await versions.load().catch((refused) => say(refused.message));
}

// The list of hides in the order that is wished, those alone that hold what is looked for.
let finding = null;
const ways = {
  "": () => 0, yield: (a, b) => b.yield - a.yield, lot: (a, b) => a.lot.localeCompare(b.lot),
  cut: (a, b) => (b.uncut > 0) - (a.uncut > 0) || b.uncut - a.uncut,
};
async function look() {
  const words = value("find");
  finding = words ? (await ask(`/find?words=${name(words)}`)).found : null;
  const shown = plan.hides.filter((hide) => !finding || finding[hide.id] || hide.id.toLowerCase() === words.toLowerCase());
  renewed($("hides"), shown.sort(ways[value("sort")]).map(hideRow));
  drawing.mark(finding?.[told?.id] || []);
}
$("find").addEventListener("input", () => guarded(look));
$("sort").addEventListener("change", () => guarded(look));

function fill(select, texts) {
  const was = select.value;
  select.replaceChildren(...texts.map((text) => new Option(text, text)));
  select.value = texts.includes(was) ? was : texts[0] ?? "";
}

function item(text) {
  const made = document.createElement("li");
  made.textContent = text;
  return made;
}

function hideRow(hide) {
  const row = document.createElement("li"), button = document.createElement("button");
  button.type = "button";
  button.dataset.hide = button.dataset.key = hide.id;
  button.setAttribute("aria-pressed", String(hide.id === told?.id));
  const left = hide.uncut < hide.pieces && hide.uncut ? `${hide.uncut} of ${hide.pieces} to cut` : `${hide.pieces} pieces`;
  const figures = hide.pieces ? `${left}, ${hide.yield.toFixed(1)} %` : "whole";
  const here = finding?.[hide.id]?.length, lot = value("sort") === "lot" ? `lot ${hide.lot}` : "";
  const state = [here ? `${here} found` : "", lot, hide.state === "open" ? "" : hide.state, hide.wrong ? `${hide.wrong} wrong` : ""].filter(Boolean).join(", ");
  for (const [text, kind] of [[hide.id, "id"], [figures, ""], [state, hide.wrong ? "bad" : "quiet"]]) {
    const span = document.createElement("span");
    span.textContent = text;
    span.className = kind;
    button.append(span);
  }
  button.addEventListener("click", () => guarded(() => show(hide.id)));
  row.append(button);
  return row;
}

let shows = 0;
async function show(id) {
  const mine = ++shows, anew = told?.id !== id, heard = await ask(`/hide/${name(id)}`);
  if (mine !== shows) return;  // another hide, or this one anew, was asked for since
  told = heard;
  if (!piece()) chosen = null;
  drawing.show(told, chosen);
  day.fill(told);
  const hide = plan.hides.find((one) => one.id === id);
  $("hide").textContent = `Hide ${id}: ${hide.leather}, lot ${hide.lot}, class ${hide.class}, ${hide.area_dm2} dm²`;
  $("hold-hide").textContent = told.state === "held" ? "Free the hide" : "Hold the hide";
  $("ban").textContent = told.state === "banned" ? "Allow the hide" : "Ban the hide";
  fill($("zone"), told.zones.map((zone) => zone.id));
  if (anew) zoneTold();
  fill($("flaw"), told.flaws.map((flaw) => flaw.id));
  $("findings").replaceChildren(...(told.findings.length ? told.findings.map((one) => item(one.said)) : [item("Nothing is wrong on this hide.")]));
  for (const button of $("hides").querySelectorAll("button")) button.setAttribute("aria-pressed", String(button.dataset.hide === id));
  drawing.mark(finding?.[id] || []);
  select(chosen);
}

function select(at) {
  if (exchanging !== null && at !== null && at !== exchanging.number) {
    const { hide, number: other } = exchanging;
    exchanging = null;
    step({ do: "exchange", hide, number: other, other_hide: told.id, other_number: at });
    return;
  }
  chosen = at;
  drawing.select(at);
  const one = piece();
  $("piece").textContent = one
    ? `No. ${one.number}: ${one.style}, size ${one.size}, ${one.foot}${one.pair ? `, pair ${one.pair}` : ", alone"}, toe at ${one.heading_deg.toFixed(1)}°`
    : "No piece is chosen.";
  $("hold").textContent = one?.held ? "Free" : "Hold";
  for (const id of ["hold", "out", "exchange", "half", "left", "right"]) $(id).disabled = !one || one.cut || (one.held && id !== "hold");
}

// Turn the chosen piece: to the next whole degree that the ground allows, or by a half turn.
const turn = (way) => guarded(async () => {
  const one = piece();
  if (!one || one.held) return;
  let heading = (one.heading_deg + 180) % 360;
  if (way) {
    const { headings } = await ask(`/headings/${name(told.id)}/${one.number}`);
    const ahead = headings.map((to) => [((way * (to - one.heading_deg)) % 360 + 360) % 360, to]).filter(([by]) => by > 0.01);
    if (!ahead.length) { say("No other heading is allowed here."); return; }
    heading = ahead.sort((a, b) => a[0] - b[0])[0][1];
  }
  const { at } = felt(await drawing.rings(one.number, heading), [one.x, one.y], TURN_SNAP_MM);
  await step({ do: "move", hide: told.id, number: one.number, x: at[0], y: at[1], heading_deg: heading });
});

// Move the chosen piece by arrow keys: it is laid when the keys rest.
function nudge(dx, dy) {
  const one = piece();
  if (!one || one.held) return;
  nudged ??= { one, at: [one.x, one.y] };
  nudged.at = [nudged.at[0] + dx, nudged.at[1] + dy];
  clearTimeout(nudged.timer);
  nudged.timer = setTimeout(() => guarded(async () => {
    const { one, at } = nudged;
    nudged = null;
    const found = felt(await drawing.rings(one.number, one.heading_deg), at, TURN_SNAP_MM);
    await step({ do: "move", hide: told.id, number: one.number, x: found.at[0], y: found.at[1], heading_deg: one.heading_deg });
  }), KEY_PAUSE_MS);
}

const wholes = (points) => ({ hide: told.id, points });
const draws = {
  point: () => drawing.draw(1, (points) => flaw(points, false)),
  stroke: () => drawing.draw(1000, (points) => flaw(points, false)),
  loop: () => drawing.draw(1000, (points) => flaw(points, true)),
  zone: () => drawing.draw(1000, (points) => step({ do: "mark_zone", ...wholes(points), ...ground() })),
  split: () => drawing.draw(1000, (points) => step({ do: "split_zone", ...wholes(points), zone: value("zone"), ...ground() })),
  trim: () => drawing.draw(1000, (points) => step({ do: "trim_edge", ...wholes(points) })),
  put: () => drawing.draw(1, ([at]) => step({
    do: "put_in", hide: told.id, piece: value("vamps"), x: at[0], y: at[1], heading_deg: number("heading"),
  })),
};
const ground = () => ({ quality: number("class"), stretch_deg: $("unknown").checked ? null : number("stretch") });
// Class and stretch of the zone that is chosen, to be changed.
function zoneTold() {
  const zone = told.zones.find(({ id }) => id === value("zone"));
  if (!zone) return;
  $("class").value = zone.class;
  $("unknown").checked = zone.stretch_deg === null;
  if (zone.stretch_deg !== null) $("stretch").value = Math.round(zone.stretch_deg * 10) / 10;
}
$("zone").addEventListener("change", zoneTold);
const flaw = (points, loop) => step({
  do: "mark_flaw", ...wholes(points), loop, kind: value("kind"), severity: number("severity"), width_mm: number("width"),
  tears: $("tears").checked, coverable: $("coverable").checked,
});

function searching(on) {
  $("again").disabled = $("again-all").disabled = on;
  $("stop").disabled = !on;
  prices.searching(on);
}
const again = (hides) => step({ do: "place_again", hides, seconds: number("seconds") });

const prices = new Prices({ guarded, step });
const day = new Day({ guarded, step, say, told: () => told });
const versions = new Versions({ guarded, step, told: () => told });
const tabs = [...document.querySelectorAll("[role=tab]")];
const opens = { price: () => prices.open(), day: () => day.open(), versions: () => versions.open() };
function openTab(chosen) {
  for (const tab of tabs) {
    tab.setAttribute("aria-selected", String(tab === chosen));
    tab.tabIndex = tab === chosen ? 0 : -1;
    $(tab.getAttribute("aria-controls")).hidden = tab !== chosen;
  }
  versions.clear();
  opens[chosen.getAttribute("aria-controls")]?.();
}
for (const [at, tab] of tabs.entries()) {
  tab.addEventListener("click", () => openTab(tab));
  tab.addEventListener("keydown", (event) => {
    const by = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    if (!by) return;
    event.stopPropagation();
    const next = tabs[(at + by + tabs.length) % tabs.length];
    next.focus();
    openTab(next);
  });
}

const presses = {
  undo: () => step({ do: "undo" }), redo: () => step({ do: "redo" }),
  hold: () => step({ do: piece().held ? "free" : "hold", hide: told.id, numbers: [chosen] }),
  "hold-hide": () => step({ do: $("hold-hide").textContent.startsWith("Free") ? "free" : "hold", hide: told.id }),
  ban: () => step({ do: $("ban").textContent.startsWith("Allow") ? "allow_hide" : "ban_hide", hide: told.id }),
  out: () => step({ do: "take_out", hide: told.id, number: chosen }),
  exchange: () => { exchanging = { hide: told.id, number: chosen }; say("Choose the other piece of this style."); },
  half: () => turn(0), left: () => turn(1), right: () => turn(-1),
  "unknown-hide": () => step({ do: "stretch_unknown", hide: told.id }),
  "pen-done": () => drawing.key("Enter"), "pen-back": () => drawing.key("Backspace"), "pen-off": () => drawing.key("Escape"),
  "set-zone": () => step({ do: "set_zone", hide: told.id, zone: value("zone"), ...ground() }),
  "drop-flaw": () => step({ do: "drop_flaw", hide: told.id, flaw: value("flaw") }),
  again: () => again([told.id]), "again-all": () => again([]), stop: () => guarded(() => ask("/stop", {})),
  files: () => guarded(async () => {
    say("Writing drawings, sheets and page ...");
    const { folder, words, more } = await ask("/files", {});
    say(`Written to ${folder}. Verdict: ${words}.${more || ""}`);
  }),
};
for (const [id, press] of Object.entries(presses)) $(id).addEventListener("click", press);
for (const button of document.querySelectorAll("[data-draw]")) {
  button.addEventListener("click", () => {
    draws[button.dataset.draw]();
    $("picture").scrollIntoView({ block: "nearest" });
    say("Set the points in the picture. Enter ends, Backspace takes the last back, Escape gives up.");
  });
}

const arrows = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
document.addEventListener("keydown", (event) => {
  if (drawing.key(event.key)) { event.preventDefault(); return; }
  if (event.target.closest("input, select")) return;
  const by = arrows[event.key];
  if (by && chosen !== null) { const far = event.shiftKey ? 10 : 1; nudge(far * by[0], far * by[1]); event.preventDefault(); }
  else if (event.ctrlKey && event.key === "z") { presses.undo(); event.preventDefault(); }
  else if (event.ctrlKey && event.key === "y") { presses.redo(); event.preventDefault(); }
  else if (event.ctrlKey || event.altKey || event.metaKey) return;
  else if (event.key === "Delete" && piece() && !piece().held) presses.out();
  else if (event.key === "h" && piece()) presses.hold();
  else if (event.key === "l") turn(1);
  else if (event.key === "r") turn(-1);
});

hear({
  judged: () => guarded(load),
  changed: ({ revision }) => { if (plan && revision !== plan.revision) guarded(load); },
  better: (found) => guarded(() => versions.better(found)),
  priced: () => guarded(() => prices.made()),
  search: (data) => {
    searching(!data.ended);
    if (!data.ended) { say(`Searching ${data.hide}: ${data.yield} % after ${data.seconds} s`); return; }
    const gained = `${data.gained_dm2 >= 0 ? "+" : "−"}${Math.abs(data.gained_dm2)} dm² of pieces`;
    say(data.said || (data.anew ? "The order is placed anew with these." : `Placed again: ${gained}.`));
    if (data.said) versions.clear();
    else guarded(async () => { await load(); await versions.ended(data.at); });
  },
});
guarded(load).then(() => { document.body.dataset.ready = "yes"; });
