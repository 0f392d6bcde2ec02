// The floor by the hour: a line and a band for each setup.

// Hours without readings break a line: it does not bridge what was not measured.
function stretches(l) {
  const out = [];
  l.from_ms.forEach((from, i) => {
    if (i === 0 || from > l.to_ms[i - 1]) out.push([]);
    out[out.length - 1].push(i);
  });
  return out;
}

function bandSeries(l, t) {
  return { type: "custom", silent: true, z: 1, clip: true, data: stretches(l).map((s) => [l.from_ms[s[0]], l.p50_dbfs_hz[s[0]]]),
    renderItem: (params, api) => {
      const s = stretches(l)[params.dataIndex], middle = (i) => (l.from_ms[i] + l.to_ms[i]) / 2;
      const first = s[0], end = s[s.length - 1];
      const edge = (v) => [[l.from_ms[first], v[first]], ...s.map((i) => [middle(i), v[i]]), [l.to_ms[end], v[end]]];
      const points = [...edge(l.p90_dbfs_hz), ...edge(l.p10_dbfs_hz).reverse()].map((p) => api.coord(p));
      return { type: "polygon", shape: { points }, style: { fill: colourOf(t, l.setup), opacity: 0.16 } };
    } };
}

function lineSeries(l, t) {
  const points = [];
  stretches(l).forEach((s, k) => {
    if (k) points.push([l.from_ms[s[0]], null]);
    for (const i of s) points.push([(l.from_ms[i] + l.to_ms[i]) / 2, l.p50_dbfs_hz[i]]);
  });
  return { type: "line", silent: true, z: 3, data: points, connectNulls: false, symbol: symbolOf(l.setup), symbolSize: 7, showAllSymbol: points.length < 40,
    showSymbol: points.length < 40, lineStyle: { color: colourOf(t, l.setup), width: 2, type: dashOf(l.setup) }, itemStyle: { color: colourOf(t, l.setup) } };
}

function drawLines(el, chart, box, shown) {
  const t = theme(), lines = box.lines.filter((l) => shown.has(l.setup));
  const all = box.lines.flatMap((l) => [...l.p10_dbfs_hz, ...l.p90_dbfs_hz]);
  chart.setOption({ ...baseOption(t), title: simulatedTitle(t), grid: { left: 52, right: 22, top: 30, bottom: 30, outerBoundsMode: "none" },
    xAxis: { ...timeAxis(t, box), axisLabel: timeLabel(t) },
    yAxis: { type: "value", ...roundAxis(Math.min(...all) - 0.1, Math.max(...all) + 0.1, 6), name: "dBFS/Hz", nameGap: 10, ...axisLook(t),
      nameTextStyle: { color: t.soft, align: "left", padding: [0, 0, 0, -44] }, axisLabel: { color: t.soft, formatter: tick } },
    series: [...lines.map((l) => bandSeries(l, t)), ...lines.map((l) => lineSeries(l, t))] }, true);
}

function lineText(chart, box, shown, e) {
  if (!chart.containPixel({ gridIndex: 0 }, [e.offsetX, e.offsetY])) return "";
  const at = chart.convertFromPixel({ gridIndex: 0 }, [e.offsetX, e.offsetY])[0];
  let from = null;
  const rows = box.lines.filter((l) => shown.has(l.setup)).map((l) => {
    const i = l.from_ms.findIndex((f, k) => f <= at && at < l.to_ms[k]);
    if (i < 0) return `${data.setups[l.setup]}: nothing measured`;
    from = l.from_ms[i];
    return `${data.setups[l.setup]}: ${level(l.p50_dbfs_hz[i], 1)} (${level(l.p10_dbfs_hz[i], 1)} to ${level(l.p90_dbfs_hz[i], 1)})`;
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
