// Getting the files: all as one archive, or each by itself.
import { byId, el } from './dom.js';

let on = null;
let listed = -1; // the state whose files are listed

// start takes up what getting files needs: version is the state's, ask asks the program, working tells that
// it works or not, failure says why nothing came, and signal is one that the user may stop it by.
export function start(page) {
  on = page;
  byId('get').addEventListener('click', all);
  byId('each').addEventListener('toggle', each);
}

// show closes the list of another state.
export function show(s) {
  if (listed !== s.Version) { byId('each').open = false; byId('files').replaceChildren(); }
  byId('get').disabled = Boolean(s.Failed);
  byId('get').textContent = s.Failed ? 'No files yet: see the problem' : 'Get the files';
  byId('writing').hidden = !s.Folder;
  byId('write').textContent = `Write all files to ${s.Folder}`;
}

// making tells what comes of making files; get returns what is told at the end.
async function making(get) {
  on.working(true);
  byId('told').textContent = 'Making the files …';
  try {
    byId('told').textContent = await get();
  } catch (e) {
    byId('told').textContent = e.name === 'AbortError' ? 'Stopped.' : `No files: ${on.failure(e)}`;
  }
  on.working(false);
}

// all fetches the archive, which takes some seconds to make.
function all() {
  const refused = document.querySelector('#knobs [aria-invalid]');
  if (!refused) return making(archive);
  refused.focus();
  byId('told').textContent = `No files: ${refused.dataset.flag.replaceAll('-', ' ')} has a value that was not taken. Mend it, or press Escape for the one that counts.`;
  return null;
}

async function archive() {
  const answer = await fetch('file/sign.zip', { signal: on.signal() });
  if (!answer.ok) throw new Error(await answer.text());
  const url = URL.createObjectURL(await answer.blob());
  el('a', '', { href: url, download: 'sign.zip' }).click();
  setTimeout(() => URL.revokeObjectURL(url), 60000);
  return 'The files are in sign.zip.';
}

async function each() {
  if (!byId('each').open || byId('files').children.length) return;
  await making(async () => {
    const list = await on.ask('files');
    listed = on.version();
    byId('files').replaceChildren(...list.map(link));
    return '';
  });
}

function link(f) {
  const li = el('li');
  li.append(el('a', f.Name, { href: `file/${encodeURIComponent(f.Name)}`, download: f.Name, title: f.What }));
  return li;
}
