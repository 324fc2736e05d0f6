// Picking places in the picture for a setting: by click, by a drag from the one to the other, by a line that
// is drawn, or by arrow keys and Enter.
import { byId } from './dom.js';
import { clear, divide, drawing, high, shareIn } from './compare.js';
import { arrows } from './handles.js';
import { number, unit } from './knobs.js';
import { inWords } from './measure.js';
import { aim, preview, shapeOf, wouldBe } from './over.js';
import { inside, thinned } from './place.js';
import { newest } from './send.js';
import { asked } from './words.js';

const handApart = 0.004; // of the picture, between the places of a line that is drawn
const handMost = 300;
const dragLeast = 0.02; // of the picture: less is a click
const keySteps = { fine: 0.0025, coarse: 0.05 }; // of the picture

let on = null;
let taker = null; // the setting, or the verb of one, that takes the places
let wanted = null; // one whose places are picked in another view, which is on its way
let picks = []; // the places picked so far, as shares of the picture
let cross = null; // where the keyboard picks, the same
let drew = false; // the click that ends a line that was drawn is no pick
let pointedAt = ''; // what is where the pointer is
let pointer = null; // where that is, as shares
let byKeys = false; // the last that the page was told came from the keyboard

// active tells whether places are picked.
export const active = () => taker !== null;

// begin asks for the places that a setting takes.
export function begin(k) {
  if (k.PickOn && k.PickOn !== on.state().View) {
    wanted = k;
    on.change('view', { Stage: k.PickOn });
    return;
  }
  if (on.state().Picked) on.change('forget', {});
  tryNothing();
  if (!on.state().Failed) byId('problem').textContent = '';
  picks = [];
  taker = k;
  cross = { x: 0.5, y: 0.5 };
  tell(0);
  clear();
  byId('compare').focus();
}

function stop() {
  aim(byId('over'), null);
  byId('here').textContent = '';
  preview(byId('over'), '', []);
  tryNothing();
  if (on.state().Picked) on.change('forget', {}); // or the next pick would go on from there
  taker = null;
  cross = null;
}

// putAway ends picking at the user's wish.
function putAway() {
  const tool = document.querySelector('[data-verb][aria-pressed="true"], [data-pick][aria-pressed="true"]');
  if (tool && document.activeElement === byId('leave')) tool.focus(); // which is seen no more
  stop();
  tell(0);
  on.found();
  if (!on.state().Failed) byId('problem').textContent = ''; // which was of the tool
}

// follow goes on with a new state: a setting that has its places is done, one that waited for its view begins.
export function follow(s, sameView) {
  if (taker && s.Picked === 0 && (!sameView || picks.length && !taker.Many)) stop();
  if (wanted && wanted.PickOn === s.View) {
    const k = wanted;
    wanted = null;
    begin({ ...k, PickOn: '' });
  }
}

// tell says what is picked next, when so many places are.
export function tell(n) {
  byId('compare').classList.toggle('picking', active());
  divide();
  byId('cross').hidden = !taker || !byKeys;
  byId('done').classList.add('off');
  byId('leave').classList.toggle('off', !taker);
  if (!taker) { picks = []; tryNothing(); }
  else if (!on.waiting()) picks = picks.slice(0, n); // or more are on their way
  showPicks();
  for (const b of document.querySelectorAll('[data-verb], [data-pick]')) {
    b.setAttribute('aria-pressed', String(active() && (b.dataset.verb || b.dataset.pick) === (taker.Verb || taker.Flag)));
  }
  if (!taker) return;
  const left = taker.Places - n;
  const what = inWords(taker.Verb ? taker.Help : asked(taker.Help), unit());
  byId('done').classList.toggle('off', !taker.More || left > 0);
  byId('found').textContent = taker.More
    ? 'Draw the line with the pointer held down, or click its places (or arrows and Enter), then Done (or Shift Enter). Escape stops.'
    : `${what[0].toUpperCase()}${what.slice(1)}. Click ${nth(n, taker.Places)}${byDrag(taker) && n === 0 ? ', or drag from the first to the second' : ''} (or arrows and Enter). Escape stops.`;
  placed();
}

