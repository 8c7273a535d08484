// One pull: a slider over its moments bends the tube in both pictures, moves the mark on the curve and the numbers.

function startPull(holder, data) {
  const now = holder.querySelector("[data-now]");
  const slider = holder.querySelector(".moment");
  const side = new SideView(holder.querySelector("[data-side]"));
  side.rise = (data.space && data.space.rise) || FLOOR;
  side.frame(data.placement, data.moments);
  holder.querySelector("[data-side-legend]").textContent = SIDE_LEGEND;
  const pulled = data.curve.mm.length > 0;
  for (const part of holder.querySelectorAll("[data-pulled]")) part.hidden = !pulled;
  const chart = pulled ? pullChart(holder.querySelector("[data-curve]"), data.curve, data.limit) : null;
  holder.querySelector("[data-curve-now]").textContent =
    "Dots: events. Dashed: the limit. Point at the curve, or move the slider, to read it.";
  let space = null;
  const show = () => {
    const moment = data.moments[Number(slider.value)];
    const words = pulled ? momentWords(moment) : `at rest; ${data.words}`;
    now.textContent = `${words[0].toUpperCase()}${words.slice(1)}.`;
    slider.setAttribute("aria-valuetext", words);
    side.show(data.placement, moment, words);
    if (chart) redrawMark(chart, moment.mm, moment.kN);
    if (space) space.show(moment);
  };
  slider.addEventListener("input", show);
  startPlaying(holder.querySelector(".play"), slider);
  show();
  later.push(() => {
    space = startSpace(holder, data);
    show();
  });
}

function startPlaying(button, slider) {
  let timer = null;
  const stop = () => {
    clearInterval(timer);
    timer = null;
    button.textContent = "Play";
  };
  const step = () => {
    if (Number(slider.value) >= Number(slider.max)) return stop();
    slider.value = Number(slider.value) + 1;
    slider.dispatchEvent(new Event("input"));
  };
  button.addEventListener("click", () => {
    if (timer) return stop();
    if (Number(slider.value) >= Number(slider.max)) slider.value = 0;
    button.textContent = "Stop";
    timer = setInterval(step, Math.min(600, 6000 / (Number(slider.max) + 1)));
  });
}
