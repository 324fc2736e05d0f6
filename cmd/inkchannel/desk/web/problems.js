// The problems: numbered places on the picture, and the list that they belong to, the worst first.
import { byId, el } from './dom.js';
import * as compare from './compare.js';

const atOnce = 10; // problems that are shown

let on = null;

// start takes up what the list needs: say is a message in the page's words, show goes to a step, change to
// a step's setting, set gives it a value, near enlarges the picture about a place, and opened is called when more of them are shown.
export function start(page) {
  on = page;
  byId('rest').addEventListener('toggle', on.opened);
}

// show lists the problems of a state; now is the step that is looked at, if it is one.
export function show(s, now) {
  const held = byId('trouble').contains(document.activeElement) ? document.activeElement.id : '';
  const marks = s.Marks || [];
  const onPicture = s.View === compare.drawing ? s.Sheet > 0 : now && now.OnSheet && now.Ran;
  byId('marks').replaceChildren(...marks.flatMap((m, i) => (
    onPicture && m.OnSheet && (i < atOnce || byId('rest').open) ? [mark(m, i)] : []
  )));
  place();
  byId('trouble').hidden = marks.length === 0;
  byId('trouble-title').textContent = `Problems${s.Stages.every((st) => st.Ran) ? '' : ' so far'} (${marks.length})`;
  byId('rest').hidden = marks.length <= atOnce;
  byId('rest').firstElementChild.textContent = `${marks.length - atOnce} more`;
  const items = marks.map((m, i) => item(m, i, m.OnSheet ? onPicture : m.Stage === s.View));
  byId('list').replaceChildren(...items.slice(0, atOnce));
  byId('others').replaceChildren(...items.slice(atOnce));
  byId('others').start = atOnce + 1;
  if (held && byId(held)) byId(held).focus();
}

function mark(m, i) {
  const b = el('button', String(i + 1), { title: on.say(m.Text) });
  b.setAttribute('aria-label', `Place ${i + 1}: ${on.say(m.Text)}`);
  b.dataset.mark = String(i);
  b.dataset.x = String(m.X);
  b.dataset.y = String(m.Y);
  b.addEventListener('click', () => { choose(i); const to = byId(`m-${i}`); if (to) to.focus(); });
  return b;
}

// mends says what would mend a problem.
export const mends = (m) => (m.Value ? `Set ${m.Flag.replaceAll('-', ' ')} to ${m.Value}` : '');

// item is a problem in the list; here tells that its place is on the picture that is shown.
function item(m, i, here) {
  const li = el('li', `${m.Stage}: ${on.say(m.Text)} `);
  const see = el('button', 'Show', { id: `m-${i}` });
  see.setAttribute('aria-label', `Show place ${i + 1}`);
  see.addEventListener('click', () => {
    if (!here) { on.show(m.Stage); return; }
    choose(i);
    const b = byId('marks').querySelector(`[data-mark="${i}"]`);
    if (b && b.hidden) on.near(m.X, m.Y);
    if (b) b.scrollIntoView({ block: 'center' });
  });
  li.append(see);
  if (m.Value) {
    const mend = el('button', mends(m));
    mend.addEventListener('click', () => on.set(m.Flag, m.Value));
    li.append(' ', mend);
  }
  if (m.Flag) {
    const turn = el('button', `Change ${m.Flag.replaceAll('-', ' ')}`);
    turn.addEventListener('click', () => on.change(m.Flag, m.FlagStage));
    li.append(' ', turn);
  }
  return li;
}

function choose(i) {
  for (const b of byId('marks').children) b.classList.toggle('chosen', b.dataset.mark === String(i));
}

// place puts the marks where they belong on the picture, once it is there.
export function place() {
  const high = compare.high();
  for (const b of byId('marks').children) {
    b.style.left = `${100 * b.dataset.x}%`;
    b.style.top = `${100 * b.dataset.y * high}%`;
  }
}

// places are those of the marks that are seen, as shares of the picture, and how far off the marks stand, px.
export function places() {
  return [...byId('marks').children].filter((b) => !b.hidden).map((b) => Object.fromEntries(['x', 'y', 'across', 'down'].map((k) => [k, Number(b.dataset[k])])));
}
