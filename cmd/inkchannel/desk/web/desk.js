import { byId, el } from './dom.js';
import * as built from './built.js';
import * as frame from './frame.js';
import * as handles from './handles.js';
import { chooseUnit, knob, number, refresh, unit } from './knobs.js';
import { told as inUnit } from './measure.js';
import { changes, newest } from './send.js';
import { inside, shareAt, thinned } from './place.js';
import { draw as drawOver, aim, beyond, labels, none, preview, sample, shapeOf, wouldBe } from './over.js';
import { asked as askedFor, plain } from './words.js';

// The page only shows the state that the server tells, and asks for changes.
let state = null;
let picking = null; // the setting whose places are picked in the picture
let cross = null; // where the keyboard picks, as shares of the picture
let focusFlag = null; // the setting to go to once its step is shown
let drawnVersion = -1; // the state that the lines over the sheet show

// say is a message of the program in the page's words.
const say = (text) => inUnit(plain(text), unit());

// The looks at the whole sign, beside the steps.
const drawing = 'drawing';
const looks = [{ name: 'lit', label: 'Lit at night' }, { name: 'solid', label: 'In 3D' }];
// The steps are shown in groups, each from the step named on.
const groups = { photo: 'Photo', skeleton: 'Lines', spacing: 'Sign', walls: 'Print', power: 'Electrics' };

const post = (path, body, signal) => fetch(path, {
  method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify({ View: state ? state.View : '', ...body }), signal,
});

async function ask(path, body, signal) {
  const answer = await (body === undefined ? fetch(path) : post(path, body, signal));
  if (!answer.ok) throw new Error(await answer.text());
  return answer.json();
}

// Where this tab asks for the state, as it looks at it.
const stateHere = () => `state?view=${state && !state.Waiting ? state.View : ''}`;

let stopping = null; // what stops the change under way

let asked = false; // for anything yet: then the page goes nowhere by itself

const send = changes(async ({ path, body }) => {
  stopping = new AbortController();
  try {
    await show(await ask(path, body, stopping.signal));
  } catch (e) {
    if (e.name === 'AbortError') { await show(await ask(stateHere())); return; }
    byId(state && state.Waiting ? 'start-problem' : 'problem').textContent = failure(e);
  }
}, working);

// failure says why nothing came of what was asked for.
const failure = (e) => (e instanceof TypeError
  ? 'The program does not answer: it was stopped. Start it again; the command on this page repeats what you did.' : say(e.message));

function working(on) {
  if (on) document.body.setAttribute('aria-busy', 'true');
  else document.body.removeAttribute('aria-busy');
}

function change(path, body) {
  asked = true;
  roughly.stop();
  drafts.stop();
  return send(path, body);
}

// What the lines would be if the place that is dragged were let go there.
const drafts = newest((body) => ask('draft', body), (d) => {
  drawOver(byId('over'), d, false, say);
  writeLabels();
  byId('found').textContent = say(d.Problem || d.Told);
});

let pointedAt = ''; // what is where the pointer is

// What would come of a verb at places that are picked and pointed at.
const trials = newest((body) => ask('draft', body), (d) => {
  if (!picking) return;
  wouldBe(byId('over'), d);
  byId('here').textContent = d.Problem ? say(d.Problem) : pointedAt;
});

// tryOut shows what would come of the verb in hand at places, shares of the picture, once it has all that
// it takes; what the page shows by itself needs no server.
function tryOut(places) {
  if (!picking || !picking.Verb || shapeOf(picking.Verb) || state.View !== drawing || places.length < picking.Places) return;
  trials.push({ Flag: picking.Flag, Verb: picking.Verb, Value: number(picking.Verb), Path: places.map((p) => ({ X: p.x, Y: p.y })) });
}

function tryNothing() {
  trials.stop();
  wouldBe(byId('over'), null);
}

