// The page is opened, perhaps again: what was entered before comes back, and the walk goes on where it was.

const TICK_MS = 10000;

function moved() {
  refresh();
}

// Phones clear the store of a page when short of room, unless asked not to.
function askToKeep() {
  if (keeps() && navigator.storage && navigator.storage.persist) navigator.storage.persist().catch(() => {});
}

let held = false;

/** The phone's own way back leads to the walk first, and out of the page only from there. */
function holdBack() {
  if (held) return;
  try {
    history.pushState(null, "");
    held = true;
  } catch (denied) {
    // Some viewers have no history.
  }
}

function wentBack() {
  held = false;
  if (state.begun_at === null || (page.className === "walk" && !(losesAll() && unsaved()))) return;
  holdBack();
  go("walk");
}

async function open() {
  await testKeeping();
  state = { ...fresh(), ...(await kept()) };
  dress();
  addEventListener("popstate", wentBack);
  addEventListener("beforeunload", (event) => { if (losesAll() && unsaved()) event.preventDefault(); });
  // The same walk in another tab: the newer one counts, or one would write over the other.
  addEventListener("storage", (event) => {
    const other = event.key === KEPT ? newest([event.newValue]) : null;
    if (other && other.saved > state.saved) {
      state = { ...fresh(), ...other };
      resume();
    }
  });
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", dress);
  if (state.begun_at !== null && state.wants_position) watchPosition(moved);
  resume();
  setInterval(() => { dress(); refresh(); }, TICK_MS);
}

open();
