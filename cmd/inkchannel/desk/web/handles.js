// Handles: the places that a step found, to drag or to move by arrow keys.
import { byId, el } from './dom.js';
import { carry, lens, outline } from './over.js';
import { apart, clamp, clearWay, inside, nearestOf, shareAt } from './place.js';

// Which way the arrow keys move what is picked or dragged.
export const arrows = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

const keySteps = { fine: 0.001, coarse: 0.02 }; // of the picture
const pause = 900; // ms without a key, after which a place that keys moved is let go

// The least distance of targets, CSS px (WCAG 2.2, 2.5.8).
const fingerWide = 34; // no two of 24 px overlap, askew either

// Where a mark's middle may lie from its place, CSS px, the usual one first.
const markWays = [[-30, -30], [30, -30], [-30, 30], [30, 30], [0, -44], [-44, 0], [44, 0], [0, 44], [-60, -60], [60, -60], [-60, 60], [60, 60]].map(([x, y]) => ({ x, y }));
const markHalf = 13;

let on = null;
let spoilt = false; // what is dragged was let go of by a second finger


// start takes up what handles tell: high is the share of the picture's height that is no bar of text,
// ring whether the places are joined by an outline, size that of the lines over the picture, null for none;
// moved what goes along with a place, as path data in hundredths of the picture; draft shows what a place that
// is moved would do, put puts it there, and back forgets it.
export function start(page) {
  on = page;
  byId('pane').addEventListener('touchstart', (e) => { if (e.touches.length > 1) forget(); }, { passive: true }); // that enlarges
}

// forget puts back what is under a hand.
function forget() {
  const b = byId('handles').querySelector('[data-moved]');
  spoilt = true;
  lens(byId('lens'), null, null);
  if (!b) return;
  delete b.dataset.moved;
  on.back();
}

// seen are the places that are shown, as shares of the picture.
export const seen = () => [...byId('handles').children].filter((b) => !b.hidden).map((b) => ({ x: place(b).x, y: place(b).y * on.high() }));

// within keeps a place on the picture, or near it where an outline may lie outside.
const besides = 0.1;
const within = (v) => (on.ring() ? clamp(v, -besides, 1 + besides) : inside(v));

// held tells whether one is under a hand.
export const held = () => byId('handles').querySelector('[data-moved]') !== null;

const place = (b) => ({ x: Number(b.dataset.x), y: Number(b.dataset.y) });

// show puts the handles at places, as shares of the picture. One that has the focus keeps it, whatever
// its number is now.
export function show(places) {
  const box = byId('handles');
  if (held()) return;
  const focused = [...box.children].includes(document.activeElement) ? place(document.activeElement) : null;
  while (box.children.length > places.length) box.lastChild.remove();
  while (box.children.length < places.length) box.append(handle(box.children.length));
  box.classList.toggle('many', places.length > 8);
  places.forEach((p, i) => put(box.children[i], p.X, p.Y));
  if (focused && places.length) box.children[nearestOf(places.map((p) => ({ x: p.X, y: p.Y })), focused)].focus();
  outline(byId('ring'), []);
  room();
}

// room hides handles that a finger could not tell from one before them, which appear when the picture is enlarged,
// and puts the marks of problems clear of those that are seen.
export function room() {
  const image = byId('after');
  const size = { x: image.clientWidth, y: image.clientHeight * on.high() };
  if (!size.x) return;
  const at = (b) => ({ x: b.dataset.x * size.x, y: b.dataset.y * size.y });
  const all = [...byId('handles').children];
  const free = apart(all.map(at), fingerWide);
  all.forEach((b, i) => { b.hidden = !free[i] && b !== document.activeElement && !b.dataset.moved; });
  const taken = all.filter((b) => !b.hidden).map(at);
  const onPicture = ({ x, y }) => x > markHalf && y > markHalf && x < size.x - markHalf && y < size.y - markHalf;
  for (const b of byId('marks').children) {
    const from = at(b);
    const end = (w) => ({ x: from.x + w.x, y: from.y + w.y });
    const way = clearWay(from, markWays.filter((w) => onPicture(end(w))), taken, fingerWide);
    b.hidden = !way && b !== document.activeElement;
    if (way) { lead(b, way); taken.push(end(way)); }
  }
}

// lead puts a mark some way from its place, with a line to that.
function lead(b, way) {
  Object.assign(b.dataset, { across: way.x, down: way.y });
  b.style.setProperty('--across', `${way.x}px`);
  b.style.setProperty('--down', `${way.y}px`);
  b.style.setProperty('--far', `${Math.hypot(way.x, way.y)}px`);
  b.style.setProperty('--way', `${Math.atan2(-way.y, -way.x)}rad`);
}

function put(b, x, y) {
  b.dataset.x = String(x);
  b.dataset.y = String(y);
  b.style.left = `${100 * x}%`;
  b.style.top = `${100 * y * on.high()}%`;
}

function handle(i) {
  const b = el('button');
  b.setAttribute('aria-label', `Move place ${i + 1} by arrow keys; Enter or a pause lets it go, Escape puts it back`);
  let wait = 0;
  const letGo = () => {
    clearTimeout(wait);
    lens(byId('lens'), null, null);
    if (!b.dataset.moved) return;
    delete b.dataset.moved;
    on.put(i, place(b), bends(b));
  };
  b.addEventListener('pointerdown', (e) => {
    if (e.isPrimary) spoilt = false;
    b.setPointerCapture(e.pointerId);
  });
  b.addEventListener('pointermove', (e) => {
    if (!e.buttons || spoilt || !e.isPrimary) return;
    const at = shareAt(e.clientX, e.clientY, byId('after').getBoundingClientRect(), on.high());
    b.classList.toggle('other', e.shiftKey);
    move(b, i, within(at.x), within(at.y));
  });
  b.addEventListener('pointerup', letGo);
  b.addEventListener('pointercancel', letGo);
  b.addEventListener('blur', letGo);
  b.addEventListener('keydown', (e) => {
    const way = arrows[e.key];
    if (way) {
      const step = e.shiftKey ? keySteps.coarse : keySteps.fine;
      b.classList.remove('other');
      move(b, i, within(place(b).x + step * way[0]), within(place(b).y + step * way[1]));
      clearTimeout(wait);
      wait = setTimeout(letGo, pause);
    } else if (b.dataset.moved && e.key === 'Enter') letGo();
    else if (b.dataset.moved && e.key === 'Escape') {
      clearTimeout(wait);
      forget();
      spoilt = false;
    } else return;
    e.preventDefault();
  });
  return b;
}

let from = null; // where the place that is dragged was

// move shows a place where it is dragged to, enlarged, with its outline and what it would do.
function move(b, i, x, y) {
  if (!b.dataset.moved) from = place(b);
  b.dataset.moved = 'yes';
  put(b, x, y);
  if (!on.moved()) lens(byId('lens'), byId('after'), { x, y: y * on.high() }, on.size()); // it would cover what goes along
  if (on.ring()) outline(byId('ring'), [...byId('handles').children].map((h) => ({ x: place(h).x, y: place(h).y * on.high() })));
  if (on.moved()) carry(byId('ring'), on.moved(), { x: x - from.x, y: y - from.y }, on.high());
  on.draft(i, { x, y }, bends(b));
}

// bends tells whether a handle bends its whole stretch: by Shift while it is dragged, or by choice.
function bends(b) {
  const choice = byId('switches').querySelector('[data-over="bends"]');
  return b.classList.contains('other') || on.size() !== null && Boolean(choice && choice.checked);
}