// What the step's picture would be, on a small copy of the photo, if a setting had a value.
const roughly = newest(async (body) => {
  const answer = await post('look', body);
  return answer.ok ? answer.blob() : null;
}, (picture) => {
  const url = URL.createObjectURL(picture);
  byId('after').addEventListener('load', () => URL.revokeObjectURL(url), { once: true });
  byId('after').src = url;
});

// glance shows roughly what a setting's value does while its slider moves; false where only the whole
// job can tell.
function glance(flag, value) {
  if (send.waiting() || document.body.hasAttribute('aria-busy')) return false;
  if (state.View === drawing) drafts.push({ Flag: flag, Value: value });
  else if (!state.Lines && !byId('after').hidden && state.Stages.some((st) => st.Name === state.View)) roughly.push({ Flag: flag, Value: value });
  else return false;
  return true;
}

// A phone may send the photo.
async function lookForPhoto() {
  if (!state.Waiting) return;
  const s = await ask('state').catch(() => null);
  if (s && state.Waiting && !s.Waiting) await show(s);
  else setTimeout(lookForPhoto, 1500);
}

async function show(s) {
  const sameView = state && state.View === s.View;
  if (state && state.Waiting && !s.Waiting) asked = false; // a new job
  state = s;
  byId('start').hidden = !s.Waiting;
  document.querySelector('.desk').hidden = s.Waiting;
  byId('start-problem').textContent = s.Waiting ? s.Problem : '';
  if (s.Waiting) {
    byId('by-run').hidden = !(s.Runs || []).length;
    byId('runs').replaceChildren(...(s.Runs || []).map((name) => {
      const b = el('button', name);
      b.addEventListener('click', () => change('run', { Value: name }));
      return b;
    }));
    byId('by-last').hidden = !s.Last;
    byId('last').textContent = `Go back to ${s.Last}`;
    if (s.Phone) { byId('by-phone').hidden = false; setTimeout(lookForPhoto, 1500); }
    return;
  }
  byId('other').hidden = !s.Another;
  byId('photo').textContent = s.Photo + (s.Kept ? `, changes kept in ${s.Kept}` : '') + (s.Lost ? ' (changes end with the program: start it in the folder of the photo to keep them)' : '') + (s.Unused ? ` (${s.Unused})` : '');
  showSteps(s);
  if (!sameView) byId('divider').value = 0;
  const at = s.Stages.findIndex((st) => st.Name === s.View);
  const look = looks.find((l) => l.name === s.View);
  const now = at < 0 ? null : s.Stages[at];
  byId('title').textContent = s.View === drawing ? 'The drawing' : look ? `The sign: ${look.label}` : `${now.Number} ${now.Name}: ${now.Does}`;
  sayFound(s);
  byId('sure').textContent = now && now.Ran ? say(now.Sure) : '';
  byId('sure').classList.toggle('unsure', Boolean(now && now.Unsure));
  byId('problem').textContent = say(s.Problem);
  byId('told').textContent = say(s.Told);
  const listed = (s.Marks || []).map((m) => m.Text);
  byId('notes').replaceChildren(...((now && now.Notes) || []).filter((n) => !listed.includes(n)).map((n) => el('li', say(n))));
  byId('deep').hidden = s.View !== 'solid' || s.Problem !== '';
  byId('flat').hidden = s.View === 'solid';
  if (s.View !== 'solid') showPictures(s, at, now, sameView);
  showOverlays(s);
  showMarks(s, now);
  handles.show(s.Handles || []);
  if (picking && s.Picked === 0 && (!picking.Many || !sameView)) stopPicking();
  if (wanted && wanted.PickOn === s.View) {
    const k = wanted;
    wanted = null;
    startPicking({ ...k, PickOn: '' });
  }
  byId('undo').disabled = !s.Undo;
  byId('redo').disabled = !s.Redo;
  byId('command').textContent = s.Command;
  if (filesOf !== s.Version) { byId('each').open = false; byId('files').replaceChildren(); }
  byId('writing').hidden = !s.Folder;
  byId('write').textContent = `Write all files to ${s.Folder}`;
  if (sameView && byId('knobs').contains(document.activeElement)) refresh(s.Settings || [], change);
  else fillKnobs(s);
  told(s.Picked);
  if (focusFlag && byId(`k-${focusFlag}`)) { byId(`k-${focusFlag}`).focus(); focusFlag = null; }
  askForPlaces(s);
  if (s.View === 'solid' && !s.Problem) await built.show(s.Version, ask);
  if (s.View === drawing && s.Sheet && drawnVersion !== s.Version) {
    drawOver(byId('over'), await ask('lines'), true, say);
    frame.leave(beyond(byId('over')), !sameView);
    handles.room();
    writeLabels();
    drawnVersion = s.Version;
  }
  remember(s.View);
  goOn(s);
}

