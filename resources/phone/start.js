// The start: what the walk is, what to mind and to take along, light or dark.

function showStart() {
  const begin = button(word("begin"), () => {
    change((now) => { if (now.begun_at === null) now.begun_at = momentNow(); });
    if (state.wants_position) watchPosition(moved);
    askToKeep();
    go("walk");
  }, { class: "main", id: "begin" });
  const draw = () => {
    begin.disabled = state.collector === null;
    who.replaceChildren(...collectors().map((one) => toggle(called(one), state.collector === one, () => {
      change((now) => { now.collector = one; });
      draw();
    })));
    where.setAttribute("aria-pressed", state.wants_position ? "true" : "false");
  };
  const who = el("div", { class: "buttons" });
  const where = toggle(word("use_position"), false, () => {
    change((now) => { now.wants_position = !now.wants_position; });
    if (state.wants_position) watchPosition(moved); else { leavePosition(); position.state = "off"; }
    draw();
    refresh();
  });
  const told = el("p", { class: "second" });
  const other = plan.day !== new Date(Date.now() - new Date().getTimezoneOffset() * 60000).toISOString().slice(0, 10);
  show("start", [el("section", {},
    el("h1", {}, word(`walk_${plan.purpose}`)),
    el("p", {}, `${dayShown(new Date(`${plan.day}T12:00`))} · `, own(plan.start), ` · ${word("stops_and_trips", {
      stops: plan.trips.reduce((sum, trip) => sum + trip.stops.length, 0), trips: plan.trips.length,
    })}`),
    other ? el("p", { class: "quiet" }, word("another_day")) : null,
    plan.back_by || plan.contact ? el("p", {}, backBy(), plan.contact ? [" · ", `${word("contact")}: `, own(plan.contact)] : null) : null,
    storageWarning(),
    collectors().length > 1 ? [el("h2", {}, word("who_walks")), who] : null,
    el("h2", {}, word("cautions")), list(plan.cautions),
    plan.left_out.length ? [el("h2", {}, word("left_out")), el("ul", {}, plan.left_out.map((out) => el("li", {}, own(out.name), `: ${out.why}`)))] : null,
    plan.kit.length ? [el("h2", {}, word("kit")), kitList()] : null,
    el("h2", {}, word("position")), el("div", { class: "buttons one" }, where), told,
    el("h2", {}, word("look")), lookButtons(),
    el("p", { class: "second" }, word("paper_too")),
    el("div", { class: "buttons one" }, begin))],
  () => { told.textContent = positionWords(); });
  draw();
}

function kitList() {
  return el("div", { class: "buttons one" }, plan.kit.map((line, i) => toggle(
    [line.count === null ? "" : `${line.count} × `, own(line.what), line.note ? el("span", { class: "second" }, " · ", own(line.note)) : null],
    state.kit.includes(i),
    (event) => {
      change((now) => { now.kit = now.kit.includes(i) ? now.kit.filter((one) => one !== i) : [...now.kit, i]; });
      event.currentTarget.setAttribute("aria-pressed", state.kit.includes(i) ? "true" : "false");
    })));
}

function called(collector) {
  const { who } = plan.trips.find((trip) => trip.collector === collector);
  return who ? own(who) : word("collector", { n: collector });
}

function backBy() {
  return plan.back_by === null ? "" : word("back_by", { time: clock(plan.back_by) });
}

/* The look: as the phone has it, dark before sunrise and after sunset of the day, or as chosen. */

function isDark() {
  if (state.look !== null) return state.look === "dark";
  const now = Date.now();
  const { sunrise, sunset } = plan.light;
  const night = sunrise && sunset && dayShown(new Date()) === dayShown(new Date(sunrise))
    && (now < new Date(sunrise).getTime() || now > new Date(sunset).getTime());
  return Boolean(night) || matchMedia("(prefers-color-scheme: dark)").matches;
}

function dress() {
  document.documentElement.dataset.look = isDark() ? "dark" : "light";
}

function lookButtons() {
  const box = el("div", { class: "buttons three" });
  const draw = () => box.replaceChildren(...[[null, "look_auto"], ["light", "look_light"], ["dark", "look_dark"]]
    .map(([look, key]) => toggle(word(key), state.look === look, () => {
      change((now) => { now.look = look; });
      dress();
      draw();
    })));
  draw();
  return box;
}
