'use strict';
// The page only shows the state that the server tells, and asks for changes.
const byId = (id) => document.getElementById(id);
let state = null;
let busy = null; // the change under way, and the one that waits
let waiting = null;
let picking = null; // the setting whose places are picked in the picture

async function ask(path, body) {
  const answer = await fetch(path, body === undefined ? {} : {
    method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify(body),
  });
  if (!answer.ok) throw new Error(await answer.text());
  return answer.json();
}

// While one change is under way only the newest of the next ones waits.
function change(path, body) {
  if (busy) { waiting = [path, body]; return; }
  document.body.setAttribute('aria-busy', 'true');
  busy = ask(path, body).then(show, (e) => { byId('problem').textContent = e.message; }).then(() => {
    busy = null;
    document.body.removeAttribute('aria-busy');
    if (waiting) { const next = waiting; waiting = null; change(...next); }
  });
}

function show(s) {
  const sameView = state && state.View === s.View;
  state = s;
  byId('photo').textContent = s.Photo;
  const steps = byId('steps');
  steps.replaceChildren(...s.Stages.map((st, i) => {
    const li = document.createElement('li');
    const b = document.createElement('button');
    b.type = 'button';
    b.textContent = `${i + 1} ${st.Name}`;
    b.title = st.Does;
    if (st.Name === s.View) b.setAttribute('aria-current', 'step');
    b.addEventListener('click', () => change('view', { Stage: st.Name }));
    li.append(b);
    return li;
  }));
  const at = s.Stages.findIndex((st) => st.Name === s.View);
  const now = s.Stages[at];
  byId('title').textContent = `${at + 1} ${now.Name}: ${now.Does}`;
  byId('found').textContent = now.Found;
  byId('problem').textContent = s.Problem;
  byId('notes').replaceChildren(...(now.Notes || []).map((n) => {
    const li = document.createElement('li');
    li.textContent = n;
    return li;
  }));
  byId('after').hidden = !now.Ran;
  if (now.Ran) load(byId('after'), `picture/${now.Name}.jpg?${s.Version}`);
  const before = at > 0 ? s.Stages[at - 1] : null;
  byId('before').hidden = !(before && before.Ran);
  if (before && before.Ran) load(byId('before'), `picture/${before.Name}.jpg?${s.Version}`);
  divide();
  if (picking && s.Picked === 0) picking = null;
  told(s.Picked);
  byId('undo').disabled = !s.Undo;
  byId('redo').disabled = !s.Redo;
  byId('command').textContent = s.Command;
  if (sameView && byId('knobs').contains(document.activeElement)) refresh(s.Knobs || []);
  else byId('knobs').replaceChildren(...(s.Knobs || []).map(knob));
}

// load fetches a picture unless it is the one that is shown.
function load(img, src) {
  if (img.getAttribute('src') !== src) img.src = src;
}

// refresh puts values into the controls without taking the focus off.
function refresh(knobs) {
  for (const k of knobs) {
    for (const el of byId('knobs').querySelectorAll(`[data-flag="${k.Flag}"]`)) {
      if (el !== document.activeElement) el.value = k.Value;
    }
  }
}

function knob(k) {
  const box = document.createElement('div');
  box.className = 'knob';
  const label = document.createElement('label');
  label.htmlFor = `k-${k.Flag}`;
  label.textContent = k.Flag.replaceAll('-', ' ') + (k.Unit ? ` (${k.Unit})` : '');
  const help = document.createElement('small');
  help.id = `h-${k.Flag}`;
  help.textContent = `${k.Help}; usually ${k.Default}`;
  const send = (value, drag) => change('set', { Flag: k.Flag, Value: value, Drag: Boolean(drag) });
  let main;
  const row = document.createElement('div');
  row.className = 'row';
  if (k.Places) {
    const b = document.createElement('button');
    b.type = 'button';
    b.textContent = 'Pick in the picture';
    b.dataset.pick = k.Flag;
    b.addEventListener('click', () => { picking = k; told(0); });
    box.append(b);
  }
  if (k.Choices) {
    main = document.createElement('select');
    for (const c of k.Choices) main.append(new Option(c, c, false, c === k.Value));
    main.addEventListener('change', () => send(main.value));
    row.append(main);
  } else {
    main = document.createElement('input');
    main.type = 'text';
    main.value = k.Value;
    main.addEventListener('change', () => send(main.value));
    if (k.Most > k.Least) {
      // The slider covers what is usual; the field takes all that is allowed.
      const usual = parseFloat(k.Default) || (k.Most - k.Least) / 10;
      const slide = document.createElement('input');
      slide.type = 'range';
      slide.min = k.Least;
      slide.max = Math.min(k.Most, Math.max(usual * 4, k.Least + (k.Most - k.Least) / 50));
      slide.step = k.Whole ? 1 : (slide.max - slide.min) / 200;
      slide.value = k.Value;
      slide.dataset.flag = k.Flag;
      slide.setAttribute('aria-label', label.textContent);
      slide.addEventListener('input', () => { main.value = String(Number(Number(slide.value).toPrecision(4))); send(main.value, true); });
      row.append(slide);
    }
    row.append(main);
  }
  main.id = `k-${k.Flag}`;
  main.dataset.flag = k.Flag;
  main.setAttribute('aria-describedby', help.id);
  box.append(label, row, help);
  return box;
}

function told(n) {
  byId('compare').classList.toggle('picking', picking !== null);
  if (picking) byId('found').textContent = `Click ${picking.Places - n} ${picking.Places - n === 1 ? 'place' : 'places'} in the picture for ${picking.Flag.replaceAll('-', ' ')}; Escape gives up.`;
}

// The place clicked, as shares of the picture without its bar of text, and the
// step whose picture it is.
function pickAt(e) {
  if (!picking) return;
  const at = state.Stages.findIndex((st) => st.Name === state.View);
  const after = byId('after');
  const image = after.hidden ? byId('before') : after;
  if (image.hidden || !image.naturalHeight) return; // still loading
  const stage = state.Stages[after.hidden ? at - 1 : at].Name;
  const box = image.getBoundingClientRect();
  const high = box.height * (image.naturalHeight - state.Bar) / image.naturalHeight;
  change('pick', { Flag: picking.Flag, Stage: stage, X: (e.clientX - box.left) / box.width, Y: (e.clientY - box.top) / high });
}

// divide shows the step before left of the divider.
function divide() {
  const share = Number(byId('divider').value);
  byId('before').style.clipPath = `inset(0 ${100 - share}% 0 0)`;
}

document.addEventListener('DOMContentLoaded', () => {
  byId('divider').addEventListener('input', divide);
  byId('undo').addEventListener('click', () => change('undo', {}));
  byId('redo').addEventListener('click', () => change('redo', {}));
  byId('knobs').addEventListener('submit', (e) => e.preventDefault());
  byId('copy').addEventListener('click', () => navigator.clipboard.writeText(byId('command').textContent));
  byId('compare').addEventListener('click', pickAt);
  document.addEventListener('keydown', (e) => {
    if (e.key === 'Escape' && picking) { picking = null; told(0); byId('found').textContent = ''; }
    if (!(e.ctrlKey || e.metaKey) || e.key.toLowerCase() !== 'z') return;
    e.preventDefault();
    change(e.shiftKey ? 'redo' : 'undo', {});
  });
  ask('state').then(show);
});