function fillKnobs(s) {
  byId('knobs').replaceChildren(...(s.Settings || []).map((k) => knob(k, change, startPicking, glance)));
}

// goOn leads on by itself: from the photo to the drawing, from that to the step that could not run,
// and back once that is mended.
function goOn(s) {
  if (s.Untouched) onceShown(byId('after'), () => { if (!asked) change('view', { Stage: drawing }); });
  else if (s.View === drawing && s.Problem && s.Failed) { // its picture helps to mend it
    mending = s.Failed;
    change('view', { Stage: s.Failed });
  } else if (mending && s.View !== mending) mending = null;
  else if (mending && !s.Problem) {
    mending = null;
    change('view', { Stage: drawing });
  }
}

// onceShown acts when a picture is there: the photo is seen while the lines are found.
function onceShown(image, act) {
  if (image.hidden || image.complete && image.naturalWidth) { act(); return; }
  image.addEventListener('load', act, { once: true });
  image.addEventListener('error', act, { once: true });
}

let mending = null; // the step that the drawing waits for

// A step that could not run, and takes places that would mend it, asks for them.
function askForPlaces(s) {
  if (s.Failed !== s.View || !s.Problem || picking) return;
  const k = (s.Settings || []).find((x) => x.Places > 1 && !x.Many && x.Value === x.Default);
  if (k) startPicking(k);
}

const scaling = ['sheet', 'dots']; // the steps that all sizes rest on

function sayFound(s) {
  const now = s.Stages.find((st) => st.Name === s.View);
  const shaky = s.Stages.filter((st) => st.Unsure && scaling.includes(st.Name)).map((st) => st.Name);
  const first = shaky.length ? `Not sure of the ${shaky.join(' and the ')}, and so of all sizes: see the problems. ` : '';
  byId('found').textContent = say(now ? now.Found : s.View === drawing ? first + s.Checked : '');
}

// All files as one archive, which takes some seconds.
async function getFiles() {
  stopping = new AbortController();
  working(true);
  byId('told').textContent = 'Making the files …';
  try {
    const answer = await fetch('file/sign.zip', { signal: stopping.signal });
    if (!answer.ok) throw new Error(await answer.text());
    const url = URL.createObjectURL(await answer.blob());
    el('a', '', { href: url, download: 'sign.zip' }).click();
    setTimeout(() => URL.revokeObjectURL(url), 60000);
    byId('told').textContent = 'The files are in sign.zip.';
  } catch (e) {
    byId('told').textContent = e.name === 'AbortError' ? 'Stopped.' : `No files: ${failure(e)}`;
  }
  working(false);
}

let looking = false; // at what another tab may have changed
const lookEach = 2000; // ms

// lookAgain shows what another tab may have changed meanwhile.
async function lookAgain() {
  if (looking || document.hidden || !state || state.Waiting || document.body.hasAttribute('aria-busy')) return;
  looking = true;
  const s = await ask(stateHere()).catch(() => null);
  looking = false;
  if (s && s.Version !== state.Version && !document.body.hasAttribute('aria-busy')) await show(s);
}

// The steps are in the browser's history.
function remember(view) {
  if (location.hash.slice(1) === view) return;
  if (!location.hash) history.replaceState(null, '', `#${view}`);
  else history.pushState(null, '', `#${view}`);
}

