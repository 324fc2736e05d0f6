// Gives meshes to npm's manifold-3d and prints what it makes of each, as JSON.
// Takes a folder of .mesh files: two uint32 (vertices, triangles), the vertices
// as float32 x, y, z and the triangles as uint32, all little-endian.
import { readFileSync, readdirSync } from 'node:fs';
import Module from '../npm/node_modules/manifold-3d/manifold.js';
const wasm = await Module();
wasm.setup();
const dir = process.argv[2];
const out = {};
for (const name of readdirSync(dir).filter((n) => n.endsWith('.mesh')).sort()) {
  const buf = readFileSync(`${dir}/${name}`);
  const data = buf.buffer.slice(buf.byteOffset, buf.byteOffset + buf.byteLength);
  const [nv, nt] = new Uint32Array(data, 0, 2);
  const mesh = new wasm.Mesh({
    numProp: 3,
    vertProperties: new Float32Array(data, 8, 3 * nv),
    triVerts: new Uint32Array(data, 8 + 12 * nv, 3 * nt),
  });
  try {
    const m = new wasm.Manifold(mesh);
    out[name.slice(0, -5)] = { status: String(m.status()), genus: m.genus(), volume: m.volume(), area: m.surfaceArea(), triangles: m.numTri() };
    m.delete();
  } catch (e) {
    out[name.slice(0, -5)] = { status: String(e.message ?? e) };
  }
}
process.stdout.write(JSON.stringify(out));
