// What was done on this walk, and what comes next. One plain object, kept after every change.

let state = null;

function fresh() {
  return {
    plan: plan.plan, saved: 0, begun_at: null, collector: onlyCollector(), look: null, wants_position: false,
    entries: {}, drafts: {}, order: [], totals: {}, home: [], kit: [], chosen: null, file_at: 0,
  };
}

function collectors() {
  return [...new Set(plan.trips.map((trip) => trip.collector))];
}

function onlyCollector() {
  return collectors().length === 1 ? collectors()[0] : null;
}

function myTrips() {
  return plan.trips.filter((trip) => trip.collector === state.collector);
}

function myStops() {
  return myTrips().flatMap((trip) => trip.stops);
}

function tripOf(stop) {
  return plan.trips.find((trip) => trip.stops.includes(stop));
}

function stopOf(key) {
  return plan.trips.flatMap((trip) => trip.stops).find((stop) => stop.key === key);
}

/** What comes next: `{stop}`, `{trip}` for the way home from it, or null at the end of it all. */
function upNext() {
  const chosen = state.chosen === null ? null : stopOf(state.chosen);
  if (chosen && !(chosen.key in state.entries)) return { stop: chosen, trip: tripOf(chosen) };
  for (const trip of myTrips()) {
    const stop = trip.stops.find((one) => !(one.key in state.entries));
    if (stop) return { stop, trip };
    if (!state.home.includes(trip.number)) return { stop: null, trip };
  }
  return null;
}

/** The planned way from where a trip has got to, to a stop of it or home; reversed where one goes back. */
function wayTo(trip, stop) {
  const last = [...state.order].reverse().map((key) => trip.stops.findIndex((one) => one.key === key))
    .find((index) => index >= 0);
  const from = last === undefined ? -1 : last;
  const to = stop === null ? trip.stops.length - 1 : trip.stops.indexOf(stop);
  const legs = (first, end) => joined(trip.stops.slice(first, end + 1).map((one) => one.leg));
  const way = to >= from ? legs(from + 1, to) : legs(to + 1, from).reverse();
  return stop === null ? joined([way, trip.home]) : way;
}

function change(what) {
  what(state);
  state.saved += 1;
  keep(state, resume);
}

/** Write down what was done at a stop; entered again, it takes the place of what was there. */
function enter(stop, entry) {
  change((now) => {
    now.entries[stop.key] = { at: stop.key in now.entries ? now.entries[stop.key].at : momentNow(), ...entry };
    if (!now.order.includes(stop.key)) now.order.push(stop.key);
    delete now.drafts[stop.key];
    if (now.chosen === stop.key) now.chosen = null;
  });
}

function counts() {
  const mine = myStops().filter((stop) => stop.key in state.entries);
  const skipped = mine.filter((stop) => state.entries[stop.key].what === "skipped").length;
  const litres = mine.reduce((sum, stop) => {
    const given = state.entries[stop.key].given;
    return sum + (given === undefined ? 0 : Number(given) * plan.units.volume.per);
  }, 0);
  return { entered: mine.length, done: mine.length - skipped, skipped, litres, all: myStops().length };
}

/** Minutes until one is to be back; null where no time was given. */
function minutesLeft() {
  return plan.back_by === null ? null : (new Date(plan.back_by).getTime() - Date.now()) / 60000;
}
