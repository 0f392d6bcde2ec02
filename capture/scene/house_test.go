package scene

import (
	"bytes"
	"context"
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"nightfloor/survey"
)

var eveningWhip = listening{setup: survey.Setup{Antenna: "whip", Placement: "study"}, gain: 29.7}

func TestOpenRefuses(t *testing.T) {
	for _, test := range []struct {
		uri, want string
		o         Options
	}{
		{uri: "rtlsdr:", want: "not a scene"},
		{uri: "scene:castle", want: "the scenes are: house"},
		{uri: "scene:house?sed=7", want: "sed is not an option"},
		{uri: "scene:house?seed=7&seed=8", want: "given twice"},
		{uri: "scene:house?seed=-1", want: "seed"},
		{uri: "scene:house", o: Options{Rate: 250e3}, want: "out of range"},
		{uri: "scene:house", o: Options{Locator: "nowhere"}, want: "nowhere"},
	} {
		if _, err := Open(test.uri, test.o); err == nil || !strings.Contains(err.Error(), test.want) {
			t.Errorf("open %q %v: %v, want %q in it", test.uri, test.o, err, test.want)
		}
	}
}

func TestChangeRefuses(t *testing.T) {
	h := listening{}.open(t)
	for _, test := range []struct {
		setup survey.Setup
		want  string
	}{
		{setupOf("beam", "loft", -1), "terminator, whip, loop, dipole"},
		{setupOf("loop on a whip", "loft", 3), "both"},
		{setupOf("dipole", "study", -1), "choose one of: loft"},
		{setupOf("loop", "loft", -1), "bearing"},
	} {
		if _, err := h.Change(context.Background(), test.setup); err == nil || !strings.Contains(err.Error(), test.want) {
			t.Errorf("change to %v: %v, want %q in it", test.setup, err, test.want)
		}
		if err := h.CheckSetups([]survey.Setup{test.setup}); err == nil || !strings.Contains(err.Error(), test.want) {
			t.Errorf("check of %v: %v, want %q in it", test.setup, err, test.want)
		}
	}
}

func TestInfoAndContract(t *testing.T) {
	l := eveningWhip
	l.seed = 7
	h := l.open(t)
	info := h.Info()
	if !info.Simulated || !info.GainsExact || len(info.Gains) != 29 || info.SampleRate != 1.024e6 || info.URI != "scene:house?seed=7" {
		t.Errorf("info: %+v", info)
	}
	ctx := context.Background()
	gain, err := h.SetGain(ctx, 30)
	if want := (survey.Gain{DB: 29.7, Known: true, Exact: true}); err != nil || gain != want {
		t.Errorf("gain of 30 dB: %v, %v, want %v", gain, err, want)
	}
	if _, err := h.Tune(ctx, 1e6); err == nil {
		t.Error("tuned to 1 MHz")
	}
	if _, err := h.Read(ctx, make([]byte, 3)); err == nil {
		t.Error("read half a sample")
	}
	reached, err := h.Change(ctx, setupOf("shielded loop", "loft", 400))
	if want := setupOf("shielded loop", "loft", 40); err != nil || reached.Setup != want {
		t.Errorf("changed to %v, %v, want %v", reached, err, want)
	}
	if _, err := h.Change(ctx, setupOf("loop", "cellar", 3)); err == nil || !strings.Contains(err.Error(), "study, loft") {
		t.Errorf("loop in the cellar: %v, want the placements", err)
	}
	gone, cancel := context.WithCancel(ctx)
	cancel()
	if _, err := h.Read(gone, make([]byte, 2)); !errors.Is(err, context.Canceled) {
		t.Errorf("read with a cancelled context: %v", err)
	}
	if err := h.Sleep(gone, time.Second); !errors.Is(err, context.Canceled) {
		t.Errorf("sleep with a cancelled context: %v", err)
	}
	if err := h.Close(); err != nil {
		t.Error(err)
	}
	if _, err := h.Read(ctx, make([]byte, 2)); err == nil {
		t.Error("read after close")
	}
}

func TestTimePassesWithSamplesAndSleep(t *testing.T) {
	h := eveningWhip.open(t)
	if got := h.Now(); !got.Equal(defaultStart) {
		t.Errorf("starts at %v, want %v", got, defaultStart)
	}
	read(t, h, 512000) // half a second at 1.024 MS/s
	if err := h.Sleep(context.Background(), 7*time.Hour+time.Nanosecond); err != nil {
		t.Fatal(err)
	}
	if got, want := h.Now(), defaultStart.Add(7*time.Hour+500*time.Millisecond+time.Nanosecond); !got.Equal(want) {
		t.Errorf("after reading and sleeping: %v, want %v", got, want)
	}
}

func TestBytesFollowFromSeedAlone(t *testing.T) {
	open := func(seed uint64) *House {
		l := eveningWhip
		l.seed = seed
		h := l.open(t)
		if _, err := h.Tune(context.Background(), 9.61e6); err != nil {
			t.Fatal(err)
		}
		return h
	}
	const n = 300_000
	whole := read(t, open(3), n)
	h, pieces := open(3), []byte(nil)
	for k := 1; len(pieces) < 2*n; k = k*7%4999 + 1 { // lengths without order
		pieces = append(pieces, read(t, h, min(k, n-len(pieces)/2))...)
	}
	if !bytes.Equal(whole, pieces) {
		t.Error("reads of many lengths give other samples than one read")
	}
	if bytes.Equal(whole, read(t, open(4), n)) {
		t.Error("another seed gives the same samples")
	}
}

