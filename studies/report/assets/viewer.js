// The scene in three dimensions (three.js): turns, cuts, and bends with the pull. Drawn again when something changes.

class Viewer {
  constructor(place, data) {
    this.place = place;
    this.data = data;
    this.canvas = make("canvas", { tabindex: "0", role: "img" });
    const context = this.canvas.getContext("webgl2", { antialias: true, preserveDrawingBuffer: true });
    if (!context) throw new Error("no WebGL 2");
    place.append(this.canvas);
    this.renderer = new THREE.WebGLRenderer({ canvas: this.canvas, context, antialias: true, alpha: true });
    this.renderer.setPixelRatio(Math.min(devicePixelRatio, 2));
    this.renderer.localClippingEnabled = true;
    this.scene = new THREE.Scene();
    this.camera = new THREE.PerspectiveCamera(28, 1, 1, 20000);
    this.camera.up.set(0, 0, 1);
    this.light();
    this.deepest = Math.max(0, ...data.moments.flatMap((moment) => moment.gone));
    this.plane = new THREE.Plane(new THREE.Vector3(0, 1, 0), 0);
    this.parts = data.space.parts.map((part) => this.build(part));
    this.extent();
    this.makeCut();
    this.makeMoving();
    this.controls = new THREE.OrbitControls(this.camera, this.canvas);
    this.controls.enableZoom = false;
    this.controls.enablePan = false;
    this.controls.addEventListener("change", () => this.draw());
    this.canvas.style.touchAction = "pan-y";
    this.canvas.addEventListener("keydown", (event) => this.key(event));
    new ResizeObserver(() => this.resize()).observe(place);
    this.resize();
    this.look("start");
  }

  light() {
    this.scene.add(new THREE.AmbientLight(0xffffff, 1.25));
    const [sun, fill] = [new THREE.DirectionalLight(0xffffff, 1.5), new THREE.DirectionalLight(0xffffff, 0.6)];
    sun.position.set(-0.6, -1, 1.2);
    fill.position.set(1, -0.6, 0.3);
    this.scene.add(sun, fill);
  }

  build(part) {
    const floats = (text) => (text ? new Float32Array(bytesOf(text).buffer) : null);
    const geometry = new THREE.BufferGeometry();
    const rest = floats(part.points);
    geometry.setAttribute("position", new THREE.BufferAttribute(rest.slice(), 3));
    geometry.setIndex(new THREE.BufferAttribute(new Uint32Array(bytesOf(part.triangles).buffer), 1));
    geometry.computeVertexNormals();
    const values = floats(part.values);
    if (values) geometry.setAttribute("color", new THREE.BufferAttribute(tints(values, part.colour), 3));
    const ice = ICE_PARTS.has(part.name);
    const opacity = part.name === "cone" ? Math.min(part.opacity, 0.45) : part.opacity; // it stands before the cut face
    const material = new THREE.MeshLambertMaterial({
      color: values ? "#ffffff" : part.colour, vertexColors: Boolean(values), side: THREE.DoubleSide,
      transparent: opacity < 1, opacity, depthWrite: opacity > 0.6,
      clippingPlanes: ice ? [this.plane] : [],
    });
    const mesh = new THREE.Mesh(geometry, material);
    this.scene.add(mesh);
    return { ...part, mesh, rest, ice, along: floats(part.along), offset: floats(part.offset) };
  }

  // The box of the ice, and of all.
  extent() {
    const box = (parts) => {
      const found = { low: [Infinity, Infinity, Infinity], high: [-Infinity, -Infinity, -Infinity] };
      for (const part of parts) {
        part.rest.forEach((each, k) => {
          found.low[k % 3] = Math.min(found.low[k % 3], each);
          found.high[k % 3] = Math.max(found.high[k % 3], each);
        });
      }
      return found;
    };
    const ice = this.parts.filter((part) => part.name === "ice");
    this.ice = box(ice.length ? ice : this.parts);
    const { low, high } = box(this.parts.filter((part) => part.along || part.name === "ice"));
    this.centre = low.map((each, k) => 0.5 * (each + high[k]));
    this.reach = 0.5 * Math.hypot(...low.map((each, k) => high[k] - each));
  }

