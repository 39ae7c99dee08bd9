// What is entered at a stop. A half-typed form is kept as a draft, so a killed tab loses nothing.

const REASONS = {
  collecting: ["not reached", "not found", "spilled", "not safe", "no time", "other"],
  tapping: ["not reached", "not found", "not fit", "not safe", "no time", "other"],
  closing: ["not reached", "not found", "stuck", "not safe", "no time", "other"],
};

function draftOf(stop) {
  return state.drafts[stop.key] || state.entries[stop.key] || {};
}

function draft(stop, values) {
  change((now) => { now.drafts[stop.key] = { ...draftOf(stop), ...values }; });
}

/** A number with a step down and a step up; the first step takes what is likely. `told` gets the text at each change. */
function numberField(label, unit, text, told) {
  const input = el("input", {
    type: "text", inputmode: "decimal", autocomplete: "off", enterkeyhint: "done", "aria-label": label,
    oninput: () => told(input.value),
  });
  input.value = (text === undefined || text === null) ? "" : String(text).replace(".", decimalMark());
  const step = (way) => {
    const now = typed(input.value);
    const start = Math.round(unit.first / unit.step) * unit.step;
    const next = Number.isNaN(now) ? start : now + way * unit.step;
    input.value = shown(Math.min(unit.most, Math.max(unit.least, next)), unit.digits);
    told(input.value);
  };
  return el("div", {}, el("label", {}, `${label} (${unit.unit})`), el("div", { class: "stepper" },
    button("−", () => step(-1), { "aria-label": word("less") }), input,
    button("+", () => step(1), { "aria-label": word("more") })));
}

function decimalMark() {
  return shown(0.5, 1)[1];
}

/** Whether a number may be typed but goes beyond the rule set. */
function beyondRule(number, unit) {
  if (number === null || Number.isNaN(number)) return false;
  return (unit.rule_least !== null && number < unit.rule_least) || (unit.rule_most !== null && number > unit.rule_most);
}

/** A typed number within its bounds, as the file holds it; null where empty, NaN where it cannot be. */
function within(text, unit) {
  if (text === undefined || text.trim() === "") return null;
  const number = typed(text);
  return number >= unit.least && number <= unit.most ? number : NaN;
}

function noteField(stop) {
  const note = el("textarea", { maxlength: 2000, dir: "auto", "aria-label": word("note"), oninput: () => draft(stop, { note: note.value }) });
  note.value = draftOf(stop).note || "";
  return el("div", {}, el("label", {}, word("note")), note);
}

/** The form of a purpose: `parts` to show, and `entry()` that gives what was entered, or a text that says what lacks. */
function formOf(stop, changed) {
  return { collecting: collectingForm, tapping: tappingForm, closing: closingForm }[plan.purpose](stop, changed);
}

function collectingForm(stop, changed) {
  const unit = { ...plan.units.volume, first: stop.litres / plan.units.volume.per, least: 0 };
  const set = (text) => { draft(stop, { typed: text }); changed(); };
  const held = draftOf(stop);
  const over = toggle(word("overflowed"), held.overflowed, () => {
    draft(stop, { overflowed: !draftOf(stop).overflowed });
    over.setAttribute("aria-pressed", draftOf(stop).overflowed ? "true" : "false");
  });
  return {
    parts: [numberField(word("litres_here"), unit, held.typed === undefined ? held.given : held.typed, set),
      el("p", { class: "second" }, word("expected_here", { l: volume(stop.litres), high: volume(stop.high_l) })),
      el("div", { class: "buttons one" }, over), noteField(stop)],
    entry() {
      const now = draftOf(stop);
      const text = now.typed === undefined ? now.given : now.typed;
      const number = within(text, unit);
      if (number === null) return word("type_litres");
      if (Number.isNaN(number)) return word("litres_out_of_bounds", { most: volume(unit.most * unit.per) });
      return { ...common(now), given: String(number), unit: unit.key, ...(now.overflowed ? { overflowed: true } : {}) };
    },
    // The trip may be measured as a whole at its end.
    unmeasured: () => ({ ...common(draftOf(stop)), ...(draftOf(stop).overflowed ? { overflowed: true } : {}) }),
  };
}

