import { byId, el } from './dom.js';
import * as built from './built.js';
import * as compare from './compare.js';
import * as files from './files.js';
import * as focus from './focus.js';
import * as frame from './frame.js';
import * as handles from './handles.js';
import { chooseUnit, knob, refresh, tellTimes, unit } from './knobs.js';
import { told as inUnit } from './measure.js';
import * as opening from './opening.js';
import { draw as drawOver, beyond, labels, none } from './over.js';
import * as picking from './picking.js';
import * as problems from './problems.js';
import { changes, newest } from './send.js';
import * as switches from './switches.js';
import { plain } from './words.js';

// The page only shows the state that the server tells, and asks for changes.
let state = null;
let focusFlag = null; // the setting to go to once its step is shown
let drawnVersion = -1; // the state that the lines over the sheet show

// say is a message of the program in the page's words.
const say = (text) => inUnit(plain(text), unit());

const { drawing } = compare;
// The looks at the whole sign, beside the steps.
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

let asks = 0; // changes that were asked for; none yet, and the page leads on by itself

const send = changes(async ({ path, body }) => {
  stopping = new AbortController();
  try {
    await show(await ask(path, body, stopping.signal));
    if (path === 'set') markRefused(body.Flag);
  } catch (e) {
    if (e.name === 'AbortError') { await show(await ask(stateHere())); return; }
    byId(state && state.Waiting ? 'start-problem' : 'problem').textContent = failure(e);
    gone = e instanceof TypeError;
  }
}, working);

// markRefused marks the field of a setting whose value was not taken, until one is.
function markRefused(flag) {
  const field = byId(`k-${flag}`);
  if (!field) return;
  if (state.Refused) field.setAttribute('aria-invalid', 'true');
  else field.removeAttribute('aria-invalid');
}

// failure says why nothing came of what was asked for.
const failure = (e) => (e instanceof TypeError
  ? 'The program does not answer: it was stopped. Start it again and open the address that it tells then; the command on this page repeats what you did.' : say(e.message));

function working(on) {
  if (on) document.body.setAttribute('aria-busy', 'true');
  else {
    document.body.removeAttribute('aria-busy');
    requestAnimationFrame(() => setTimeout(focus.keep)); // once the browser took it off what is seen no more
  }
}

let byHand = false; // the last change, under the pointer: the picture stays where it is

function change(path, body) {
  asks += 1;
  byHand = ['move', 'pick', 'draw'].includes(path);
  roughly.stop();
  drafts.stop();
  return send(path, body);
}

// setTo gives a setting a value.
const setTo = (flag, value) => change('set', { Flag: flag, Value: value });

// What the lines would be if the place that is dragged were let go there.
const drafts = newest((body) => ask('draft', body), (d) => {
  drawOver(byId('over'), d, say);
  writeLabels();
  byId('found').textContent = say(d.Problem || d.Told);
});

// What the step's picture would be, on a small copy of the photo, if a setting had a value.
const roughly = newest(async (body) => {
  const answer = await post('look', body);
  return answer.ok ? answer.blob() : null;
}, (picture) => {
  const url = URL.createObjectURL(picture);
  byId('after').addEventListener('load', () => URL.revokeObjectURL(url), { once: true });
  byId('after').src = url;
});

let warm = ''; // the step that a glance was made ready for

// ready has the program make a small copy of the photo before a slider moves, so that its first picture is as quick
// as the next.
function ready(flag, value) {
  if (!canGlance() || warm === state.View || occupied()) return;
  warm = state.View;
  post('look', { Flag: flag, Value: value }).catch(() => {});
}

// canGlance tells whether the step that is looked at has a picture that settings change roughly.
const canGlance = () => !state.Lines && !byId('after').hidden && state.Stages.some((st) => st.Name === state.View);

// glance shows roughly what a setting's value does while its slider moves; false where only the whole
// job can tell.
function glance(flag, value) {
  if (send.waiting() || occupied()) return false;
  if (state.View === drawing) drafts.push({ Flag: flag, Value: value });
  else if (canGlance()) roughly.push({ Flag: flag, Value: value });
  else return false;
  return true;
}