// nth says which place of so many is next.
const nth = (n, all) => (all === 1 ? 'its place' : `place ${n + 1} of ${all}`);

// What would come of a verb at places that are picked and pointed at.
const trials = newest((body) => on.ask('draft', body), (d) => {
  if (!taker) return;
  wouldBe(byId('over'), d);
  byId('here').textContent = d.Problem ? on.say(d.Problem).replace('was not made', 'would not be made') : pointedAt;
});

// tryOut shows what would come of the verb in hand at places, shares of the picture, once it has all that
// it takes; what the page shows by itself needs no server.
function tryOut(places) {
  if (!taker || !taker.Verb || shapeOf(taker.Verb) || on.state().View !== drawing || places.length < taker.Places) return;
  trials.push({ Flag: taker.Flag, Verb: taker.Verb, Value: number(taker.Verb), Path: places.map((p) => ({ X: p.x, Y: p.y })) });
}

function tryNothing() {
  trials.stop();
  wouldBe(byId('over'), null);
}

// pickedPicture is the picture picked in, and its step: this one, or the one before if this one failed; null
// while it still loads.
function pickedPicture() {
  const after = byId('after');
  const image = after.hidden ? byId('before') : after;
  if (!image.naturalHeight) return null;
  return { image, stage: after.hidden ? byId('with').value : on.state().View };
}

// underPicks is the share of the height of the picture picked in that is not its bar of text.
function underPicks() {
  const p = pickedPicture();
  return high(p ? p.image : byId('after'));
}

function showPicks() {
  const share = underPicks();
  byId('picks').replaceChildren(...picks.map((p) => {
    const e = document.createElement('i');
    e.style.left = `${100 * p.x}%`;
    e.style.top = `${100 * p.y * share}%`;
    return e;
  }));
}

// placed puts the cross of the keyboard where it is, once the picture is there.
export function placed() {
  if (!taker) return;
  byId('cross').style.left = `${100 * cross.x}%`;
  byId('cross').style.top = `${100 * cross.y * underPicks()}%`;
}

function pick(x, y) {
  const p = pickedPicture();
  if (!taker || !p) return;
  picks.push({ x, y });
  on.change('pick', { Flag: taker.Flag, Verb: taker.Verb, Value: number(taker.Verb), Stage: p.stage, X: x, Y: y });
}

// finish makes a line of the places picked, of those that take as many as come.
function finish() {
  if (taker && taker.More) on.change('pick', { Flag: taker.Flag, Verb: taker.Verb, Stage: on.state().View, Finish: true });
}

function pickAt(e) {
  const p = pickedPicture();
  if (!taker || !p || drew) return;
  cross = shareIn(p.image, e);
  pick(cross.x, cross.y);
}

function pickByKey(e) {
  const step = e.shiftKey ? keySteps.coarse : keySteps.fine;
  const move = arrows[e.key];
  if (!taker) return;
  byId('cross').hidden = false;
  if (e.key === 'Enter' && e.shiftKey) finish();
  else if (e.key === 'Enter') pick(cross.x, cross.y);
  else if (move) {
    cross = { x: inside(cross.x + step * move[0]), y: inside(cross.y + step * move[1]) };
    placed();
    if (on.state().View === drawing) pointed(cross);
  } else return;
  e.preventDefault();
}

// byDrag tells whether the first two places of what takes some may be dragged, from the one to the other.
const byDrag = (k) => k.Places > 1 && (k.Verb || k.Places === 2 && !k.Many);

