import assert from 'node:assert/strict';
import test from 'node:test';
import { asked, plain } from './words.js';

test('settings are named as the page names them', () => {
  assert.equal(plain('give --scale-from paper, or --height: it helps'), 'give “scale from” paper, or “height”: it helps');
  assert.equal(plain('7.5 mm - or -- more'), '7.5 mm - or -- more');
  assert.equal(plain('or give their places with --dots "x,y x,y", in px of the upright photo; or --width'), 'or pick two places in the picture whose distance you know (“dot distance”); or “width”');
  assert.equal(plain(undefined), '');
});

test('what places are picked for', () => {
  assert.equal(asked("the paper's four corners by hand, as x,y x,y x,y x,y"), "The paper's four corners");
  assert.equal(asked('the axis of symmetry by hand, as two points on it: x,y x,y'), 'The axis of symmetry');
  assert.equal(asked('where the foot comes up to the lines, as x,y; auto is low'), 'Where the foot comes up to the lines');
  assert.equal(asked('draw a circle: its middle, a place on it'), 'Draw a circle');
});
