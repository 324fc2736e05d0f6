// Lines over the sheet's picture, as vectors: sharp at any size.
import { clamp, nearestOf } from './place.js';

const svgSpace = 'http://www.w3.org/2000/svg';
const pens = 8; // told apart by the style sheet

function node(name, attributes, text) {
  const e = document.createElementNS(svgSpace, name);
  for (const [k, v] of Object.entries(attributes)) e.setAttribute(k, v);
  if (text) e.textContent = text;
  return e;
}

// draw shows what the server tells: lengths and places in mm of the sheet. Of layers that it does not tell of, all
// stay, or those of some names, pale; say puts texts into the user's words.
export function draw(svg, drawn, say, pale) {
  svg.setAttribute('viewBox', `0 0 ${drawn.Size.X} ${drawn.Size.Y}`);
  const layers = (drawn.Layers || []).map((l) => layer(l, say));
  const stretches = node('g', { class: 'stretches' });
  stretches.dataset.layer = 'stretches';
  for (const p of drawn.Stretches || []) stretches.append(path({ ...p, Pen: 0 }, say));
  layers.push(stretches, ...(drawn.Layers || []).map((l) => words(l, say))); // no line covers a text
  if (pale) {
    const told = layers.map((g) => g.dataset.layer);
    const old = [...svg.querySelectorAll('.layer')].filter((g) => pale.includes(g.dataset.layer) && !told.includes(g.dataset.layer));
    for (const g of old) g.classList.add('pale');
    svg.replaceChildren(...old, ...layers);
  } else {
    for (const g of layers) {
      const old = svg.querySelector(`[data-layer="${g.dataset.layer}"]`);
      if (old) old.replaceWith(g);
      else svg.append(g);
    }
  }
}

// layer is what is drawn of a kind of thing.
function layer(l, say) {
  const g = node('g', { class: `layer ${l.Name}` });
  g.dataset.layer = l.Name;
  for (const p of l.Paths || []) g.append(path(p, say));
  return g;
}

// words are the texts of a layer.
function words(l, say) {
  const g = node('g', { class: 'layer words' });
  g.dataset.layer = `${l.Name} words`;
  for (const p of l.Paths || []) {
    if (p.Text && (p.At.X || p.At.Y)) g.append(node('text', { x: p.At.X, y: p.At.Y - 2 }, say(p.Text)));
  }
  return g;
}

// beyond is how far what is drawn reaches out of the sheet at each side, as shares of its width. The printer's bed,
// which may be far larger than the sheet, counts so far only.
const edge = 5; // mm, beyond the middle of the broadest line
const bedMost = 0.2;
export const none = { left: 0, top: 0, right: 0, bottom: 0 };

export function beyond(svg) {
  const lines = out(svg, '.layer:not(.bed) path');
  const bed = out(svg, '.bed path');
  return Object.fromEntries(Object.keys(none).map((side) => [side, Math.max(lines[side], Math.min(bed[side], bedMost))]));
}

// out is how far some paths reach out.
function out(svg, paths) {
  const box = svg.viewBox.baseVal;
  const all = extent([...svg.querySelectorAll(paths)]);
  const share = (mm) => (mm > 0 ? (mm + edge) / box.width : 0);
  return { left: share(-all.x), top: share(-all.y), right: share(all.x + all.width - box.width), bottom: share(all.y + all.height - box.height) };
}

// extent is the box about what some parts of a drawing show.
function extent(parts) {
  const boxes = parts.map((p) => p.getBBox()).filter((b) => b.width || b.height);
  if (!boxes.length) return { x: 0, y: 0, width: 0, height: 0 };
  const x = Math.min(...boxes.map((b) => b.x));
  const y = Math.min(...boxes.map((b) => b.y));
  return { x, y, width: Math.max(...boxes.map((b) => b.x + b.width)) - x, height: Math.max(...boxes.map((b) => b.y + b.height)) - y };
}

// sample is a bit of line as an overlay draws it, null for what is no overlay of lines.
export function sample(name) {
  const wide = { channels: 7, strip: 5, tight: 7 }[name];
  if (!wide && !['lines', 'wires', 'bed', 'outlines'].includes(name)) return null;
  const svg = node('svg', { class: 'sample', viewBox: '0 0 24 10', 'aria-hidden': 'true' });
  const g = node('g', { class: name });
  g.append(node('path', wide ? { d: 'M1 5H23', 'stroke-width': wide, class: 'pen0' } : { d: 'M1 5H23', class: 'thin pen0' }));
  svg.append(g);
  return svg;
}