async function show(s) {
  const sameView = state && state.View === s.View;
  if (state && state.Waiting && !s.Waiting) { asks = 0; warm = ''; } // a new job
  state = s;
  opening.show(s);
  byId('other').hidden = s.Waiting || !s.Another;
  if (s.Waiting) return;
  byId('photo').textContent = s.Photo + (s.Kept ? `, changes kept in ${s.Kept}` : '') + (s.Lost ? ' (changes end with the program: start it in the folder of the photo to keep them)' : '') + (s.Run ? ` (changes are kept once all files are written to ${s.Folder})` : '') + (s.Unused ? ` (${s.Unused})` : '');
  showSteps(s);
  const at = s.Stages.findIndex((st) => st.Name === s.View);
  const look = looks.find((l) => l.name === s.View);
  const now = at < 0 ? null : s.Stages[at];
  byId('title').textContent = s.View === drawing ? 'The drawing' : look ? `The sign: ${look.label}` : `${now.Number} ${now.Name}: ${now.Does}`;
  sayFound(s);
  byId('sure').textContent = now && now.Ran ? say(now.Sure) : '';
  byId('sure').classList.toggle('unsure', Boolean(now && now.Unsure));
  byId('problem').textContent = say(s.Problem);
  byId('says').classList.toggle('failed', Boolean(s.Failed));
  byId('mend').hidden = !s.Mend.Value;
  byId('mend').firstElementChild.textContent = problems.mends(s.Mend);
  byId('told').textContent = say(s.Told);
  if (s.Told) byId('told').scrollIntoView({ block: 'nearest' });
  const listed = (s.Marks || []).map((m) => m.Text);
  byId('notes').replaceChildren(...((now && now.Notes) || []).filter((n) => !listed.includes(n)).map((n) => el('li', say(n))));
  byId('deep').hidden = s.View !== 'solid' || s.Problem !== '';
  byId('flat').hidden = s.View === 'solid';
  compare.show(s, at, now, sameView);
  showOverlays(s);
  problems.show(s, now);
  handles.show(s.Handles || []);
  picking.follow(s, sameView);
  byId('undo').disabled = !s.Undo;
  byId('redo').disabled = !s.Redo;
  byId('command').textContent = s.Command;
  files.show(s);
  if (sameView && byId('knobs').contains(document.activeElement)) refresh(s.Settings || [], change);
  else fillKnobs(s);
  tellTimes(s.Times);
  picking.tell(s.Picked);
  if (focusFlag && byId(`k-${focusFlag}`)) { byId(`k-${focusFlag}`).focus(); focusFlag = null; }
  askForPlaces(s);
  if (s.View === 'solid' && !s.Problem) await built.show(s.Version, ask);
  if (s.View === drawing && s.Sheet && drawnVersion !== s.Version) {
    const on = s.Overlays.filter((o) => o.On).map((o) => o.Name);
    drawOver(byId('over'), await ask('lines'), say, s.More ? on : []);
    frame.leave(beyond(byId('over')), !sameView || !byHand);
    handles.room();
    writeLabels();
    picking.again();
    drawnVersion = s.Version;
  }
  remember(s.View);
  goOn(s);
  follow();
}

let following = false;

// follow waits for what is switched on over the lines, which the program still works out.
async function follow() {
  if (following || !state.More) return;
  following = true;
  const since = asks;
  const s = await ask(`more?view=${state.View}`).catch(() => null);
  following = false;
  if (!s || handles.held()) return; // what comes of that is told with the lines
  if (since === asks && !occupied()) await show(s);
  else follow();
}

// occupied tells whether the program is at something that was asked for.
const occupied = () => document.body.hasAttribute('aria-busy');

function fillKnobs(s) {
  byId('knobs').replaceChildren(...(s.Settings || []).map((k) => knob(k, change, picking.begin, { show: glance, ready })));
}

