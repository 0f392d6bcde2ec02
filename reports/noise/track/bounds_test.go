package track

import (
	"math"
	"testing"
	"time"

	"nightfloor/survey"
)

var evening = time.Date(2026, 11, 3, 15, 0, 0, 0, time.UTC)

// trackOf gives a track of detections so far apart.
func trackOf(from time.Time, step time.Duration, spacings ...float64) (t Track) {
	for n, spacing := range spacings {
		t = append(t, Detection{Epoch: Epoch{1, from.Add(time.Duration(n) * step)}, Spacing: spacing})
	}
	return t
}

// A spacing that climbs by 0.1 Hz every six minutes is due where its line leads, for three times as
// long as four detections last, 54 minutes; of three no line is taken, and of many the latest 20: where
// of these 14 climb and six stand still, the line of least squares climbs by 0.082 Hz in two minutes.
func TestWhatIsDue(t *testing.T) {
	four := trackOf(evening, 6*time.Minute, 65013, 65013.1, 65013.2, 65013.3)
	var stands, stood Track // the latest 20 of 30 climb; the latest six stand still
	for n := range 30 {
		climb := 0.1 * max(0, float64(n)-10)
		stands = append(stands, trackOf(evening.Add(time.Duration(n)*2*time.Minute), 0, 65013+climb)...)
		stood = append(stood, trackOf(evening.Add(time.Duration(n)*2*time.Minute), 0, 65013+0.1*min(24, float64(n)))...)
	}
	for _, test := range []struct {
		name  string
		t     Track
		after time.Duration
		want  float64
	}{
		{"four, soon", four, 42 * time.Minute, 65014}, {"four, late", four, 100 * time.Minute, 65014.2}, {"three", four[:3], 6 * time.Minute, 65013.2},
		{"20 of 30", stands, 4 * time.Minute, 65015.1}, {"six still", stood, 20 * time.Minute, 65016.466},
	} {
		if got := test.t.due(test.t.last().At.Add(test.after)); math.Abs(got-test.want) > 1e-3 {
			t.Errorf("%s: %.3f Hz, want %.3f", test.name, got, test.want)
		}
	}
}

// Combs of one epoch are two where their spacings are 1e-4 apart. Impulses are single clicks up to
// 20 a second, and the mains' within 3 %.
func TestFindingsToldApart(t *testing.T) {
	for off, want := range map[survey.Hz]bool{0.8e-4: false, 1.3e-4: true} {
		if got := different[survey.FindingComb](&survey.Finding{Spacing: 65013}, &survey.Finding{Spacing: 65013 * (1 + off)}); got != want {
			t.Errorf("%.1e apart: different %t", float64(off), got)
		}
	}
	for rate, want := range map[survey.Hz]int{16: Clicks, 25: OtherPulses, 51.2: MainsPulses, 52: OtherPulses, 97.6: MainsPulses, 430: OtherPulses} {
		if got := ImpulsesOf(&survey.Finding{Rate: rate}); got != want {
			t.Errorf("%v a second: %d, want %d", rate, got, want)
		}
	}
}

// After three hours a supply's spacing is where it was to 5e-4 where it was warm, which takes 30
// minutes, and to 1.5e-3 where it was not.
func TestOverAPause(t *testing.T) {
	for _, test := range []struct {
		long time.Duration // of either track
		off  float64
		one  bool
	}{{40 * time.Minute, 4e-4, true}, {40 * time.Minute, 6e-4, false}, {40 * time.Minute, 1e-3, false}, {20 * time.Minute, 1e-3, true},
		{20 * time.Minute, 1.3e-3, true}, {20 * time.Minute, 1.8e-3, false}} {
		own := func(from time.Time, spacing float64) Track {
			return trackOf(from, test.long/2, spacing, spacing, spacing)
		}
		d := distance(time.Hour, own(evening, 65013), own(evening.Add(3*time.Hour), 65013*(1+test.off)))
		if one := d < math.Inf(1); one != test.one {
			t.Errorf("%v long, %.1e off: one supply's %t", test.long, test.off, one)
		}
	}
}

// Half an hour later an alias may be off by 2.5e-4 more: by 5.5e-4.
func TestAliasesLater(t *testing.T) {
	for off, want := range map[float64]bool{5e-4: true, 6e-4: false} {
		own, other := trackOf(evening, 0, 65013), trackOf(evening.Add(30*time.Minute), 0, 2*65013*(1+off))
		if got := own.hasAlias(other); got != want {
			t.Errorf("%.0e off: alias %t", off, got)
		}
	}
}