function path(p, say) {
  const e = node('path', { d: p.Data, class: p.Pen < 0 ? 'care' : `pen${p.Pen % pens}` });
  if (p.Width) e.setAttribute('stroke-width', p.Width);
  else e.classList.add('thin');
  if (p.Text) e.append(node('title', {}, say(p.Text)));
  return e;
}

// labels writes the texts at one size on the screen, px, whatever the size of the picture, where their place is in
// view: a box in mm of the sheet. One that would cover another, or a mark or a handle, of which the places are
// shares of the picture, stands beside its place, or is left out where there is no room, and is told by its line's
// title. A text keeps to the side that it had, if it can.
const labelSide = 12;

const markWide = 28; // px, about its middle
const handleWide = 28; // px, about its place
const stood = new Map(); // by which of the ways each text stands

export function labels(svg, view, marks = [], handles = []) {
  const width = svg.clientWidth || svg.getBoundingClientRect().width;
  if (!width) return;
  const box = svg.viewBox.baseVal;
  const px = box.width / width;
  const side = labelSide * px;
  const about = (x, y, wide) => [x - wide * px / 2, y - wide * px / 2, x + wide * px / 2, y + wide * px / 2];
  const taken = [
    ...marks.map((m) => about(m.x * box.width + m.across * px, m.y * box.height + m.down * px, markWide)),
    ...handles.map((h) => about(h.x * box.width, h.y * box.height, handleWide)),
  ];
  const leads = [];
  for (const t of svg.querySelectorAll('.words text')) {
    t.setAttribute('font-size', side);
    t.setAttribute('stroke-width', side / 4);
    t.removeAttribute('hidden'); // or it has no width
    const at = atFirst(t);
    const where = lies(at, view) && roomFor(t, at, side, view, taken);
    t.toggleAttribute('hidden', !where);
    if (!where) continue;
    taken.push(where.box);
    t.setAttribute('x', where.x);
    t.setAttribute('y', where.y);
    leads.push(leadOf(where.box, at, side));
  }
  trace(svg, 'leads', leads.join(''));
}

// lies tells whether a place is in a view.
const lies = (at, view) => at.x > view.left && at.x < view.right && at.y > view.top && at.y < view.bottom;

// roomFor is where a text of a height stands beside its place, in view and clear of boxes that are taken, with its own
// box; null where there is no room.
function roomFor(t, at, side, view, taken) {
  const half = (t.getComputedTextLength() + side / 2) / 2;
  const last = stood.get(t.textContent);
  for (const way of last ? [last, ...beside] : beside) {
    const x = clamp(at.x + way[0] * (half + side), view.left + half, view.right - half);
    const y = clamp(at.y + way[1] * rowHigh * side, view.top + side, view.bottom - side / 4);
    const box = [x - half, y - side, x + half, y + side / 4];
    if (taken.some((b) => box[0] <= b[2] && box[2] >= b[0] && box[1] <= b[3] && box[3] >= b[1])) continue;
    stood.set(t.textContent, way);
    return { x, y, box };
  }
  return null;
}

// leadOf is the line from a text's box to its place, none where they are close.
function leadOf([left, top, right, bottom], at, side) {
  const near = { x: clamp(at.x, left, right), y: clamp(at.y, top, bottom) };
  return Math.hypot(near.x - at.x, near.y - at.y) > side / 2 ? to([near, at]) : '';
}

// beside are the ways from its place that a text may stand, across by half its width and down by rows, the nearest
// first.
const rowHigh = 1.4; // of a text's height
const beside = [-2, -1, 0, 1, 2].flatMap((x) => [-5, -4, -3, -2, -1, 0, 1, 2, 3, 4, 5].map((y) => [x, y]))
  .sort(([a, b], [c, d]) => Math.hypot(3 * a, b) - Math.hypot(3 * c, d));

// atFirst is where a text was put before it gave way.
function atFirst(t) {
  t.dataset.x ??= t.getAttribute('x');
  t.dataset.y ??= t.getAttribute('y');
  return { x: Number(t.dataset.x), y: Number(t.dataset.y) };
}

// aim marks the line, or the stretch of one, that a click at a place, given as shares of the sheet,
// would take; null for none. It returns what that line is, as its title says it.
const reach = 3; // mm of a line, as edits by hand have it
const between = 1.5; // mm, of the places by which lines are told
const places = new WeakMap(); // of each line's path

