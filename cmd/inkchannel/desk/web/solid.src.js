// The sign's parts in 3D. Bundled with three.js into solid.js by `make web`.
import {
  AmbientLight, BufferAttribute, BufferGeometry, Color, DirectionalLight, DoubleSide, Group, Mesh,
  MeshStandardMaterial, OrthographicCamera, Raycaster, Scene, Vector2, Vector3, WebGLRenderer, Box3,
} from 'three';

const radians = (degrees) => degrees * Math.PI / 180;

// show draws bodies on a canvas: each {Name, Colour, Apart, Vertices, Triangles}
// in mm, x to the right, y up, z towards the viewer; those that are Extra lie beside it. It returns what turns, tips,
// zooms, pulls apart and hides. It throws where the browser has no WebGL.
export function show(canvas, bodies) {
  const renderer = new WebGLRenderer({ canvas, antialias: true, alpha: true, preserveDrawingBuffer: true });
  const scene = new Scene();
  const all = new Group();
  scene.add(all);
  scene.add(new AmbientLight(0xffffff, 1.1));
  const light = new DirectionalLight(0xffffff, 2.4);
  light.position.set(-1, 1.6, 2);
  scene.add(light);
  const meshes = bodies.map((b) => {
    const g = new BufferGeometry();
    g.setAttribute('position', new BufferAttribute(b.Vertices, 3));
    g.setIndex(new BufferAttribute(b.Triangles, 1));
    // Both sides, as the parts are turned over to be seen from behind.
    const m = new Mesh(g, new MeshStandardMaterial({ color: new Color(b.Colour), flatShading: true, roughness: 0.8, side: DoubleSide }));
    all.add(m);
    return m;
  });
  const box = new Box3();
  meshes.forEach((m, i) => { if (!bodies[i].Extra) box.expandByObject(m); });
  if (box.isEmpty()) box.setFromObject(all);
  const middle = box.getCenter(new Vector3());
  const size = box.getSize(new Vector3());
  const reach = size.length() / 2;
  const round = Math.hypot(size.x, size.z) / 2; // of the upright cylinder that the sign turns in
  const camera = new OrthographicCamera(-1, 1, 1, -1, -20 * reach, 20 * reach);
  const pose = { turn: -30, tip: 20, zoom: 1, apart: 0 };

  function draw() {
    const w = canvas.clientWidth, h = canvas.clientHeight;
    if (!w || !h) return;
    renderer.setPixelRatio(Math.min(window.devicePixelRatio || 1, 2));
    renderer.setSize(w, h, false);
    const tip = Math.abs(radians(pose.tip));
    const tall = size.y / 2 * Math.cos(tip) + round * Math.sin(tip);
    const mm = Math.max(2 * round / w, 2 * tall / h) * 1.05 / pose.zoom; // for each px
    camera.right = mm * w / 2; camera.left = -camera.right; camera.top = mm * h / 2; camera.bottom = -camera.top;
    meshes.forEach((m, i) => m.position.set(...bodies[i].Apart.map((v) => v * pose.apart)));
    const t = radians(pose.turn), p = radians(pose.tip);
    camera.position.set(middle.x + Math.sin(-t) * Math.cos(p), middle.y + Math.sin(p), middle.z + Math.cos(t) * Math.cos(p));
    camera.lookAt(middle);
    light.position.copy(camera.position).sub(middle).add(new Vector3(-0.5, 0.8, 0.3));
    camera.updateProjectionMatrix();
    renderer.render(scene, camera);
  }

  return {
    set(change) { Object.assign(pose, change); draw(); },
    get pose() { return { ...pose }; },
    visible(i, on) { meshes[i].visible = on; draw(); },
    // at is the body that is seen at a place of the canvas, as shares of it; -1 for none.
    at(x, y) {
      const ray = new Raycaster();
      ray.setFromCamera(new Vector2(2 * x - 1, 1 - 2 * y), camera);
      const hit = ray.intersectObjects(meshes.filter((m) => m.visible))[0];
      return hit ? meshes.indexOf(hit.object) : -1;
    },
    // choose lights one body up; -1 for none.
    choose(i) {
      meshes.forEach((m, k) => m.material.emissive.set(k === i ? 0x6a4a00 : 0x000000));
      draw();
    },
    draw,
    close() {
      for (const m of meshes) { m.geometry.dispose(); m.material.dispose(); }
      renderer.dispose();
    },
  };
}
