// What the scene in space is made of: starting it, its colours, its cut face, parts that bend with the tube.

const FRONT_VIEW = { turn: -0.35, tilt: 0.32 };
const CUT_SHADER = `
precision highp sampler3D;
in vec3 place;
out vec4 shown;
uniform sampler3D box;
uniform vec3 low, size;
uniform vec3 ice, half_way, damage;
void main() {
  vec3 at = (place - low) / size;
  vec3 tint = ice;
  if (all(greaterThanEqual(at, vec3(0.0))) && all(lessThanEqual(at, vec3(1.0)))) {
    vec2 found = texture(box, at).rg;
    if (found.g < 0.5) discard;
    vec3 edge = smoothstep(0.0, 0.15, min(at, 1.0 - at));
    float index = found.r * edge.x * (at.y < 0.5 ? 1.0 : edge.y) * (at.z > 0.5 ? 1.0 : edge.z);
    tint = index < 0.5 ? mix(ice, half_way, 2.0 * index) : mix(half_way, damage, 2.0 * index - 1.0);
  }
  shown = vec4(tint, 1.0);
}`;
const PLACE_SHADER = `
out vec3 place;
void main() {
  vec4 world = modelMatrix * vec4(position, 1.0);
  place = world.xyz;
  gl_Position = projectionMatrix * viewMatrix * world;
}`;
const RAMP = ["#e3edf5", "#f0b35a", "#8c1226"];

function bytesOf(text) {
  return Uint8Array.from(atob(text), (each) => each.charCodeAt(0));
}

function startSpace(holder, data) {
  if (!data.space) return null;
  const place = holder.querySelector("[data-space]");
  let viewer = null;
  try {
    viewer = new Viewer(place, data);
  } catch {
    viewer = null;
  }
  holder.classList.add(viewer ? "has-space" : "no-space");
  if (!viewer) return null;
  connectSpace(holder, viewer);
  holder.viewer = viewer;
  return viewer;
}

function connectSpace(holder, viewer) {
  for (const button of holder.querySelectorAll("[data-turn]")) {
    button.addEventListener("click", () => viewer.turn(Number(button.dataset.turn) * 0.26, 0));
  }
  for (const button of holder.querySelectorAll("[data-look]")) {
    button.addEventListener("click", () => viewer.look(button.dataset.look));
  }
  const [way, where] = [holder.querySelector(".cut"), holder.querySelector(".place")];
  const said = holder.querySelector("[data-cut]");
  const cut = () => {
    const words = viewer.cut(way.value, Number(where.value) / 100);
    said.textContent = words;
    where.setAttribute("aria-valuetext", words);
  };
  way.addEventListener("change", () => {
    where.value = way.value === "y" ? 0 : 50;
    cut();
  });
  where.addEventListener("input", cut);
  cut();
}

const ICE_PARTS = new Set(["ice", "hole", "trench", "chip"]);

function tints(values, plain) {
  const stops = [plain, ...RAMP.slice(1)].map((each) => new THREE.Color(each));
  const found = new Float32Array(3 * values.length);
  const tint = new THREE.Color();
  values.forEach((value, k) => {
    const at = 2 * Math.min(Math.max(value, 0), 1);
    tint.copy(stops[Math.floor(Math.min(at, 1))]).lerp(stops[at > 1 ? 2 : 1], at > 1 ? at - 1 : at);
    if (at > 1) tint.copy(stops[1]).lerp(stops[2], at - 1);
    tint.toArray(found, 3 * k);
  });
  return found;
}

// The axis at a moment: places from the head [mm], nodes, normals toward the front.
function axisOf(moment, standing) {
  const along = tangents(moment.x, moment.z);
  return {
    s: moment.s.map((each) => each + standing), x: moment.x, z: moment.z, along,
    normal: along.map(([tx, tz]) => [-tz, tx]),
  };
}

// The rope hangs where it holds the tube; it keeps its direction.
function hangRope(part, moment) {
  const { position } = part.mesh.geometry.attributes;
  const by = [moment.x[moment.held] - part.rest[0], -part.rest[1], moment.z[moment.held] - part.rest[2]];
  part.rest.forEach((each, k) => {
    position.array[k] = each + by[k % 3];
  });
  position.needsUpdate = true;
}

function middleOf(values) {
  let [low, high] = [Infinity, -Infinity];
  for (const each of values) [low, high] = [Math.min(low, each), Math.max(high, each)];
  return 0.5 * (low + high);
}

// Points of a part that moves with the tube, as `scene.bend` has them; shift: along the axis, of a sling that slides.
function bendPart(part, axis, shift) {
  const points = part.mesh.geometry.attributes.position.array;
  const last = axis.s.length - 1;
  for (let k = 0; k < part.along.length; k += 1) {
    const s = part.along[k] + shift;
    let j = 1;
    while (j < last && axis.s[j] < s) j += 1;
    const share = (s - axis.s[j - 1]) / (axis.s[j] - axis.s[j - 1]);
    const inside = Math.min(Math.max(share, 0), 1);
    const mix = (of) => of[j - 1] + inside * (of[j] - of[j - 1]);
    let [tx, tz] = [0, 1].map((c) => axis.along[j - 1][c] + inside * (axis.along[j][c] - axis.along[j - 1][c]));
    const size = Math.hypot(tx, tz) || 1;
    [tx, tz] = [tx / size, tz / size];
    const over = (share - inside) * (axis.s[j] - axis.s[j - 1]);
    const [front, across] = [part.offset[2 * k], part.offset[2 * k + 1]];
    points[3 * k] = mix(axis.x) + over * tx - front * tz;
    points[3 * k + 1] = across;
    points[3 * k + 2] = mix(axis.z) + over * tz + front * tx;
  }
  part.mesh.geometry.attributes.position.needsUpdate = true;
  part.mesh.geometry.computeVertexNormals();
}
