// What was entered is kept twice on the phone: in its local storage and in its database. Either may be denied.

const KEPT = `standmap walk ${plan.plan}`;
const DATABASE = "standmap walks";
const LONGEST_WAIT_MS = 3000;

const keeping = { tested: false, local: false, database: false };

/** Whether anything entered here outlives this tab. */
function keeps() {
  return keeping.local || keeping.database;
}

/** Write, read back and take away again, in both places. */
async function testKeeping() {
  keeping.local = testLocal();
  keeping.database = await inTime(testDatabase(), false);
  keeping.tested = true;
}

function testLocal() {
  const probe = `${KEPT} test`;
  const sign = String(Math.random());
  try {
    localStorage.setItem(probe, sign);
    const same = localStorage.getItem(probe) === sign;
    localStorage.removeItem(probe);
    return same;
  } catch (denied) {
    return false;
  }
}

async function testDatabase() {
  const probe = `${KEPT} test`;
  const sign = String(Math.random());
  try {
    await inDatabase("readwrite", (store) => store.put(sign, probe));
    const same = (await inDatabase("readonly", (store) => store.get(probe))) === sign;
    await inDatabase("readwrite", (store) => store.delete(probe));
    return same;
  } catch (denied) {
    return false;
  }
}

/** Do one thing in the database and return its answer. */
function inDatabase(mode, act) {
  return new Promise((done, failed) => {
    const opening = indexedDB.open(DATABASE, 1);
    opening.onupgradeneeded = () => opening.result.createObjectStore("walks");
    opening.onerror = opening.onblocked = () => failed(opening.error);
    opening.onsuccess = () => {
      const database = opening.result;
      try {
        // Strict: on the disk, for a phone may die at any moment.
        const transaction = database.transaction("walks", mode, { durability: "strict" });
        const request = act(transaction.objectStore("walks"));
        transaction.oncomplete = () => { database.close(); done(request.result); };
        transaction.onerror = transaction.onabort = () => { database.close(); failed(transaction.error); };
      } catch (denied) {
        database.close();
        failed(denied);
      }
    };
  });
}

// Some phones neither open a database nor say that they do not.
function inTime(promise, otherwise) {
  return Promise.race([promise, new Promise((done) => setTimeout(() => done(otherwise), LONGEST_WAIT_MS))]);
}

/** Keep a state in both places; `lost` is called when the last of them stops taking it. */
function keep(state, lost) {
  const text = JSON.stringify(state);
  const gone = (place) => {
    keeping[place] = false;
    if (!keeps()) lost();
  };
  if (keeping.local) {
    try {
      localStorage.setItem(KEPT, text);
    } catch (denied) {
      gone("local");
    }
  }
  if (keeping.database) {
    waiting = text;
    if (!writing) writeWaiting(() => gone("database"));
  }
}

// One write at a time, always of the newest: a queue of old ones would be behind when the phone dies.
let waiting = null;
let writing = false;

async function writeWaiting(failed) {
  writing = true;
  while (waiting !== null && keeping.database) {
    const text = waiting;
    waiting = null;
    try {
      await inDatabase("readwrite", (store) => store.put(text, KEPT));
    } catch (denied) {
      failed();
    }
  }
  writing = false;
}

/** The newer of what the two places hold of this walk, or null. */
async function kept() {
  const texts = [];
  if (keeping.local) texts.push(localStorage.getItem(KEPT));
  if (keeping.database) {
    texts.push(await inTime(inDatabase("readonly", (store) => store.get(KEPT)).catch(() => null), null));
  }
  return newest(texts);
}

function newest(texts) {
  let best = null;
  for (const text of texts) {
    try {
      const state = text ? JSON.parse(text) : null;
      if (state && state.plan === plan.plan && (best === null || state.saved > best.saved)) best = state;
    } catch (broken) {
      // A text cut off half-way: the other place has a whole one.
    }
  }
  return best;
}
