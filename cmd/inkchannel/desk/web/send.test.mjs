import test from 'node:test';
import assert from 'node:assert/strict';
import { changes, newest, passesThrough } from './send.js';

// gate is a promise that is kept from outside.
function gate() {
  const g = {};
  g.done = new Promise((resolve) => { g.open = resolve; });
  return g;
}

test('changes go one after another, in their order', async () => {
  const sent = [];
  const busy = [];
  const gates = [gate(), gate(), gate()];
  const change = changes(async ({ path }) => { sent.push(path); await gates[sent.length - 1].done; }, (b) => busy.push(b));
  const all = change('a', {});
  change('b', {});
  change('c', {});
  assert.deepEqual(sent, ['a']);
  gates.forEach((g) => g.open());
  await all;
  assert.deepEqual(sent, ['a', 'b', 'c']);
  assert.deepEqual(busy, [true, false]);
});

test('of a drag only the newest waits, and a click gives way to nothing', async () => {
  const sent = [];
  const first = gate();
  const change = changes(async ({ body }) => { sent.push(body.Value); if (sent.length === 1) await first.done; }, () => {});
  const all = change('set', { Flag: 'tilt', Value: 1, Drag: true });
  change('set', { Flag: 'tilt', Value: 2, Drag: true });
  change('set', { Flag: 'tilt', Value: 3, Drag: true });
  change('set', { Flag: 'tilt', Value: 4 });
  first.open();
  await all;
  assert.deepEqual(sent, [1, 3, 4]);
});

test('what belongs to one drag', () => {
  const drag = (flag, index) => ({ path: 'set', body: { Flag: flag, Index: index, Drag: true } });
  assert.equal(passesThrough(drag('tilt'), drag('tilt')), true);
  assert.equal(passesThrough(drag('tilt'), drag('wall')), false);
  assert.equal(passesThrough(drag('dots', 0), drag('dots', 1)), false);
  assert.equal(passesThrough(drag('tilt'), { ...drag('tilt'), path: 'move' }), false);
});

test('drafts: one under way, the newest waits, what is under way is shown', async () => {
  const asked = [];
  const shown = [];
  const gates = [gate(), gate()];
  const d = newest(async (b) => { asked.push(b); await gates[asked.length - 1].done; return b * 10; }, (v) => shown.push(v));
  const all = d.push(1);
  d.push(2);
  d.push(3);
  gates.forEach((g) => g.open());
  await all;
  assert.deepEqual(asked, [1, 3]);
  assert.deepEqual(shown, [10, 30]);
});

test('drafts: nothing is shown once they are stopped, and a failure stops nothing', async () => {
  const shown = [];
  const first = gate();
  let n = 0;
  const d = newest(async (b) => { n += 1; if (n === 1) await first.done; if (b === 'bad') throw new Error('no'); return b; }, (v) => shown.push(v));
  const all = d.push('late');
  d.stop();
  first.open();
  await all;
  assert.deepEqual(shown, []);
  await d.push('bad');
  await d.push('good');
  assert.deepEqual(shown, ['good']);
});
