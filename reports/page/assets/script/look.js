// Colours, marks and axes: what charts have in common.

function theme() {
  const style = getComputedStyle(document.documentElement);
  const get = (name) => style.getPropertyValue("--" + name).trim();
  const setups = [];
  for (let i = 0; i < 8; i++) setups.push(get("s" + i));
  return { ink: get("ink"), soft: get("soft"), rule: get("rule"), paper: get("paper"), hatch: hatch(get("void"), get("paper")),
    periods: { day: "transparent", dusk: get("dusk"), dawn: get("dusk"), night: get("night") },
    warn: get("warn-rule"), noise: get("noise"), font: getComputedStyle(document.body).fontFamily, setups };
}

// Hatching stands where nothing was measured: no level of the palette looks like it.
function hatch(ink, paper) {
  const tile = document.createElement("canvas"), size = tile.width = tile.height = 8, context = tile.getContext("2d");
  context.fillStyle = paper;
  context.fillRect(0, 0, size, size);
  context.strokeStyle = ink;
  context.lineWidth = 1.5;
  for (const shift of [-size, 0, size]) {
    context.moveTo(shift - 1, size + 1);
    context.lineTo(shift + size + 1, -1);
  }
  context.stroke();
  return { image: tile, repeat: "repeat" };
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

// The periods of the day behind or above a chart, with their names where there is room.
function sunSeries(t, box, where) {
  const shown = data.sun.filter((s) => s.to_ms > box.from_ms && s.from_ms < box.to_ms);
  return { type: "custom", silent: true, z: -1, clip: false, data: shown.map((s) => [s.from_ms, 0]), renderItem: (params, api) => {
    const s = shown[params.dataIndex], area = params.coordSys, { y, height } = where(area);
    const x = (ms) => Math.min(area.x + area.width, Math.max(area.x, api.coord([ms, 0])[0]));
    const x0 = x(s.from_ms), width = x(s.to_ms) - x0;
    const children = [{ type: "rect", shape: { x: x0, y, width, height }, style: { fill: t.periods[s.period] } }];
    if (s.from_ms > box.from_ms) children.push({ type: "line", shape: { x1: x0, x2: x0, y1: y, y2: y + height }, style: { stroke: t.soft, lineWidth: 1, lineDash: [2, 3], opacity: 0.7 } });
    if (width > 7 * s.period.length + 6) children.push({ type: "text", style: { text: s.period, x: x0 + width / 2, y: y + 3, align: "center", fill: t.soft, font: "12px " + t.font } });
    return { type: "group", children };
  } };
}

const narrow = (el) => el.clientWidth < 560;
