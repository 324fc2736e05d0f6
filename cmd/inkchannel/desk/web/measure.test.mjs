import test from 'node:test';
import assert from 'node:assert/strict';
import { inMm, inWords, meant, shown, told } from './measure.js';

test('lengths are shown in the unit chosen', () => {
  assert.equal(shown('203.2', 'mm', 'in'), '8in');
  assert.equal(shown('7.5', 'mm', 'in'), '0.29528in');
  assert.equal(shown('7.5', 'mm', 'mm'), '7.5');
  assert.equal(shown('45', 'degrees', 'in'), '45');
  assert.equal(shown('none', 'mm', 'in'), 'none');
  assert.equal(shown('0', 'mm', 'in'), '0');
  assert.equal(shown('10,20 30,40', 'mm', 'in'), '10,20 30,40');
});

test('a bare number is of the unit chosen', () => {
  assert.equal(meant('8', 'mm', 'in'), '8in');
  assert.equal(meant(' 8in ', 'mm', 'in'), '8in');
  assert.equal(meant('200mm', 'mm', 'in'), '200mm');
  assert.equal(meant('8', 'mm', 'mm'), '8');
  assert.equal(meant('8', 'V', 'in'), '8');
});

test('messages tell lengths in the unit chosen', () => {
  for (const [text, want] of [
    ['line 3, 120 mm', 'line 3, 4.72″'],
    ['200 by 254 mm over all. No line', '7.87 by 10″ over all. No line'],
    ['at x 175.2, y 50.8 mm two lines run as one for 7.5 mm', 'at x 6.9, y 2″ two lines run as one for 0.295″'],
    ['682 mm², 9.924 px per mm, 2 circuits', '682 mm², 9.924 px per mm, 2 circuits'],
    ['at least 1 to 6 mm', 'at least 0.039 to 0.236″'],
  ]) {
    assert.equal(told(text, 'in'), want);
    assert.equal(told(text, 'mm'), text);
  }
});

test('what is typed for a tool is sent in mm', () => {
  assert.equal(inMm('8', 'mm'), '8');
  assert.equal(inMm(' 2 ', 'in'), '50.8');
  assert.equal(inMm('2in', 'mm'), '50.8');
  assert.equal(inMm('2 cm', 'in'), '20');
  assert.equal(inMm('60 mm', 'in'), '60');
  assert.equal(inMm('long', 'in'), 'long');
});

test('the unit of a number that is typed', () => {
  assert.equal(inWords('a length, mm on the paper: a place on it', 'in'), 'a length, inches on the paper: a place on it');
  assert.equal(inWords('a length, mm on the paper: a place on it', 'mm'), 'a length, mm on the paper: a place on it');
});
