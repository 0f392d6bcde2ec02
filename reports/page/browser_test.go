package page

import (
	"context"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"nightfloor/reports/result"
)

// chromium finds the browser. A machine without one skips, save where CI=true
// says that all tests must run.
func chromium(t *testing.T) string {
	t.Helper()
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	if os.Getenv("CI") == "true" {
		t.Fatal("no chromium on this machine: install it, CI must run the browser tests")
	}
	t.Skip("no chromium on this machine: the browser tests did not run")
	return ""
}

// The browser of all tests, once one has asked for it, and what ends it.
var (
	browser    context.Context
	endBrowser = func() {}
)

func TestMain(m *testing.M) {
	status := m.Run()
	endBrowser()
	os.Exit(status)
}

// startBrowser starts the browser, with a fresh profile, that asks nothing of the
// network by itself.
func startBrowser(t *testing.T) {
	t.Helper()
	profile, err := os.MkdirTemp("", "nightfloor-browser-")
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancelAllocator := chromedp.NewExecAllocator(context.Background(), chromedp.ExecPath(chromium(t)), chromedp.Headless, chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.NoFirstRun, chromedp.NoDefaultBrowserCheck, chromedp.UserDataDir(profile),
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true),
		chromedp.Env("TZ=Europe/Berlin"))
	var cancelBrowser context.CancelFunc
	browser, cancelBrowser = chromedp.NewContext(ctx)
	endBrowser = func() {
		cancelBrowser()
		cancelAllocator()
		os.RemoveAll(profile)
	}
	do(t, browser, chromedp.Navigate("about:blank"))
}

// browse gives a tab of its own in the browser.
func browse(t *testing.T) context.Context {
	t.Helper()
	chromium(t)
	if browser == nil {
		startBrowser(t)
	}
	ctx, cancel := context.WithTimeout(browser, 5*time.Minute) // against a browser that hangs, not for speed
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	return ctx
}

// saved writes the report to a file and gives its address.
func saved(t *testing.T, r *result.Report) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "report.html")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := Write(f, r); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	return "file://" + path
}

// do runs actions, and ends the test where one fails.
func do(t *testing.T, ctx context.Context, actions ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	if err := chromedp.Do(ctx, actions...); err != nil {
		t.Fatal(err)
	}
}

