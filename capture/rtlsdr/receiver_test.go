package rtlsdr

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"nightfloor/capture"
	"nightfloor/capture/capturetest"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

var direct = survey.FrontEnd{Way: survey.WayDirectQ}

// open opens the stand-in and closes it with the test.
func open(t testing.TB, o Options) *Receiver {
	t.Helper()
	o.Clock = clock
	r, err := Open(context.Background(), o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		r.Close() // some tests have closed it, or broken it
		clock.forget()
	})
	return r
}

// The dongle sits the exam that every receiver sits: with a short queue and
// with the longest, with buffers of any length.
func TestExam(t *testing.T) {
	for _, test := range []struct {
		name     string
		frontEnd survey.FrontEnd
		lines    []string
	}{
		{"direct sampling", direct, []string{"queue 0.025", "carrier 9650000 -30", "noise -110"}},
		{"up-converter, short buffers", survey.FrontEnd{Way: survey.WayUp, Offset: 125e6}, []string{"short_reads 1", "queue 0.025", "upconverter 125000000", "carrier 9650000 -60", "noise -140"}},
		{"long queue", direct, []string{"queue 1.5", "carrier 9650000 -30", "noise -110"}},
	} {
		t.Run(test.name, func(t *testing.T) {
			capturetest.TestReceiver(t, func(t *testing.T) capturetest.Candidate {
				standIn(t, test.lines...)
				return capturetest.Candidate{Receiver: open(t, Options{Rate: 1.024e6, FrontEnd: test.frontEnd}), Centre: 9.6e6, Other: 9.7e6, Line: 9.65e6, Gain: 28}
			})
		})
	}
}

// read reads n samples.
func read(t *testing.T, r *Receiver, n int) ([]byte, int64) {
	t.Helper()
	buf := make([]byte, 2*n)
	dropped, err := r.Read(t.Context(), buf)
	if err != nil {
		t.Fatal(err)
	}
	return buf, dropped
}

func tune(t *testing.T, r *Receiver, centre survey.Hz) survey.Hz {
	t.Helper()
	got, err := r.Tune(t.Context(), centre)
	if err != nil {
		t.Fatal(err)
	}
	return got
}

// phaseSlope gives a strong tone's frequency over the buffer, Hz: the mean turn
// from sample to sample of decimated sums.
func toneAt(iq []byte, rate float64) float64 {
	const block = 64
	var last, sum complex128
	for i := 0; i+2*block <= len(iq); i += 2 * block {
		var x complex128
		for k := i; k < i+2*block; k += 2 {
			x += complex(float64(iq[k])-127.5, float64(iq[k+1])-127.5)
		}
		sum += x * complex(real(last), -imag(last))
		last = x
	}
	return math.Atan2(imag(sum), real(sum)) / (2 * math.Pi) * rate / block
}

// Carriers stand at their radio frequencies, whatever the clock's error and the
// way of receiving: within 0.5 Hz, of which direct sampling's raster takes 0.
func TestTrueFrequency(t *testing.T) {
	const line = 9_651_234.0
	for _, test := range []struct {
		frontEnd survey.FrontEnd
		lines    []string
	}{
		{survey.FrontEnd{Way: survey.WayDirectQ}, nil},
		{survey.FrontEnd{Way: survey.WayDirectQ, PPM: 37.5}, []string{"ppm 37.5"}},
		{survey.FrontEnd{Way: survey.WayUp, Offset: 125e6, PPM: -21.25}, []string{"ppm -21.25", "upconverter 125000000"}},
		{survey.FrontEnd{Way: survey.WayBuiltIn}, []string{"tuner r828d", "builtin_upconverter 1"}},
	} {
		standIn(t, append(test.lines, fmt.Sprintf("carrier %.0f -70", line), "noise -160", "fullscale -10")...)
		r := open(t, Options{FrontEnd: test.frontEnd})
		if !test.frontEnd.Direct() {
			if _, err := r.SetGain(t.Context(), 49.6); err != nil {
				t.Fatal(err)
			}
		} else {
			standIn(t, append(test.lines, fmt.Sprintf("carrier %.0f -20", line), "noise -160", "fullscale -10")...)
		}
		for _, centre := range []survey.Hz{9.65e6, 9.64967e6} {
			at := tune(t, r, centre)
			if off := at - centre; off.String() == "" || math.Abs(float64(off)) > 4 {
				t.Errorf("%+v: tuned to %v, asked for %v", test.frontEnd, at, centre)
			}
			iq, dropped := read(t, r, 1<<18)
			got := float64(at) + toneAt(iq, float64(r.Info().SampleRate))
			if math.Abs(got-line) > 0.5 || dropped != 0 {
				t.Errorf("%+v: the line stands at %.2f Hz, want %.0f; dropped %d", test.frontEnd, got, line, dropped)
			}
		}
		r.Close()
	}
}

