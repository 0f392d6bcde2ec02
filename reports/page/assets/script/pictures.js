// The pictures of time against frequency: a strip for each setup.

async function inflate(base64) {
  const stream = new Blob([bytesOf(base64)]).stream().pipeThrough(new DecompressionStream("deflate-raw"));
  return new Uint8Array(await new Response(stream).arrayBuffer());
}

// The row whose column stands at a moment: the last one before it, unless that is longer ago than
// columns stand. −1: nothing was measured then. No column is narrower than a slot of the bitmap.
function rowAt(p, hold, at) {
  let low = 0, high = p.times.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (p.times[middle] <= at) low = middle + 1; else high = middle;
  }
  return low > 0 && at - p.times[low - 1] <= hold ? low - 1 : -1;
}

const slots = 900; // columns of a bitmap: as many as a desk's screen can show

// The colour of each code as one 32-bit pixel; code 255, nothing measured, is transparent.
function colours(box, p) {
  const [low, high] = box.scale_dbfs_hz, bytes = new Uint8Array(4 * 256);
  for (let code = 0; code < 255; code++) {
    const share = (p.offset_dbfs_hz + p.step_db * code - low) / (high - low);
    const at = 3 * Math.round(255 * Math.min(1, Math.max(0, share)));
    bytes.set([palette[at], palette[at + 1], palette[at + 2], 255], 4 * code);
  }
  return new Uint32Array(bytes.buffer);
}

function bitmap(box, p) {
  const canvas = document.createElement("canvas");
  canvas.width = slots;
  canvas.height = p.columns;
  const context = canvas.getContext("2d"), image = context.createImageData(slots, p.columns);
  const pixels = new Uint32Array(image.data.buffer), lookup = colours(box, p), slot = (box.to_ms - box.from_ms) / slots;
  box.hold_ms = Math.max(1000 * box.hold_s, slot);
  for (let x = 0; x < slots; x++) {
    const at = box.from_ms + (x + 0.5) * slot, row = rowAt(p, box.hold_ms, at);
    if (row < 0) continue;
    for (let c = 0; c < p.columns; c++) pixels[(p.columns - 1 - c) * slots + x] = lookup[p.values[row * p.columns + c]];
  }
  context.putImageData(image, 0, 0);
  return canvas;
}

const megahertz = (hz) => String(Number((hz / 1e6).toFixed(4)));
const ribbonHeight = 18;
const stripOf = (el) => ({ height: narrow(el) ? 60 : 84, gap: 30, bottom: 30, top: data.sun.length ? 20 + ribbonHeight + 4 : 18 });

function pictureSeries(box, p, i, t) {
  return { type: "custom", xAxisIndex: i, yAxisIndex: i, clip: true, data: [[box.from_ms, p.low_hz]], renderItem: (params, api) => {
    const area = params.coordSys, [x0, y0] = api.coord([box.from_ms, p.low_hz]), [x1, y1] = api.coord([box.to_ms, p.high_hz]);
    return { type: "group", children: [
      { type: "rect", shape: { x: area.x, y: area.y, width: area.width, height: area.height }, style: { fill: t.hatch } },
      { type: "image", style: { image: p.bitmap, x: x0, y: y1, width: x1 - x0, height: y0 - y1 } }] };
  } };
}

function drawPictures(el, chart, box) {
  const t = theme(), strip = stripOf(el), left = 52, right = 22, last = box.pictures.length - 1;
  const top = (i) => strip.top + 20 + i * (strip.height + strip.gap);
  el.style.height = top(last) + strip.height + strip.bottom + "px";
  chart.resize();
  const room = el.clientWidth - left - right;
  chart.setOption({ ...baseOption(t),
    title: [simulatedTitle(t), ...box.pictures.map((p, i) => ({ text: data.setups[p.setup] + (p.apart ? ", gain not known: compare it with no other" : ""), left, top: top(i) - 18, padding: 0,
      textStyle: { color: t.ink, fontSize: 13, fontWeight: "normal", width: room, overflow: "truncate" } }))],
    grid: box.pictures.map((p, i) => ({ left, right, top: top(i), height: strip.height, outerBoundsMode: "none" })),
    xAxis: box.pictures.map((p, i) => ({ ...timeAxis(t, box), gridIndex: i, axisLabel: { ...timeLabel(t), show: i === last }, axisTick: { show: i === last } })),
    yAxis: box.pictures.map((p, i) => ({ type: "value", gridIndex: i, min: box.low_hz, max: box.high_hz, interval: (box.high_hz - box.low_hz) / 2,
      ...axisLook(t), splitLine: { show: false }, axisLabel: { color: t.soft, formatter: megahertz } })),
    series: [...box.pictures.map((p, i) => pictureSeries(box, p, i, t)), sunSeries(t, box, (area) => ({ y: 20, height: ribbonHeight }))],
  }, true);
}

function pictureText(chart, box, e) {
  const i = box.pictures.findIndex((p, k) => chart.containPixel({ gridIndex: k }, [e.offsetX, e.offsetY]));
  if (i < 0) return "";
  const p = box.pictures[i], [at, hz] = chart.convertFromPixel({ gridIndex: i }, [e.offsetX, e.offsetY]);
  const row = rowAt(p, box.hold_ms, at), column = Math.floor((hz - p.low_hz) / (p.high_hz - p.low_hz) * p.columns);
  const who = data.setups[p.setup], frequency = `${(hz / 1e6).toFixed(3)} MHz`;
  if (row < 0) return `${who}\n${moment(at)}\n${frequency}: nothing measured`;
  const code = column >= 0 && column < p.columns ? p.values[row * p.columns + column] : 255;
  const value = code === 255 ? "nothing measured" : `about ${level(p.offset_dbfs_hz + p.step_db * code, 0)} dBFS/Hz`;
  return `${who}\nmeasured ${moment(p.times[row])}\n${frequency}: ${value}`;
}

function legend(el, box) {
  const ramp = document.createElement("canvas"), [low, high] = box.scale_dbfs_hz;
  ramp.width = 256;
  ramp.height = 1;
  const context = ramp.getContext("2d"), image = context.createImageData(256, 1);
  for (let i = 0; i < 256; i++) image.data.set([palette[3 * i], palette[3 * i + 1], palette[3 * i + 2], 255], 4 * i);
  context.putImageData(image, 0, 0);
  const text = (s) => Object.assign(document.createElement("span"), { textContent: s });
  const empty = Object.assign(document.createElement("span"), { className: "void" });
  const group = (...parts) => { const span = document.createElement("span"); span.append(...parts); return span; };
  el.replaceChildren(group(text(`≤ ${level(low, 0)}`), ramp, text(`≥ ${level(high, 0)} dBFS/Hz`)), group(empty, text("nothing measured")));
}

async function addPictures(id, box) {
  const el = document.getElementById(id + "-picture");
  if (!el) return;
  if (!("DecompressionStream" in globalThis)) {
    el.textContent = "This browser is too old to unpack the picture. The floor by the hour stands below.";
    return;
  }
  for (const p of box.pictures) {
    p.times = p.after_s.map((s) => p.first_ms + 1000 * s);
    p.values = await inflate(p.codes);
    p.bitmap = bitmap(box, p);
  }
  el.style.height = "100px"; // its true height comes with the drawing
  legend(el.parentElement.querySelector(".legend"), box);
  const entry = add(el, (chart) => drawPictures(el, chart, box));
  entry.chart.getZr().on("mousemove", (e) => showTip(e, pictureText(entry.chart, box, e)));
}
