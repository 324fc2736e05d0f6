// The picture of a step, and that of another one which it is compared with: beside it, or under a divider.
import { byId } from './dom.js';
import * as frame from './frame.js';
import { shareAt } from './place.js';

// The look at the sheet with all that is drawn over it, beside the steps.
export const drawing = 'drawing';

let state = null; // that the pictures show

// show shows the picture of the step now, at a place among the steps, or of a look if there is none.
export function show(s, at, now, sameView) {
  if (state && (state.View === drawing) !== (s.View === drawing)) byId('after').classList.add('old'); // until its own is there
  state = s;
  if (!sameView) byId('divider').value = 0;
  if (s.View === 'solid') return; // that is no picture
  const ran = now ? now.Ran : s.View === drawing ? s.Sheet > 0 : !s.Problem;
  byId('after').hidden = !ran;
  if (ran) load(byId('after'), s.View === drawing ? `sheet.jpg?${s.Sheet}-${drawing}` : `picture/${s.View}.jpg?${s.Version}`);
  const earlier = now ? s.Stages.slice(0, at).filter((st) => st.Ran) : [];
  const choice = byId('with');
  const kept = sameView ? choice.value : '';
  choice.replaceChildren(...earlier.map((st) => new Option(st.Name, st.Name)));
  if (earlier.length) choice.value = earlier.some((st) => st.Name === kept) ? kept : earlier[earlier.length - 1].Name;
  byId('beside').hidden = byId('slide').hidden = earlier.length === 0;
  arrange();
}

function arrange() {
  const name = byId('with').value;
  const side = byId('how').value === 'side';
  byId('compare').classList.toggle('over', !side);
  byId('compare').classList.toggle('side', side && name !== '');
  byId('first').hidden = name === '';
  byId('compare').classList.toggle('only', byId('after').hidden);
  if (name) load(byId('before'), `picture/${name}.jpg?${state.Version}`);
  byId('slide').hidden = side || name === '' || byId('after').hidden;
  divide();
  frame.refit();
}

// load fetches a picture unless it is the one that is shown.
function load(img, src) {
  if (img.getAttribute('src') !== src) img.src = src;
  else img.classList.remove('old');
}

// divide shows what is compared with left of the divider, which is put away while places are picked.
export function divide() {
  const share = byId('how').value === 'side' || byId('after').hidden ? 100 : Number(byId('divider').value);
  byId('first').style.clipPath = `inset(0 ${100 - share}% 0 0)`;
  byId('bar').hidden = byId('slide').hidden || byId('compare').classList.contains('picking');
  byId('bar').style.left = `${share}%`;
}

// clear shows the step's picture alone.
export function clear() {
  byId('divider').value = 0;
  divide();
}

// high is the share of a picture's height that is not its bar of text.
export function high(image = byId('after')) {
  if (image.id === 'after' && state.View === drawing) return 1;
  return image.naturalHeight ? (image.naturalHeight - state.Bar) / image.naturalHeight : 1;
}

// shareIn is the share of a picture that a pointer is at.
export const shareIn = (image, e) => shareAt(e.clientX, e.clientY, image.getBoundingClientRect(), high(image));

// Dragging the line over the picture moves the divider.
function dragBar() {
  const bar = byId('bar');
  bar.addEventListener('pointerdown', (e) => bar.setPointerCapture(e.pointerId));
  bar.addEventListener('pointermove', (e) => {
    if (!e.buttons) return;
    const box = byId('compare').getBoundingClientRect();
    byId('divider').value = 100 * (e.clientX - box.left) / box.width;
    divide();
  });
}

export function start() {
  byId('divider').addEventListener('input', divide);
  byId('with').addEventListener('change', arrange);
  byId('how').addEventListener('change', arrange);
  byId('before').addEventListener('load', frame.refit);
  for (const end of ['load', 'error']) byId('after').addEventListener(end, () => byId('after').classList.remove('old'));
  dragBar();
}
