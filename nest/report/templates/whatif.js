// The cost anew with other prices and quantities: every size keeps what it takes of each material in this plan.
function recost(cost, prices, pairs) {
  const rows = cost.sizes.map((size, i) => {
    const perPair = size.uses.reduce((sum, [box, amount]) => sum + prices[box] * amount, 0) / size.good;
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
    const usable = input.value !== "" && input.validity.valid;
    input.setAttribute("aria-invalid", String(!usable));
    return usable ? Number(input.value) : NaN;
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
    showAllowances(found);
    const change = found.total - planned.total;
    form.querySelector("[data-total]").textContent = `${untouched ? cost.shown[1] : money(found.total)} ${cost.currency}`;
    form.querySelector("[data-difference]").textContent = !Number.isFinite(change) ? "Some box is empty or below 0."
      : Math.abs(change) < 0.5 * 10 ** -cost.digits ? "as planned"
        : `${change > 0 ? "+" : "−"}${money(Math.abs(change))} against the plan; ${money(found.average)} a good pair `
          + `instead of ${money(planned.average)}`;
  }

  function showAllowances(found) {
    const changes = inputs("change").map(read);
    cost.allowances.forEach((allowance, i) => {
      const rows = cost.sizes.map((size, k) => [size, found.rows[k]]).filter(([size]) => size.style === allowance.style);
      const good = rows.reduce((sum, [size]) => sum + size.good, 0);
      const now = rows.reduce((sum, [size, row]) => sum + row.perPair * size.good, 0) / good;
      const more = cost.allowances.reduce((sum, other, k) => sum
        + (other.style === allowance.style ? other.per_pair * changes[k] : 0), 0);
      one("changed", i).textContent = money(now + more);
    });
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