  makeCut() {
    const { grid } = this.data.space;
    if (!grid) return;
    const [nx, ny, nz] = grid.shape;
    const texture = new THREE.Data3DTexture(bytesOf(grid.bytes), nx, ny, nz);
    Object.assign(texture, {
      format: THREE.RGFormat, minFilter: THREE.LinearFilter, magFilter: THREE.LinearFilter, unpackAlignment: 1,
      needsUpdate: true,
    });
    const half = grid.spacing.map((each) => 0.5 * each);
    const low = grid.origin.map((each, k) => each - half[k]);
    const size = grid.shape.map((each, k) => each * grid.spacing[k]);
    const [ice, half_way, damage] = RAMP.map((each) => new THREE.Color(each));
    this.face = new THREE.Mesh(
      new THREE.PlaneGeometry(1, 1),
      new THREE.ShaderMaterial({
        glslVersion: THREE.GLSL3, side: THREE.DoubleSide, vertexShader: PLACE_SHADER,
        fragmentShader: `${CUT_SHADER.replace("shown = vec4(tint, 1.0);", "shown = linearToOutputTexel(vec4(tint, 1.0));")}`,
        uniforms: {
          box: { value: texture }, low: { value: new THREE.Vector3(...low) },
          size: { value: new THREE.Vector3(...size) }, ice: { value: ice }, half_way: { value: half_way },
          damage: { value: damage },
        },
      }),
    );
    this.scene.add(this.face);
  }

  // What changes from moment to moment: lines of bearing, the trench.
  makeMoving() {
    const count = this.data.moments[0].x.length;
    const lines = new THREE.BufferGeometry();
    lines.setAttribute("position", new THREE.BufferAttribute(new Float32Array(6 * count), 3));
    this.bearing = new THREE.LineSegments(lines, new THREE.LineBasicMaterial({ color: "#2166ac" }));
    const wall = (sign, at) => new THREE.Plane(new THREE.Vector3(sign, 0, 0), -sign * at);
    const walls = [wall(1, this.ice.low[0]), wall(-1, this.ice.high[0])];
    const wedge = new THREE.BufferGeometry();
    wedge.setAttribute("position", new THREE.BufferAttribute(new Float32Array(18), 3));
    wedge.setIndex([0, 1, 2, 3, 5, 4, 0, 3, 1, 1, 3, 4, 1, 4, 2, 2, 4, 5]);
    this.trench = new THREE.Mesh(
      wedge,
      new THREE.MeshLambertMaterial({ color: "#7d3c4a", side: THREE.DoubleSide, transparent: true, opacity: 0.55, clippingPlanes: walls }),
    );
    for (const mesh of [this.bearing, this.trench]) {
      mesh.frustumCulled = false;
      this.scene.add(mesh);
    }
  }

  // Where to cut: across y, x or z, at a share of the way; returns it in words.
  cut(axis, share) {
    const k = "xyz".indexOf(axis);
    const [low, high] = [this.ice.low[k], this.ice.high[k]];
    const first = axis === "y" ? Math.max(low, 0) : low;
    const at = first + share * (high - first);
    const normal = [0, 0, 0];
    normal[k] = axis === "y" ? 1 : -1;
    this.plane.normal.set(...normal);
    this.plane.constant = (axis === "y" ? -at : at) + 0.1; // mm: the ice's own faces there are seen
    if (this.face) {
      this.putFace(k, at);
      this.face.visible = axis !== "y" || share > 0; // the ice's own cut face is finer
    }
    this.cutAt = axis === "y" ? at : Infinity;
    if (this.moment) this.showTrench(this.moment);
    this.draw();
    const names = { x: "along the pull from the mouth", y: "beside the tube's axis", z: "from the surface" };
    return `${number(at, 0)} mm ${names[axis]}`;
  }

  putFace(k, at) {
    const middle = this.ice.low.map((each, j) => 0.5 * (each + this.ice.high[j]));
    const size = this.ice.low.map((each, j) => this.ice.high[j] - each);
    middle[k] = at + (k === 1 ? -0.05 : 0.05);
    this.face.position.set(...middle);
    this.face.rotation.set(k === 1 ? Math.PI / 2 : 0, k === 0 ? Math.PI / 2 : 0, 0);
    const [wide, high] = [[size[2], size[1]], [size[0], size[2]], [size[0], size[1]]][k];
    this.face.scale.set(wide, high, 1);
  }

  show(moment) {
    this.moment = moment;
    const { length, depth } = this.data.placement;
    const axis = axisOf(moment, Math.max(length - depth, 0));
    for (const part of this.parts) {
      if (part.name === "rope") hangRope(part, moment);
      else if (part.along) bendPart(part, axis, part.name === "sling" ? axis.s[moment.held] - middleOf(part.along) : 0);
    }
    this.showCracks(moment);
    this.showBearing(moment, axis);
    this.showTrench(moment);
    this.canvas.setAttribute(
      "aria-label",
      `Tube and ice in three dimensions, the ice cut open. ${momentWords(moment)}. Arrow keys turn it, plus and minus come closer.`,
    );
    this.draw();
  }

