// What is seen. One screen at a time; every one leads back to the walk.

const page = document.getElementById("page");
let refresh = () => {};   // what the screen that is shown does when the clock or the position moves
let map = null;
let before = { key: null, along: 0 };

function show(name, parts, then) {
  refresh = then || (() => {});
  page.className = name;
  page.replaceChildren(...parts.filter(Boolean));
  if (name !== "walk") window.scrollTo(0, 0);
  refresh();
}

function go(name, key) {
  if (name !== "walk") holdBack();
  change((now) => { now.screen = { name, key: key === undefined ? null : key }; });
  resume();
}

/** Show where the walk was left. */
function resume() {
  const { name, key } = state.screen || { name: "walk", key: null };
  if (state.begun_at === null) return showStart();
  const stop = key === null ? null : stopOf(key);
  if (name === "entry" && stop) return showEntry(stop);
  if (name === "skip" && stop) return showSkip(stop);
  if (name === "total") return showTotal(plan.trips.find((trip) => trip.number === key));
  return ({ menu: showMenu, list: showList, file: showFile, start: showStart }[name] || showWalk)();
}

function list(texts) {
  return el("ul", {}, texts.map((text) => el("li", {}, own(text))));
}

function losesAll() {
  return keeping.tested && !keeps();
}

function storageWarning() {
  return losesAll() ? el("p", { class: "loud", role: "alert", id: "keeps-nothing" }, word("keeps_nothing")) : null;
}

function named(stop, whole) {
  const name = el("span", { class: whole ? "name whole" : "name" }, own(stop.name));
  return stop.hole > 1 ? [name, el("span", {}, word("hole", { n: stop.hole }))] : [name];
}

/* The walk: map, what comes next, how to get there. */

function showWalk() {
  const next = upNext();
  if (next === null) return showFile();
  const way = wayTo(next.trip, next.stop);
  if (before.key !== (next.stop ? next.stop.key : next.trip.number)) before = { key: next.stop ? next.stop.key : next.trip.number, along: 0 };
  const done = counts();
  const time = el("span", { class: "second" });
  const late = el("p", { class: "loud late", id: "late", role: "alert" });
  const hint = el("div", { class: "hint", "aria-live": "polite", id: "hint" });
  if (map === null) map = new WalkMap((stop) => (stop.key in state.entries ? go("entry", stop.key) : choose(stop)));
  const header = el("header", { class: "bar" },
    el("div", { class: "grow" }, el("strong", { class: "figure" }, word("done_of", { n: done.entered, m: done.all }),
      plan.purpose === "collecting" ? ` · ${volume(done.litres)}` : ""), el("br", {}), time),
    button(word("menu"), () => go("menu"), { id: "menu" }));
  show("walk", [header, late, savedBar(), map.box, el("section", { class: "next" },
    next.stop ? stopCard(next.stop) : homeCard(next.trip), hint, next.stop ? stopButtons(next.stop) : homeButtons(next.trip))],
  () => {
    drawTime(time, late);
    const told = guide(way, freshPosition(), before.along);
    before.along = told.along;
    hint.replaceChildren(...hintParts(told));
    map.drawMe();
  });
  map.draw(way, next.stop);
}

function choose(stop) {
  change((now) => { now.chosen = stop.key; });
  go("walk");
}

function stopCard(stop) {
  const facts = [
    plan.purpose === "collecting" ? word("expected", { l: volume(stop.litres) }) : "",
    runsOver(stop),
    word("trip_of", { n: tripOf(stop).number, m: myTrips().length }),
  ].filter(Boolean).join(" · ");
  return el("div", { class: "who" }, el("span", { class: "disk" }, String(stop.order)),
    el("div", { class: "grow" }, named(stop), el("div", { class: "second" }, facts)));
}

/** When the vessel runs over, where that is on the day of the walk. */
function runsOver(stop) {
  const at = stop.full_at === null ? null : new Date(stop.full_at);
  const day = new Date(`${plan.day}T12:00`);
  return at !== null && dayShown(at) === dayShown(day) ? word("full_by", { time: hoursShown(at) }) : "";
}

function homeCard(trip) {
  return el("div", { class: "who" }, el("span", { class: "disk" }, "⌂"),
    el("div", { class: "grow" }, el("span", { class: "name" }, own(trip.end)), el("div", { class: "second" }, word("way_home", { n: trip.number }))));
}

function stopButtons(stop) {
  return el("div", { class: "buttons main-first" },
    button(word("at_tree"), () => go("entry", stop.key), { class: "main", id: "at-tree" }),
    button(word("skip"), () => go("skip", stop.key), { id: "skip" }));
}

