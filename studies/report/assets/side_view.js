// The tube in the plane of the pull, true to scale: ice, tube with its thread, what the ice presses with, the pull.

const FLOOR = 30; // deg, where the floor of the ice that is gone is not known

class SideView {
  constructor(holder) {
    this.holder = holder;
    this.svg = draw("svg", { role: "img", class: "side-view", preserveAspectRatio: "xMidYMid meet" });
    holder.append(this.svg);
  }

  // The window in mm that holds the tube at all of these moments.
  frame(placement, moments) {
    const rest = restOf(placement);
    let [left, right, low, high] = [-2 * placement.od, 2 * placement.od, -20, 20];
    for (const { x, z } of [rest, ...moments.map((moment) => toTheHead(placement, moment))]) {
      left = Math.min(left, ...x);
      right = Math.max(right, ...x);
      low = Math.min(low, ...z);
      high = Math.max(high, ...z);
    }
    const arrow = this.arrow(placement);
    const up = Math.sin((placement.pull * Math.PI) / 180);
    this.box = {
      left: left - 25, right: right + 25 + arrow * (1 - up), low: low - 15, high: high + 15 + arrow * up,
    };
    const { box } = this;
    this.svg.setAttribute("viewBox", `${box.left} ${-box.high} ${box.right - box.left} ${box.high - box.low}`);
  }

  arrow(placement) {
    return 0.32 * placement.length;
  }

  show(placement, moment, words) {
    const shape = moment ? toTheHead(placement, moment) : restOf(placement);
    this.svg.replaceChildren();
    this.svg.setAttribute("aria-label", `Side view. ${words}`);
    this.ice(placement);
    const rest = restOf(placement);
    this.line(rest.x, rest.z, { class: "rest" });
    const along = tangents(shape.x, shape.z);
    if (moment) this.gone(placement, moment);
    if (moment) this.bearing(placement, moment);
    this.tube(placement, shape, along, moment);
    this.held(placement, shape, moment);
  }

  add(name, attributes) {
    this.svg.append(draw(name, attributes));
  }

  line(x, z, attributes) {
    const points = Array.from(x, (each, k) => `${each},${-z[k]}`).join(" ");
    this.add("polyline", { points, fill: "none", ...attributes });
  }

  ice(placement) {
    const far = 20 * placement.length; // beyond whatever the picture's shape lets be seen
    const [left, right, low, wide] = [-far, far, -far, 2 * far];
    this.add("rect", { x: left, y: 0, width: wide, height: -low, class: "ice" });
    if (placement.crust > 0) this.add("rect", { x: left, y: 0, width: wide, height: placement.crust, class: "crust" });
    this.line([left, right], [0, 0], { class: "surface" });
  }

  // Ice that is gone: along the tube's first place from the mouth down; how far it reaches in front is not known.
  gone(placement, moment) {
    const deep = Math.max(0, ...moment.gone);
    if (!(deep > 0)) return;
    const corners = trench(placement, deep, this.rise);
    this.add("polygon", { points: corners.map(([x, z]) => `${x},${-z}`).join(" "), class: "gone" });
  }

  bearing(placement, moment) {
    const along = tangents(moment.x, moment.z);
    const most = Math.max(...moment.bearing.map(Math.abs));
    if (!(most > 0)) return;
    moment.bearing.forEach((force, k) => {
      if (Math.abs(force) < 0.01 * most) return;
      const [nx, nz] = [-along[k][1], along[k][0]];
      const side = Math.sign(force) * 0.5 * placement.od;
      const end = side + (0.25 * placement.length * force) / most;
      this.line([moment.x[k] + side * nx, moment.x[k] + end * nx], [moment.z[k] + side * nz, moment.z[k] + end * nz], {
        class: "bearing",
      });
    });
  }

  tube(placement, shape, along, moment) {
    const half = 0.5 * placement.od;
    const edge = (side) => shape.x.map((x, k) => [x - side * along[k][1], shape.z[k] + side * along[k][0]]);
    const outline = [...edge(half), ...edge(-half).reverse()];
    this.add("polygon", { points: outline.map(([x, z]) => `${x},${-z}`).join(" "), class: "steel" });
    if (moment) this.bent(placement, moment);
    const length = lengths(shape.x, shape.z);
    const whole = length[length.length - 1];
    const out = half + placement.height;
    for (let at = whole - 0.5 * placement.pitch; at > whole - placement.thread; at -= placement.pitch) {
      const [x, z, tx, tz] = placeAt(shape, length, at);
      const rise = 0.25 * placement.pitch;
      this.line([x - out * tz + rise * tx, x + out * tz - rise * tx], [z + out * tx + rise * tz, z - out * tx - rise * tz], {
        class: "thread",
      });
    }
  }

  bent(placement, moment) {
    const along = tangents(moment.x, moment.z);
    const half = 0.5 * placement.od;
    const corner = (k, side) => `${moment.x[k] - side * along[k][1]},${-(moment.z[k] + side * along[k][0])}`;
    moment.yielded.forEach((yes, k) => {
      if (!yes) return;
      const points = [corner(k, half), corner(k + 1, half), corner(k + 1, -half), corner(k, -half)].join(" ");
      this.add("polygon", { points, class: "yielded" });
    });
  }