  // A crack is seen once it is there: the trench and its chip as deep as at the end, the cone when it has come.
  showCracks(moment) {
    const deep = Math.max(0, ...moment.gone);
    const pulled = this.data.curve.mm.length > 0;
    this.broken = deep > 0 && deep >= 0.98 * this.deepest;
    for (const part of this.parts) {
      if (["trench", "chip"].includes(part.name)) part.mesh.visible = this.broken;
      if (part.name === "cone") part.mesh.visible = moment.cone || !pulled;
      if (part.name === "front") part.mesh.visible = moment.cone || !pulled || this.broken;
    }
  }

  showBearing(moment, axis) {
    const most = Math.max(1e-9, ...moment.bearing.map(Math.abs));
    const points = this.bearing.geometry.attributes.position.array;
    const { od, length } = this.data.placement;
    moment.bearing.forEach((force, k) => {
      const [nx, nz] = axis.normal[k];
      const small = Math.abs(force) < 0.01 * most;
      const side = small ? 0 : Math.sign(force) * 0.5 * od;
      const end = small ? 0 : side + (0.25 * length * force) / most;
      points.set([moment.x[k] + side * nx, -0.2, moment.z[k] + side * nz], 6 * k);
      points.set([moment.x[k] + end * nx, -0.2, moment.z[k] + end * nz], 6 * k + 3);
    });
    this.bearing.geometry.attributes.position.needsUpdate = true;
  }

  // Ice that is gone, as a wedge on the cut face.
  showTrench(moment) {
    const deep = Math.max(0, ...moment.gone);
    const { od } = this.data.placement;
    const start = this.cutAt ?? 0;
    this.trench.visible = deep > 0 && start < od;
    if (!this.trench.visible) return;
    const corners = trench(this.data.placement, deep, this.data.space.rise || FLOOR);
    const points = [start - 0.2, start + 0.5 * od].flatMap((y) => corners.flatMap(([x, z]) => [x, y, z + 0.1]));
    this.trench.geometry.attributes.position.array.set(points);
    this.trench.geometry.attributes.position.needsUpdate = true;
    this.trench.geometry.computeVertexNormals();
  }

  look(view) {
    const { turn, tilt } = { side: { turn: 0, tilt: 0.02 }, above: { turn: 0, tilt: 1.45 } }[view] || FRONT_VIEW;
    const near = view === "mouth";
    this.target = near ? [0, 0, -0.6 * this.data.placement.od] : this.centre;
    this.away = near ? Math.min(this.fitting(), 9 * this.data.placement.od) : this.fitting();
    this.put(turn, tilt);
  }

  // How far off all of it is seen.
  fitting() {
    const half = Math.tan((0.5 * this.camera.fov * Math.PI) / 180);
    return (0.9 * this.reach) / Math.sin(Math.atan(half * Math.min(1, this.camera.aspect)));
  }

  put(turn, tilt) {
    const [cx, cy, cz] = this.target;
    const flat = this.away * Math.cos(tilt);
    this.camera.position.set(cx + flat * Math.sin(turn), cy - flat * Math.cos(turn), cz + this.away * Math.sin(tilt));
    this.camera.lookAt(cx, cy, cz);
    if (this.controls) {
      this.controls.target.set(cx, cy, cz);
      this.controls.update();
    }
    this.draw();
  }

  turn(by, up) {
    const [cx, cy, cz] = this.target;
    const { x, y, z } = this.camera.position;
    const tilt = Math.asin(Math.max(-1, Math.min(1, (z - cz) / this.away))) + up;
    this.put(Math.atan2(x - cx, cy - y) + by, Math.max(-1.5, Math.min(1.5, tilt)));
  }

  key(event) {
    const turns = { ArrowLeft: [-0.12, 0], ArrowRight: [0.12, 0], ArrowUp: [0, 0.1], ArrowDown: [0, -0.1] };
    const scales = { "+": 0.87, "=": 0.87, "-": 1.15 };
    if (turns[event.key]) this.turn(...turns[event.key]);
    else if (scales[event.key]) {
      this.away *= scales[event.key];
      this.turn(0, 0);
    } else if (event.key === "0") this.look("start");
    else return;
    event.preventDefault();
  }

  resize() {
    const [wide, high] = [this.place.clientWidth, this.place.clientHeight];
    if (!wide || !high) return;
    this.renderer.setSize(wide, high);
    this.camera.aspect = wide / high;
    this.camera.updateProjectionMatrix();
    this.draw();
  }

  // Once before the browser paints next, however much has changed.
  draw() {
    if (this.waiting) return;
    this.waiting = true;
    requestAnimationFrame(() => {
      this.waiting = false;
      this.renderer.render(this.scene, this.camera);
    });
  }
}
