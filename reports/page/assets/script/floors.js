// The floor by the hour: a line and bars for each setup.

// Hours without readings break a line: it does not bridge what was not measured, nor joins what
// does not compare.
function stretches(l) {
  const out = [];
  l.from_ms.forEach((from, i) => {
    if (i === 0 || from > l.to_ms[i - 1] || l.apart[i] || l.apart[i - 1]) out.push([]);
    out[out.length - 1].push(i);
  });
  return out;
}

// A bar for each hour: it claims nothing of the time between.
function barSeries(l, t) {
  return { type: "custom", silent: true, z: 1, clip: true, data: l.at_ms.map((at, i) => [at, l.p50_dbfs_hz[i]]), renderItem: (params, api) => {
    const i = params.dataIndex, [x, top] = api.coord([l.at_ms[i], l.p90_dbfs_hz[i]]), bottom = api.coord([l.at_ms[i], l.p10_dbfs_hz[i]])[1];
    return { type: "rect", shape: { x: x - 3, y: top, width: 6, height: Math.max(1, bottom - top) }, style: { fill: colourOf(t, l.setup), opacity: 0.3 } };
  } };
}

function lineSeries(l, t) {
  const points = [];
  stretches(l).forEach((s, k) => {
    if (k) points.push([l.at_ms[s[0]], null]);
    for (const i of s) points.push(l.apart[i] ? { value: [l.at_ms[i], l.p50_dbfs_hz[i]], itemStyle: { color: t.paper, borderColor: colourOf(t, l.setup), borderWidth: 2 } } : [l.at_ms[i], l.p50_dbfs_hz[i]]);
  });
  const few = points.length < 40 || l.apart.some((x) => x);
  return { type: "line", silent: true, z: 3, data: points, connectNulls: false, symbol: symbolOf(l.setup), symbolSize: 7, showAllSymbol: few, showSymbol: few,
    lineStyle: { color: colourOf(t, l.setup), width: 2, type: dashOf(l.setup) }, itemStyle: { color: colourOf(t, l.setup) } };
}

function drawLines(el, chart, box, shown) {
  const t = theme(), lines = box.lines.filter((l) => shown.has(l.setup));
  const all = box.lines.flatMap((l) => [...l.p10_dbfs_hz, ...l.p90_dbfs_hz]);
  const low = Math.min(...all), high = Math.max(...all), room = Math.max(0.3, (high - low) * 0.05);
  chart.setOption({ ...baseOption(t), title: simulatedTitle(t), grid: { left: 52, right: 22, top: 30, bottom: 30, outerBoundsMode: "none" },
    xAxis: { ...timeAxis(t, box), axisLabel: timeLabel(t) },
    yAxis: { type: "value", ...roundAxis(low - room, high + room, 6), name: "dBFS/Hz", nameGap: 10, ...axisLook(t),
      nameTextStyle: { color: t.soft, align: "left", padding: [0, 0, 0, -44] }, axisLabel: { color: t.soft, formatter: tick } },
    series: [sunSeries(t, box, (area) => area), ...lines.map((l) => barSeries(l, t)), ...lines.map((l) => lineSeries(l, t))] }, true);
}

function lineText(chart, box, shown, e) {
  if (!chart.containPixel({ gridIndex: 0 }, [e.offsetX, e.offsetY])) return "";
  const at = chart.convertFromPixel({ gridIndex: 0 }, [e.offsetX, e.offsetY])[0];
  let from = null;
  const rows = box.lines.filter((l) => shown.has(l.setup)).map((l) => {
    const i = l.from_ms.findIndex((f, k) => f <= at && at < l.to_ms[k]);
    if (i < 0) return `${data.setups[l.setup]}: nothing measured`;
    from = l.from_ms[i];
    return `${data.setups[l.setup]}: ${level(l.p50_dbfs_hz[i], 1)} (${level(l.p10_dbfs_hz[i], 1)} to ${level(l.p90_dbfs_hz[i], 1)})${l.apart[i] ? ", gain not known" : ""}`;
  });
  return [from === null ? moment(at) : "hour from " + moment(from), ...rows].join("\n");
}

// A mark shows colour, dash and symbol of a setup beside its name.
function drawMark(el) {
  const setup = Number(el.dataset.setup);
  add(el, (chart) => {
    const t = theme();
    chart.setOption({ animation: false, grid: { left: 0, right: 0, top: 0, bottom: 0 }, xAxis: { show: false, min: 0, max: 2, type: "value" },
      yAxis: { show: false, min: -1, max: 1, type: "value" },
      series: [{ type: "line", silent: true, symbol: symbolOf(setup), symbolSize: 7, data: [{ value: [0, 0], symbol: "none" }, [1, 0], { value: [2, 0], symbol: "none" }],
        lineStyle: { color: colourOf(t, setup), width: 2, type: dashOf(setup) }, itemStyle: { color: colourOf(t, setup) } }] }, true);
  });
}

function addLines(id, box) {
  const el = document.getElementById(id + "-lines");
  if (!el) return;
  el.style.height = "300px";
  const figure = el.parentElement, boxes = [...figure.querySelectorAll("input")];
  const shown = new Set(box.lines.map((l) => l.setup));
  const entry = add(el, (chart) => drawLines(el, chart, box, shown));
  for (const input of boxes) {
    input.addEventListener("change", () => {
      if (input.checked) shown.add(Number(input.dataset.setup)); else shown.delete(Number(input.dataset.setup));
      redraw(entry);
    });
  }
  figure.querySelectorAll(".mark").forEach(drawMark);
  entry.chart.getZr().on("mousemove", (e) => showTip(e, lineText(entry.chart, box, shown, e)));
}