function tappingForm(stop, changed) {
  const units = plan.units;
  const held = draftOf(stop);
  const last = [...state.order].reverse().map((key) => state.entries[key]).find((entry) => entry.bit_mm) || {};
  const fields = [
    ["height_mm", word("height"), units.height, undefined],
    ["depth_mm", word("depth"), units.depth, last.depth_mm], // one bit and one stop collar: as at the tree before
    ["bit_mm", word("bit"), units.bit, last.bit_mm],
  ];
  const text = (name) => {
    const now = draftOf(stop);
    if (now.texts && name in now.texts) return now.texts[name];
    const [, , unit, before] = fields.find((field) => field[0] === name);
    const mm = name in now ? now[name] : before;
    return mm === undefined ? "" : shown(mm / unit.per, unit.digits);
  };
  const warning = el("p", { class: "loud", role: "alert" });
  const warn = () => {
    const over = fields.filter(([name, , unit]) => beyondRule(within(text(name), unit), unit));
    warning.hidden = over.length === 0;
    warning.textContent = over.map(([, label, unit]) => word("beyond_rule", {
      what: label, least: shown(unit.rule_least, unit.digits), most: shown(unit.rule_most, unit.digits),
    })).join("; ");
  };
  const set = (name) => (value) => {
    draft(stop, { texts: { ...draftOf(stop).texts, [name]: value } });
    warn();
    changed();
  };
  const sides = [["north-west", 315], ["north", 0], ["north-east", 45], ["west", 270], null, ["east", 90],
    ["south-west", 225], ["south", 180], ["south-east", 135]];
  const side = el("div", { class: "buttons three", role: "group", "aria-label": word("side") });
  const drawSides = () => side.replaceChildren(...sides.map((one) => (one === null ? el("span", {})
    : toggle(word(one[0]), draftOf(stop).side_deg === one[1], () => {
      draft(stop, { side_deg: draftOf(stop).side_deg === one[1] ? undefined : one[1] });
      drawSides();
    }))));
  drawSides();
  warn();
  const tag = toggle([word("tag_read"), " ", own(stop.name)], held.tag_read, () => {
    draft(stop, { tag_read: !draftOf(stop).tag_read });
    tag.setAttribute("aria-pressed", draftOf(stop).tag_read ? "true" : "false");
    changed();
  });
  return {
    parts: [el("div", { class: "buttons one" }, tag),
      ...fields.map(([name, label, unit]) => numberField(label, unit, text(name), set(name))), warning,
      el("label", {}, word("side")), side, noteField(stop)],
    entry() {
      const now = draftOf(stop);
      if (!now.tag_read) return word("read_tag");
      const entry = { ...common(now), tag_read: true };
      if (now.side_deg !== undefined) entry.side_deg = now.side_deg;
      for (const [name, label, unit] of fields) {
        const number = within(text(name), unit);
        if (Number.isNaN(number)) {
          return word("out_of_bounds", { what: label, least: shown(unit.least, unit.digits), most: shown(unit.most, unit.digits) });
        }
        if (number !== null) entry[name] = Math.round(number * unit.per * 100) / 100;
      }
      return entry;
    },
  };
}

function closingForm(stop, changed) {
  const acts = [["taken out", "act_taken_out"], ["plugged", "act_plugged"], ["left open", "act_left_open"]];
  const group = el("div", { class: "buttons one", role: "group" });
  const has = (act) => (draftOf(stop).acts || []).includes(act);
  const press = (act) => {
    // A wound is either plugged or left open; the tube comes out before.
    const other = { plugged: "left open", "left open": "plugged" }[act];
    const next = acts.map((one) => one[0]).filter((one) => (one === act ? !has(act) : has(one) && one !== other));
    draft(stop, { acts: next });
    drawActs();
    changed();
  };
  const drawActs = () => group.replaceChildren(...acts.map(([act, key]) => toggle(word(key), has(act), () => press(act))));
  drawActs();
  return {
    parts: [el("label", {}, word("what_was_done")), group, noteField(stop)],
    entry() {
      const now = draftOf(stop);
      return (now.acts || []).length ? { ...common(now), acts: now.acts } : word("choose_act");
    },
  };
}

function common(now) {
  const note = (now.note || "").trim();
  return { what: "done", ...(note ? { note } : {}) };
}