  held(placement, shape, moment) {
    const length = lengths(shape.x, shape.z);
    const above = Math.max(placement.length - placement.depth, 0);
    const at = placement.tied ? Math.max(above - placement.sling, 0) : 0;
    const hung = moment ? [moment.x[moment.held], moment.z[moment.held], ...tangents(moment.x, moment.z)[moment.held]] : null;
    const [x, z, tx, tz] = hung || placeAt(shape, length, at);
    const half = 0.5 * placement.od;
    if (placement.tied) {
      const wide = half + 2;
      this.line([x - wide * tz, x + wide * tz], [z + wide * tx, z - wide * tx], { class: "sling" });
    } else {
      const plate = [[-half - 1, 3], [half + 9, 3], [half + 9, -3], [-half - 1, -3]];
      const points = plate.map(([across, up]) => [x - across * tz - up * tx, z + across * tx - up * tz]);
      this.add("polygon", { points: points.map(([a, b]) => `${a},${-b}`).join(" "), class: "hanger" });
    }
    this.pull(placement, x, z);
  }

  pull(placement, x, z) {
    const turn = (placement.pull * Math.PI) / 180;
    const [run, up] = [Math.cos(turn), Math.sin(turn)];
    const far = this.arrow(placement);
    const start = placement.tied ? 0 : 0.6 * placement.od;
    const head = 9;
    const at = (along, across) => [x + along * run - across * up, z + along * up + across * run];
    const [from, neck, tip] = [at(start, 0), at(far - head, 0), at(far, 0)];
    this.line([from[0], neck[0]], [from[1], neck[1]], { class: "pull-line" });
    const points = [tip, at(far - head, 4.5), at(far - head, -4.5)].map(([a, b]) => `${a},${-b}`).join(" ");
    this.add("polygon", { points, class: "pull-head" });
  }
}

function restOf(placement) {
  const turn = (placement.angle * Math.PI) / 180;
  const above = Math.max(placement.length - placement.depth, 0);
  const count = 24;
  const s = Array.from({ length: count + 1 }, (_, k) => above - (placement.length * k) / count);
  return { x: s.map((each) => each * Math.sin(turn)), z: s.map((each) => each * Math.cos(turn)) };
}

// The moment's shape and the straight piece of tube above its first node, where the rope holds the tube lower down.
function toTheHead(placement, moment) {
  const above = moment.s[0] + Math.max(placement.length - placement.depth, 0);
  if (!(above > 0.5)) return moment;
  const [tx, tz] = tangents(moment.x, moment.z)[0];
  const count = Math.ceil(above / 5);
  const up = Array.from({ length: count }, (_, k) => (above * (count - k)) / count);
  return {
    x: [...up.map((far) => moment.x[0] - far * tx), ...moment.x],
    z: [...up.map((far) => moment.z[0] - far * tz), ...moment.z],
  };
}

// A wedge of ice where the pull presses: from the mouth down the wall, and up to the surface along a floor that rises.
function trench(placement, deep, rise = FLOOR) {
  const turn = (placement.angle * Math.PI) / 180;
  const at = (s) => [0.5 * placement.side * placement.od - s * Math.sin(turn), -s * Math.cos(turn)];
  const [x, z] = at(deep);
  return [at(0), at(deep), [x - (placement.side * z) / Math.tan((rise * Math.PI) / 180), 0]];
}

// Unit tangents of a line of points, from the head to the tip.
function tangents(x, z) {
  return x.map((_, k) => {
    const [a, b] = [Math.max(k - 1, 0), Math.min(k + 1, x.length - 1)];
    const [dx, dz] = [x[b] - x[a], z[b] - z[a]];
    const size = Math.hypot(dx, dz) || 1;
    return [dx / size, dz / size];
  });
}

function lengths(x, z) {
  const found = [0];
  for (let k = 1; k < x.length; k += 1) found.push(found[k - 1] + Math.hypot(x[k] - x[k - 1], z[k] - z[k - 1]));
  return found;
}

// Place and tangent at a length from the head.
function placeAt(shape, length, at) {
  let k = 1;
  while (k < length.length - 1 && length[k] < at) k += 1;
  const share = (at - length[k - 1]) / (length[k] - length[k - 1] || 1);
  const [dx, dz] = [shape.x[k] - shape.x[k - 1], shape.z[k] - shape.z[k - 1]];
  const size = Math.hypot(dx, dz) || 1;
  return [shape.x[k - 1] + share * dx, shape.z[k - 1] + share * dz, dx / size, dz / size];
}

const SIDE_LEGEND =
  "Grey: the tube, its thread as slants. Blue lines: what the ice presses with, the longest the largest. " +
  "Red: yielded metal. Dashed: where the tube was. Pale wedge: ice that is gone, as deep as computed. Green: the pull. True to scale.";