// Beside the photo there is room to drag the sheet's corners to, where they lie outside.
const asideShare = 0.12;
const aside = { left: asideShare, top: asideShare, right: asideShare, bottom: asideShare };

// What is switched on over the sheet.
function showOverlays(s) {
  const on = s.View === drawing;
  byId('overlays').hidden = !on;
  byId('over').toggleAttribute('hidden', !on);
  byId('second').classList.toggle('open', on || Boolean(s.Ring));
  if (!on) { drawnVersion = -1; frame.leave(s.Ring && s.Handles.length > 2 ? aside : none, true); return; }
  const box = byId('switches');
  if (!box.children.length) {
    const add = (name, title, act, on = true) => {
      const label = el('label');
      const c = el('input', undefined, { type: 'checkbox', checked: on });
      c.dataset.over = name;
      c.addEventListener('change', () => act(c.checked));
      label.append(c, ` ${title} `);
      const like = sample(name);
      if (like) label.append(like);
      box.append(label);
    };
    add('photo', 'Photo', (shown) => byId('second').classList.toggle('bare', !shown));
    for (const o of s.Overlays) add(o.Name, o.Title, () => change('over', { Value: o.Name }));
    add('places', 'Places to check', (shown) => { byId('marks').hidden = !shown; });
    add('words', 'Labels', (shown) => byId('over').classList.toggle('mute', !shown));
    add('grips', 'Handles', (shown) => { byId('handles').hidden = !shown; });
    add('bends', 'Handles bend the whole stretch (as Shift does)', () => {}, false);
  }
  if (send.waiting()) return; // the boxes say what was asked for
  for (const o of s.Overlays) box.querySelector(`[data-over="${o.Name}"]`).checked = o.On;
}

let filesOf = -1; // the state whose files are listed

// listFiles lists each file there is, once they are made.
async function listFiles() {
  if (!byId('each').open || byId('files').children.length) return;
  working(true);
  byId('told').textContent = 'Making the files …';
  try {
    const list = await ask('files');
    filesOf = state.Version;
    byId('files').replaceChildren(...list.map(fileLink));
    byId('told').textContent = '';
  } catch (e) {
    byId('told').textContent = `No files: ${failure(e)}`;
  }
  working(false);
}

function fileLink(f) {
  const li = el('li');
  li.append(el('a', f.Name, { href: `file/${encodeURIComponent(f.Name)}`, download: f.Name, title: f.What }));
  return li;
}

function showSteps(s) {
  const entry = (name, label, title) => {
    const li = el('li');
    const b = el('button', label, { title });
    const st = s.Stages.find((x) => x.Name === name);
    if (st && st.Unsure) { b.append(' (not sure)'); }
    if (name === s.View) b.setAttribute('aria-current', 'step');
    b.addEventListener('click', () => change('view', { Stage: name }));
    li.append(b);
    return li;
  };
  byId('steps').replaceChildren(
    entry(drawing, 'Drawing', 'the sheet with everything that is drawn over it, to work on'),
    ...looks.map((l) => entry(l.name, l.label, 'the whole sign')),
    ...s.Stages.flatMap((st) => {
      const step = entry(st.Name, `${st.Number} ${st.Name}`, st.Does);
      return groups[st.Name] ? [el('li', groups[st.Name], { className: 'group' }), step] : [step];
    }));
}

