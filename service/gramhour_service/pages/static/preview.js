// Draws a part from its file within the box that was measured. Turned by dragging, or by the arrow
// keys; it moves only while somebody turns it.

import {
  Box3,
  Box3Helper,
  Color,
  DirectionalLight,
  HemisphereLight,
  Mesh,
  MeshLambertMaterial,
  OrbitControls,
  PerspectiveCamera,
  STLLoader,
  Scene,
  ThreeMFLoader,
  Vector3,
  WebGLRenderer,
} from "./three.js";

const TURN = Math.PI / 12;
const KEYS = { ArrowLeft: [-TURN, 0], ArrowRight: [TURN, 0], ArrowUp: [0, -TURN], ArrowDown: [0, TURN] };

function colourOf(name) {
  return new Color(getComputedStyle(document.documentElement).getPropertyValue(name).trim());
}

async function partOf(file) {
  const content = await file.arrayBuffer();
  if (file.name.toLowerCase().endsWith(".3mf")) return new ThreeMFLoader().parse(content);
  return new Mesh(new STLLoader().parse(content));
}

function lit(part) {
  const scene = new Scene();
  const paint = new MeshLambertMaterial({ color: colourOf("--asked"), flatShading: true, side: 2 });
  part.traverse((each) => {
    if (each.isMesh) each.material = paint;
  });
  const light = new DirectionalLight(0xffffff, 3);
  light.position.set(1, -2, 3);
  scene.add(part, new HemisphereLight(0xffffff, 0x889990, 3), light);
  return scene;
}

function stand(scene, part) {
  const box = new Box3().setFromObject(part);
  const size = box.getSize(new Vector3());
  const middle = box.getCenter(new Vector3());
  part.position.sub(new Vector3(middle.x, middle.y, box.min.z));
  const reach = Math.max(size.x, size.y, size.z) || 1;
  scene.add(new Box3Helper(new Box3().setFromObject(part), colourOf("--line"))); // what is measured
  return { reach, height: size.z };
}

function cameraFor({ reach, height }, width, high) {
  const camera = new PerspectiveCamera(35, width / high, reach / 100, reach * 20);
  camera.up.set(0, 0, 1);
  camera.position.set(reach * 1.2, -reach * 2, height / 2 + reach * 1.1);
  return camera;
}

function turnBy(camera, target, [round, over]) {
  const arm = camera.position.clone().sub(target);
  const side = new Vector3().crossVectors(camera.up, arm).normalize();
  arm.applyAxisAngle(camera.up, round).applyAxisAngle(side, over);
  camera.position.copy(arm.add(target));
}

export async function draw(file, canvas) {
  const part = await partOf(file);
  const scene = lit(part);
  const room = stand(scene, part);
  const renderer = new WebGLRenderer({ canvas, antialias: true, alpha: true });
  const [width, height] = [canvas.clientWidth, canvas.clientHeight];
  renderer.setPixelRatio(window.devicePixelRatio);
  renderer.setSize(width, height, false);
  const camera = cameraFor(room, width, height);
  const controls = new OrbitControls(camera, canvas);
  controls.enablePan = false;
  controls.target.set(0, 0, room.height / 2);
  const show = () => renderer.render(scene, camera);
  controls.addEventListener("change", show);
  canvas.addEventListener("keydown", (event) => {
    const turn = KEYS[event.key];
    if (turn === undefined) return;
    event.preventDefault();
    turnBy(camera, controls.target, turn);
    controls.update();
  });
  controls.update();
  show();
}
