// A finished study: its axes move the tube's picture, the numbers, and the place on the curve or map, from stored results.

function startExplorer(holder, data) {
  const explorer = new Explorer(holder, data);
  holder.querySelectorAll(".axis").forEach((control) => control.addEventListener("input", () => explorer.choose()));
  explorer.moment.addEventListener("input", () => explorer.showMoment());
  explorer.choose();
}

class Explorer {
  constructor(holder, data) {
    this.holder = holder;
    this.data = data;
    this.now = holder.querySelector("[data-now]");
    this.moment = holder.querySelector(".moment");
    this.side = new SideView(holder.querySelector("[data-side]"));
    this.controls = [...holder.querySelectorAll(".axis")];
    this.cases = new Map(data.cases.map((each) => [each.at.join(), each]));
    const drawn = data.cases.flatMap((each) => each.moments);
    this.side.frame(data.widest, drawn);
    holder.querySelector("[data-side-legend]").textContent = drawn.length ? SIDE_LEGEND : data.restLegend;
    this.curves = holder.querySelector("[data-curve]");
    this.overview = data.map ? new GridMap(holder, data, this) : new PlaceChart(holder, data);
  }

  at() {
    return this.controls.map((control) => Number(control.value));
  }

  choose() {
    const at = this.at();
    this.controls.forEach((control, k) => {
      const text = this.data.axes[k].texts[at[k]];
      control.setAttribute("aria-valuetext", text);
      const said = control.parentElement.querySelector("output");
      if (said) said.textContent = text;
    });
    this.chosen = this.cases.get(at.join());
    this.overview.show(at, this.chosen);
    if (!this.chosen) return this.showNone();
    this.facts();
    this.showCurve();
    const count = this.chosen.moments.length;
    this.holder.querySelector("[data-moments]").hidden = !count;
    this.moment.max = Math.max(count - 1, 0);
    this.moment.value = this.chosen.start;
    this.showMoment();
  }

  showNone() {
    const problem = this.data.problems[this.at().join()];
    this.now.textContent = problem || "This combination was not solved.";
    this.holder.querySelector("[data-facts] tbody").replaceChildren();
    this.curves.replaceChildren();
  }

  facts() {
    this.now.textContent = this.chosen.words;
    const rows = this.chosen.facts.map(([name, value]) => {
      const row = make("tr");
      row.append(make("th", { scope: "row" }, name), make("td", {}, value));
      return row;
    });
    this.holder.querySelector("[data-facts] tbody").replaceChildren(...rows);
  }

  showCurve() {
    const { curve, limit } = this.chosen;
    this.holder.querySelector("[data-curve-half]").hidden = !curve.mm.length;
    this.curves.replaceChildren();
    this.chart = curve.mm.length ? pullChart(this.curves, curve, limit) : null;
  }

  showMoment() {
    const { placement, moments, words } = this.chosen;
    const moment = moments[Number(this.moment.value)];
    const said = moment ? momentWords(moment) : words;
    this.side.show(placement, moment, said);
    if (!moment) return;
    this.moment.setAttribute("aria-valuetext", said);
    this.holder.querySelector("[data-curve-now]").textContent = `Shown: ${said}.`;
    if (this.chart) redrawMark(this.chart, moment.mm, moment.kN);
  }
}

// Where the case stands among the others of its line: the limit over the first axis, with its band.
class PlaceChart {
  constructor(holder, data) {
    this.holder = holder.querySelector("[data-place]");
    this.legend = holder.querySelector("[data-place-legend]");
    holder.querySelector("[data-map]").remove();
    this.data = data;
    this.line = null;
  }

  show(at, chosen) {
    const line = at.slice(1).join();
    if (line !== this.line) this.build(line);
    this.line = line;
    if (chosen && chosen.limit != null) redrawMark(this.chart, this.xOf(at[0]), chosen.limit);
    else this.chart.mark = null;
  }

  xOf(k) {
    const { values, slides } = this.data.axes[0];
    return slides && typeof values[k] === "number" ? values[k] : k;
  }

