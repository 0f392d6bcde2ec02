// The ranking: a dot and a whisker for each setup.

function rankRange(d) {
  const all = [0, ...d.advantage_db, ...d.low_db.filter((x) => x !== null), ...d.high_db.filter((x) => x !== null)];
  const low = Math.min(...all), high = Math.max(...all), room = Math.max(0.5, (high - low) * 0.06);
  return roundAxis(low - room, high + room, 6);
}

function rankDot(d, t, api, i) {
  const [x, y] = api.coord([d.advantage_db[i], i]);
  const colour = colourOf(t, d.setups[i]);
  const line = (x1, y1, x2, y2) => ({ type: "line", shape: { x1, y1, x2, y2 }, style: { stroke: colour, lineWidth: 2 } });
  const children = [];
  if (d.low_db[i] !== null && d.high_db[i] !== null && i !== d.reference) {
    const low = api.coord([d.low_db[i], i])[0], high = api.coord([d.high_db[i], i])[0];
    children.push(line(low, y, high, y), line(low, y - 5, low, y + 5), line(high, y - 5, high, y + 5));
  }
  const style = { fill: d.may_be_best[i] ? colour : t.paper, stroke: colour, lineWidth: 2 };
  children.push(i === d.reference
    ? { type: "polygon", shape: { points: [[x - 7, y], [x, y - 7], [x + 7, y], [x, y + 7]] }, style }
    : { type: "circle", shape: { cx: x, cy: y, r: 6 }, style });
  return { type: "group", children };
}

function drawRank(el, chart, d) {
  const t = theme(), small = narrow(el);
  const zero = { type: "custom", silent: true, data: [[0, 0]], z: 1, renderItem: (p, api) => {
    const x = api.coord([0, 0])[0];
    return { type: "line", shape: { x1: x, x2: x, y1: p.coordSys.y, y2: p.coordSys.y + p.coordSys.height },
      style: { stroke: t.ink, lineWidth: 1.5, lineDash: [4, 3] } };
  } };
  const setupLabels = d.setups.map((s) => data.setups[s]);
  chart.setOption({ ...baseOption(t), title: simulatedTitle(t),
    grid: { left: small ? 118 : 210, right: small ? 14 : 170, top: data.simulated ? 18 : 6, bottom: 42, outerBoundsMode: "none" },
    xAxis: { type: "value", ...rankRange(d), name: "advantage, dB", nameLocation: "middle", nameGap: 26, ...axisLook(t),
      axisLabel: { color: t.soft, formatter: tick } },
    yAxis: [{ type: "category", inverse: true, data: setupLabels, ...axisLook(t), axisTick: { show: false },
      axisLabel: { color: t.ink, width: small ? 108 : 200, overflow: "truncate", interval: 0 } },
    { type: "category", inverse: true, position: "right", data: d.text, show: !small, axisLine: { show: false }, axisTick: { show: false },
      axisLabel: { color: t.ink, interval: 0 } }],
    series: [zero, { type: "custom", data: d.advantage_db.map((x, i) => [x, i]), z: 2, renderItem: (p, api) => rankDot(d, t, api, p.dataIndex) }],
  }, true);
}

// A chart has no size while its article is hidden: it is made when first shown.
function showRanks() {
  for (const [id, d] of Object.entries(data.ranks)) {
    const el = document.getElementById(id);
    if (el && el.clientWidth && !drawn.some((entry) => entry.el === el)) addRank(el, d);
  }
}

function addRank(el, d) {
  el.style.height = 34 * d.setups.length + 62 + "px";
  const entry = add(el, (chart) => drawRank(el, chart, d));
  entry.chart.getZr().on("mousemove", (e) => {
    const at = entry.chart.convertFromPixel({ gridIndex: 0 }, [e.offsetX, e.offsetY]);
    const i = at && entry.chart.containPixel({ gridIndex: 0 }, [e.offsetX, e.offsetY]) ? Math.round(at[1]) : -1;
    showTip(e, i >= 0 && i < d.setups.length ? `${data.setups[d.setups[i]]}\n${d.text[i]}` : "");
  });
}
