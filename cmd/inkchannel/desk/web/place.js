// Places in a picture, as shares of its width and height.
export const inside = (v) => clamp(v, 0, 1);

// clamp is the value nearest to v that lies between two others.
export const clamp = (v, least, most) => Math.min(Math.max(v, least), most);

// shareAt is the share of a box, of which high is the picture's part, that a pointer is at.
export function shareAt(x, y, box, high) {
  return { x: (x - box.left) / box.width, y: (y - box.top) / (box.height * high) };
}

// apart tells for each place whether it lies at least so far from all before it that do.
export function apart(places, least) {
  const kept = [];
  return places.map((p) => {
    const free = kept.every((q) => Math.hypot(p.x - q.x, p.y - q.y) >= least);
    if (free) kept.push(p);
    return free;
  });
}

// clearWay is the first of some ways from a place that ends at least so far from all that is taken; undefined for
// none.
export const clearWay = (from, ways, taken, least) => ways.find((w) => taken.every((t) => Math.hypot(from.x + w.x - t.x, from.y + w.y - t.y) >= least));

// thinned are places of a line drawn by hand that lie at least so far apart, at most so many, with
// the last.
export function thinned(places, apart, most) {
  const out = [];
  for (const p of places) {
    const last = out[out.length - 1];
    if (!last || Math.hypot(p.x - last.x, p.y - last.y) >= apart) out.push(p);
  }
  const end = places[places.length - 1];
  if (end && out[out.length - 1] !== end) out.push(end);
  while (out.length > most) {
    for (let i = out.length - 2; i > 0; i -= 2) out.splice(i, 1);
  }
  return out;
}

// nearestOf is the number of the place nearest to another.
export function nearestOf(places, to) {
  const off = (p) => Math.hypot(p.x - to.x, p.y - to.y);
  return places.reduce((best, p, i) => (off(p) < off(places[best]) ? i : best), 0);
}
