"use strict";
// What all parts of the page share: elements, numbers in words, colours of the scheme in force.

const SVG = "http://www.w3.org/2000/svg";

function make(name, attributes = {}, text = "") {
  const element = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  if (text) element.textContent = text;
  return element;
}

function draw(name, attributes, text = "") {
  const element = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  if (text) element.textContent = text;
  return element;
}

const later = []; // what takes long enough to wait until the page has been painted

function number(value, digits) {
  const text = value.toFixed(digits);
  return (Number(text) === 0 ? text.replace("-", "") : text).replace("-", "−");
}

function colour(name) {
  return getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
}

function onScheme(redraw) {
  for (const query of ["(prefers-color-scheme: dark)", "print"]) matchMedia(query).addEventListener("change", redraw);
}

// A button that puts one part of the page on the whole screen, for a projector.
function startFilling(holder, button) {
  button.hidden = !document.fullscreenEnabled;
  button.addEventListener("click", () => {
    if (document.fullscreenElement) document.exitFullscreen();
    else holder.requestFullscreen();
  });
  holder.addEventListener("fullscreenchange", () => {
    button.textContent = document.fullscreenElement ? "Leave the whole screen" : "Fill the screen";
  });
}

function momentWords(moment) {
  const turned = `the head turned ${number(Math.abs(moment.turn), 0)}°`;
  const event = moment.event ? `: ${moment.event}` : "";
  return `${number(moment.kN, 1)} kN at ${number(moment.mm, 1)} mm of movement, ${turned}${event}`;
}
