// Lines over the sheet's picture, as vectors: sharp at any size.
const svgSpace = 'http://www.w3.org/2000/svg';
const pens = 8; // told apart by the style sheet

function node(name, attributes, text) {
  const e = document.createElementNS(svgSpace, name);
  for (const [k, v] of Object.entries(attributes)) e.setAttribute(k, v);
  if (text) e.textContent = text;
  return e;
}

// draw shows what the server tells: lengths and places in mm of the sheet. Layers that it does not
// tell of stay unless all are new.
export function draw(svg, drawn, all) {
  svg.setAttribute('viewBox', `0 0 ${drawn.Size.X} ${drawn.Size.Y}`);
  const layers = (drawn.Layers || []).map(layer);
  const stretches = node('g', { class: 'stretches' });
  stretches.dataset.layer = 'stretches';
  for (const data of drawn.Stretches || []) stretches.append(node('path', { d: data }));
  layers.push(stretches);
  if (all) svg.replaceChildren(...layers);
  else {
    for (const g of layers) {
      const old = svg.querySelector(`[data-layer="${g.dataset.layer}"]`);
      if (old) old.replaceWith(g);
      else svg.append(g);
    }
  }
}

function layer(l) {
  const g = node('g', { class: `layer ${l.Name}` });
  g.dataset.layer = l.Name;
  for (const p of l.Paths || []) g.append(path(p));
  for (const p of l.Paths || []) {
    if (p.Text && (p.At.X || p.At.Y)) g.append(node('text', { x: p.At.X, y: p.At.Y - 2 }, p.Text));
  }
  return g;
}

function path(p) {
  const e = node('path', { d: p.Data, class: p.Pen < 0 ? 'care' : `pen${p.Pen % pens}` });
  if (p.Width) e.setAttribute('stroke-width', p.Width);
  else e.classList.add('thin');
  if (p.Text) e.append(node('title', {}, p.Text));
  return e;
}

// labels writes the texts at one size on the screen, px, whatever the size of the picture; one that
// would cover another, or a mark of which the places are shares of the picture, is left out, and is
// told by its line's title.
const labelSide = 12;
const letterWide = 0.58; // of its height

const markWide = 26; // px, up and to the left of its place

export function labels(svg, marks = []) {
  const width = svg.clientWidth || svg.getBoundingClientRect().width;
  if (!width) return;
  const box = svg.viewBox.baseVal;
  const side = labelSide * box.width / width;
  const mark = markWide * box.width / width;
  const taken = marks.map((m) => [m.x * box.width - mark, m.y * box.height - mark, m.x * box.width, m.y * box.height]);
  for (const t of svg.querySelectorAll('text')) {
    t.setAttribute('font-size', side);
    t.setAttribute('stroke-width', side / 4);
    const half = t.textContent.length * letterWide * side / 2;
    const x = Number(t.getAttribute('x'));
    const y = Number(t.getAttribute('y'));
    const own = [x - half, y - side, x + half, y + side / 4];
    const free = taken.every((b) => own[0] > b[2] || own[2] < b[0] || own[1] > b[3] || own[3] < b[1]);
    t.toggleAttribute('hidden', !free);
    if (free) taken.push(own);
  }
}

// aim marks the line, or the stretch of one, that a click at a place, given as shares of the sheet,
// would take; null for none.
const reach = 3; // mm of a line, as edits by hand have it
const between = 1.5; // mm, of the places by which lines are told
const places = new WeakMap(); // of each line's path

export function aim(svg, at, stretch) {
  const box = svg.viewBox.baseVal;
  const lines = svg.querySelectorAll(stretch ? '.stretches path' : '.lines path');
  let best = null;
  let near = reach;
  for (const line of at ? lines : []) {
    if (!places.has(line)) {
      const n = Math.ceil(line.getTotalLength() / between);
      places.set(line, Array.from({ length: n + 1 }, (_, i) => line.getPointAtLength(i * line.getTotalLength() / n)));
    }
    for (const p of places.get(line)) {
      const d = Math.hypot(p.x - at.x * box.width, p.y - at.y * box.height);
      if (d < near) { near = d; best = line; }
    }
  }
  for (const line of svg.querySelectorAll('.lines path, .stretches path')) line.classList.toggle('aim', line === best);
}

// trail shows a line while it is drawn by hand, of places that are shares of the sheet.
export function trail(svg, places) {
  let e = svg.querySelector('.trail');
  if (!places.length) { if (e) e.remove(); return; }
  if (!e) { e = node('path', { class: 'trail thin' }); svg.append(e); }
  const box = svg.viewBox.baseVal;
  e.setAttribute('d', places.map((p, i) => `${i ? 'L' : 'M'}${(p.x * box.width).toFixed(2)} ${(p.y * box.height).toFixed(2)}`).join(' '));
}

// within is the place nearest to v that lies so far inside of what is seen of a frame.
const within = (v, inside, from, size) => Math.min(Math.max(v, from + inside), Math.max(from + size - inside, from + inside));

// A lens shows what is under a finger, enlarged, beside it.
const lensTimes = 4;

export function lens(e, image, share, size) {
  e.hidden = !share;
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
  const pane = e.closest('#pane');
  e.style.left = `${share.x * box.width + side * w}px`;
  e.style.top = `${within(share.y * box.height, e.offsetHeight / 2, pane ? pane.scrollTop : 0, pane ? pane.clientHeight : box.height)}px`;
}
