// How large the picture is shown, 1 for as wide as its frame; what is at a place of the frame
// stays there.
import { byId } from './dom.js';
import { clamp } from './place.js';

let size = 1;
const largest = 8;
const nearSize = 3; // at which places near each other are told apart
let room = { left: 0, top: 0, right: 0, bottom: 0 }; // beside the picture, as shares of its width

// fit is the share of the frame's width at which all of the picture is seen; side by side, all of it.
function fit() {
  const compare = byId('compare');
  const image = compare.classList.contains('only') ? byId('before') : byId('after');
  const wide = 1 / (1 + room.left + room.right);
  if (compare.classList.contains('side') || !image.naturalWidth) return wide;
  const pane = byId('pane');
  const high = parseFloat(getComputedStyle(pane).maxHeight) - 8; // its border, and room to spare
  const tall = image.naturalHeight / image.naturalWidth + room.top + room.bottom;
  return high > 0 ? Math.min(high / tall / pane.clientWidth, wide) : wide;
}

// refit sizes the picture anew for its frame.
export function refit() {
  const share = size * fit();
  const compare = byId('compare');
  const side = (of) => (of ? `${100 * share * of}%` : '');
  compare.style.width = `${100 * share}%`;
  compare.style.marginTop = side(room.top); // of the frame's width, as all margins
  compare.style.marginBottom = side(room.bottom);
  compare.style.marginLeft = side(room.left) || 'auto';
  compare.style.marginRight = side(room.right) || 'auto';
}

// leave leaves room beside the picture for what reaches out of it, as shares of its width: in steps, and
// never less than before unless it is anew, so that the picture stays where it is under the hand.
const roomStep = 0.05;

export function leave(beside, anew = false) {
  const was = room;
  room = Object.fromEntries(Object.entries(beside).map(([side, share]) => [side, Math.max(anew ? 0 : was[side], Math.ceil(share / roomStep - 1e-9) * roomStep)]));
  if (Object.keys(room).some((side) => room[side] !== was[side])) refit();
}

// enlarge shows the picture at a size, about a place of the frame, px, or its middle.
function enlarge(to, resized, x, y) {
  const pane = byId('pane');
  const was = size;
  size = clamp(to, 1, largest);
  const px = x === undefined ? pane.clientWidth / 2 : x;
  const py = y === undefined ? pane.clientHeight / 2 : y;
  const left = (pane.scrollLeft + px) * size / was - px;
  const top = (pane.scrollTop + py) * size / was - py;
  refit();
  pane.scrollTo(left, top);
  byId('size').textContent = size === 1 ? '' : `${Math.round(100 * size)} %`;
  byId('wider').disabled = byId('whole').disabled = size === 1;
  byId('closer').disabled = size === largest;
  resized();
}

// view is what is seen of a drawing in the frame, in the drawing's units.
export function view(svg) {
  const seen = byId('pane').getBoundingClientRect();
  const all = svg.getBoundingClientRect();
  const unit = svg.viewBox.baseVal.width / all.width;
  return { left: (seen.left - all.left) * unit, right: (seen.right - all.left) * unit, top: (seen.top - all.top) * unit, bottom: (seen.bottom - all.top) * unit };
}

// near enlarges the picture about a place of it, as shares, and puts that in the middle.
export function near(x, y, resized) {
  const pane = byId('pane');
  const image = byId('after');
  enlarge(Math.max(size, nearSize), resized);
  pane.scrollTo(image.offsetLeft + byId('compare').offsetLeft + x * image.clientWidth - pane.clientWidth / 2,
    image.offsetTop + byId('compare').offsetTop + y * image.clientHeight - pane.clientHeight / 2);
}

// start makes buttons, wheel, keys and drags answer. resized is called at each new size; wheels tells
// whether the wheel alone enlarges, and busy whether a drag has another use.
export function start({ resized, wheels, busy }) {
  const to = (s, x, y) => enlarge(s, resized, x, y);
  const pane = byId('pane');
  byId('closer').addEventListener('click', () => to(size * 1.5));
  byId('wider').addEventListener('click', () => to(size / 1.5));
  byId('whole').addEventListener('click', () => to(1));
  pane.addEventListener('wheel', (e) => { // a pinch on a touchpad comes as this
    if (!e.ctrlKey && (!wheels() || size === 1 && e.deltaY > 0)) return; // the page scrolls
    e.preventDefault();
    const box = pane.getBoundingClientRect();
    to(size * Math.exp(-e.deltaY / 600), e.clientX - box.left, e.clientY - box.top);
  }, { passive: false });
  document.addEventListener('keydown', (e) => {
    if (e.ctrlKey || e.metaKey || e.altKey || e.target.closest('input:not([type=checkbox]), select, textarea, dialog, canvas') || byId('flat').hidden || !byId('start').hidden) return;
    if (e.key === '+' || e.key === '=') to(size * 1.5);
    else if (e.key === '-') to(size / 1.5);
    else if (e.key === '0') to(1);
    else return;
    e.preventDefault();
  });
  panning(pane, busy);
  pinching(pane, to);
  to(1);
}

// pinching enlarges the picture by two fingers, about the place between them.
function pinching(pane, to) {
  let from = 0; // px between the fingers as they came down
  let was = 1;
  const apart = ([a, b]) => Math.hypot(a.clientX - b.clientX, a.clientY - b.clientY);
  pane.addEventListener('touchstart', (e) => { if (e.touches.length === 2) { from = apart(e.touches); was = size; } }, { passive: true });
  pane.addEventListener('touchmove', (e) => {
    if (e.touches.length !== 2 || !from) return;
    e.preventDefault();
    const box = pane.getBoundingClientRect();
    const mid = (of) => (e.touches[0][of] + e.touches[1][of]) / 2;
    to(was * apart(e.touches) / from, mid('clientX') - box.left, mid('clientY') - box.top);
  }, { passive: false });
}

// panning drags an enlarged picture along where nothing else is: by mouse, for fingers scroll it.
function panning(pane, busy) {
  let held = false;
  pane.addEventListener('pointerdown', (e) => {
    held = size > 1 && e.pointerType === 'mouse' && !busy() && !e.target.closest('button, #bar');
    if (held) { pane.setPointerCapture(e.pointerId); pane.classList.add('held'); }
  });
  pane.addEventListener('pointermove', (e) => { if (held) pane.scrollBy(-e.movementX, -e.movementY); });
  for (const end of ['pointerup', 'pointercancel']) {
    pane.addEventListener(end, () => { held = false; pane.classList.remove('held'); });
  }
}
