// Where somebody is on a planned way, and where it goes on. All positions are metres east and north of the origin.

const STRAIGHT_WITHIN_M = 1.5;   // a way that strays less than this from a straight line goes straight on
const ON_THE_WAY_M = 12;         // nearer than this is on the way, whatever a receiver says of itself
const THERE_M = 8;
const OPEN_WITHIN_M = 6;         // a bridge, a ford or a gate opens what is crossed this near to it
const HAZARD_M = 8;
const SAME_WITHIN_M = 5;         // two passages as near as this to one another cannot be told apart by a receiver
const PASSAGE_M = 30;            // further along than this is another passage

function onPlane(lon, lat) {
  const turned = ((((lon - plan.origin[0] + 180) % 360) + 360) % 360) - 180;
  return [turned * plan.per_deg[0], (lat - plan.origin[1]) * plan.per_deg[1]];
}

function apart(a, b) {
  return Math.hypot(b[0] - a[0], b[1] - a[1]);
}

function lengthOf(line) {
  let length = 0;
  for (let i = 1; i < line.length; i++) length += apart(line[i - 1], line[i]);
  return length;
}

/** True bearing from one position to another, degrees; null where they are one. */
function bearing(a, b) {
  return apart(a, b) < 1e-9 ? null : ((Math.atan2(b[0] - a[0], b[1] - a[1]) * 180) / Math.PI + 360) % 360;
}

/** One line out of several that follow one another. */
function joined(lines) {
  const whole = [];
  for (const at of lines.flat()) if (!whole.length || apart(whole[whole.length - 1], at) > 1e-9) whole.push(at);
  return whole;
}

/** The nearest position of each stretch of a line: how far along, how far away, and where. */
function feet(line, point) {
  const found = [];
  let along = 0;
  for (let i = 1; i < line.length; i++) {
    const [a, b] = [line[i - 1], line[i]];
    const long = apart(a, b);
    const dot = (point[0] - a[0]) * (b[0] - a[0]) + (point[1] - a[1]) * (b[1] - a[1]);
    const share = long > 0 ? Math.min(1, Math.max(0, dot / (long * long))) : 0;
    const at = [a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])];
    found.push({ stretch: i, at, along: along + share * long, away: apart(point, at) });
    along += long;
  }
  return found;
}

/** Where two stretches cross or touch, or null. */
function crossing(a, b, c, d) {
  const [rx, ry, sx, sy] = [b[0] - a[0], b[1] - a[1], d[0] - c[0], d[1] - c[1]];
  const turn = rx * sy - ry * sx;
  if (Math.abs(turn) < 1e-12) return null;
  const t = ((c[0] - a[0]) * sy - (c[1] - a[1]) * sx) / turn;
  const u = ((c[0] - a[0]) * ry - (c[1] - a[1]) * rx) / turn;
  return t >= 0 && t <= 1 && u >= 0 && u <= 1 ? [a[0] + t * rx, a[1] + t * ry] : null;
}

function inside(point, rings) {
  let within = false;
  for (const ring of rings) {
    for (let i = 1; i < ring.length; i++) {
      const [a, b] = [ring[i - 1], ring[i]];
      const spans = a[1] > point[1] !== b[1] > point[1];
      if (spans && point[0] < a[0] + ((point[1] - a[1]) / (b[1] - a[1])) * (b[0] - a[0])) within = !within;
    }
  }
  return within;
}

/** Whether water, a fence, a no-go area or a hazard lies on the straight line between two positions. */
function barred(a, b) {
  const ground = plan.ground;
  const openings = ground.places.filter((place) => place.opens).map((place) => place.at);
  const shut = (line) => line.some((at, i) => {
    const where = i > 0 ? crossing(a, b, line[i - 1], at) : null;
    return where !== null && !openings.some((open) => apart(open, where) <= OPEN_WITHIN_M);
  });
  const noGo = (rings) => inside(a, rings) || inside(b, rings)
    || rings.some((ring) => ring.some((at, i) => i > 0 && crossing(a, b, ring[i - 1], at) !== null));
  const near = (place) => place.kind === "hazard" && feet([a, b], place.at)[0].away < HAZARD_M;
  return ground.streams.some(shut) || ground.fences.some(shut) || ground.no_go.some(noGo) || ground.places.some(near);
}

/** From a place on a line, where it first bends: nothing in between strays from the straight line to there. */
function nextBend(line, stretch, from) {
  let bend = line[stretch];
  for (let i = stretch + 1; i < line.length; i++) {
    const passed = line.slice(stretch, i);
    if (passed.some((at) => feet([from, line[i]], at)[0].away > STRAIGHT_WITHIN_M)) return { at: bend, last: false };
    bend = line[i];
  }
  return { at: bend, last: true };
}

/**
 * What to tell somebody who walks a line.
 *
 * state   "start" (no position), "there", "on", "off" (away from it, with nothing in between) or "barred"
 * left    metres along the line to its end
 * toward  true bearing to go on; none where something bars the way, for an arrow would lead into it
 * bend    metres to the next bend; null where the line goes straight to its end
 */
function guide(line, me, before) {
  const whole = lengthOf(line);
  if (line.length < 2 || me === null) return { ...goOn(line, 1, line[0], whole), state: "start", along: 0 };
  const found = feet(line, me.at).map((foot) => ({ ...foot, barred: barred(me.at, foot.at) }));
  const open = found.filter((foot) => !foot.barred);
  const near = (open.length ? open : found).sort((a, b) => a.away - b.away);
  // Where a way comes back beside itself, it is walked in order: the passage nearest to the last one counts.
  const passages = near.filter((one, i) => i === 0
    || (one.away <= near[0].away + SAME_WITHIN_M && Math.abs(one.along - near[0].along) > PASSAGE_M));
  const foot = passages.sort((a, b) => Math.abs(a.along - before) - Math.abs(b.along - before))[0];
  const left = whole - foot.along;
  if (foot.barred) return { state: "barred", left, toward: null, bend: null, along: foot.along, away: foot.away };
  const within = Math.max(ON_THE_WAY_M, me.accuracy);
  if (foot.away > within) {
    return { state: "off", left, toward: bearing(me.at, foot.at), bend: null, along: foot.along, away: foot.away };
  }
  const there = left <= THERE_M && apart(me.at, line[line.length - 1]) <= within;
  return { ...goOn(line, foot.stretch, foot.at, left), state: there ? "there" : "on", along: foot.along };
}

function goOn(line, stretch, from, left) {
  if (line.length < 2) return { left: 0, toward: null, bend: null };
  // At the very end of a stretch the next one says where to go.
  while (stretch < line.length - 1 && apart(from, line[stretch]) < 0.5) stretch += 1;
  const bend = nextBend(line, stretch, from);
  return { left, toward: bearing(from, bend.at), bend: bend.last ? null : apart(from, bend.at) };
}
