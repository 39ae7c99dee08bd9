// The map: the ground and the walk as lines, north up. Sizes of marks are in pixels, so zooming scales them back.

const MOST_ZOOM_PX_PER_M = 40;
const PRESS_PX = 34;
const BUTTONS_PX = 70;
const NEVER_SMALLER_M = 30;

class WalkMap {
  constructor(choose) {
    this.choose = choose;
    this.pointers = new Map();
    this.centre = [0, 0];
    this.scale = 1; // pixels a metre
    this.follows = true;
    this.marks = [];
    this.layers = { ground: svg("g"), walk: svg("g"), marks: svg("g"), me: svg("g") };
    this.svg = svg("svg", { role: "img", "aria-label": word("map") }, ...Object.values(this.layers));
    this.bar = el("div", { class: "scale" });
    const tool = (sign, label, press) => button(sign, press, { "aria-label": word(label) });
    this.box = el("div", { class: "map" }, this.svg, el("div", { class: "north", "aria-hidden": "true" }, "↑ N"),
      this.bar, el("div", { class: "tools" },
        tool("+", "nearer", () => this.zoom(1.6)), tool("−", "further", () => this.zoom(1 / 1.6)),
        tool("◎", "whole_leg", () => { this.follows = !this.follows || this.whole; this.whole = false; this.fit(); }),
        tool("▣", "whole_walk", () => { this.follows = true; this.whole = true; this.fit(); })));
    this.whole = false;
    this.drawGround();
    this.listen();
    new ResizeObserver(() => this.fit()).observe(this.box);
  }

  drawGround() {
    const ground = plan.ground;
    const path = (lines, closed) => lines.map((line) => `M${line.map(flat).join("L")}${closed ? "Z" : ""}`).join("");
    const add = (kind, lines, closed) => {
      if (lines.length) this.layers.ground.append(svg("path", { class: kind, d: path(lines, closed), "fill-rule": "evenodd" }));
    };
    for (const rings of ground.permitted) add("m-permitted", rings, true);
    for (const rings of ground.no_go) add("m-no-go", rings, true);
    add("m-path", ground.paths);
    add("m-stream", ground.streams);
    add("m-fence", ground.fences);
  }

  /** Draw the walk as it stands: what is done fades, the way to the next tree is the strongest line. */
  draw(way, next) {
    this.way = way;
    this.next = next;
    const lines = myTrips().flatMap((trip) => [...trip.stops.map((stop) => stop.leg), trip.home]);
    const line = (kind, course) => svg("path", { class: kind, d: `M${course.map(flat).join("L")}` });
    this.layers.walk.replaceChildren(...lines.filter((leg) => leg.length > 1).map((leg) => line("m-line", leg)),
      ...(way.length > 1 ? [line("m-halo", way), line("m-way", way)] : []));
    const places = plan.ground.places.map((place) => this.placeMark(place));
    const stops = myStops().filter((stop) => stop !== next).map((stop) => this.stopMark(stop, false));
    if (next) stops.push(this.stopMark(next, true));
    this.marks = [...places, ...stops];
    this.layers.marks.replaceChildren(...this.marks.map((mark) => mark.drawn));
    this.fit();
  }

  stopMark(stop, next) {
    const entry = state.entries[stop.key];
    const size = next ? 19 : 14;
    const drawn = svg("g", { class: `m-stop ${next ? "next" : entry ? entry.what : ""}`, "data-stop": stop.key },
      svg("circle", { r: size }), svg("text", { y: 5.5 }));
    drawn.lastChild.textContent = stop.order;
    if (entry && entry.what === "skipped") drawn.append(svg("path", { d: "M-12 12L12-12" }));
    return { at: stop.at, drawn, size };
  }

  placeMark(place) {
    const sign = place.kind === "hazard" ? svg("path", { d: "M0-11L11 9L-11 9Z" })
      : svg("rect", { x: -7, y: -7, width: 14, height: 14, rx: place.kind === "tank" ? 7 : 1 });
    const drawn = svg("g", { class: `m-place ${place.kind === "hazard" ? "hazard" : ""}` }, sign, svg("text", { y: 28 }));
    drawn.lastChild.textContent = place.name.length > 18 ? `${place.name.slice(0, 17)}…` : place.name;
    return { at: place.at, drawn, size: 8, name: drawn.lastChild };
  }

  drawMe() {
    const me = freshPosition();
    if (me === null) {
      this.layers.me.replaceChildren();
      return;
    }
    const [x, y] = [me.at[0], -me.at[1]];
    this.dot = svg("circle", { class: "m-me", r: 9 / this.scale, cx: x, cy: y });
    this.layers.me.replaceChildren(svg("circle", { class: "m-round", r: me.accuracy, cx: x, cy: y }), this.dot);
    if (this.follows && !this.whole) this.fit();
  }