// eval gives the value of an expression in the page.
func eval[T any](t *testing.T, ctx context.Context, expression string) T {
	t.Helper()
	value, err := chromedp.Run(ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	if err != nil {
		t.Fatalf("%s: %v", expression, err)
	}
	return value
}

// A witness collects what a page asks of the network and what it complains of.
type witness struct {
	mu                   sync.Mutex
	requests, complaints []string
}

// watch begins to collect.
func watch(t *testing.T, ctx context.Context) *witness {
	t.Helper()
	do(t, ctx, call(network.Enable, network.EnableParams{}), call(log.Enable, cdp.Empty{}))
	w := new(witness)
	if err := chromedp.Listen(ctx, w.hear); err != nil {
		t.Fatal(err)
	}
	return w
}

func (w *witness) hear(event any) {
	w.mu.Lock()
	defer w.mu.Unlock()
	switch e := event.(type) {
	case *network.EventRequestWillBeSent:
		w.requests = append(w.requests, e.Request.URL)
	case *runtime.EventExceptionThrown:
		what := e.ExceptionDetails.Text
		if e.ExceptionDetails.Exception != nil {
			what += " " + e.ExceptionDetails.Exception.Description
		}
		w.complaints = append(w.complaints, "exception: "+what)
	case *runtime.EventConsoleAPICalled:
		w.complaints = append(w.complaints, fmt.Sprintf("console %s: %s", e.Type, e.Args[0].Value))
	case *log.EventEntryAdded:
		w.complaints = append(w.complaints, fmt.Sprintf("%s: %s", e.Entry.Level, e.Entry.Text))
	}
}

// check fails where the page asked for anything but itself, or complained.
func (w *witness) check(t *testing.T, ctx context.Context, itself string) {
	t.Helper()
	// A rejected promise is reported after the task that it ended: let two frames pass.
	eval[bool](t, ctx, `(async () => {
		for (let i = 0; i < 2; i++) await new Promise(requestAnimationFrame);
		return true;
	})()`)
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, r := range w.requests {
		if r != itself {
			t.Errorf("the page asks for %.100s", r)
		}
	}
	if len(w.requests) == 0 {
		t.Error("not even the page itself was seen: the watch is blind")
	}
	for _, c := range w.complaints {
		t.Errorf("the page complains: %.300s", c)
	}
}

// call makes an action of a protocol command whose result does not matter.
func call[P, R any](command cdp.Command[P, R], params P) chromedp.Action[chromedp.Void] {
	return func(ctx context.Context, target *chromedp.Target) (chromedp.Void, error) {
		_, err := cdp.Call(ctx, target, command, params)
		return chromedp.Void{}, err
	}
}

// prefer sets the reader's colour scheme, and the medium where it is not "".
func prefer(scheme, medium string) chromedp.Action[chromedp.Void] {
	return call(emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: medium,
		Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
}

// drawn waits until the page's script has drawn all charts.
func drawn() chromedp.Action[chromedp.Void] {
	return chromedp.WaitReady(chromedp.CSS("html[data-drawn=yes]"))
}

// pixels reads a canvas through a copy, since the browser warns of canvases that
// are read often.
const pixels = `globalThis.pixels = (canvas) => {
	const copy = new OffscreenCanvas(canvas.width, canvas.height).getContext("2d", { willReadFrequently: true });
	copy.drawImage(canvas, 0, 0);
	return copy.getImageData(0, 0, canvas.width, canvas.height).data;
}; true`

// shades counts the different colours of each chart, by the chart's id. A
// blank canvas has one.
const shades = `Object.fromEntries([...document.querySelectorAll(".chart")].filter((el) => el.clientWidth).map((el) => {
	const seen = new Set();
	for (const p of new Uint32Array(pixels(el.querySelector("canvas")).buffer)) seen.add(p);
	return [el.id, seen.size];
}))`

// brightness gives the mean of red, green and blue of the page's first chart's
// corner: its background.
const brightness = `(() => {
	const [r, g, b] = pixels(document.querySelector(".chart canvas"));
	return (r + g + b) / 3;
})()`

// A look is a way in which a page is read.
type look struct {
	name, scheme, medium string
	width, height        int64
}

var looks = []look{
	{"desk, light", "light", "", 1440, 900},
	{"desk, dark", "dark", "", 1440, 900},
	{"phone, light", "light", "", 390, 844},
	{"phone, dark", "dark", "", 390, 844},
	{"print", "dark", "print", 700, 900}, // print stays light whatever the reader prefers
}

func TestPageInBrowser(t *testing.T) {
	if testing.Short() {
		t.Skip("-short: no browser")
	}
	ctx := browse(t)
	r := night(60, 60)
	r.Pictures, r.Floor.Rows = r.Pictures[:2*len(allSetups)], r.Floor.Rows[:len(r.Floor.Rows)/2] // 49 and 41 m
	address := saved(t, r)
	for _, look := range looks {
		t.Run(look.name, func(t *testing.T) { checkLook(t, ctx, address, look) })
	}

	do(t, ctx, chromedp.EmulateViewport(1440, 900), prefer("light", ""))
	address = saved(t, smallNight())
	t.Run("periods by keyboard", func(t *testing.T) { checkPeriods(t, ctx, address) })
	t.Run("setups by keyboard", func(t *testing.T) { checkSetups(t, ctx, address) })
	t.Run("pointing at a picture", func(t *testing.T) { checkPointing(t, ctx, address) })
	t.Run("timeline", func(t *testing.T) { checkTimeline(t, ctx, address) })
	t.Run("printed", func(t *testing.T) { checkPrint(t, ctx, address) })
	t.Run("without script", func(t *testing.T) { checkWithoutScript(t, ctx, address) })
	t.Run("hostile names", func(t *testing.T) { checkHostile(t, ctx, saved(t, hostileReport(strings.Join(hostile, "")))) })
}

// checkLook looks at the page in one of its looks: charts, colours, width,
// accessibility.
func checkLook(t *testing.T, ctx context.Context, address string, look look) {
	t.Helper()
	w := watch(t, ctx)
	do(t, ctx, chromedp.EmulateViewport(look.width, look.height), prefer(look.scheme, look.medium),
		chromedp.Navigate(address), drawn())
	w.check(t, ctx, address)
	checkCharts(t, ctx)
	dark := look.scheme == "dark" && look.medium == ""
	if b := eval[float64](t, ctx, brightness); (b < 128) != dark {
		t.Errorf("charts have a background of brightness %.0f of 255; dark wanted: %v", b, dark)
	}
	checkWidth(t, ctx)
	if look.medium == "" { // paper has no screen reader
		checkAccess(t, ctx)
	}
	shoot(t, ctx, strings.ReplaceAll(look.name, ", ", "-"))
}

// checkWidth fails where the page must be moved sideways to be read.
func checkWidth(t *testing.T, ctx context.Context) {
	t.Helper()
	if over := eval[int](t, ctx, "document.documentElement.scrollWidth - innerWidth"); over > 0 {
		t.Errorf("page is %d px wider than the window", over)
	}
	for _, cut := range eval[[]string](t, ctx, `[...document.querySelectorAll(".scroll")].filter((el) => el.scrollWidth > el.clientWidth).map((el) => el.ariaLabel)`) {
		t.Errorf("table is wider than its place: %s", cut)
	}
}

// checkPeriods chooses the night with the arrow key: only its rankings are
// left, and they are drawn.
func checkPeriods(t *testing.T, ctx context.Context, address string) {
	do(t, ctx, chromedp.Navigate(address), drawn(), chromedp.Focus(chromedp.CSS("#periods input")), chromedp.KeyEvent(kb.ArrowRight))
	shown := eval[[]string](t, ctx, `[...document.querySelectorAll("article.rank")].filter((el) => el.clientHeight).map((el) => el.dataset.period)`)
	if len(shown) != 1 || shown[0] != "night" {
		t.Errorf("periods in sight after choosing the night: %v", shown)
	}
	eval[bool](t, ctx, pixels)
	if seen := eval[map[string]int](t, ctx, shades); seen["rank-2"] < 10 {
		t.Errorf("the night's ranking is not drawn: %v", seen)
	}
}

// checkSetups takes one setup out of the floor lines with the space bar: the
// picture changes.
func checkSetups(t *testing.T, ctx context.Context, address string) {
	do(t, ctx, chromedp.Navigate(address), drawn())
	eval[bool](t, ctx, pixels)
	const sum = `pixels(document.querySelector("#floor-0-lines canvas")).reduce((a, b) => a + b, 0)`
	before := eval[float64](t, ctx, sum)
	do(t, ctx, chromedp.Focus(chromedp.CSS(".setups input")), chromedp.KeyEvent(" "))
	if after := eval[float64](t, ctx, sum); after == before {
		t.Error("leaving out a setup changed nothing in the chart")
	}
}

// checkPointing moves the mouse over the column of a picture's first row, a
// quarter of an hour after it was measured at 17:30 UTC: the words beside it give
// that time, local and UTC, frequency and level.
func checkPointing(t *testing.T, ctx context.Context, address string) {
	do(t, ctx, chromedp.Navigate(address), drawn())
	at := eval[[]float64](t, ctx, `(async () => {
		const el = document.getElementById("floor-0-picture");
		el.scrollIntoView({ block: "center" });
		// Scrolling hides the words: wait until it is over.
		for (let i = 0; i < 3; i++) await new Promise(requestAnimationFrame);
		const box = el.getBoundingClientRect();
		return [box.left + 52 + 0.15 * (box.width - 74), box.top + 100];
	})()`)
	do(t, ctx, chromedp.MouseEvent(input.DispatchMouseEventTypeMouseMoved, at[0], at[1]))
	text := eval[string](t, ctx, `document.getElementById("tip").hidden ? "" : document.getElementById("tip").textContent`)
	// 15 % of 16:00 to 03:30, an hour after the last row, is 17:43 UTC. Berlin is an hour ahead.
	for _, want := range []string{"whip@study", "measured ", "18:30", "(17:30 UTC)", "MHz: about −", "dBFS/Hz"} {
		if !strings.Contains(text, want) {
			t.Errorf("pointing says %q, want %q in it", text, want)
		}
	}
}

// checkTimeline asks where the first source's bar is drawn, and what is said where the
// mouse points at it. It was on from 3.03 to 6.97 hours after 16:00 UTC, and the
// timeline spans the 12 hours in which another was on; Berlin is an hour ahead.
func checkTimeline(t *testing.T, ctx context.Context, address string) {
	do(t, ctx, chromedp.Navigate(address), drawn())
	eval[bool](t, ctx, pixels)
	bar := eval[[]float64](t, ctx, `(async () => {
		const el = document.getElementById("timeline"), canvas = el.querySelector("canvas"), all = pixels(canvas);
		const style = getComputedStyle(document.documentElement).getPropertyValue("--noise");
		const want = style.match(/[0-9a-f]{2}/g).map((x) => parseInt(x, 16)), y = 20 + 20 + 23 + 6; // grid, periods, the bar in its row
		const hit = [];
		for (let x = 0; x < canvas.width; x++) {
			const at = 4 * (Math.round(y * canvas.height / el.clientHeight) * canvas.width + x);
			if (want.every((c, i) => all[at + i] === c)) hit.push(x * el.clientWidth / canvas.width);
		}
		el.scrollIntoView({ block: "center" });
		for (let i = 0; i < 3; i++) await new Promise(requestAnimationFrame);
		const box = el.getBoundingClientRect(), hours = (x) => 12 * (x - 52) / (el.clientWidth - 74);
		return [hours(hit[0]), hours(hit[hit.length - 1]), box.left + hit[Math.floor(hit.length / 2)], box.top + y, box.left + 52 + 20];
	})()`)
	const tol = 0.03 // hours: two of some 1000 pixels in 12 hours
	if math.Abs(bar[0]-3.03) > tol || math.Abs(bar[1]-6.97) > tol {
		t.Errorf("the bar runs from %.2f to %.2f hours, want 3.03 to 6.97 ± %.2f", bar[0], bar[1], tol)
	}
	const tip = `document.getElementById("tip").hidden ? "" : document.getElementById("tip").textContent`
	do(t, ctx, chromedp.MouseEvent(input.DispatchMouseEventTypeMouseMoved, bar[2], bar[3]))
	text := eval[string](t, ctx, tip)
	for _, want := range []string{"65.0 kHz comb", "looks like a switching supply", "20:01", "(19:01 UTC)", "23:58"} {
		if !strings.Contains(text, want) {
			t.Errorf("pointing at a bar says %q, want %q in it", text, want)
		}
	}
	do(t, ctx, chromedp.MouseEvent(input.DispatchMouseEventTypeMouseMoved, bar[4], bar[3]))
	if text := eval[string](t, ctx, tip); !strings.Contains(text, "not heard") {
		t.Errorf("pointing before the bar says %q, want that it was not heard", text)
	}
}

// checkPrint prints the page while the reader prefers dark: the sheets come
// out, and afterwards the charts are dark again.
func checkPrint(t *testing.T, ctx context.Context, address string) {
	do(t, ctx, prefer("dark", ""), chromedp.Navigate(address), drawn())
	eval[bool](t, ctx, pixels)
	eval[bool](t, ctx, `globalThis.printed = [], matchMedia("print").addEventListener("change", (e) => {
		if (e.matches) printed.push(`+brightness+`);
	}), true`)
	pdf, err := chromedp.Run(ctx, chromedp.PrintToPDF(chromedp.PDFPaper(chromedp.PaperA4), chromedp.PDFMargin(0.5)))
	if err != nil {
		t.Fatal(err)
	}
	keep(t, "print.pdf", pdf)
	if printed := eval[[]float64](t, ctx, "printed"); len(printed) != 1 || printed[0] < 250 {
		t.Errorf("charts were printed on a background of brightness %v of 255, want white, once", printed)
	}
	if b := eval[float64](t, ctx, brightness); b > 128 {
		t.Errorf("after printing the charts stay at brightness %.0f, want dark", b)
	}
	do(t, ctx, prefer("light", ""))
}

// checkWithoutScript reads the page with scripts switched off: all tables and
// sentences are there, and no empty chart.
func checkWithoutScript(t *testing.T, ctx context.Context, address string) {
	do(t, ctx, call(emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true}), chromedp.Navigate(address))
	defer do(t, ctx, call(emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{}))
	seen := eval[map[string]int](t, ctx, `({ rankings: [...document.querySelectorAll("article.rank .scroll:not(.halves) table")].filter((el) => el.clientHeight).length,
		hours: document.querySelectorAll("article.floor tbody tr").length,
		sources: [...document.querySelectorAll("article.source")].filter((el) => el.innerText.includes("UTC")).length,
		empty: [...document.querySelectorAll(".chart, fieldset, figure")].filter((el) => el.clientHeight).length })`)
	// Two rankings over all hours, one with a noise source on and one at night; three hours in two segments.
	if seen["rankings"] != 4 || seen["hours"] != 6 || seen["sources"] != 3 || seen["empty"] != 0 {
		t.Errorf("without script: %v, want 4 rankings, 6 hours, 3 noise sources, nothing empty", seen)
	}
}

// checkHostile asks that a hostile name runs nothing, and that the charts are
// drawn in spite of it.
func checkHostile(t *testing.T, ctx context.Context, address string) {
	w := watch(t, ctx)
	do(t, ctx, chromedp.EmulateViewport(390, 844), chromedp.Navigate(address), drawn())
	w.check(t, ctx, address)
	shoot(t, ctx, "hostile")
	checkWidth(t, ctx)
	if n := eval[int](t, ctx, `document.querySelectorAll("main img, main svg, main script").length`); n != 0 {
		t.Errorf("%d elements out of a name", n)
	}
	// The policy holds in the browser too: what is not the page's own does not run and is not loaded.
	if eval[bool](t, ctx, `(() => {
		const script = document.createElement("script");
		script.textContent = "globalThis.ran = true";
		document.body.append(script);
		return globalThis.ran === true;
	})()`) {
		t.Error("a script that is not the page's own ran")
	}
	if got := eval[string](t, ctx, `fetch("data:,x").then(() => "loaded", () => "refused")`); got != "refused" {
		t.Errorf("loading something was %s", got)
	}
}

// checkCharts fails where a chart is missing or blank. A rank chart holds its
// background, an axis, dots and text; a picture a hundred shades at least.
func checkCharts(t *testing.T, ctx context.Context) {
	t.Helper()
	eval[bool](t, ctx, pixels)
	seen := eval[map[string]int](t, ctx, shades)
	const charts = 4 + 2 + 2 + 1 // rankings over all hours, pictures, floor lines, timeline
	if len(seen) != charts {
		t.Errorf("%d charts in sight, want %d: %v", len(seen), charts, seen)
	}
	for id, n := range seen {
		if least := 10; n < least || strings.HasSuffix(id, "picture") && n < 100 {
			t.Errorf("chart %s has only %d colours: it looks blank", id, n)
		}
	}
}

// checkAccess runs axe over the page as it is; the script is injected from
// outside, past the page's policy.
func checkAccess(t *testing.T, ctx context.Context) {
	t.Helper()
	axe, err := os.ReadFile(filepath.Join("testdata", "axe.min.js"))
	if err != nil {
		t.Fatal(err)
	}
	eval[bool](t, ctx, string(axe)+"; true")
	type broken struct {
		Passed int
		Broken []string
	}
	r := eval[broken](t, ctx, `axe.run().then((r) => ({ Passed: r.passes.length, Broken: r.violations
		.filter((v) => v.impact === "serious" || v.impact === "critical")
		.flatMap((v) => v.nodes.map((n) => v.id + ": " + n.html.slice(0, 200) + " " + n.failureSummary)) }))`)
	for _, b := range r.Broken {
		t.Errorf("accessibility: %s", b)
	}
	if r.Passed < 10 {
		t.Errorf("axe passed only %d rules: it did not see the page", r.Passed)
	}
}

// shoot keeps a picture of the whole page.
func shoot(t *testing.T, ctx context.Context, name string) {
	t.Helper()
	if os.Getenv("PAGE_SHOTS") == "" {
		return
	}
	picture, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
	if err != nil {
		t.Fatal(err)
	}
	keep(t, name+".png", picture)
}

// keep writes a file into the folder that PAGE_SHOTS names, for the eyes of who
// changes the page; without that name it keeps nothing.
func keep(t *testing.T, name string, content []byte) {
	t.Helper()
	folder := os.Getenv("PAGE_SHOTS")
	if folder == "" {
		return
	}
	if err := os.WriteFile(filepath.Join(folder, name), content, 0o644); err != nil {
		t.Fatal(err)
	}
}
