import test from 'node:test';
import assert from 'node:assert/strict';
import { meant, shown } from './measure.js';

test('lengths are shown in the unit chosen', () => {
  assert.equal(shown('203.2', 'mm', 'in'), '8in');
  assert.equal(shown('7.5', 'mm', 'in'), '0.29528in');
  assert.equal(shown('7.5', 'mm', 'mm'), '7.5');
  assert.equal(shown('45', 'degrees', 'in'), '45');
  assert.equal(shown('none', 'mm', 'in'), 'none');
  assert.equal(shown('10,20 30,40', 'mm', 'in'), '10,20 30,40');
});

test('a bare number is of the unit chosen', () => {
  assert.equal(meant('8', 'mm', 'in'), '8in');
  assert.equal(meant(' 8in ', 'mm', 'in'), '8in');
  assert.equal(meant('200mm', 'mm', 'in'), '200mm');
  assert.equal(meant('8', 'mm', 'mm'), '8');
  assert.equal(meant('8', 'V', 'in'), '8');
});
