// A list whose rows are made anew. A row that says the same stays as it is, for a button that is replaced between press
// and release is never clicked; so what a button does must follow from what its row says. The button that has the
// focus keeps it, by its data-key.
export function renewed(list, rows) {
  const active = document.activeElement, key = list.contains(active) ? active.dataset.key : undefined;
  const before = [...list.children];
  rows.forEach((row, at) => {
    if (!before[at]) list.append(row);
    else if (!before[at].isEqualNode(row)) before[at].replaceWith(row);
  });
  for (const row of before.slice(rows.length)) row.remove();
  if (key !== undefined && !list.contains(document.activeElement)) list.querySelector(`[data-key="${CSS.escape(key)}"]`)?.focus();
}