export function aim(svg, at, stretch) {
  const box = svg.viewBox.baseVal;
  const best = at && nearestPath(svg.querySelectorAll(stretch ? '.stretches path' : '.lines path'), { x: at.x * box.width, y: at.y * box.height });
  for (const line of svg.querySelectorAll('.lines path, .stretches path')) line.classList.toggle('aim', line === best);
  return best && best.textContent;
}

// preview shows what a verb would do with places that are picked and the one pointed at, all shares of
// the sheet, and tells how large that is, if it is drawn anew.
export function preview(svg, verb, places) {
  const box = svg.viewBox.baseVal;
  const at = places.map((p) => ({ x: p.x * box.width, y: p.y * box.height }));
  trace(svg, 'gone', verb === 'mirror' && at.length > 2 ? besides(at, box) : '');
  trace(svg, 'trail thin', shapes[verb] ? shapes[verb](at, svg) : '');
  return at.length > 1 && measures[verb] ? measures[verb](at[0], at[1]) : '';
}

// measures tell the size of what two places give, in mm and degrees from level, anticlockwise, 0 to 180.
export const measures = {
  draw: (a, b) => `${Math.hypot(b.x - a.x, b.y - a.y).toFixed(1)} mm long, at ${(Math.round(Math.atan2(a.y - b.y, b.x - a.x) * 180 / Math.PI) + 180) % 180} degrees`,
  ring: (c, p) => `radius ${Math.hypot(p.x - c.x, p.y - c.y).toFixed(1)} mm`,
};

// wouldBe shows where lines would lie, by what the server tells of them; nothing takes it away.
export function wouldBe(svg, drawn) {
  const old = svg.querySelector('.would');
  if (old) old.remove();
  const lines = drawn && (drawn.Layers || []).find((l) => l.Name === 'lines');
  if (!lines) return;
  const now = new Set([...svg.querySelectorAll('.lines path')].map((p) => p.getAttribute('d')));
  const g = node('g', { class: 'would' });
  for (const p of lines.Paths || []) {
    if (!now.has(p.Data)) g.append(node('path', { d: p.Data, class: 'trail thin' }));
  }
  svg.append(g);
}

// trace draws the one path of some classes anew, or takes it away.
function trace(svg, classes, data) {
  let e = svg.querySelector(`.${classes.split(' ')[0]}`);
  if (!data) { if (e) e.remove(); return; }
  if (!e) { e = node('path', { class: classes }); svg.append(e); }
  e.setAttribute('d', data);
}

// besides is all that lies on the other side of the axis from the first to the second of three places
// than the third: what a mirror takes away.
export function besides([a, b, side], box) {
  const far = 2 * (box.width + box.height);
  const l = Math.hypot(b.x - a.x, b.y - a.y) || 1;
  const d = { x: (b.x - a.x) * far / l, y: (b.y - a.y) * far / l };
  const turn = d.x * (side.y - a.y) - d.y * (side.x - a.x) > 0 ? 1 : -1;
  const away = { x: d.y * turn, y: -d.x * turn };
  const from = { x: a.x - d.x, y: a.y - d.y };
  const end = { x: a.x + d.x, y: a.y + d.y };
  return `${to([from, end, { x: end.x + away.x, y: end.y + away.y }, { x: from.x + away.x, y: from.y + away.y }])} Z`;
}

const to = (points) => points.map((p, i) => `${i ? 'L' : 'M'}${p.x.toFixed(2)} ${p.y.toFixed(2)}`).join(' ');
const line = (at) => (at.length > 1 ? to(at.slice(0, 2)) : '');

const shapes = {
  draw: line,
  mirror: line,
  freehand: (at) => (at.length > 1 ? to(at) : ''),
  ring: (at) => (at.length > 1 ? circle(at[0], Math.hypot(at[1].x - at[0].x, at[1].y - at[0].y)) : ''),
  bow: (at) => (at.length > 2 ? arc(at[0], at[1], at[2]) : line(at)),
  'rub-out': (at, svg) => (at.length > 1 ? stretchBetween(svg, at[0], at[1]) : ''),
};

// shapeOf tells whether the page itself can show all that a verb does.
export const shapeOf = (verb) => verb in shapes && verb !== 'mirror';

const circle = (c, r) => `M${c.x - r} ${c.y}a${r} ${r} 0 1 0 ${2 * r} 0a${r} ${r} 0 1 0 ${-2 * r} 0`;