function homeButtons(trip) {
  return el("div", { class: "buttons main-first" },
    button(word("arrived"), () => {
      change((now) => { now.home.push(trip.number); });
      go("walk");
    }, { class: "main", id: "arrived" }),
    plan.purpose === "collecting" ? button(word("trip_total"), () => go("total", trip.number), { id: "trip-total" }) : null);
}

/** When to be back; past that, a bar that cannot be overlooked. */
function drawTime(time, late) {
  const left = minutesLeft();
  late.hidden = left === null || left >= 0;
  late.textContent = late.hidden ? "" : word("too_late", { time: clock(plan.back_by), who: plan.contact });
  time.textContent = backBy();
}

function hintParts(told) {
  const words = [];
  if (told.state === "there") words.push(el("div", { class: "far" }, word("there")));
  else if (told.state === "off") words.push(el("div", { class: "far" }, word("off_way", { m: distance(told.away) })));
  else if (told.state === "barred") words.push(el("div", { class: "far" }, word("barred", { m: distance(told.away) })));
  else words.push(el("div", { class: "far figure" }, word("to_walk", { m: distance(told.left) })));
  if (told.toward !== null && told.state !== "there") {
    words.push(el("div", { class: "second" }, bearingShown(told.toward), told.bend === null ? "" : ` · ${word("bends", { m: distance(told.bend) })}`));
  }
  const where = positionWords();
  if (where) words.push(el("div", { class: "second", id: "position-words" }, where));
  const arrow = told.toward !== null && told.state !== "there" ? [rose(told.toward)] : [];
  return [...arrow, el("div", { class: "words" }, words)];
}

/** A small compass, north up as the map is, with the way to go on. */
function rose(towardDeg) {
  return svg("svg", { class: "rose", viewBox: "-28 -28 56 56", "aria-hidden": "true" }, svg("circle", { r: 26 }),
    svg("path", { id: "arrow", d: "M0-21L9 15L0 8L-9 15Z", transform: `rotate(${towardDeg.toFixed(1)})` }));
}

/** After every entry: what was written, and the file at hand. */
function savedBar() {
  const last = state.order[state.order.length - 1];
  if (!losesAll() && last === undefined) return null;
  const told = losesAll() ? word("keeps_nothing_short") : [own(stopOf(last).name), `: ${entryShown(state.entries[last])}`];
  return el("div", { class: losesAll() ? "told loud" : "told", id: "saved-bar", role: "status" }, el("span", {}, told),
    last === undefined ? null : button(word("save_file"), () => { saveReturns(); resume(); }, { id: "save-now" }));
}

function entryShown(entry) {
  if (entry.what === "skipped") return word(entry.reason);
  if (entry.given !== undefined) return `${volume(Number(entry.given) * plan.units.volume.per)}${entry.overflowed ? `, ${word("overflowed")}` : ""}`;
  if (entry.acts) return entry.acts.map((act) => word(`act_${act.replace(" ", "_")}`)).join(", ");
  return word(plan.purpose === "tapping" ? "tapped" : "not_measured");
}

/* At a tree. */

function showEntry(stop) {
  const lacks = el("p", { class: "second", id: "lacks" });
  const write = button(word("write_down"), () => { enter(stop, form.entry()); go("walk"); }, { class: "main", id: "write" });
  const changed = () => {
    const entry = form.entry();
    write.disabled = typeof entry === "string";
    lacks.textContent = typeof entry === "string" ? entry : "";
  };
  const form = formOf(stop, changed);
  const facts = [...stop.about, ...stop.cautions];
  show("entry", [topBar(), el("section", {},
    el("div", { class: "who" }, el("h1", {}, named(stop, true))),
    facts.length ? el("div", { class: "quiet" }, list(facts)) : null,
    stop.todo.length ? el("ul", {}, stop.todo.map((one) => el("li", {}, own(one.text),
      one.source ? el("div", { class: "second" }, own(one.source)) : null))) : null,
    form.parts, el("p", {}),
    el("div", { class: "buttons one" },
      form.unmeasured ? button(word("emptied_unmeasured"), () => { enter(stop, form.unmeasured()); go("walk"); }, { id: "unmeasured" }) : null,
      button(word("skip"), () => go("skip", stop.key)))),
  el("footer", { class: "stays" }, lacks, el("div", { class: "buttons one" }, write))]);
  changed();
}

function topBar(title) {
  return el("header", { class: "bar" }, button(word("back"), () => go("walk"), { id: "back" }),
    el("div", { class: "grow" }, el("strong", {}, title || "")));
}