  /** Show the way ahead with one's own position, or the whole walk; leaves a map that was moved by hand alone. */
  fit() {
    if (!this.follows) { this.show(); return; }
    const me = freshPosition();
    const seen = this.whole || !this.way || this.way.length < 2
      ? [...myStops().map((stop) => stop.at), ...plan.trips.flatMap((trip) => trip.home)]
      : [...this.way, ...(me && feet(this.way, me.at).some((foot) => foot.away < 300) ? [me.at] : [])];
    if (!seen.length) seen.push([0, 0]);
    const [xs, ys] = [seen.map((at) => at[0]), seen.map((at) => at[1])];
    const low = [Math.min(...xs), Math.min(...ys)];
    const high = [Math.max(...xs), Math.max(...ys)];
    this.centre = [(low[0] + high[0]) / 2, (low[1] + high[1]) / 2];
    const { clientWidth: wide, clientHeight: tall } = this.box;
    // The buttons at the side and the names below the marks get room.
    this.scale = Math.min((wide - 150) / Math.max(high[0] - low[0], NEVER_SMALLER_M),
      (tall - 90) / Math.max(high[1] - low[1], NEVER_SMALLER_M), MOST_ZOOM_PX_PER_M);
    this.scale = Math.max(this.scale, 0.01);
    this.centre[0] += BUTTONS_PX / 2 / this.scale;
    this.show();
  }

  show() {
    const { clientWidth: wide, clientHeight: tall } = this.box;
    if (!wide || !tall) return;
    const [w, h] = [wide / this.scale, tall / this.scale];
    this.svg.setAttribute("viewBox", `${this.centre[0] - w / 2} ${-this.centre[1] - h / 2} ${w} ${h}`);
    for (const mark of this.marks) {
      mark.drawn.setAttribute("transform", `translate(${mark.at[0]} ${-mark.at[1]}) scale(${1 / this.scale})`);
    }
    if (this.dot) this.dot.setAttribute("r", 9 / this.scale);
    this.nameWhereFree(wide, tall);
    const long = [1000, 500, 200, 100, 50, 20, 10, 5].find((m) => m * plan.units.distance.per * this.scale < wide / 3) || 5;
    this.bar.style.width = `${long * plan.units.distance.per * this.scale}px`;
    this.bar.textContent = `${long} ${plan.units.distance.unit}`;
  }

  /** Show the names of places that cover no mark, no other name and no button; the next zoom may free the rest. */
  nameWhereFree(wide, tall) {
    const pixel = (at) => [wide / 2 + (at[0] - this.centre[0]) * this.scale, tall / 2 - (at[1] - this.centre[1]) * this.scale];
    const box = (at, half, up, down) => {
      const [x, y] = pixel(at);
      return [x - half, y - up, x + half, y + down];
    };
    const taken = this.marks.map((mark) => box(mark.at, mark.size, mark.size, mark.size));
    taken.push([wide - BUTTONS_PX - 8, 0, wide, tall], [0, 0, 56, 40], [0, tall - 36, wide / 3, tall]);
    for (const { at, name } of this.marks) {
      if (!name) continue;
      const own = box(at, name.textContent.length * 5, -12, 34);
      const free = own[0] > 0 && own[2] < wide && own[3] < tall
        && taken.every((other) => own[2] < other[0] || other[2] < own[0] || own[3] < other[1] || other[3] < own[1]);
      name.setAttribute("visibility", free ? "visible" : "hidden");
      if (free) taken.push(own);
    }
  }

  zoom(times) {
    this.follows = false;
    this.scale = Math.min(MOST_ZOOM_PX_PER_M, Math.max(0.02, this.scale * times));
    this.show();
  }

  listen() {
    this.svg.addEventListener("pointerdown", (event) => {
      this.svg.setPointerCapture(event.pointerId);
      this.pointers.set(event.pointerId, [event.clientX, event.clientY]);
      this.moved = 0;
    });
    this.svg.addEventListener("pointermove", (event) => this.drag(event));
    const leave = (event) => {
      if (this.pointers.delete(event.pointerId) && event.type === "pointerup" && this.moved < 10) this.press(event);
    };
    this.svg.addEventListener("pointerup", leave);
    this.svg.addEventListener("pointercancel", leave);
  }

  drag(event) {
    const before = this.pointers.get(event.pointerId);
    if (!before) return;
    const spread = () => {
      const [a, b] = [...this.pointers.values()];
      return b ? apart(a, b) : 0;
    };
    const was = spread();
    const [dx, dy] = [event.clientX - before[0], event.clientY - before[1]];
    this.moved += Math.hypot(dx, dy);
    this.pointers.set(event.pointerId, [event.clientX, event.clientY]);
    if (this.moved < 10) return; // a finger in a glove is never quite still
    this.follows = false;
    const share = this.pointers.size;
    this.centre = [this.centre[0] - dx / share / this.scale, this.centre[1] + dy / share / this.scale];
    if (was > 0) this.zoom(spread() / was);
    this.show();
  }

  press(event) {
    const frame = this.svg.getBoundingClientRect();
    const pixel = (at) => [
      frame.left + frame.width / 2 + (at[0] - this.centre[0]) * this.scale,
      frame.top + frame.height / 2 - (at[1] - this.centre[1]) * this.scale,
    ];
    const near = myStops().map((stop) => ({ stop, away: apart(pixel(stop.at), [event.clientX, event.clientY]) }))
      .sort((a, b) => a.away - b.away)[0];
    if (near && near.away <= PRESS_PX) this.choose(near.stop);
  }
}

function flat(at) {
  return `${at[0]} ${-at[1]}`;
}
