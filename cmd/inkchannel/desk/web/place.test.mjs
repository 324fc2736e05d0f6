import test from 'node:test';
import assert from 'node:assert/strict';
import { apart, inside, nearestOf, shareAt, thinned } from './place.js';

test('shares stay inside', () => {
  assert.deepEqual([-0.1, 0.3, 1.2].map(inside), [0, 0.3, 1]);
});

test('a place without the bar of text', () => {
  const box = { left: 100, top: 50, width: 400, height: 330 };
  assert.deepEqual(shareAt(300, 200, box, 300 / 330), { x: 0.5, y: 0.5 });
});

test('what lies too near to what is kept is not', () => {
  const at = (x) => ({ x, y: 0 });
  assert.deepEqual(apart([at(0), at(10), at(24), at(26), at(40), at(60)], 25), [true, false, false, true, false, true]);
});

test('a line drawn by hand is thinned, and keeps its end', () => {
  const line = Array.from({ length: 1001 }, (_, i) => ({ x: i / 1000, y: 0 }));
  const some = thinned(line, 0.0095, 1000);
  assert.equal(some.length, 101);
  assert.deepEqual(some[some.length - 1], { x: 1, y: 0 });
  const few = thinned(line, 0, 100);
  assert.ok(few.length <= 100 && few.length > 40);
  assert.deepEqual([few[0].x, few[few.length - 1].x], [0, 1]);
  assert.deepEqual(thinned([], 1, 10), []);
});

test('the nearest place', () => {
  const at = (x, y) => ({ x, y });
  assert.equal(nearestOf([at(0, 0), at(1, 1), at(0.6, 0.4)], at(0.5, 0.5)), 2);
  assert.equal(nearestOf([at(0, 0), at(0, 0)], at(1, 1)), 0, 'the first of equals');
});
