// The controls of the settings.
import { byId, el } from './dom.js';
import { inMm, meant, shown } from './measure.js';
import { plain } from './words.js';

// The unit of lengths, of this browser.
const unitKept = 'unit';
export const unit = () => byId('unit').value;

// chooseUnit makes the choice of a unit answer; again is called at each other one.
export function chooseUnit(again) {
  byId('unit').value = localStorage.getItem(unitKept) === 'in' ? 'in' : 'mm';
  byId('unit').addEventListener('change', () => { localStorage.setItem(unitKept, unit()); again(); });
}

// tellTimes tells how large the sign is by its drawing, in whose mm changes by hand are made.
export function tellTimes(times) {
  const scale = byId('knobs').querySelector('[data-times]');
  if (scale) scale.textContent = Math.abs(times - 1) < 0.0005 ? '' : `Lengths and places here are those of the drawing. The sign is ${Number(times.toFixed(3))} times as large, and messages tell its own.`;
}

// refresh puts values into the controls without taking the focus off.
export function refresh(knobs, change) {
  for (const k of knobs) {
    for (const e of byId('knobs').querySelectorAll(`[data-flag="${k.Flag}"]`)) {
      const value = e.type === 'range' ? k.Value : shown(k.Value, k.Unit, unit());
      if (e !== document.activeElement && !e.hasAttribute('aria-invalid')) e.value = value;
      e.dataset.counts = value;
      e.defaultValue = e.value;
    }
    for (const e of byId('knobs').querySelectorAll(`[data-entries="${k.Flag}"]`)) fillEntries(e, k, change);
  }
}

// putBack puts back what counts into a field.
function putBack(field) {
  field.value = field.defaultValue = field.dataset.counts;
  field.removeAttribute('aria-invalid');
  field.dispatchEvent(new Event('putback', { bubbles: true }));
}

const sizes = 1000; // mm that a sign's size may be

// The numbers of entries, as they are at first and as they were typed last.
const numbersKept = 'numbers'; // over a reload
const numbers = { split: '8', length: '100', angle: '45', radius: '25', ...JSON.parse(sessionStorage.getItem(numbersKept) || '{}') };

// number is what is typed for a verb, if it takes one, a length in mm.
export const number = (verb) => numbers[verb];