// goOn leads on by itself: from the photo to the drawing, from that to the step that could not run,
// and back once that is mended.
function goOn(s) {
  if (s.Untouched) onceShown(byId('after'), () => { if (!asks) change('view', { Stage: drawing }); });
  else if (s.View === drawing && s.Problem && s.Failed && (s.Asks || drawnVersion < 0)) { // its picture helps to mend it
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
  if (s.Failed !== s.View || !s.Asks || !s.Problem || picking.active()) return;
  const k = (s.Settings || []).find((x) => x.Places > 1 && !x.Many && x.Value === x.Default);
  if (k) picking.begin(k);
}

const scaling = ['sheet', 'dots']; // the steps that all sizes rest on

function sayFound(s) {
  const now = stepOf(s);
  const shaky = s.Stages.filter((st) => st.Unsure && scaling.includes(st.Name)).map((st) => st.Name);
  const first = shaky.length ? `Not sure of the ${shaky.join(' and the ')}, and so of all sizes: see the problems. ` : '';
  byId('found').textContent = say(now ? now.Found : s.View === drawing ? first + s.Checked : '');
}

let looking = false; // at what may be new
let gone = false; // the program, when it was asked last
const lookEach = 2000; // ms

// lookAgain shows what another tab may have changed meanwhile, and what was found ahead.
async function lookAgain() {
  const busy = () => occupied() || handles.held();
  if (looking || document.hidden || !state || state.Waiting || busy()) return;
  looking = true;
  const s = await ask(stateHere()).catch((e) => { sayGone(e); return null; });
  looking = false;
  if (!s || busy()) return;
  if (gone) { gone = false; byId('problem').textContent = say(s.Problem); }
  if (s.Version !== state.Version) await show(s);
  else if (ranIn(s) > ranIn(state)) showMore(s);
}

// sayGone tells that the program was stopped, before anybody works on in vain.
function sayGone(e) {
  if (gone || !(e instanceof TypeError)) return;
  gone = true;
  byId('problem').textContent = failure(e);
}

const ranIn = (s) => s.Stages.filter((st) => st.Ran).length;

// showMore shows which steps ran since, and their problems; all else stays as it is.
function showMore(s) {
  state = s;
  showSteps(s);
  problems.show(s, stepOf(s));
  refit();
  if (!picking.active()) sayFound(s); // sizes may be known better
}

// stepOf is the step that is looked at, none for a look.
const stepOf = (s) => s.Stages.find((st) => st.Name === s.View);

// The steps are in the browser's history.
function remember(view) {
  if (location.hash.slice(1) === view) return;
  if (!location.hash) history.replaceState(null, '', `#${view}`);
  else history.pushState(null, '', `#${view}`);
}

// Beside the photo there is room to drag the sheet's corners to, where they lie outside.
const asideShare = 0.12;
const aside = { left: asideShare, top: asideShare, right: asideShare, bottom: asideShare };

// showOverlays shows what is switched on over the sheet.
function showOverlays(s) {
  const on = s.View === drawing;
  byId('overlays').hidden = !on;
  byId('over').toggleAttribute('hidden', !on);
  byId('second').classList.toggle('open', on || Boolean(s.Ring));
  if (!on) { drawnVersion = -1; frame.leave(s.Ring && s.Handles.length > 2 ? aside : none, true); return; }
  switches.show(s.Overlays, (name) => change('over', { Value: name }));
  switches.ofPhoto(!s.Lines);
  byId('making').textContent = s.More ? ': what is pale or missing is being worked out …' : '';
  if (!send.waiting()) switches.tell(s.Overlays); // else the boxes say what was asked for
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
    ...s.Stages.flatMap((st, i) => {
      const step = entry(st.Name, `${st.Number} ${st.Name}`, st.Does);
      const group = groups[st.Name] || (i === 0 && groups.skeleton); // a file of lines begins amid them
      return group ? [el('li', group, { className: 'group' }), step] : [step];
    }));
  followSteps();
}

let followed = ''; // the step that the row of steps was scrolled to

// followSteps scrolls the steps, where they are a row, to the one that is looked at.
function followSteps() {
  if (followed === state.View) return;
  followed = state.View;
  const row = byId('steps');
  const now = row.querySelector('[aria-current]').parentElement;
  row.scrollLeft = now.offsetLeft - row.offsetLeft - (row.clientWidth - now.offsetWidth) / 2;
}

// movingPlaces lets handles move what the step found.
function movingPlaces() {
  const asked = (i, p, other) => ({ Index: i, X: p.x, Y: p.y, Other: other });
  handles.start({
    high: () => compare.high(),
    ring: () => state.Ring,
    moved: () => state.Moved,
    size: () => {
      const box = byId('over').viewBox.baseVal;
      return state.View === drawing && box ? { X: box.width, Y: box.height } : null;
    },
    draft: (i, p, other) => { if (state.View === drawing) drafts.push(asked(i, p, other)); },
    put: (i, p, other) => { drawnVersion = -1; change('move', asked(i, p, other)); },
    back: () => { drafts.stop(); drawnVersion = -1; show(state); },
  });
}

