// Times in the reader's own zone, and in UTC where the reader points at one.

const format = (options) => new Intl.DateTimeFormat("en-GB", options);
const long = { day: "numeric", month: "short", year: "numeric", hour: "2-digit", minute: "2-digit" };
const hour = { day: "numeric", month: "short", hour: "2-digit", minute: "2-digit" };
const clock = { hour: "2-digit", minute: "2-digit" };
const inUTC = (ms, options) => format({ ...options, timeZone: "UTC" }).format(ms) + " UTC";

function zoneName(ms) {
  const part = format({ timeZoneName: "short" }).formatToParts(ms).find((p) => p.type === "timeZoneName");
  return part ? part.value : "local time";
}

// A survey across a change of the clock has two zones: both are named.
function localTimes() {
  const zones = new Set();
  for (const el of document.querySelectorAll("time")) {
    const at = Date.parse(el.dateTime);
    zones.add(zoneName(at));
    el.title = inUTC(at, long);
    el.textContent = format({ hour, clock }[el.dataset.form] || long).format(at);
  }
  for (const el of document.querySelectorAll(".zone")) el.textContent = [...zones].join(", ");
}
