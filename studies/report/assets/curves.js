// Curves with hover, drawn by uPlot in the colours of the scheme; a mark follows the slider.

function lineChart(holder, words, series, data, axes, more = {}) {
  const place = make("div", { role: "img", "aria-label": words });
  holder.append(place);
  const chart = { plot: null, mark: null, data };
  const axis = (label) => ({
    label, stroke: () => colour("ink"), grid: { stroke: () => colour("faint"), width: 1 },
    ticks: { stroke: () => colour("faint"), width: 1 }, font: "13px system-ui, sans-serif",
    labelFont: "14px system-ui, sans-serif", labelSize: 24,
  });
  const size = () => ({ width: Math.max(place.clientWidth, 240), height: more.height || 300 });
  chart.plot = new uPlot(
    {
      ...size(),
      scales: { x: { time: false, ...(more.xRange ? { range: more.xRange } : {}) }, y: { range: more.yRange || ((u, low, high) => [0, 1.1 * high]) } },
      cursor: { drag: { x: false, y: false }, focus: { prox: 30 } },
      legend: { show: true, live: true },
      series: [{ label: axes[0].replace("movement of the load point", "movement"), value: more.named || ((u, v) => (v == null ? "" : number(v, more.digits ?? 1))) }, ...series],
      axes: [
        { ...axis(axes[0]), ...(more.named ? { values: (u, at) => at.map((each) => (Number.isInteger(each) ? each + 1 : "")) } : {}) },
        axis(axes[1]),
      ],
      bands: more.bands || [],
      hooks: { draw: [(u) => markOn(u, chart.mark), ...(more.draw ? [more.draw] : [])] },
    },
    chart.data,
    place,
  );
  new ResizeObserver(() => chart.plot.setSize(size())).observe(place);
  onScheme(() => chart.plot.redraw());
  return chart;
}

function curveSeries(label, name, more = {}) {
  return {
    label, stroke: () => colour(name), width: 2, points: { show: false },
    value: (u, v) => (v == null ? "" : number(v, 1)), ...more,
  };
}

function markOn(u, mark) {
  if (!mark) return;
  const [x, y] = [u.valToPos(mark.x, "x", true), u.valToPos(mark.y, "y", true)];
  const { ctx, bbox } = u;
  ctx.save();
  ctx.strokeStyle = colour("mark");
  ctx.lineWidth = 1.5 * devicePixelRatio;
  ctx.beginPath();
  ctx.moveTo(x, bbox.top);
  ctx.lineTo(x, bbox.top + bbox.height);
  ctx.stroke();
  ctx.fillStyle = colour("mark");
  ctx.beginPath();
  ctx.arc(x, y, 6 * devicePixelRatio, 0, 2 * Math.PI);
  ctx.fill();
  ctx.restore();
}

// The curve of a pull with its events and its limit.
function pullChart(holder, curve, limit) {
  const all = [...new Set([...curve.mm, ...curve.events.map((event) => event.mm)])].sort((a, b) => a - b);
  const marked = all.map((mm) => {
    const event = curve.events.find((each) => each.mm === mm);
    return event ? event.kN : null;
  });
  const pull = all.map((mm, k) => (curve.mm.indexOf(mm) < 0 ? marked[k] : curve.kN[curve.mm.indexOf(mm)]));
  const level = all.map(() => limit);
  const named = (u, v, s, k) => {
    if (k == null || v == null) return "";
    return curve.events.filter((event) => event.mm === u.data[0][k]).map((event) => event.name).join(", ");
  };
  const words = `Load against movement: ${curve.events.map((e) => `${e.name} at ${number(e.kN, 1)} kN`).join(", ")}.`;
  const chart = lineChart(
    holder, words,
    [
      curveSeries("pull (kN)", "curve", { spanGaps: true }),
      curveSeries("limit (kN)", "limit", { dash: [6, 5], width: 1.5 }),
      curveSeries("event", "ink", { paths: () => null, points: { show: true, size: 9 }, value: named }),
    ],
    [all, pull, level, marked], ["movement of the load point (mm)", "pull (kN)"],
    { yRange: (u, low, high) => [0, 1.12 * Math.max(high, limit)] },
  );
  return chart;
}

function redrawMark(chart, x, y) {
  chart.mark = { x, y };
  const [xs] = chart.data;
  let nearest = 0;
  xs.forEach((each, k) => {
    if (Math.abs(each - x) < Math.abs(xs[nearest] - x)) nearest = k;
  });
  setTimeout(() => chart.plot.setLegend({ idx: nearest }));
  chart.plot.redraw(false);
}
