// A list whose rows are made anew: the button that has the focus keeps it, by its data-key.
export function renewed(list, rows) {
  const active = document.activeElement, key = list.contains(active) ? active.dataset.key : undefined;
  list.replaceChildren(...rows);
  if (key !== undefined) list.querySelector(`[data-key="${CSS.escape(key)}"]`)?.focus();
}
