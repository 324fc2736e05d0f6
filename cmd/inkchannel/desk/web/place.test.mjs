import test from 'node:test';
import assert from 'node:assert/strict';
import { apart, clearWay, inside, nearestOf, shareAt, thinned } from './place.js';

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

test('the first way that is clear of what is taken', () => {
  const ways = [{ x: -30, y: 0 }, { x: 30, y: 0 }, { x: 0, y: 60 }];
  const from = { x: 100, y: 100 };
  assert.equal(clearWay(from, ways, [], 34), ways[0]);
  assert.equal(clearWay(from, ways, [{ x: 60, y: 100 }], 34), ways[1]);
  assert.equal(clearWay(from, ways, [{ x: 36, y: 100 }], 34), ways[0], 'exactly so far is enough');
  assert.equal(clearWay(from, ways, [{ x: 100, y: 100 }], 34), ways[2]);
  assert.equal(clearWay(from, ways, [{ x: 100, y: 120 }], 42), undefined);
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