function showSkip(stop) {
  show("skip", [topBar(), el("section", {}, el("h1", {}, named(stop, true)), el("label", {}, word("why_skipped")), noteField(stop),
    el("div", { class: "buttons one", id: "reasons" }, REASONS[plan.purpose].map((reason) => button(word(reason), () => {
      const note = (draftOf(stop).note || "").trim();
      enter(stop, { what: "skipped", reason, ...(note ? { note } : {}) });
      go("walk");
    }))))]);
}

function showTotal(trip) {
  const unit = { ...plan.units.volume, least: 0, most: plan.units.volume.most_trip };
  const held = state.totals[trip.number] || {};
  let text = held.given === undefined ? "" : held.given;
  const write = button(word("write_down"), () => {
    change((now) => { now.totals[trip.number] = { given: String(within(text, unit)), unit: unit.key, at: momentNow() }; });
    go("walk");
  }, { class: "main", id: "write" });
  const changed = () => { const number = within(text, unit); write.disabled = number === null || Number.isNaN(number); };
  show("total", [topBar(word("trip", { n: trip.number })), el("section", {}, el("p", {}, word("total_is")),
    numberField(word("trip_total"), unit, text, (value) => { text = value; changed(); }), el("p", {}), el("div", { class: "buttons one" }, write))]);
  changed();
}

/* The menu and what it leads to. */

function showMenu() {
  const where = el("p", { class: "figure" });
  show("menu", [topBar(word("menu")), el("section", {}, storageWarning(),
    el("div", { class: "buttons one" },
      button(word("all_stops"), () => go("list"), { id: "all-stops" }),
      button(word("file"), () => go("file"), { id: "file" }),
      button(word("start_page"), () => go("start"), { id: "start-page" }),
      toggle(word("use_position"), position.watch !== null, () => {
        if (position.watch === null) watchPosition(moved); else { leavePosition(); position.state = "off"; }
        change((now) => { now.wants_position = position.watch !== null; });
        showMenu();
      })),
    el("h2", {}, word("look")), lookButtons(),
    el("h2", {}, word("if_something_happens")), el("p", {}, word("emergency")),
    where, el("p", { class: "figure" }, own(plan.start), ` ${plan.start_at[1].toFixed(5)}, ${plan.start_at[0].toFixed(5)}`),
    plan.contact ? el("p", {}, `${word("contact")}: `, own(plan.contact)) : null,
    plan.notes.length ? el("details", {}, el("summary", {}, word("how_planned")), list(plan.notes)) : null)],
  () => {
    const me = freshPosition();
    where.textContent = me === null ? positionWords() || word("no_position") : word("you_are_at", {
      at: `${me.lat.toFixed(5)}, ${me.lon.toFixed(5)}`, m: distance(me.accuracy),
    });
  });
}

function showList() {
  show("list", [topBar(word("all_stops")), el("section", {}, el("div", { class: "buttons one" }, myStops().map((stop) => {
    const entry = state.entries[stop.key];
    return button([el("span", { class: entry ? "disk done" : "disk" }, String(stop.order)),
      el("span", {}, own(stop.name), stop.hole > 1 ? ` ${word("hole", { n: stop.hole })}` : "", entry ? el("div", { class: "second" }, entryShown(entry)) : null)],
    () => (entry ? go("entry", stop.key) : choose(stop)), { class: "row" });
  })))]);
}

function showFile() {
  const done = counts();
  const text = el("textarea", { class: "as-text", readonly: true, id: "returns", "aria-label": word("file"), spellcheck: "false" });
  text.value = returnsText();
  const told = el("p", { class: "second", role: "status" });
  const noted = (key) => { told.textContent = word(key); };
  show("file", [topBar(word("file")), el("section", {},
    upNext() === null ? el("h1", {}, word("walk_done")) : null,
    el("p", {}, word("summary", { n: done.done, m: done.all, skipped: done.skipped }), plan.purpose === "collecting" ? ` · ${volume(done.litres)}` : ""),
    storageWarning(), el("p", {}, word("take_home")),
    el("div", { class: "buttons one" },
      button(word("save_file"), () => { saveReturns(); noted("saved"); }, { class: "main", id: "save" }),
      canShare() ? button(word("share_file"), async () => noted((await shareReturns()) ? "shared" : "not_shared"), { id: "share" }) : null,
      button(word("copy_text"), async () => noted((await copyReturns(text)) ? "copied" : "not_copied"), { id: "copy" })),
    told, el("label", {}, word("as_text")), text, el("p", {}), el("div", { class: "buttons one" }, button(word("all_stops"), () => go("list"))))]);
}