// rms gives the power of samples, dBFS.
func rms(iq []byte) float64 {
	sum := 0.0
	for _, c := range iq {
		x := (float64(c) - 127.5) / 128
		sum += x * x
	}
	return 10 * math.Log10(sum/float64(len(iq)/2))
}

// After a change nothing comes from before it, and no more is thrown away than
// the queue is long: by the stand-in's clock.
func TestStaleSamplesAreThrownAway(t *testing.T) {
	for _, queue := range []time.Duration{0, 25 * time.Millisecond, 300 * time.Millisecond, 1500 * time.Millisecond} {
		lines := []string{fmt.Sprintf("queue %g", queue.Seconds()), "carrier 6000000 -10", "noise -200", "figure 0"}
		standIn(t, lines...)
		r := open(t, Options{FrontEnd: direct})
		tune(t, r, 6.1e6)
		loud, _ := read(t, r, 1<<16)
		begun := clock.Elapsed()
		tune(t, r, 9e6)
		faint, dropped := read(t, r, 1<<16) // 27 ms
		took := clock.Elapsed() - begun
		if rms(loud) < -11 || rms(faint) > -45 || dropped != 0 {
			t.Errorf("queue of %v: %.1f dBFS before the retune, %.1f after; dropped %d", queue, rms(loud), rms(faint), dropped)
		}
		// The queue, 27 ms, a millisecond of counter, the time to settle and two buffers of 3.4 ms.
		if took > queue+40*time.Millisecond {
			t.Errorf("queue of %v: a retune took %v", queue, took)
		}
		t.Logf("queue of %v: a retune and 27 ms of samples took %v", queue, took)
		r.Close()
	}
}

// Lost samples are counted by the clock; a host that was busy and catches up has
// lost none.
func TestLostSamples(t *testing.T) {
	sky := []string{"noise -100", "queue 0.02"}
	standIn(t, append(sky, "lose 0", "stall 0")...)
	r := open(t, Options{FrontEnd: direct})
	const n = 1 << 20 // 0.44 s
	tune(t, r, 6.1e6)
	read(t, r, 1<<16)
	for _, lose := range []int64{24000, 0, 36000, 480000} {
		line := "stall 80"
		if lose > 0 {
			line = fmt.Sprintf("lose %d", lose)
		}
		tune(t, r, 6.1e6)
		clock.after(150*time.Millisecond, func() { standIn(t, append(sky, line)...) })
		_, got := read(t, r, n)
		if math.Abs(float64(got-lose)) > 10 { // 4 µs of rounding
			t.Errorf("%s: %d lost, want %d", line, got, lose)
		}
		tune(t, r, 6.1e6)
		if _, after := read(t, r, 1<<17); after != 0 {
			t.Errorf("%s: %d lost in the reading after it", line, after)
		}
	}
}

// What goes wrong with a dongle is named with its mend.
func TestOpenErrors(t *testing.T) {
	claimed := "" // by the system's driver, which only Linux has
	if runtime.GOOS == "linux" {
		claimed = "claimed by the system's television driver dvb_usb_rtl28xxu or in use by another program; unload it (modprobe -r dvb_usb_rtl28xxu)"
	}
	for _, test := range []struct {
		lines   []string
		options Options
		is      error
		want    string
	}{
		{[]string{"devices 0"}, Options{}, ErrNoDongle, "plug it in"},
		{[]string{"busy 1"}, Options{}, capture.ErrBusy, "stop"},
		{[]string{"denied 1"}, Options{}, nil, "udev rule"},
		{[]string{"kernel_driver 1"}, Options{}, capture.ErrBusy, claimed},
		{[]string{"serial 77"}, Options{Serial: "78"}, ErrNoDongle, "with serial 78, only 77"},
		{[]string{"devices 2"}, Options{Serial: "00000001"}, nil, "2 dongles have the serial 00000001; name one by rtlsdr:index=N"},
		{nil, Options{Index: 3}, ErrNoDongle, "index 3, only 1 plugged in"},
		{nil, Options{Rate: 500e3}, nil, "225.001 to 300 kHz"},
		{[]string{"tuner unknown"}, Options{}, nil, "tuner is not known"},
	} {
		standIn(t, test.lines...)
		r, err := Open(t.Context(), test.options)
		if err == nil {
			r.Close()
		}
		if err == nil || test.is != nil && !errors.Is(err, test.is) || !strings.Contains(fmt.Sprint(err), test.want) {
			t.Errorf("%v %+v: %v", test.lines, test.options, err)
		}
	}
}