// The picture of the step, and that of the one it is compared with.
function showPictures(s, at, now, sameView) {
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

// Numbered marks on the picture, and the list that they belong to.
function showMarks(s, now) {
  const marks = s.Marks || [];
  const onPicture = s.View === drawing ? s.Sheet > 0 : now && now.OnSheet && now.Ran;
  const choose = (i) => {
    for (const b of byId('marks').children) b.classList.toggle('chosen', b.dataset.mark === String(i));
  };
  byId('marks').replaceChildren(...marks.flatMap((m, i) => {
    if (!onPicture || !m.OnSheet || i >= firstMarks && !byId('rest').open) return [];
    const b = el('button', String(i + 1), { title: say(m.Text) });
    b.setAttribute('aria-label', `Place ${i + 1}: ${say(m.Text)}`);
    b.dataset.mark = String(i);
    b.dataset.x = String(m.X);
    b.dataset.y = String(m.Y);
    b.addEventListener('click', () => { choose(i); const to = byId(`m-${i}`); if (to) to.focus(); });
    return [b];
  }));
  placeMarks();
  byId('trouble').hidden = marks.length === 0;
  byId('trouble-title').textContent = `Problems${s.Stages.every((st) => st.Ran) ? '' : ' so far'} (${marks.length})`;
  byId('rest').hidden = marks.length <= firstMarks;
  byId('rest').firstElementChild.textContent = `${marks.length - firstMarks} more`;
  const items = marks.map((m, i) => {
    const li = el('li', `${m.Stage}: ${say(m.Text)} `);
    const see = el('button', 'Show', { id: `m-${i}` });
    see.setAttribute('aria-label', `Show place ${i + 1}`);
    see.addEventListener('click', () => {
      if (!m.OnSheet ? m.Stage !== s.View : !onPicture) { change('view', { Stage: m.Stage }); return; }
      choose(i);
      const b = byId('marks').querySelector(`[data-mark="${i}"]`);
      if (b) b.scrollIntoView({ block: 'center' });
    });
    li.append(see);
    if (m.Flag) {
      const turn = el('button', `Change ${m.Flag.replaceAll('-', ' ')}`);
      turn.addEventListener('click', () => { focusFlag = m.Flag; change('view', { Stage: m.FlagStage }); });
      li.append(' ', turn);
    }
    return li;
  });
  byId('list').replaceChildren(...items.slice(0, firstMarks));
  byId('others').replaceChildren(...items.slice(firstMarks));
  byId('others').start = firstMarks + 1;
}

// How many problems are shown at once.
const firstMarks = 10;

// movingPlaces lets handles move what the step found.
function movingPlaces() {
  const asked = (i, p, other) => ({ Index: i, X: p.x, Y: p.y, Other: other });
  handles.start({
    high: () => pictureShare(byId('after')),
    ring: () => state.Ring,
    size: () => {
      const box = byId('over').viewBox.baseVal;
      return state.View === drawing && box ? { X: box.width, Y: box.height } : null;
    },
    draft: (i, p, other) => { if (state.View === drawing) drafts.push(asked(i, p, other)); },
    put: (i, p, other) => { drawnVersion = -1; change('move', asked(i, p, other)); },
    back: () => { drafts.stop(); drawnVersion = -1; show(state); },
  });
}

// The share of a picture's height that is not its bar of text.
function pictureShare(image) {
  if (image.id === 'after' && state.View === drawing) return 1;
  return image.naturalHeight ? (image.naturalHeight - state.Bar) / image.naturalHeight : 1;
}

// shareIn is the share of a picture that a pointer is at.
const shareIn = (image, e) => shareAt(e.clientX, e.clientY, image.getBoundingClientRect(), pictureShare(image));

function placeMarks() {
  const high = pictureShare(byId('after'));
  for (const b of byId('marks').children) {
    b.style.left = `${100 * b.dataset.x}%`;
    b.style.top = `${100 * b.dataset.y * high}%`;
  }
}

// load fetches a picture unless it is the one that is shown.
function load(img, src) {
  if (img.getAttribute('src') !== src) img.src = src;
}

// Picking: by click, or by arrow keys and Enter.
let wanted = null; // a setting whose places are picked in another view, which is on its way

function startPicking(k) {
  if (k.PickOn && k.PickOn !== state.View) {
    wanted = k;
    change('view', { Stage: k.PickOn });
    return;
  }
  if (state.Picked) change('forget', {});
  tryNothing();
  if (!state.Failed) byId('problem').textContent = '';
  picks = [];
  picking = k;
  cross = { x: 0.5, y: 0.5 };
  byId('divider').value = 0;
  divide();
  byId('compare').focus();
  told(0);
}

let picks = []; // the places picked so far, as shares of the picture

function stopPicking() {
  aim(byId('over'), null);
  byId('here').textContent = '';
  preview(byId('over'), '', []);
  tryNothing();
  if (state.Picked) change('forget', {}); // or the next pick would go on from there
  picking = null;
  cross = null;
  divide();
}

function told(n) {
  byId('compare').classList.toggle('picking', picking !== null);
  byId('cross').hidden = !picking;
  byId('done').hidden = true;
  byId('leave').hidden = !picking;
  if (!picking) { picks = []; tryNothing(); }
  else if (!send.waiting()) picks = picks.slice(0, n); // or more are on their way
  showPicks();
  for (const b of document.querySelectorAll('[data-verb], [data-pick]')) {
    b.setAttribute('aria-pressed', String(Boolean(picking) && (b.dataset.verb || b.dataset.pick) === (picking.Verb || picking.Flag)));
  }
  if (!picking) return;
  const left = picking.Places - n;
  const what = picking.Verb ? picking.Help : askedFor(picking.Help);
  byId('done').hidden = !picking.More || left > 0;
  byId('found').textContent = picking.More
    ? 'Draw the line with the pointer held down, or click its places (or arrows and Enter), then Done. Escape stops.'
    : `${what[0].toUpperCase()}${what.slice(1)}. Click ${nth(n, picking.Places)}${picking.Verb && picking.Places > 1 && n === 0 ? ', or drag from the first to the second' : ''} (or arrows and Enter). Escape stops.`;
  placeCross();
}

// nth says which place of so many is next.
const nth = (n, all) => (all === 1 ? 'its place' : `place ${n + 1} of ${all}`);

// underPicks is the share of the height of the picture picked in that is not its bar of text.
function underPicks() {
  const p = pickedPicture();
  return pictureShare(p ? p.image : byId('after'));
}

function showPicks() {
  const high = underPicks();
  byId('picks').replaceChildren(...picks.map((p) => {
    const e = el('i');
    e.style.left = `${100 * p.x}%`;
    e.style.top = `${100 * p.y * high}%`;
    return e;
  }));
}

function placeCross() {
  byId('cross').style.left = `${100 * cross.x}%`;
  byId('cross').style.top = `${100 * cross.y * underPicks()}%`;
}

// The step whose picture is picked in: this one, or the one before if this one
// failed.
function pickedPicture() {
  const after = byId('after');
  const image = after.hidden ? byId('before') : after;
  if (!image.naturalHeight) return null; // still loading
  return { image, stage: after.hidden ? byId('with').value : state.View };
}

function pick(x, y) {
  const p = pickedPicture();
  if (!picking || !p) return;
  picks.push({ x, y });
  change('pick', { Flag: picking.Flag, Verb: picking.Verb, Value: number(picking.Verb), Stage: p.stage, X: x, Y: y });
}

function pickAt(e) {
  const p = pickedPicture();
  if (!picking || !p || drew) return;
  cross = shareIn(p.image, e);
  pick(cross.x, cross.y);
}

// writeLabels writes what belongs to lines, clear of the marks that are shown.
function writeLabels() {
  const marks = [...byId('marks').children].filter((b) => !b.hidden);
  labels(byId('over'), marks.map((b) => ({ x: Number(b.dataset.x), y: Number(b.dataset.y) })));
}

// A line drawn by hand: pressed, drawn, let go. Of other verbs with two places or more, the first two
// may be dragged: from the one to the other.
let drew = false; // the click that ends it is no pick
const handApart = 0.004; // of the picture, between its places
const handMost = 300;
const dragLeast = 0.02; // of the picture

function drawingByHand() {
  const box = byId('compare');
  let places = null;
  box.addEventListener('pointerdown', (e) => {
    drew = false;
    if (!picking || picking.Places < 2 || !picking.Verb || state.Picked || !e.isPrimary || e.target.closest('button')) return;
    const p = pickedPicture();
    const at = p && shareIn(p.image, e);
    places = at ? [{ x: inside(at.x), y: inside(at.y) }] : [];
    box.setPointerCapture(e.pointerId);
  });
  box.addEventListener('pointermove', (e) => {
    const p = places && pickedPicture();
    if (!p) return;
    const at = shareIn(p.image, e);
    if (!picking.More && places.length > 1) places.pop();
    places.push({ x: inside(at.x), y: inside(at.y) });
    if (state.View === drawing) {
      preview(byId('over'), picking.Verb, places);
      tryOut(places);
    }
  });
  const end = () => {
    const line = places ? thinned(places, handApart, handMost) : [];
    const p = pickedPicture();
    places = null;
    preview(byId('over'), '', []);
    if (!picking || !p || line.length < (picking.More ? 3 : 2)) return;
    if (!picking.More && Math.hypot(line[1].x - line[0].x, line[1].y - line[0].y) < dragLeast) return; // a click
    drew = true;
    if (!picking.More) { line.forEach((q) => pick(q.x, q.y)); return; }
    change('draw', { Flag: picking.Flag, Verb: picking.Verb, Stage: p.stage, Path: line.map((q) => ({ X: Number(q.x.toFixed(4)), Y: Number(q.y.toFixed(4)) })) });
  };
  box.addEventListener('pointerup', end);
  box.addEventListener('pointercancel', () => { places = null; preview(byId('over'), '', []); });
  byId('leave').addEventListener('click', () => { stopPicking(); told(0); sayFound(state); });
  byId('done').addEventListener('click', () => {
    if (picking) change('pick', { Flag: picking.Flag, Verb: picking.Verb, Stage: state.View, Finish: true });
  });
}

// aiming shows which line a pick would take.
function aiming() {
  const box = byId('pane');
  box.addEventListener('pointermove', (e) => {
    if (!picking || e.buttons || state.View !== drawing) return;
    const image = byId('after');
    const at = shareIn(image, e);
    pointed(at);
  });
  box.addEventListener('pointerleave', () => { aim(byId('over'), null); tryNothing(); });
}

// pointed shows what a pick at a place would take, and what would come of it.
function pointed(at) {
  const here = aim(byId('over'), picking.Verb === 'rub-out' && picks.length ? null : at, picking.OnStretch);
  pointedAt = here ? `Here: ${here}` : '';
  byId('here').textContent = pointedAt;
  preview(byId('over'), picking.Verb, [...picks, at]);
  if (here || picks.length || !picking.OnStretch) tryOut([...picks, at]);
  else tryNothing();
}

function pickByKey(e) {
  const step = e.shiftKey ? 0.05 : 0.0025;
  const move = handles.arrows[e.key];
  if (!picking) return;
  if (e.key === 'Enter') pick(cross.x, cross.y);
  else if (move) {
    cross = { x: inside(cross.x + step * move[0]), y: inside(cross.y + step * move[1]) };
    placeCross();
    if (state.View === drawing) pointed(cross);
  } else return;
  e.preventDefault();
}

// divide shows what is compared with left of the divider.
function divide() {
  const share = byId('how').value === 'side' || byId('after').hidden ? 100 : Number(byId('divider').value);
  byId('first').style.clipPath = `inset(0 ${100 - share}% 0 0)`;
  byId('bar').hidden = byId('slide').hidden || picking !== null;
  byId('bar').style.left = `${share}%`;
}

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

// The first photo: chosen, dropped or pasted.
async function begin(file) {
  if (!file || !state) return;
  if (!state.Waiting) {
    byId('told').textContent = `${file.name} was not opened: this page is for ${state.Photo}${state.Another ? '; choose "Another photo" first' : ''}.`;
    return;
  }
  byId('start-problem').textContent = `Reading ${file.name} ...`;
  try {
    const answer = await fetch(`photo?name=${encodeURIComponent(file.name)}`, { method: 'POST', body: file });
    if (!answer.ok) throw new Error(await answer.text());
    await show(await answer.json());
    if (!state.Waiting) byId('title').focus();
  } catch (e) {
    byId('start-problem').textContent = e.message;
  }
}

function starting() {
  const drop = byId('drop');
  byId('file').addEventListener('change', (e) => begin(e.target.files[0]));
  document.addEventListener('dragover', (e) => { e.preventDefault(); drop.classList.add('over'); });
  document.addEventListener('dragleave', () => drop.classList.remove('over'));
  document.addEventListener('drop', (e) => { e.preventDefault(); drop.classList.remove('over'); begin(e.dataTransfer.files[0]); });
  document.addEventListener('paste', (e) => begin([...e.clipboardData.files].find((f) => f.type.startsWith('image/'))));
}

document.addEventListener('DOMContentLoaded', () => {
  starting();
  frame.start({
    resized: () => { writeLabels(); if (state) handles.room(); },
    wheels: () => state.View === drawing, busy: () => picking !== null,
  });
  chooseUnit(() => {
    if (!state || state.Waiting) return;
    drawnVersion = -1; // its texts are in the other unit
    show(state);
  });
  byId('divider').addEventListener('input', divide);
  byId('with').addEventListener('change', arrange);
  byId('how').addEventListener('change', arrange);
  byId('each').addEventListener('toggle', listFiles);
  byId('before').addEventListener('load', frame.refit);
  byId('after').addEventListener('load', () => { frame.refit(); placeMarks(); if (state) handles.show(state.Handles || []); if (picking) placeCross(); });
  byId('undo').addEventListener('click', () => change('undo', {}));
  byId('redo').addEventListener('click', () => change('redo', {}));
  byId('write').addEventListener('click', () => change('write', {}));
  byId('knobs').addEventListener('submit', (e) => e.preventDefault());
  byId('copy').addEventListener('click', () => navigator.clipboard.writeText(byId('command').textContent));
  byId('pane').addEventListener('click', pickAt); // lines may lie beside the picture
  byId('compare').addEventListener('keydown', pickByKey);
  built.start({ version: () => state.Version, busy: working, told: (text) => { byId('found').textContent = text; } });
  dragBar();
  movingPlaces();
  drawingByHand();
  aiming();
  window.addEventListener('popstate', () => {
    const view = location.hash.slice(1);
    const known = state && [drawing, ...looks.map((l) => l.name), ...state.Stages.map((st) => st.Name)].includes(view);
    if (known && view !== state.View) change('view', { Stage: view }); // else it leads to a place on the page
  });
  byId('get').addEventListener('click', getFiles);
  byId('another').addEventListener('click', () => change('another', {}));
  byId('last').addEventListener('click', () => change('resume', {}));
  byId('rest').addEventListener('toggle', () => { showMarks(state, state.Stages.find((st) => st.Name === state.View)); handles.room(); });
  window.addEventListener('focus', lookAgain);
  setInterval(lookAgain, lookEach);
  byId('reset').addEventListener('click', () => change('reset', {}));
  document.addEventListener('visibilitychange', lookAgain);
  byId('stop').addEventListener('click', () => { if (stopping) stopping.abort(); });
  byId('keys').addEventListener('click', () => byId('help').showModal());
  byId('help-close').addEventListener('click', () => byId('help').close());
  window.addEventListener('resize', () => { frame.refit(); built.redraw(); writeLabels(); if (state) handles.room(); });
  document.addEventListener('keydown', (e) => {
    if (e.key === 'Escape' && picking) { stopPicking(); told(0); sayFound(state); }
    if (e.key === '?' && !(e.target instanceof HTMLInputElement)) byId('help').showModal();
    if (!(e.ctrlKey || e.metaKey) || e.key.toLowerCase() !== 'z') return;
    if (e.target instanceof HTMLInputElement && e.target.type === 'text' && e.target.value !== e.target.defaultValue) return; // the field's own
    e.preventDefault();
    change(e.shiftKey ? 'redo' : 'undo', {});
  });
  ask(location.hash ? `state?view=${location.hash.slice(1)}` : 'state').then(show).catch((e) => { byId('problem').textContent = e.message; });
});