// knob is the control of a setting; change asks for its new value, pick starts picking its places, and
// glance shows roughly what a value does while the slider moves, if it can, and is made ready once it is reached for.
export function knob(k, change, pick, glance) {
  const box = el('div', undefined, { className: 'knob' });
  const label = el('label', (k.Verbs || []).length ? 'By hand' : k.Flag.replaceAll('-', ' ') + (k.Unit && !(k.Verbs || []).length ? ` (${k.Unit === 'mm' && unit() === 'in' ? 'in' : k.Unit})` : ''), { htmlFor: `k-${k.Flag}` });
  const told = (k.Verbs || []).length ? 'Choose what to do, then its places in the picture; handles can be dragged without choosing a tool. Entries are made in their order' : k.Help;
  const help = el('small', `${plain(told)}. Default: ${shown(k.Default, k.Unit, unit())}`, { id: `h-${k.Flag}` });
  const send = (value, drag) => change('set', { Flag: k.Flag, Value: value, Drag: Boolean(drag) });
  let main;
  const row = el('div', undefined, { className: 'row' });
  if (k.Places) {
    const b = el('button', 'Pick');
    row.classList.add('places');
    b.setAttribute('aria-label', `Pick ${k.Flag.replaceAll('-', ' ')} in the picture`);
    b.dataset.pick = k.Flag;
    b.addEventListener('click', () => pick(k));
    row.append(b);
  }
  const verbs = k.Verbs || [];
  if (verbs.length) {
    row.classList.add('places', 'verbs');
    row.append(...verbs.map((v) => verbButton(k, v, pick)));
  }
  if (k.Choices) {
    main = el('select');
    for (const c of k.Choices) main.append(new Option(c, c, false, c === k.Value));
    main.addEventListener('change', () => send(main.value));
    row.append(main);
  } else {
    main = el('input', undefined, { type: 'text', value: shown(k.Value, k.Unit, unit()) });
    main.dataset.counts = main.value;
    main.addEventListener('change', () => { main.defaultValue = main.value; send(meant(main.value, k.Unit, unit())); });
    main.addEventListener('keydown', (e) => { if (e.key === 'Escape') putBack(main); });
    if (k.Most > k.Least && !(k.Default === '0' && k.Most >= sizes)) {
      // The slider covers what is usual; the field takes all that is allowed. A size that is not asked for by
      // default has no usual one.
      const usual = parseFloat(k.Default) || (k.Most - k.Least) / 10;
      const slide = el('input', undefined, { type: 'range' });
      slide.min = k.Least;
      slide.max = k.Least < 0 ? k.Most : Math.min(k.Most, Math.max(usual * 4, k.Least + (k.Most - k.Least) / 50));
      slide.step = k.Whole ? 1 : (slide.max - slide.min) / 200;
      slide.value = k.Value;
      slide.dataset.flag = k.Flag;
      slide.setAttribute('aria-label', label.textContent);
      const value = () => String(Number(Number(slide.value).toPrecision(4)));
      slide.addEventListener('input', () => {
        main.value = main.defaultValue = shown(value(), k.Unit, unit());
        if (!glance.show(k.Flag, value())) send(value(), true);
      });
      slide.addEventListener('change', () => send(value(), true));
      for (const before of ['pointerenter', 'focus']) slide.addEventListener(before, () => glance.ready(k.Flag, k.Value));
      row.append(slide);
    }
    row.append(main);
  }
  main.id = `k-${k.Flag}`;
  main.dataset.flag = k.Flag;
  main.setAttribute('aria-describedby', help.id);
  box.append(label, row, help);
  if (verbs.length) {
    const list = el('ol', undefined, { className: 'entries' });
    list.dataset.entries = k.Flag;
    fillEntries(list, k, change);
    const scale = el('small');
    scale.dataset.times = '';
    box.append(scale, list);
  }
  return box;
}

// verbButton starts picking for a verb; one with a number has a field for it.
function verbButton(k, v, pick) {
  const b = el('button', v.Name, { title: v.Help });
  b.setAttribute('aria-label', `${v.Name}: ${v.Help}; pick in the picture`);
  b.dataset.verb = v.Name;
  b.addEventListener('click', () => pick({ ...k, Verb: v.Name, Help: v.Help, Places: v.Places, More: v.More, OnStretch: v.OnStretch }));
  if (!v.Unit) return b;
  const field = el('input', undefined, { type: 'text', inputMode: 'decimal', value: shown(numbers[v.Name], v.Unit, unit(), 3).replace(/in$/, '') });
  const shownIn = v.Unit === 'mm' && unit() === 'in' ? 'in' : v.Unit;
  field.setAttribute('aria-label', `${v.Name}, ${shownIn}`);
  field.addEventListener('input', () => {
    numbers[v.Name] = v.Unit === 'mm' ? inMm(field.value, unit()) : field.value;
    sessionStorage.setItem(numbersKept, JSON.stringify(numbers));
  });
  const both = el('span', undefined, { className: 'numbered' });
  both.append(b, field, ` ${shownIn}`);
  return both;
}

// The entries of a setting, each to take out again.
function fillEntries(list, k, change) {
  const all = k.Value === k.Default ? [] : k.Value.split(';').map((e) => e.trim());
  list.replaceChildren(...all.map((e, i) => {
    const words = e.split(' ');
    const li = el('li', words.length > 5 ? `${words[0]}, ${words.length - 1} places ` : `${e} `, { title: e });
    const b = el('button', 'Take out');
    b.setAttribute('aria-label', `Take out ${e}`);
    b.addEventListener('click', () => change('set', { Flag: k.Flag, Value: all.filter((_, j) => j !== i).join('; ') || 'none' }));
    li.append(b);
    return li;
  }));
}
