// The file that goes home: plain JSON, in the order walked. DEVELOPERS.md tells its shape.

/** Everything entered, as the file holds it. */
function returns() {
  return {
    ...plan.returns, plan: plan.plan, page: plan.page, purpose: plan.purpose, day: plan.day,
    collector: state.collector, begun_at: state.begun_at, written_at: momentNow(),
    stops: state.order.map((key) => {
      const stop = stopOf(key);
      return { stop: key, tree: stop.name, hole: stop.hole, trip: tripOf(stop).number, ...state.entries[key] };
    }),
    trips: Object.entries(state.totals).map(([trip, total]) => ({ trip: Number(trip), ...total })),
  };
}

function returnsText() {
  return JSON.stringify(returns(), null, 1);
}

function returnsName() {
  const who = collectors().length > 1 ? `-${state.collector}` : "";
  // .txt, for phones share only kinds of files that they know.
  return `returns-${plan.day}${who}.txt`;
}

function saveReturns() {
  const address = URL.createObjectURL(new Blob([returnsText()], { type: "text/plain;charset=utf-8" }));
  const link = el("a", { href: address, download: returnsName() });
  document.body.append(link);
  link.click();
  link.remove();
  // Some phones read the blob only after they have asked where to put it.
  setTimeout(() => URL.revokeObjectURL(address), 60000);
  noteSaved();
}

function returnsFile() {
  return new File([returnsText()], returnsName(), { type: "text/plain" });
}

function canShare() {
  try {
    return Boolean(navigator.canShare && navigator.canShare({ files: [returnsFile()] }));
  } catch (denied) {
    return false;
  }
}

async function shareReturns() {
  try {
    await navigator.share({ files: [returnsFile()], title: returnsName() });
    noteSaved();
    return true;
  } catch (denied) {
    return false;
  }
}

/** Copy from a field that shows the text; the older way works in pages opened from a file, too. */
async function copyReturns(field) {
  field.focus();
  field.select();
  try {
    await navigator.clipboard.writeText(field.value);
  } catch (denied) {
    if (!document.execCommand("copy")) return false;
  }
  noteSaved();
  return true;
}

function noteSaved() {
  change((now) => { now.file_at = now.order.length + Object.keys(now.totals).length; });
}

/** Whether something was entered after the file was last saved, shared or copied. */
function unsaved() {
  return state.order.length + Object.keys(state.totals).length > state.file_at;
}
