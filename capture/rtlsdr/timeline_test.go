package rtlsdr

import (
	"testing"
	"time"

	"pgregory.net/rapid"
)

// The first fresh sample was digitised after the change, and not much later,
// however the crystal errs within its bounds.
func TestTimeline(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rate := rapid.Float64Range(225e3, 3.2e6).Draw(t, "rate")
		ppm := rapid.Float64Range(-100, 100).Draw(t, "ppm")
		after := time.Duration(rapid.Int64Range(0, int64(time.Hour)).Draw(t, "after"))
		at := time.Now()
		line := timeline{index: rapid.Int64Range(0, 1<<40).Draw(t, "index"), at: at, rate: rate}
		k := line.fresh(at.Add(after))
		// By its own clock the dongle digitises sample k at:
		digitised := float64(k-line.index) / (rate * (1 + ppm*1e-6))
		if digitised < after.Seconds()-1e-6 {
			t.Fatalf("%.6f s after the line, the change came at %.6f", digitised, after.Seconds())
		}
		if late := digitised - after.Seconds(); late > 200.1e-6*after.Seconds()+2/rate+1e-6 {
			t.Fatalf("%.6f s are thrown away needlessly", late)
		}
	})
}

func TestFindPattern(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		before := rapid.SliceOfN(rapid.Byte(), 0, 300).Draw(t, "before")
		first := rapid.Byte().Draw(t, "first")
		b := append([]byte(nil), before...)
		for i := range patternLength {
			b = append(b, first+byte(i))
		}
		at := len(before)
		for at > 0 && b[at-1] == b[at]-1 { // noise may happen to lead into it
			at--
		}
		if got := findPattern(b); got != at {
			t.Fatalf("found at %d, want %d", got, at)
		}
		if got := findPattern(b[:len(b)-(len(b)-at-patternLength)-1]); got != -1 {
			t.Fatalf("found at %d in a pattern cut short", got)
		}
	})
}
