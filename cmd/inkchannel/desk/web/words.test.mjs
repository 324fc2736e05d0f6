import assert from 'node:assert/strict';
import test from 'node:test';
import { plain } from './words.js';

test('settings are named as the page names them', () => {
  assert.equal(plain('give --scale-from paper, or --height: it helps'), 'give “scale from” paper, or “height”: it helps');
  assert.equal(plain('7.5 mm - or -- more'), '7.5 mm - or -- more');
  assert.equal(plain(undefined), '');
});
