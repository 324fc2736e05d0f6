// The page while it has no photo: one is chosen, dropped, pasted or sent by a phone, or a run is taken up.
import { byId, el } from './dom.js';

let on = null;
const lookEach = 1500; // ms between looks for a photo that a phone sends

// show offers what may be opened.
export function show(s) {
  byId('start').hidden = !s.Waiting;
  document.querySelector('.desk').hidden = s.Waiting;
  byId('start-problem').textContent = s.Waiting ? s.Problem : '';
  if (!s.Waiting) return;
  byId('by-run').hidden = !(s.Runs || []).length;
  byId('runs').replaceChildren(...(s.Runs || []).map((name) => {
    const b = el('button', name);
    b.addEventListener('click', () => on.change('run', { Value: name }));
    return b;
  }));
  byId('by-last').hidden = !(s.Last || []).length;
  byId('last').replaceChildren(...(s.Last || []).map((name, i) => {
    const b = el('button', `Go back to ${name}`);
    b.addEventListener('click', () => on.change('resume', { Value: String(i) }));
    return b;
  }));
  if (s.Phone) { byId('by-phone').hidden = false; setTimeout(lookForPhoto, lookEach); }
}

async function lookForPhoto() {
  if (!on.state().Waiting) return;
  const s = await on.ask('state').catch(() => null);
  if (s && on.state().Waiting && !s.Waiting) await on.show(s);
  else setTimeout(lookForPhoto, lookEach);
}

async function take(file) {
  const now = on.state();
  if (!file || !now) return;
  if (!now.Waiting) {
    byId('told').textContent = `${file.name} was not opened: this page is for ${now.Photo}${now.Another ? '; choose "Another photo" first' : ''}.`;
    return;
  }
  byId('start-problem').textContent = `Reading ${file.name} ...`;
  try {
    const answer = await fetch(`photo?name=${encodeURIComponent(file.name)}`, { method: 'POST', body: file });
    if (!answer.ok) throw new Error(await answer.text());
    await on.show(await answer.json());
    if (!on.state().Waiting) byId('title').focus();
  } catch (e) {
    byId('start-problem').textContent = e.message;
  }
}

// start takes up photos: state is the state that is shown, show shows another, ask asks the program for
// something, and change for a change.
export function start(page) {
  on = page;
  const drop = byId('drop');
  byId('file').addEventListener('change', (e) => take(e.target.files[0]));
  document.addEventListener('dragover', (e) => { e.preventDefault(); drop.classList.add('over'); });
  document.addEventListener('dragleave', () => drop.classList.remove('over'));
  document.addEventListener('drop', (e) => { e.preventDefault(); drop.classList.remove('over'); take(e.dataTransfer.files[0]); });
  document.addEventListener('paste', (e) => {
    const pasted = [...e.clipboardData.files].find((f) => f.type.startsWith('image/'));
    if (pasted) take(new File([pasted], pasted.name.replace(/^image\./, 'pasted.'), { type: pasted.type })); // browsers name all alike
  });
  byId('another').addEventListener('click', async () => {
    await on.change('another', {});
    if (on.state().Waiting) byId('start-title').focus(); // the button is seen no more
  });
}
