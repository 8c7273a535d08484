// Starts what the page holds.

const held = JSON.parse(document.getElementById("data").textContent);
const STARTS = { pull: startPull, explorer: startExplorer };
startTables();
startCopying();
for (const holder of document.querySelectorAll("[data-moving]")) {
  startFilling(holder, holder.querySelector(".fill"));
  STARTS[holder.dataset.moving](holder, held[holder.dataset.name]);
}
requestAnimationFrame(() =>
  setTimeout(() => {
    later.forEach((start) => start());
    document.documentElement.dataset.ready = "yes";
  }),
);