  build(line) {
    const [axis] = this.data.axes;
    const own = this.data.cases.filter((each) => each.at.slice(1).join() === line).sort((a, b) => a.at[0] - b.at[0]);
    const x = own.map((each) => this.xOf(each.at[0]));
    const column = (name) => own.map((each) => each[name] ?? null);
    this.holder.replaceChildren();
    const mode = (u, v, s, k) => (k == null ? "" : own[k].mode);
    const words = `${axis.label}: ${own.map((each) => `${axis.texts[each.at[0]]} ${each.words}`).join(" ")}`;
    const most = Math.max(...own.flatMap((each) => [each.limit ?? 0, each.high ?? 0, each.measured ?? 0, each.bound ?? 0]));
    const { joined } = this.data;
    const dots = { paths: () => null, points: { show: true, size: 9 } };
    const unseen = { paths: () => null, points: { show: false } };
    const ends = joined ? { width: 1 } : unseen;
    const series = [
      curveSeries("limit (kN)", "curve", joined ? { points: { show: true, size: 8 } } : dots),
      curveSeries("low (kN)", "band", ends),
      curveSeries("high (kN)", "band", ends),
      curveSeries("gives way", "ink", { ...unseen, value: mode }),
    ];
    const table = [x, column("limit"), column("low"), column("high"), column("limit")];
    for (const [name, label, more] of [["measured", "measured (kN)", { fill: () => colour("measured") }], ["bound", "at least (kN)", {}]]) {
      if (!own.some((each) => each[name] != null)) continue;
      series.push(curveSeries(label, "measured", { ...dots, points: { ...dots.points, ...more } }));
      table.push(column(name));
    }
    const named = joined ? null : (u, v, s, k) => (k == null ? "" : axis.texts[own[k].at[0]]);
    this.chart = lineChart(this.holder, words, series, table, [axis.label, "load (kN)"], {
      bands: joined ? [{ series: [3, 2], fill: () => colour("band-fill") }] : [],
      yRange: () => [0, 1.12 * most], named, draw: joined ? null : (u) => drawRanges(u, x, table[2], table[3]),
      xRange: (u, low, high) => [low - 0.04 * (high - low || 1), high + 0.04 * (high - low || 1)],
    });
    this.legend.textContent = this.data.placeLegend;
  }
}

// A bar from the low to the high end of each, where no line joins them.
function drawRanges(u, x, low, high) {
  const { ctx } = u;
  ctx.save();
  ctx.strokeStyle = colour("band");
  ctx.lineWidth = 5 * devicePixelRatio;
  ctx.globalAlpha = 0.45;
  x.forEach((each, k) => {
    if (low[k] == null || high[k] == null) return;
    const at = u.valToPos(each, "x", true);
    ctx.beginPath();
    ctx.moveTo(at, u.valToPos(low[k], "y", true));
    ctx.lineTo(at, u.valToPos(high[k], "y", true));
    ctx.stroke();
  });
  ctx.restore();
}

// The map of a grid: a table whose cells say load and mode; the case chosen is framed; a press chooses another.
class GridMap {
  constructor(holder, data, explorer) {
    holder.querySelector("[data-place]").remove();
    this.holder = holder.querySelector("[data-map]");
    this.data = data;
    this.explorer = explorer;
    this.panel = null;
    this.cells = new Map();
    const names = Object.entries(data.modes).map(([name, look]) => `${look.glyph} ${name}`);
    holder.querySelector("[data-place-legend]").textContent =
      `Load in kN and what gives way: ${names.join(", ")}. Framed: the case shown. Press a cell to see another.`;
  }

  show(at) {
    const panel = at.slice(2).join();
    if (panel !== this.panel) this.build(at);
    this.panel = panel;
    for (const [key, cell] of this.cells) cell.toggleAttribute("data-chosen", key === at.join());
  }

  build(at) {
    const [along, up] = this.data.axes;
    const table = make("table", { class: "grid" });
    table.append(make("caption", {}, `Down: ${up.label}. Across: ${along.label}.`));
    const head = make("tr");
    head.append(make("td"), ...along.ticks.map((text) => make("th", { scope: "col" }, text)));
    table.createTHead().append(head);
    const body = table.createTBody();
    this.cells.clear();
    up.ticks.forEach((text, row) => {
      const line = make("tr");
      line.append(make("th", { scope: "row" }, text), ...along.ticks.map((_, column) => this.cell([column, row, ...at.slice(2)])));
      body.append(line);
    });
    this.holder.replaceChildren(table);
  }

  cell(at) {
    const found = this.explorer.cases.get(at.join());
    const cell = make("td");
    if (found && found.limit != null) {
      const look = this.data.modes[found.mode];
      cell.textContent = `${number(found.limit, 1)} ${look.glyph}`;
      cell.style.background = look.pale;
      cell.title = found.words;
    } else cell.textContent = "–";
    cell.addEventListener("click", () => this.choose(at));
    this.cells.set(at.join(), cell);
    return cell;
  }

  choose(at) {
    this.explorer.controls.forEach((control, k) => {
      control.value = at[k];
    });
    this.explorer.choose();
  }
}
