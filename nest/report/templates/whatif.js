// The cost anew with other prices and quantities: every size keeps what it takes of each material in this plan.
function recost(cost, prices, pairs) {
  const rows = cost.sizes.map((size, i) => {
    const perPair = size.uses.reduce((sum, [box, amount]) => sum + prices[box] * cost.boxes[box].times * amount, 0) / size.good;
    return { perPair, amount: perPair * pairs[i] };
  });
  const quantities = cost.boxes.map((one, box) => cost.sizes.reduce((sum, size, i) => {
    const use = size.uses.find(([b]) => b === box);
    return sum + (use ? one.sign * use[1] * pairs[i] / size.good : 0);
  }, 0));
  const count = pairs.reduce((sum, one) => sum + one, 0);
  const total = rows.reduce((sum, row) => sum + row.amount, 0);
  return { rows, quantities, count, total, average: count ? total / count : NaN };
}

// What somebody means who types "12.5", "12,5" or "1.234,50"; NaN where that is not certain, as in "12,500".
function numberIn(text, whole) {
  const typed = text.trim().replace("\u2212", "-");
  if (/^-?\d+([.,]\d*)?$|^-?[.,]\d+$/.test(typed)) {
    return inTwoWays(typed, whole) ? NaN : Number(typed.replace(",", "."));
  }
  const [point, comma] = [typed.lastIndexOf("."), typed.lastIndexOf(",")];
  const thousands = point < comma ? /^-?\d{1,3}(\.\d{3})+,\d*$/ : /^-?\d{1,3}(,\d{3})+\.\d*$/;
  if (!thousands.test(typed)) return NaN;
  return Number(typed.replaceAll(point < comma ? "." : ",", "").replace(",", "."));
}

// A thousand, or a number with three decimals? Of pairs either may be meant with a point too.
const inTwoWays = (typed, whole) => (whole ? /^-?[1-9]\d{0,2}[.,]\d{3}$/ : /^-?[1-9]\d{0,2},\d{3}$/).test(typed);

function wrongBoxes(form) {
  const [wrong] = form.querySelectorAll('[aria-invalid="true"]');
  if (!wrong) return "";
  const typed = wrong.value.trim();
  if (inTwoWays(typed, "whole" in wrong.dataset)) {
    const [one, other] = typed.split(/[.,]/);
    return `${wrong.ariaLabel}: ${typed} can be read in two ways; write ${one}${other} or ${one}.${other}0.`;
  }
  return `${wrong.ariaLabel}: write a number of 0 or more, such as 12.5 or 12,5.`;
}

function startWhatIf() {
  const form = document.querySelector(".what-if");
  if (!form) return;
  const cost = data.cost;
  const money = (value) => Number.isFinite(value) ? value.toLocaleString("en", {
    minimumFractionDigits: cost.digits, maximumFractionDigits: cost.digits, useGrouping: false }) : "–";
  const one = (name, index) => form.querySelector(`[data-${name}="${index}"]`);
  const all = form.querySelector("[data-all]");
  const planned = recost(cost, cost.boxes.map((box) => Number(box.price)), cost.sizes.map((size) => size.good));
  const read = (input) => {
    const value = numberIn(input.value, "whole" in input.dataset);
    const usable = value >= 0;
    input.setAttribute("aria-invalid", String(!usable));
    return usable ? value : NaN;
  };
  const inputs = (name) => [...form.querySelectorAll(`[data-${name}]`)].filter((node) => node.tagName === "INPUT");

  function show() {
    const found = recost(cost, inputs("price").map(read), inputs("pairs").map(read));
    const untouched = [...inputs("price"), ...inputs("pairs")].every((input) => input.value === input.defaultValue);
    const tell = (name, pair, amount, shown) => {
      one("pair", name).textContent = untouched ? shown[0] : money(pair);
      one("amount", name).textContent = untouched ? shown[1] : money(amount);
    };
    found.rows.forEach((row, i) => tell(i, row.perPair, row.amount, cost.sizes[i].shown));
    found.quantities.forEach((quantity, box) => {
      one("then", box).textContent = Number.isFinite(quantity) ? quantity.toFixed(3) : "–";
    });
    tell("all", found.average, found.total, cost.shown);
    const change = found.total - planned.total;
    form.querySelector("[data-total]").textContent = `${untouched ? cost.shown[1] : money(found.total)} ${cost.currency}`;
    form.querySelector("[data-difference]").textContent = !Number.isFinite(change) ? wrongBoxes(form)
      : Math.abs(change) < 0.5 * 10 ** -cost.digits ? "as planned"
        : `${change > 0 ? "+" : "−"}${money(Math.abs(change))} against the plan; ${money(found.average)} a good pair `
          + `instead of ${money(planned.average)}`;
  }

  form.addEventListener("input", (event) => {
    if (event.target === all) {
      const factor = read(all) / cost.sizes.reduce((sum, size) => sum + size.good, 0);
      inputs("pairs").forEach((input, i) => {
        if (Number.isFinite(factor)) input.value = String(Math.round(1e6 * cost.sizes[i].good * factor) / 1e6);
      });
    } else if (event.target.hasAttribute("data-pairs")) {
      const sum = inputs("pairs").map(read).reduce((a, b) => a + b, 0);
      if (Number.isFinite(sum)) all.value = String(Math.round(1e6 * sum) / 1e6);
    }
    show();
  });
  form.addEventListener("reset", () => setTimeout(show));
  form.addEventListener("submit", (event) => event.preventDefault());
  show();
}