// writeLabels writes what belongs to lines, clear of the marks that are shown.
function writeLabels() {
  if (!byId('over').hasAttribute('viewBox')) return; // nothing was drawn yet
  labels(byId('over'), frame.view(byId('over')), problems.places(), handles.seen());
}

// The keys that work anywhere on the page.
function keys(e) {
  if (e.key === '?' && !(e.target instanceof HTMLInputElement)) byId('help').showModal();
  if (!state || state.Waiting) return;
  if (!(e.ctrlKey || e.metaKey) || e.key.toLowerCase() !== 'z') return;
  if (e.target instanceof HTMLInputElement && e.target.type === 'text' && e.target.value !== e.target.defaultValue) return; // the field's own
  e.preventDefault();
  change(e.shiftKey ? 'redo' : 'undo', {});
}

// The browser's history leads to steps.
function turnBack() {
  const view = location.hash.slice(1);
  const known = state && [drawing, ...looks.map((l) => l.name), ...state.Stages.map((st) => st.Name)].includes(view);
  if (known && view !== state.View) change('view', { Stage: view }); // else it leads to a place on the page
}

let scrolled = 0;
const scrollRest = 120; // ms without scrolling, after which labels follow

// refit fits to the page what was measured for another size of it.
function refit() {
  if (!state || state.Waiting) return;
  handles.room();
  writeLabels();
}

// The parts of the page, and what they need of it.
function startParts() {
  const current = () => state;
  const view = (name) => change('view', { Stage: name });
  opening.start({ state: current, show, ask, change });
  frame.start({ resized: () => { refit(); focus.keep(); }, wheels: () => state.View === drawing, busy: picking.active });
  compare.start();
  picking.start({ state: current, change, waiting: send.waiting, ask, say, found: () => sayFound(state) });
  problems.start({
    say, show: view, change: (flag, step) => { focusFlag = flag; view(step); },
    set: setTo,
    near: (x, y) => frame.near(x, y, refit),
    opened: () => { showMore(state); },
  });
  files.start({
    ask, working, failure, version: () => state.Version, signal: () => { stopping = new AbortController(); return stopping.signal; },
  });
  built.start({ version: () => state.Version, busy: working, told: (text) => { byId('found').textContent = text; }, put: say });
  movingPlaces();
}

document.addEventListener('DOMContentLoaded', () => {
  startParts();
  chooseUnit(() => {
    if (!state || state.Waiting) return;
    drawnVersion = -1; // its texts are in the other unit
    show(state);
  });
  byId('after').addEventListener('load', () => {
    frame.refit();
    problems.place();
    if (state) handles.show(state.Handles || []);
    picking.placed();
  });
  for (const name of ['undo', 'redo', 'write', 'reset']) byId(name).addEventListener('click', () => change(name, {}));
  byId('knobs').addEventListener('submit', (e) => e.preventDefault());
  byId('knobs').addEventListener('putback', async () => show(await ask(stateHere()))); // what was refused is told no more
  byId('copy').addEventListener('click', () => navigator.clipboard.writeText(byId('command').textContent));
  focus.start(byId('stop'));
  byId('stop').addEventListener('click', () => { if (stopping) stopping.abort(); });
  byId('mend').firstElementChild.addEventListener('click', () => setTo(state.Mend.Flag, state.Mend.Value));
  byId('keys').addEventListener('click', () => byId('help').showModal());
  byId('help-close').addEventListener('click', () => byId('help').close());
  byId('pane').addEventListener('scroll', () => { clearTimeout(scrolled); scrolled = setTimeout(refit, scrollRest); });
  window.addEventListener('popstate', turnBack);
  window.addEventListener('resize', () => { frame.refit(); built.redraw(); refit(); });
  window.addEventListener('focus', lookAgain);
  document.addEventListener('visibilitychange', lookAgain);
  document.addEventListener('keydown', keys);
  setInterval(lookAgain, lookEach);
  ask(location.hash ? `state?view=${location.hash.slice(1)}` : 'state').then(show).catch((e) => { byId('problem').textContent = e.message; });
});
