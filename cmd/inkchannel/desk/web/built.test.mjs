import assert from 'node:assert/strict';
import { test } from 'node:test';
import { read } from './built.js';

test('bodies are a line of JSON, then their numbers', () => {
  let head = JSON.stringify([{ Name: 'lid', Colour: '#fff', Apart: [0, 1, 0], Vertices: 3, Triangles: 1 }, { Name: 'stand', Colour: '#000', Apart: [0, 0, 0], Vertices: 1, Triangles: 0 }]);
  while ((head.length + 1) % 4) head += ' ';
  const text = new TextEncoder().encode(`${head}\n`);
  const vertices = new Float32Array([0, 0, 0, 1, 0, 0, 0, 2.5, 0]);
  const triangles = new Uint32Array([0, 1, 2]);
  const last = new Float32Array([7, 8, 9]);
  const all = new Uint8Array(text.length + 4 * (9 + 3 + 3));
  all.set(text);
  all.set(new Uint8Array(vertices.buffer), text.length);
  all.set(new Uint8Array(triangles.buffer), text.length + 36);
  all.set(new Uint8Array(last.buffer), text.length + 48);
  const [lid, stand] = read(all.buffer);
  assert.equal(lid.Name, 'lid');
  assert.deepEqual([...lid.Vertices], [...vertices]);
  assert.deepEqual([...lid.Triangles], [0, 1, 2]);
  assert.deepEqual([...stand.Vertices], [7, 8, 9]);
  assert.equal(stand.Triangles.length, 0);
});