func TestList(t *testing.T) {
	standIn(t, "devices 3", "serial 77 1", "tuner r828d")
	all, err := List(t.Context(), clock)
	if err != nil || len(all) != 3 {
		t.Fatal(all, err)
	}
	// Two share the serial that sticks leave the factory with: they go by index.
	for i, want := range []string{"rtlsdr:index=0", "rtlsdr:serial=77", "rtlsdr:index=2"} {
		if all[i].URI() != want || all[i].Tuner != "R828D" || all[i].Library == "" || all[i].Refused != nil || all[i].Name != "Realtek RTL2838UHIDIR" {
			t.Errorf("%+v, want %s", all[i], want)
		}
		if serial := []string{"00000001", "77", "00000001"}[i]; all[i].Serial != serial || all[i].SameSerial != []int{2, 1, 2}[i] {
			t.Errorf("%+v, want serial %s", all[i], serial)
		}
		if o, err := ParseURI(all[i].URI()); err != nil || o.Index != 0 && o.Index != i || want[7] == 's' && o.Serial != "77" {
			t.Errorf("%s: %+v, %v", want, o, err)
		}
	}
	standIn(t, "devices 0")
	if _, err := List(t.Context(), clock); !errors.Is(err, ErrNoDongle) {
		t.Error(err)
	}
}

// Of dongles that share a serial each is described by itself, in words that open
// it again: what a calibration holds of one is not good for the other.
func TestDonglesWithOneSerial(t *testing.T) {
	standIn(t, "devices 3", "serial 77 1")
	said := map[string]bool{}
	for i, want := range []string{
		"Realtek RTL2838UHIDIR, serial 00000001, one of 2 alike, R820T, 2400000 samples/s (rtlsdr:index=0)",
		"Realtek RTL2838UHIDIR, R820T, serial 77, 2400000 samples/s (rtlsdr:serial=77)",
		"Realtek RTL2838UHIDIR, serial 00000001, one of 2 alike, R820T, 2400000 samples/s (rtlsdr:index=2)",
	} {
		r := open(t, Options{Index: i})
		got := capture.Describe(r.Info(), survey.FrontEnd{})
		r.Close()
		if said[got] || got != want {
			t.Errorf("%s, want %s", got, want)
		}
		said[got] = true
		o, err := ParseURI(r.Info().URI)
		if err != nil {
			t.Fatal(err)
		}
		again := open(t, o)
		if same := capture.Describe(again.Info(), survey.FrontEnd{}); same != got {
			t.Errorf("%s opens %s, want %s", r.Info().URI, same, got)
		}
		again.Close()
	}
}

// Without librtlsdr the error names what to install.
func TestNoLibrary(t *testing.T) {
	was := names
	t.Cleanup(func() { names = was })
	names = map[string][]string{"": {"librtlsdr-of-nobody.so.0"}, "darwin": {"librtlsdr-of-nobody.dylib"}, "windows": {"rtlsdr-of-nobody.dll"}}
	_, err := List(t.Context(), capture.WallClock{})
	_, openErr := Open(t.Context(), Options{})
	for _, err := range []error{err, openErr} {
		if !errors.Is(err, ErrNoLibrary) || !strings.Contains(err.Error(), installHint()) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%v", err)
		}
	}
}

