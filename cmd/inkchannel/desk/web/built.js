// The view in 3D: all parts, or what a step of assembly shows.
import { byId, el } from './dom.js';
import { clamp } from './place.js';

let solid = null; // what is drawn, and the state that it shows
let shown = -1;
let steps = []; // of assembly

const sliders = ['turn', 'tip', 'zoom', 'apart'];

const chosen = () => Number(byId('build').value);

// show draws the sign of a version of the state; ask fetches JSON of the server.
export async function show(version, ask) {
  if (solid && shown === version) { solid.draw(); return; }
  if (chosen()) await list(ask);
  await draw(version);
  if (!chosen()) list(ask).then(() => say(0)).catch(() => {}); // the sign is looked at meanwhile
}

// redraw draws anew what is shown, in the room that there is now.
export function redraw() { if (solid) solid.draw(); }

// start makes sliders, steps and parts answer. version tells the state's, busy shows that something
// is under way, told names what was clicked, or says what went wrong, and put is a message in the page's words.
export function start({ version, busy, told, put }) {
  words = put;
  const go = async (step) => {
    byId('build').value = String(step);
    told(''); // what was clicked, or went wrong, is no more
    busy(true);
    try {
      await draw(version());
      face(Boolean(step && steps[step - 1].Behind));
    } catch (e) { told(e.message); }
    busy(false);
  };
  byId('build').addEventListener('change', () => go(chosen()));
  byId('build-back').addEventListener('click', () => go(chosen() - 1));
  byId('build-on').addEventListener('click', () => go(chosen() + 1));
  const follow = (name) => { if (solid) solid.set({ [name]: Number(byId(name).value) }); };
  for (const name of sliders) byId(name).addEventListener('input', () => follow(name));
  byId('front').addEventListener('click', () => {
    for (const name of sliders) {
      byId(name).value = byId(name).defaultValue;
      follow(name);
    }
    go(0);
  });
  tell = told;
  dragging();
}

let tell = () => {}; // what was clicked
let words = (text) => text; // of the page

// face turns the view to the side that a step of assembly shows, if that is not the one that is seen.
function face(behind) {
  const turn = Number(byId('turn').value);
  if (!solid || behind === Math.abs(turn) > 90) return;
  byId('turn').value = String(turn > 0 ? turn - 180 : turn + 180);
  solid.set({ turn: Number(byId('turn').value) });
}

// choose lights up a body, −1 for none.
function choose(i) {
  solid.choose(i);
  [...byId('bodies').children].forEach((label, k) => label.classList.toggle('chosen', k === i));
  tell(i < 0 ? '' : byId('bodies').children[i].textContent.trim());
}

async function list(ask) {
  steps = await ask('assembly');
  const build = byId('build');
  const kept = Math.min(chosen(), steps.length);
  build.replaceChildren(new Option('the whole sign', '0'), ...steps.map((_, i) => new Option(`step ${i + 1} of ${steps.length}`, String(i + 1))));
  build.value = String(kept);
}

async function draw(version) {
  const step = chosen();
  const answer = await fetch(step ? `assembly/${step}?${version}` : `bodies?${version}`);
  if (!answer.ok) throw new Error(await answer.text());
  const bodies = read(await answer.arrayBuffer());
  if (solid && !bodies.length) { // nothing is put together: what was shown stays
    shown = version;
    say(step);
    return;
  }
  const pose = solid ? solid.pose : {};
  if (solid) { // a canvas keeps its context, so that it is made anew
    solid.close();
    byId('solid').replaceWith(byId('solid').cloneNode(false));
    dragging();
  }
  try {
    const three = await import('./solid.js');
    solid = three.show(byId('solid'), bodies);
  } catch (e) {
    solid = null;
    throw new Error(`This browser cannot show 3D (${e.message}); see the picture of the step "parts" instead.`);
  }
  shown = version;
  solid.set(pose);
  say(step);
  byId('bodies').replaceChildren(...bodies.map((b, i) => {
    const label = el('label');
    const box = el('input', undefined, { type: 'checkbox', checked: !b.Extra });
    if (b.Extra) solid.visible(i, false);
    box.addEventListener('change', () => solid.visible(i, box.checked));
    label.append(box, ` ${b.Name}`);
    return label;
  }));
}

// say tells what a step of assembly is.
function say(step) {
  const now = steps[step - 1];
  byId('build-said').replaceChildren(...(now ? [
    el('p', `${step}. ${words(now.Text.replaceAll('`', ''))}`), ...(now.Caution ? [el('p', words(now.Caution), { className: 'caution' })] : []),
    ...(now.Check ? [el('p', `Check: ${words(now.Check)}`)] : []),
  ] : [el('p', 'Next step begins to put it together.')]));
  byId('build-back').disabled = step === 0;
  byId('build-on').disabled = step === steps.length;
}

// read takes bodies apart: a line of JSON, then numbers.
export function read(buffer) {
  const end = new Uint8Array(buffer).indexOf(10);
  const names = JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, 0, end)));
  let at = end + 1;
  return names.map((b) => {
    const vertices = new Float32Array(buffer, at, 3 * b.Vertices);
    at += 12 * b.Vertices;
    const triangles = new Uint32Array(buffer, at, 3 * b.Triangles);
    at += 12 * b.Triangles;
    return { Name: b.Name, Colour: b.Colour, Apart: b.Apart, Extra: b.Extra, Vertices: vertices, Triangles: triangles };
  });
}

function turnTo(turn, tip) {
  byId('turn').value = ((turn + 540) % 360) - 180;
  byId('tip').value = clamp(tip, -90, 90);
  if (solid) solid.set({ turn: Number(byId('turn').value), tip: Number(byId('tip').value) });
}

// dragging turns the sign by the pointer; a press without a drag chooses a part.
function dragging() {
  const canvas = byId('solid');
  let still = false; // pressed, and not dragged since
  canvas.addEventListener('pointerdown', (e) => { still = true; canvas.setPointerCapture(e.pointerId); });
  canvas.addEventListener('pointerup', (e) => {
    if (!still || !solid) return;
    const box = canvas.getBoundingClientRect();
    choose(solid.at((e.clientX - box.left) / box.width, (e.clientY - box.top) / box.height));
  });
  canvas.addEventListener('wheel', (e) => {
    const zoom = byId('zoom');
    const was = zoom.value;
    zoom.value = Number(zoom.value) * Math.exp(-e.deltaY / 600);
    if (zoom.value === was && !e.ctrlKey) return; // as far as it goes: the page scrolls
    e.preventDefault();
    if (solid) solid.set({ zoom: Number(zoom.value) });
  }, { passive: false });
  canvas.addEventListener('pointermove', (e) => {
    if (Math.abs(e.movementX) + Math.abs(e.movementY) > 1) still = false;
    if (e.buttons) turnTo(Number(byId('turn').value) - e.movementX * 0.5, Number(byId('tip').value) + e.movementY * 0.5);
  });
}
