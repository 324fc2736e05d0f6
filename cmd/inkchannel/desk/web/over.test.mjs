import assert from 'node:assert/strict';
import test from 'node:test';
import { arc, besides, measures } from './over.js';

// A quarter and three quarters of the circle of radius 10 about 0,0, y down (SVG 1.1, 8.3.8).
test('an arc goes by way of its middle place', () => {
  const at = (deg) => ({ x: 10 * Math.cos(deg * Math.PI / 180), y: 10 * Math.sin(deg * Math.PI / 180) });
  const flags = (a, m, b) => arc(at(a), at(m), at(b)).match(/A\S+ \S+ 0 ([01]) ([01]) /).slice(1).join('');
  assert.equal(flags(0, 45, 90), '01');
  assert.equal(flags(0, -100, 90), '10');
  assert.equal(flags(90, 45, 0), '00');
  assert.equal(flags(0, 200, 270), '11');
  assert.match(arc({ x: 0, y: 0 }, { x: 5, y: 0 }, { x: 10, y: 0 }), /^M0.00 0.00 L5.00/);
});

test('a mirror takes away what lies beyond its axis', () => {
  const across = (x) => besides([{ x: 10, y: 0 }, { x: 10, y: 5 }, { x, y: 3 }], { width: 20, height: 20 }).match(/-?[\d.]+/g).filter((_, i) => i % 2 === 0).map(Number);
  assert.ok(across(2).every((x) => x >= 10), 'the left is kept');
  assert.ok(across(15).every((x) => x <= 10), 'the right is kept');
});

test('a line and a circle drawn anew tell their size', () => {
  assert.equal(measures.draw({ x: 10, y: 20 }, { x: 10, y: 5 }), '15.0 mm long, at 90 degrees');
  assert.equal(measures.draw({ x: 0, y: 0 }, { x: -3, y: 4 }), '5.0 mm long, at 53 degrees');
  assert.equal(measures.ring({ x: 1, y: 1 }, { x: 4, y: 5 }), 'radius 5.0 mm');
});
