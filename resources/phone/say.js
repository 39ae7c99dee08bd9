"use strict";
// Words, numbers and parts of the page. Texts become text nodes and never markup, so a name may hold anything.

const plan = JSON.parse(document.getElementById("plan").textContent);

/** A text of the page in its language; `$name` stands for a value. */
function word(key, values) {
  const text = Object.prototype.hasOwnProperty.call(plan.words, key) ? plan.words[key] : key;
  return text.replace(/\$([a-z]+)/g, (whole, name) => (values && name in values ? String(values[name]) : whole));
}

// English of the woods here writes 28 Mar 2026 and 09:30.
const LOCALE = plan.language === "en" ? "en-GB" : plan.language;

/** A number as the language writes it. */
function shown(number, digits) {
  return number.toLocaleString(LOCALE, {
    minimumFractionDigits: digits, maximumFractionDigits: digits, useGrouping: false,
  });
}

/** The number that was typed, with either decimal mark; NaN for anything else. */
function typed(text) {
  const cleaned = text.trim().replace(",", ".");
  return /^\d{1,6}(\.\d{0,4})?$/.test(cleaned) ? Number(cleaned) : NaN;
}

function distance(metres) {
  const unit = plan.units.distance;
  return `${shown(metres / unit.per, 0)} ${unit.unit}`;
}

function volume(litres) {
  const unit = plan.units.volume;
  return `${shown(litres / unit.per, unit.digits)} ${unit.unit}`;
}

/** Hours and minutes of a moment; on another day the day, too. */
function clock(moment) {
  const at = new Date(moment);
  const time = hoursShown(at);
  return at.toDateString() === new Date().toDateString() ? time : `${dayShown(at)}, ${time}`;
}

function hoursShown(at) {
  return at.toLocaleTimeString(LOCALE, { hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
}

function dayShown(at) {
  return at.toLocaleDateString(LOCALE, { day: "numeric", month: "short", year: "numeric" });
}

/** A bearing in the north that the plan tells bearings in, with the word of its eighth of the compass. */
function bearingShown(trueDeg) {
  const deg = ((Math.round(trueDeg - plan.north.turn) % 360) + 360) % 360;
  const eighths = ["north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"];
  const eighth = word(eighths[Math.round((((trueDeg % 360) + 360) % 360) / 45) % 8]);
  return `${eighth}, ${String(deg).padStart(3, "0")}° ${word(plan.north.label)}`;
}

/** Now, as RFC 3339 with this phone's offset: a log of the morning says what the clock on the wall said. */
function momentNow() {
  const now = new Date();
  const offset = -now.getTimezoneOffset();
  const two = (n) => String(Math.trunc(Math.abs(n))).padStart(2, "0");
  const local = new Date(now.getTime() + offset * 60000).toISOString().slice(0, 19);
  return `${local}${offset < 0 ? "-" : "+"}${two(offset / 60)}:${two(offset % 60)}`;
}

/** An element: attributes by name, `on...` a listener, then what is inside it. */
function el(tag, attributes, ...inside) {
  const made = document.createElement(tag);
  fill(made, attributes);
  for (const part of inside.flat()) if (part !== null && part !== undefined && part !== false) made.append(part);
  return made;
}

function svg(tag, attributes, ...inside) {
  const made = document.createElementNS("http://www.w3.org/2000/svg", tag);
  fill(made, attributes);
  made.append(...inside);
  return made;
}

function fill(made, attributes) {
  for (const [name, value] of Object.entries(attributes || {})) {
    if (name.startsWith("on")) made.addEventListener(name.slice(2), value);
    else if (value !== null && value !== undefined && value !== false) made.setAttribute(name, value === true ? "" : value);
  }
}

/** Somebody's own words, in their own direction: a right-to-left name must not turn the line round it. */
function own(text, attributes) {
  return el("bdi", { dir: "auto", ...attributes }, text);
}

function button(label, press, attributes) {
  return el("button", { type: "button", onclick: press, ...attributes }, label);
}

/** A button that is on or off. */
function toggle(label, on, press, attributes) {
  return button(label, press, { "aria-pressed": on ? "true" : "false", ...attributes });
}
