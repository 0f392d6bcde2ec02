// Colours, marks and axes: what charts have in common.

function theme() {
  const style = getComputedStyle(document.documentElement);
  const get = (name) => style.getPropertyValue("--" + name).trim();
  const setups = [];
  for (let i = 0; i < 8; i++) setups.push(get("s" + i));
  return { ink: get("ink"), soft: get("soft"), rule: get("rule"), paper: get("paper"), nothing: get("void"),
    warn: get("warn-rule"), font: getComputedStyle(document.body).fontFamily, setups };
}

// Setups differ in colour, dash and symbol, so that no one has to tell them by colour alone.
const symbols = ["diamond", "circle", "rect", "triangle", "roundRect"];
const dashes = ["solid", [8, 4], [2, 3], [10, 3, 2, 3], [14, 4], [4, 2]];
const colourOf = (t, setup) => t.setups[setup % t.setups.length];
const symbolOf = (setup) => symbols[setup % symbols.length];
const dashOf = (setup) => dashes[setup % dashes.length];

const axisLook = (t) => ({ axisLine: { lineStyle: { color: t.soft } }, axisTick: { lineStyle: { color: t.soft } },
  axisLabel: { color: t.soft, fontSize: 12, hideOverlap: true }, splitLine: { lineStyle: { color: t.rule } },
  nameTextStyle: { color: t.soft, fontSize: 12 } });

// Every chart bears the mark itself, so that one that is cut out of the page still does.
const simulatedTitle = (t) => ({ show: data.simulated, text: "Simulated data", right: 4, top: 1, padding: 0,
  textStyle: { color: t.soft, fontSize: 11, lineHeight: 15, fontWeight: "bold" } });

const baseOption = (t) => ({ animation: false, backgroundColor: t.paper, textStyle: { color: t.ink, fontFamily: t.font } });

// Axis ends and steps at round numbers, with about so many steps.
function roundAxis(low, high, about) {
  const rough = (high - low) / about, power = 10 ** Math.floor(Math.log10(rough));
  const interval = [1, 2, 5, 10].map((k) => k * power).find((step) => step >= rough);
  return { min: Math.floor(low / interval) * interval, max: Math.ceil(high / interval) * interval, interval };
}

const timeAxis = (t, box) => ({ type: "time", min: box.from_ms, max: box.to_ms, ...axisLook(t), splitLine: { show: false } });
const timeLabel = (t) => ({ color: t.soft, hideOverlap: true,
  formatter: { year: "{yyyy}", month: "{d} {MMM}", day: "{d} {MMM}", hour: "{HH}:{mm}", minute: "{HH}:{mm}" } });

const narrow = (el) => el.clientWidth < 560;
