// Plane geometry of a hand on the plan: is a point within rings, and which point of them is nearest.

// Whether a point lies within rings by the even-odd rule.
export function within(rings, [x, y]) {
  let inside = false;
  for (const ring of rings) {
    for (let i = 0, j = ring.length - 1; i < ring.length; j = i++) {
      const [ax, ay] = ring[i], [bx, by] = ring[j];
      if (ay > y !== by > y && x < ((bx - ax) * (y - ay)) / (by - ay) + ax) inside = !inside;
    }
  }
  return inside;
}

// The point of the rings' edges that is nearest to a point, and how far it is.
export function nearest(rings, [x, y]) {
  let best = null, least = Infinity;
  for (const ring of rings) {
    for (let i = 0, j = ring.length - 1; i < ring.length; j = i++) {
      const [ax, ay] = ring[j], [bx, by] = ring[i];
      const dx = bx - ax, dy = by - ay, length = dx * dx + dy * dy;
      const t = length ? Math.min(1, Math.max(0, ((x - ax) * dx + (y - ay) * dy) / length)) : 0;
      const at = [ax + t * dx, ay + t * dy], away = Math.hypot(at[0] - x, at[1] - y);
      if (away < least) { least = away; best = at; }
    }
  }
  return { at: best, away: least };
}

// Where a piece comes to lie that a hand holds at a point: there if it may, else at the nearest place within `snap`.
export function felt(rings, point, snap) {
  if (!rings) return { at: point, fits: false };
  if (within(rings, point)) return { at: point, fits: true };
  const near = nearest(rings, point);
  return near.at && near.away <= snap ? { at: near.at, fits: true } : { at: point, fits: false };
}
