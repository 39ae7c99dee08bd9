// Where the phone is, when it says so. Nothing waits for it: the walk goes on by map, bearing and distance.

const STALE_MS = 30000;
const ROUGH_M = 25;
const REFUSED = 1; // GeolocationPositionError.PERMISSION_DENIED

const position = { state: "off", me: null, watch: null };

/** Begin to ask; `moved` is called at every change. */
function watchPosition(moved) {
  if (position.watch !== null) return;
  if (!("geolocation" in navigator)) {
    position.state = "denied";
    moved();
    return;
  }
  position.state = "asking";
  position.watch = navigator.geolocation.watchPosition(
    (fix) => {
      const { longitude, latitude, accuracy } = fix.coords;
      position.state = "on";
      position.me = {
        at: onPlane(longitude, latitude), accuracy, lon: longitude, lat: latitude, seen: Date.now(),
      };
      moved();
    },
    (error) => {
      position.state = error.code === REFUSED ? "denied" : "lost";
      if (error.code === REFUSED) leavePosition();
      moved();
    },
    { enableHighAccuracy: true, maximumAge: 2000, timeout: 20000 },
  );
  moved();
}

function leavePosition() {
  if (position.watch !== null) navigator.geolocation.clearWatch(position.watch);
  position.watch = null;
  position.me = null;
}

/** The last position while it is fresh: an old one would point the wrong way. */
function freshPosition() {
  return position.me !== null && Date.now() - position.me.seen <= STALE_MS ? position.me : null;
}

/** What to say of the position, or "" while all is well. */
function positionWords() {
  switch (position.state) {
    case "denied": return word(window.isSecureContext ? "position_denied" : "position_insecure");
    case "lost": return word("position_lost");
    case "asking": return word("position_asking");
    case "on": {
      const me = freshPosition();
      if (me === null) return word("position_lost");
      return me.accuracy > ROUGH_M ? word("position_rough", { m: distance(me.accuracy) }) : "";
    }
    default: return "";
  }
}