// A library that lacks a function is passed over for one that has all, and else called too old.
func TestOldLibrary(t *testing.T) {
	standIn(t)
	was := names
	t.Cleanup(func() { names = was })
	source, old := filepath.Join(t.TempDir(), "old.c"), filepath.Join(t.TempDir(), "librtlsdr-old.so")
	if err := os.WriteFile(source, []byte("unsigned rtlsdr_get_device_count(void) { return 0; }\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	if said, err := exec.Command("cc", "-shared", "-fPIC", "-o", old, source).CombinedOutput(); err != nil {
		t.Fatalf("%v %s", err, said)
	}
	names = map[string][]string{runtime.GOOS: {old}}
	_, err := Open(t.Context(), Options{})
	want := "open the receiver's driver: librtlsdr is too old: " + old + " lacks rtlsdr_get_device_name; install version 0.6 or newer: " + newerHint()
	if !errors.Is(err, ErrOldLibrary) || errors.Is(err, ErrNoLibrary) || err.Error() != want {
		t.Errorf("%v, want %s", err, want)
	}
	names[runtime.GOOS] = append([]string{old}, candidates(was)...)
	if _, err := List(t.Context(), clock); err != nil {
		t.Error(err)
	}
}

// The dongle is set up the same whatever was before: gain by hand, the chip's own
// gain control off, the bias tee off unless asked for.
func TestSetUp(t *testing.T) {
	for _, bias := range []bool{false, true} {
		status := filepath.Join(t.TempDir(), "status")
		standIn(t, "status "+status)
		r := open(t, Options{FrontEnd: survey.FrontEnd{Way: survey.WayUp, Offset: 120e6, Bias: bias}})
		if len(r.Info().Gains) != 29 || r.Info().GainsExact || r.Info().Tuner != "R820T" {
			t.Errorf("%+v", r.Info())
		}
		r.Close()
		said, err := os.ReadFile(status)
		if err != nil {
			t.Fatal(err)
		}
		want := map[bool]string{false: "bias 0", true: "bias 1"}[bias]
		for _, line := range []string{"agc 0", "gain_mode 1", want, "read_async 12 16384"} {
			if !strings.Contains(string(said), line) {
				t.Errorf("bias %v: no %q in\n%s", bias, line, said)
			}
		}
	}
}

// A dongle that is pulled, and one that falls silent, end a read; neither hangs
// the program.
func TestUnplugAndSilence(t *testing.T) {
	standIn(t)
	r := open(t, Options{FrontEnd: direct})
	tune(t, r, 6e6)
	clock.after(50*time.Millisecond, func() { standIn(t, "plugged 0") })
	if _, err := r.Read(t.Context(), make([]byte, 2400000)); !errors.Is(err, capture.ErrUnplugged) {
		t.Errorf("pulled: %v", err)
	}
	if _, err := r.Tune(t.Context(), 7e6); !errors.Is(err, capture.ErrUnplugged) {
		t.Errorf("tune when pulled: %v", err)
	}
	if err := r.Close(); err != nil {
		t.Logf("close when pulled: %v", err)
	}
	if _, err := Open(t.Context(), Options{}); !errors.Is(err, capture.ErrUnplugged) {
		t.Errorf("open when pulled: %v", err)
	}
	for _, wedge := range []string{"wedge 1", "wedge 2"} {
		standIn(t)
		r = open(t, Options{FrontEnd: direct})
		givenBack, giveBack := make(chan struct{}), r.library.Close
		r.library.Close = func(d device) int32 {
			defer close(givenBack)
			return giveBack(d)
		}
		tune(t, r, 6e6)
		standIn(t, wedge)
		if _, err := r.Read(t.Context(), make([]byte, 2400000)); !errors.Is(err, capture.ErrStuck) {
			t.Errorf("%s: %v", wedge, err)
		}
		if err := r.Close(); (err != nil) != (wedge == "wedge 2") {
			t.Errorf("%s: close: %v", wedge, err)
		}
		<-givenBack // the next test opens the dongle again
	}
}

// Without a filter direct sampling hears a station of 21.5 MHz at 7.3 MHz, mirrored, as any of its own: readings
// say so wherever they are taken, until a filter of known rejection stands in the way (PHYSICS.md 7.5).
func TestImagesAreFlagged(t *testing.T) {
	segments, err := survey.BandsNamed("41 m", 1)
	if err != nil {
		t.Fatal(err)
	}
	for _, test := range []struct {
		filter    string
		rejection map[string]survey.DB
		flagged   bool
	}{{"", nil, true}, {survey.FilterLowPass, nil, true}, {survey.FilterLowPass, map[string]survey.DB{"": 34}, false}} {
		standIn(t, "noise -120", "carrier 21500000 -60")
		fe := direct
		fe.Filter, fe.Rejection = test.filter, test.rejection
		r := open(t, Options{FrontEnd: fe})
		sweeper, err := capture.NewSweeper(r, clock, plan.Plan{Segments: segments, Dwell: 50 * time.Millisecond}, capture.SweepOptions{})
		if err != nil {
			t.Fatal(err)
		}
		err = sweeper.Visit(t.Context(), survey.Setup{Antenna: "whip"}, 2, func() bool { return false }, func(readings []survey.Reading) error {
			for _, reading := range readings {
				heard := slices.ContainsFunc(reading.Carriers, func(c survey.Carrier) bool { return math.Abs(float64(c.Frequency)-7.3e6) < 30 })
				if flagged := reading.Quality.Has(survey.FlagNyquistImage); !heard || flagged != test.flagged {
					t.Errorf("filter %q of %v: heard %v, flags %v", test.filter, test.rejection, heard, reading.Quality.Flags)
				}
			}
			return nil
		})
		if err = errors.Join(err, r.Close()); err != nil {
			t.Error(err)
		}
	}
}

func TestParseURI(t *testing.T) {
	for uri, want := range map[string]Options{"rtlsdr:": {}, "rtlsdr:serial=00000001": {Serial: "00000001"}, "rtlsdr:index=2": {Index: 2}} {
		if got, err := ParseURI(uri); err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("%s: %+v, %v", uri, got, err)
		}
	}
	for _, uri := range []string{"", "rtlsdr", "scene:house", "rtlsdr:serial=", "rtlsdr:index=-1", "rtlsdr:index=x", "rtlsdr:gain=3", "rtlsdr:77"} {
		if got, err := ParseURI(uri); err == nil || !strings.Contains(err.Error(), usage) {
			t.Errorf("%s: %+v, %v", uri, got, err)
		}
	}
}

