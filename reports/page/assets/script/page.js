// The page as a whole: charts are made, and drawn anew when width, colours or choices change.

const drawn = []; // {el, chart, draw}: draw sets the chart's options for the theme and width of the moment

// add makes a chart that is drawn anew whenever its width or the colours change.
function add(el, draw) {
  const chart = nightfloorCharts.init(el, null, { renderer: "canvas" });
  const entry = { el, chart, draw };
  drawn.push(entry);
  draw(chart);
  chart.getZr().on("globalout", () => { tip.hidden = true; });
  new ResizeObserver(() => {
    if (el.clientWidth && el.clientWidth !== chart.getWidth()) redraw(entry);
  }).observe(el);
  return entry;
}

function redraw({ el, chart, draw }) {
  if (!el.clientWidth) return;
  chart.resize();
  draw(chart);
  chart.getZr().flush(); // printing does not wait for the next frame
}

const redrawAll = () => { tip.hidden = true; drawn.forEach(redraw); };

function choosePeriod(name) {
  for (const el of document.querySelectorAll("article.rank")) el.hidden = el.dataset.period !== name;
  showRanks();
  redrawAll();
}

function listen() {
  for (const input of document.querySelectorAll("#periods input")) input.addEventListener("change", () => choosePeriod(input.value));
  for (const query of ["(prefers-color-scheme: dark)", "print"]) matchMedia(query).addEventListener("change", redrawAll);
  addEventListener("beforeprint", redrawAll);
  addEventListener("afterprint", redrawAll);
  addEventListener("scroll", () => { tip.hidden = true; }, { passive: true });
}

async function start() {
  localTimes();
  for (const el of document.querySelectorAll(".needs-script")) el.hidden = false;
  const chosen = document.querySelector("#periods input:checked");
  if (chosen) choosePeriod(chosen.value); else showRanks();
  for (const [id, box] of Object.entries(data.floors)) {
    addLines(id, box);
    await addPictures(id, box);
  }
  if (data.noise) addTimeline(data.noise);
  listen();
}

start().finally(() => { document.documentElement.dataset.drawn = "yes"; });
