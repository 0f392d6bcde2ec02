// The timeline of noise sources: a row for each, a bar for the hours in which it was on. Below
// them, a row for each way in which the floor rose.

const rowHeight = 42, barTop = 23, barHeight = 12;
const rowsTop = (area) => area.y + (data.sun.length ? 20 : 0);
const leastWidth = 3; // pixels: a moment must be seen

// A span's ends in pixels.
function reach(api, [from, to]) {
  const x = api.coord([from, 0])[0];
  return [x, Math.max(leastWidth, api.coord([to, 0])[0] - x)];
}

// A triangle on its base line, its tip up or down.
const triangle = (x, y, up, fill) => ({ type: "polygon", style: { fill },
  shape: { points: [[x, up ? y : y + barHeight], [x - 6, up ? y + barHeight : y], [x + 6, up ? y + barHeight : y]] } });

// How a row's spans are drawn, by its mark: bars are noise sources, hollow ones broadband rises,
// triangles steps up and down, and the dashed line is no interference at all.
const marks = {
  hours: (t, x, y, width) => [{ type: "rect", shape: { x, y, width, height: barHeight }, style: { fill: t.noise } }],
  broadband: (t, x, y, width) => [{ type: "rect", shape: { x: x + 1, y: y + 1, width: Math.max(1, width - 2), height: barHeight - 2 }, style: { fill: t.paper, stroke: t.noise, lineWidth: 2 } }],
  step: (t, x, y, width, span) => [
    { type: "line", shape: { x1: x, x2: x + width, y1: y + barHeight / 2, y2: y + barHeight / 2 }, style: { stroke: t.noise, lineWidth: 2 } },
    ...(span.begun ? [triangle(x, y, true, t.noise)] : []), ...(span.ended ? [triangle(x + width, y, false, t.noise)] : [])],
  night: (t, x, y, width) => [{ type: "line", shape: { x1: x, x2: x + width, y1: y + barHeight / 2, y2: y + barHeight / 2 }, style: { stroke: t.soft, lineWidth: 3, lineDash: [7, 5] } }],
};

function timelineRow(row, i, t, small, api, area) {
  const top = rowsTop(area) + i * rowHeight, y = top + barTop;
  const name = small || !row.more ? row.name : `${row.name}: ${row.more}`;
  return [
    { type: "text", style: { text: row.label, x: area.x - 8, y: y + barHeight / 2, align: "right", verticalAlign: "middle", fill: t.ink, font: "bold 13px " + t.font } },
    { type: "text", style: { text: name, x: area.x + 2, y: top + 5, fill: t.ink, font: "13px " + t.font, width: area.width - 4, overflow: "truncate" } },
    ...row.spans.flatMap((span) => {
      const [x, width] = reach(api, span);
      return marks[row.mark](t, x, y, width, span);
    })];
}

function timelineSeries(t, box, small) {
  return { type: "custom", silent: true, clip: false, z: 2, data: [[box.from_ms, 0]], renderItem: (params, api) => {
    const area = params.coordSys, top = rowsTop(area), height = box.rows.length * rowHeight;
    const silent = box.silent.map((span) => {
      const [x, width] = reach(api, span);
      return { type: "rect", shape: { x, y: top, width, height }, style: { fill: t.hatch } };
    });
    return { type: "group", children: [...silent, ...box.rows.flatMap((row, i) => timelineRow(row, i, t, small, api, area))] };
  } };
}

function drawTimeline(el, chart, box) {
  const t = theme(), top = 20, bottom = 30;
  el.style.height = top + (data.sun.length ? 20 : 0) + box.rows.length * rowHeight + bottom + "px";
  chart.resize();
  chart.setOption({ ...baseOption(t), title: simulatedTitle(t), grid: { left: 52, right: 22, top, bottom, outerBoundsMode: "none" },
    xAxis: { ...timeAxis(t, box), axisLabel: timeLabel(t) }, yAxis: { type: "value", min: 0, max: 1, show: false },
    series: [sunSeries(t, box, (area) => area), timelineSeries(t, box, narrow(el))] }, true);
}

// A bar that is only a few pixels wide is met from a little beside it.
function timelineText(chart, box, e) {
  const at = [e.offsetX, e.offsetY];
  if (!chart.containPixel({ gridIndex: 0 }, at)) return "";
  const ms = chart.convertFromPixel({ gridIndex: 0 }, at)[0], near = chart.convertFromPixel({ gridIndex: 0 }, [at[0] + 4, 0])[0] - ms;
  const row = box.rows[Math.floor((at[1] - rowsTop({ y: 20 })) / rowHeight)];
  if (!row) return moment(ms);
  const who = [row.name, row.more].filter(Boolean).join("\n"), span = row.spans.find(([from, to]) => from - near <= ms && ms <= to + near);
  if (span) return `${who}\n${span.begun ? moment(span[0]) : "not seen to begin,"} to ${span.ended ? moment(span[1]) : "not seen to end"}`;
  const silent = box.silent.some(([from, to]) => from <= ms && ms < to);
  return `${who}\n${moment(ms)}: ${silent ? "nothing measured" : "not heard"}`;
}

// An end that was not seen is drawn at the timeline's own.
const timesOf = (box) => ([from, to]) => Object.assign([from < 0 ? box.from_ms : box.from_ms + 1000 * from, to < 0 ? box.to_ms : box.from_ms + 1000 * to], { begun: from >= 0, ended: to >= 0 });

function addTimeline(box) {
  const el = document.getElementById("timeline"), times = (spans) => spans.map(timesOf(box));
  box.silent = times(box.silent_s);
  for (const row of box.rows) row.spans = times(row.spans_s);
  el.style.height = "100px"; // its true height comes with the drawing
  const entry = add(el, (chart) => drawTimeline(el, chart, box));
  entry.chart.getZr().on("mousemove", (e) => showTip(e, timelineText(entry.chart, box, e)));
}