// Below what tuners reach the error names the ways to receive there, and that the tuner's boards
// have no up-converter built in.
func TestTunerTooLow(t *testing.T) {
	real, err := CatchDriverLines()
	if err != nil {
		t.Fatal(err)
	}
	os.Stderr = real
	for tuner, want := range map[string]string{
		"r820t": `the tuner does not lock; front_end is "built-in up-converter", which only dongles with an R828D have, and this one has an R820T: write front_end = "up-converter" and its offset where one stands before the dongle, or "direct sampling Q" (or I) where the dongle has a tap at that input`,
		"r828d": `the tuner does not lock; front_end is "built-in up-converter", and this dongle has none, or its driver is too old to know of it: update librtlsdr, or write front_end = "up-converter" and its offset where one stands before the dongle, or "direct sampling Q" (or I) where the dongle has a tap at that input`,
	} {
		standIn(t, "tuner "+tuner)
		r := open(t, Options{FrontEnd: survey.FrontEnd{Way: survey.WayBuiltIn}})
		if _, err := r.Tune(t.Context(), 5.9e6); !errors.Is(err, capture.ErrNotLocked) || !strings.HasSuffix(err.Error(), want) {
			t.Errorf("%s: %v", tuner, err)
		}
		r.Close()
	}
}

// The driver calls a tuning that does not lock a success; what it says on
// standard error tells.
func TestTunerThatDoesNotLock(t *testing.T) {
	real, err := CatchDriverLines()
	if err != nil {
		t.Fatal(err)
	}
	os.Stderr = real
	standIn(t, "lock_above 130000000")
	r := open(t, Options{FrontEnd: survey.FrontEnd{Way: survey.WayUp, Offset: 125e6}})
	if _, err := r.Tune(t.Context(), 4.9e6); err != nil {
		t.Errorf("at 4.9 MHz: %v", err)
	}
	if _, err := r.Tune(t.Context(), 5.1e6); !errors.Is(err, capture.ErrNotLocked) || !strings.Contains(err.Error(), "tune to 5.1 MHz") {
		t.Errorf("at 5.1 MHz: %v", err)
	}
	if _, err := r.Tune(t.Context(), 4.9e6); err != nil {
		t.Errorf("at 4.9 MHz again: %v", err)
	}
	if _, err := r.Tune(t.Context(), 5.1e6); err == nil || strings.Contains(err.Error(), "front_end") {
		t.Errorf("at 130.1 MHz of the tuner's: %v", err)
	}
	// One that locks 0.7 s later is waited for; the time of the tries is the bound.
	standIn(t, "lock_above 120000000")
	clock.after(700*time.Millisecond, func() { standIn(t, "lock_above 130000000") })
	if _, err := r.Tune(t.Context(), 4.9e6); err != nil {
		t.Errorf("at 4.9 MHz, where it locks after 0.7 s: %v", err)
	}
	standIn(t, "lock_above 120000000")
	ctx, cancel := context.WithCancel(t.Context())
	clock.after(20*time.Millisecond, cancel)
	if _, err := r.Tune(ctx, 4.9e6); !errors.Is(err, context.Canceled) {
		t.Errorf("at 4.9 MHz, given up while it is tried again: %v", err)
	}
}
