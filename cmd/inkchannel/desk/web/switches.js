// The switches of what is shown on the drawing: those of the program's overlays, and those of this tab alone,
// which outlive a reload.
import { byId, el } from './dom.js';
import { sample } from './over.js';

// What this tab alone shows or not.
const before = [{ name: 'photo', title: 'Photo', act: (on) => byId('second').classList.toggle('bare', !on) }];
const behind = [
  { name: 'places', title: 'Places to check', act: (on) => { byId('marks').hidden = !on; } },
  { name: 'words', title: 'Labels', act: (on) => byId('over').classList.toggle('mute', !on) },
  { name: 'grips', title: 'Handles', act: (on) => { byId('handles').hidden = !on; } },
  { name: 'bends', title: 'Handles bend the whole stretch (as Shift does)', act: () => {}, off: true },
];

const keptAs = 'switched';
const kept = () => JSON.parse(sessionStorage.getItem(keptAs) || '{}');

// show makes the switches, once; change is called with the name of a program's overlay that is switched.
export function show(overlays, change) {
  const box = byId('switches');
  if (box.children.length) return;
  box.append(...before.map(own), ...overlays.map((o) => labelled(o.Name, o.Title, () => change(o.Name))), ...behind.map(own));
}

// ofPhoto offers the photo, where the lines are of one.
export function ofPhoto(is) {
  for (const { name } of before) byId('switches').querySelector(`[data-over="${name}"]`).parentElement.hidden = !is;
}

// tell puts into the boxes which of the program's overlays are on.
export function tell(overlays) {
  for (const o of overlays) byId('switches').querySelector(`[data-over="${o.Name}"]`).checked = o.On;
}

// own is a switch of this tab, as it was left.
function own({ name, title, act, off }) {
  const label = labelled(name, title, (on) => {
    sessionStorage.setItem(keptAs, JSON.stringify({ ...kept(), [name]: on }));
    act(on);
  });
  const on = kept()[name] ?? !off;
  label.firstElementChild.checked = on;
  act(on);
  return label;
}

function labelled(name, title, act) {
  const label = el('label');
  const c = el('input', undefined, { type: 'checkbox' });
  c.dataset.over = name;
  c.addEventListener('change', () => act(c.checked));
  label.append(c, ` ${title} `);
  const like = sample(name);
  if (like) label.append(like);
  return label;
}