// arc is the arc from a by way of m to b, straight if they lie on a line.
export function arc(a, m, b) {
  const p = { x: m.x - a.x, y: m.y - a.y };
  const q = { x: b.x - a.x, y: b.y - a.y };
  const d = 2 * (p.x * q.y - p.y * q.x);
  if (Math.abs(d) < 1e-6) return to([a, m, b]);
  const pp = p.x * p.x + p.y * p.y;
  const qq = q.x * q.x + q.y * q.y;
  const c = { x: (q.y * pp - p.y * qq) / d, y: (p.x * qq - q.x * pp) / d }; // from a
  const r = Math.hypot(c.x, c.y);
  const side = (v) => Math.sign(q.x * v.y - q.y * v.x);
  return `M${a.x} ${a.y}A${r} ${r} 0 ${side(c) === side(p) ? 1 : 0} ${d > 0 ? 1 : 0} ${b.x} ${b.y}`;
}

// stretchBetween is what lies between two places of the line nearest to the first, the shorter way
// round on a closed one.
function stretchBetween(svg, a, b) {
  const best = nearestPath(svg.querySelectorAll('.lines path'), a);
  if (!best) return '';
  const all = placesOf(best);
  const [i, j] = [nearestOf(all, a), nearestOf(all, b)].sort((x, y) => x - y);
  const closed = Math.hypot(all[0].x - all[all.length - 1].x, all[0].y - all[all.length - 1].y) < 0.01;
  return to(closed && j - i > all.length / 2 ? [...all.slice(j), ...all.slice(0, i + 1)] : all.slice(i, j + 1));
}

// nearestPath is the path within reach that is nearest to a place, null for none.
function nearestPath(paths, at) {
  let best = null;
  let near = reach;
  for (const path of paths) {
    for (const p of placesOf(path)) {
      const d = Math.hypot(p.x - at.x, p.y - at.y);
      if (d < near) { near = d; best = path; }
    }
  }
  return best;
}

function placesOf(path) {
  if (!places.has(path)) {
    const n = Math.ceil(path.getTotalLength() / between);
    places.set(path, Array.from({ length: n + 1 }, (_, i) => path.getPointAtLength(i * path.getTotalLength() / n)));
  }
  return places.get(path);
}

// outline joins places, shares of the picture, by lines: a closed one of more than two.
export function outline(svg, places) {
  const data = places.length ? to(places.map((p) => ({ x: 100 * p.x, y: 100 * p.y }))) + (places.length > 2 ? 'Z' : '') : '';
  svg.firstElementChild.setAttribute('d', data);
  svg.firstElementChild.removeAttribute('transform');
}

// carry shows an outline, in hundredths of a picture of which high is the part that is no bar, so far off.
export function carry(svg, data, by, high) {
  svg.firstElementChild.setAttribute('d', data);
  svg.firstElementChild.setAttribute('transform', `translate(${100 * by.x} ${100 * by.y * high}) scale(1 ${high})`);
}

// within is the place nearest to v that lies so far inside of what is seen of a frame.
const within = (v, inside, from, size) => clamp(v, from + inside, Math.max(from + size - inside, from + inside));

// A lens shows what is under a finger, enlarged, beside it.
const lensTimes = 4;

export function lens(e, image, share, size) {
  e.hidden = !share;
  const over = document.getElementById('over'); // its texts would fill the lens
  if (over) over.classList.toggle('wordless', Boolean(share));
  if (!share) return;
  const box = image.getBoundingClientRect();
  const w = e.clientWidth;
  const side = share.x > 0.5 ? -1 : 1;
  e.style.backgroundImage = `url("${image.src}")`;
  e.style.backgroundSize = `${box.width * lensTimes}px ${box.height * lensTimes}px`;
  e.style.backgroundPosition = `${w / 2 - share.x * box.width * lensTimes}px ${w / 2 - share.y * box.height * lensTimes}px`;
  if (size) { // the lines too
    const span = size.X * w / (box.width * lensTimes);
    const svg = e.querySelector('svg');
    svg.setAttribute('viewBox', `${share.x * size.X - span / 2} ${share.y * size.Y - span / 2} ${span} ${span}`);
    svg.firstElementChild.setAttribute('width', size.X);
    svg.firstElementChild.setAttribute('height', size.Y);
  }
  // Within what is seen of the picture, or the frame would begin to scroll.
  const pane = e.closest('#pane');
  const put = (v, half, from, seen, all) => within(v, half + 1, from, Math.min(seen, all - from));
  e.style.left = `${put(share.x * box.width + side * w, w / 2, pane.scrollLeft, pane.clientWidth, box.width)}px`;
  e.style.top = `${put(share.y * box.height, e.offsetHeight / 2, pane.scrollTop, pane.clientHeight, box.height)}px`;
}