// Samples after a change of tuning, gain or setup are those of before for
// exactly Info().Stale, and then those of after: two houses of one seed, of which
// one is changed, part at that sample.
func TestStaleSamples(t *testing.T) {
	ctx := context.Background()
	for name, change := range map[string]func(h *House) error{
		"tune":  func(h *House) error { _, err := h.Tune(ctx, 5.9e6); return err },
		"gain":  func(h *House) error { _, err := h.SetGain(ctx, 49.6); return err },
		"setup": func(h *House) error { _, err := h.Change(ctx, setupOf("loop", "loft", 40)); return err },
	} {
		left, right := listen(t, eveningWhip, 9.61e6), listen(t, eveningWhip, 9.61e6)
		read(t, left, 12345)
		read(t, right, 12345)
		if err := change(right); err != nil {
			t.Fatal(err)
		}
		stale := staleSamples(right)
		a, b := read(t, left, stale+1000), read(t, right, stale+1000)
		if !bytes.Equal(a[:2*stale], b[:2*stale]) {
			t.Errorf("%s: samples within the stale time are not those of before", name)
		}
		var same int
		for i := 2 * stale; i < len(a); i++ {
			if a[i] == b[i] {
				same++
			}
		}
		// Independent samples that spread over several codes agree now and then.
		if same > 700 {
			t.Errorf("%s: %d of 2000 bytes after the stale time are those of before", name, same)
		}
	}
}

// Two changes at once wait together; what comes after is what a house fresh in
// that state holds.
func TestChangesAddUp(t *testing.T) {
	ctx := context.Background()
	h := listen(t, eveningWhip, 9.61e6)
	if _, err := h.Tune(ctx, 5.91e6); err != nil {
		t.Fatal(err)
	}
	read(t, h, 1000)
	if _, err := h.SetGain(ctx, 20); err != nil {
		t.Fatal(err)
	}
	read(t, h, staleSamples(h)+1)
	if h.view.centre != 5.91e6 || h.view.gain != 19.7 || h.view.at.kind != whip {
		t.Errorf("in place: %+v, want all changes", h.view)
	}
	if len(h.pending) != 0 {
		t.Errorf("%d changes still waiting", len(h.pending))
	}
}

// The droop at 2.4 MS/s (PHYSICS.md 7.4), scaled to the sample rate.
func TestDroop(t *testing.T) {
	h := listen(t, eveningWhip, 9.61e6)
	scale := 1.024e6 / 2.4e6
	for _, p := range []struct{ offset, want float64 }{{0, 0}, {0.5e6, -0.06}, {-0.8e6, -0.6}, {1e6, -1.5}, {1.2e6, -3}} {
		within(t, "droop, dB", toDB(h.Info().Droop(survey.Hz(p.offset*scale))), p.want, 1e-9)
	}
	last := 1.0
	for x := 0.0; x <= 0.5; x += 0.001 {
		if d := droop(x); d > last+1e-12 {
			t.Fatalf("droop rises at %.3f of the sample rate", x)
		} else {
			last = d
		}
	}
}

// Codes are x·128 + 127.5 rounded half away from zero, and end at 0 and 255.
func TestQuantise(t *testing.T) {
	clean := analogFaults{ii: 1, qq: 1}
	for x, want := range map[float32]byte{0: 128, -1.0 / 128: 127, 0.9 / 128: 128, 1.0 / 128: 129, 0.995: 255, 2: 255, 1e6: 255, -0.999: 0, -1: 0, -9: 0} {
		var got [2]byte
		clean.quantise(got[:], []float32{x}, []float32{0})
		if exact := math.Floor(float64(x)*128 + 127.5 + 0.5); byte(max(0, min(255, exact))) != want {
			t.Fatalf("the test's own figure for %v is wrong", x)
		}
		if got != [2]byte{want, 128} {
			t.Errorf("code of %v: %v, want %d and 128", x, got, want)
		}
	}
}

// Too much gain clips: the night's 49 m band through the dipole at full gain.
func TestOverloadClips(t *testing.T) {
	o := listening{Options: Options{Start: at(21, 0)}, setup: setupOf("dipole", "loft", -1), gain: 49.6}
	var clipped int
	for _, c := range read(t, listen(t, o, 5.91e6), 100_000) {
		if c == 0 || c == 255 {
			clipped++
		}
	}
	if clipped < 200 {
		t.Errorf("%d of 200,000 components clipped, want many", clipped)
	}
}

func TestReadAllocatesNothing(t *testing.T) {
	h := listen(t, eveningWhip, 9.61e6)
	buf := make([]byte, 2*levelHops*hop)
	if n := testing.AllocsPerRun(2, func() { _, _ = h.Read(context.Background(), buf) }); n > 0 {
		t.Errorf("a read allocates %v times", n)
	}
}