// A line drawn by hand: pressed, drawn, let go; or two places.
function drawingByHand() {
  const box = byId('compare');
  let places = null;
  box.addEventListener('pointerdown', (e) => {
    drew = false;
    if (!taker || !byDrag(taker) || on.state().Picked || !e.isPrimary || e.target.closest('button')) return;
    const p = pickedPicture();
    const at = p && shareIn(p.image, e);
    places = at ? [{ x: inside(at.x), y: inside(at.y) }] : [];
    box.setPointerCapture(e.pointerId);
  });
  box.addEventListener('pointermove', (e) => {
    const p = places && pickedPicture();
    if (!p) return;
    const at = shareIn(p.image, e);
    if (!taker.More && places.length > 1) places.pop();
    places.push({ x: inside(at.x), y: inside(at.y) });
    if (on.state().View === drawing) {
      sketch(places);
      tryOut(places);
    }
  });
  box.addEventListener('pointerup', () => {
    const line = places ? thinned(places, handApart, handMost) : [];
    places = null;
    preview(byId('over'), '', []);
    drawn(line);
  });
  const forget = () => { places = null; preview(byId('over'), '', []); };
  box.addEventListener('pointercancel', forget);
  box.addEventListener('touchstart', (e) => { if (e.touches.length > 1) forget(); }, { passive: true }); // that enlarges
}

// drawn takes the places of a line that was drawn, unless it was a click.
function drawn(line) {
  const p = pickedPicture();
  if (!taker || !p || line.length < (taker.More ? 3 : 2)) return;
  if (!taker.More && Math.hypot(line[1].x - line[0].x, line[1].y - line[0].y) < dragLeast) return;
  drew = true;
  if (!taker.More) {
    picks.push(...line);
    on.change('pick', { Flag: taker.Flag, Verb: taker.Verb, Value: number(taker.Verb), Stage: p.stage, Path: line.map((q) => ({ X: q.x, Y: q.y })) });
    return;
  }
  on.change('draw', { Flag: taker.Flag, Verb: taker.Verb, Stage: p.stage, Path: line.map((q) => ({ X: Number(q.x.toFixed(4)), Y: Number(q.y.toFixed(4)) })) });
}

// sketch shows what the verb in hand would draw at places, and tells its size.
function sketch(places) {
  const size = preview(byId('over'), taker.Verb, places);
  if (size) byId('here').textContent = on.say(size);
}

// pointed shows what a pick at a place would take, and what would come of it.
function pointed(at) {
  pointer = at;
  const free = taker.More || taker.Verb === 'rub-out' && picks.length; // takes no line at a place
  const here = aim(byId('over'), free ? null : at, taker.OnStretch);
  pointedAt = here ? `Here: ${here}` : '';
  byId('here').textContent = pointedAt;
  sketch([...picks, at]);
  if (here || picks.length) tryOut([...picks, at]);
  else tryNothing();
}

// again tells anew what is where the pointer is, as the lines are others.
export function again() {
  if (taker && pointer && on.state().View === drawing) pointed(pointer);
}

// aiming shows which line a pick would take.
function aiming() {
  const box = byId('pane');
  box.addEventListener('pointermove', (e) => {
    if (taker && !e.buttons && on.state().View === drawing) pointed(shareIn(byId('after'), e));
  });
  box.addEventListener('pointerleave', () => { pointer = null; aim(byId('over'), null); tryNothing(); });
}

// start has places picked: state is the state that is shown, change asks the program for a change, and
// waiting tells whether one is on its way; ask asks it for something, say is a message in the page's words,
// and found tells of the step again.
export function start(page) {
  on = page;
  byId('pane').addEventListener('click', pickAt); // lines may lie beside the picture
  byId('compare').addEventListener('keydown', pickByKey);
  byId('leave').addEventListener('click', putAway);
  byId('done').addEventListener('click', () => {
    byId('compare').focus(); // where the next line is drawn; the button is seen no more
    finish();
  });
  document.addEventListener('keydown', (e) => { byKeys = true; if (e.key === 'Escape' && taker) putAway(); }, true);
  document.addEventListener('pointerdown', () => { byKeys = false; }, true);
  drawingByHand();
  aiming();
}
