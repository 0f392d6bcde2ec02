package capture_test

import (
	"math"
	"testing"
	"time"

	"nightfloor/capture"
	"nightfloor/capture/capturetest"
	"nightfloor/survey"
)

// hasty is a receiver that says it delivers nothing from before a retune, and does.
type hasty struct{ *capturetest.Fake }

func (h hasty) Info() capture.Info {
	info := h.Fake.Info()
	info.Stale = 0
	return info
}

// No reading holds energy from before a retune. A strong station of the lower
// segment would stand at the same offset from the centre in the higher one; it
// does where the receiver hides its queue, which shows that the test can see it.
func TestNoReadingHoldsWhatWasBeforeARetune(t *testing.T) {
	tunings, err := capture.Tunings([]survey.Segment{lower, higher}, 250e3)
	if err != nil {
		t.Fatal(err)
	}
	ghost := tunings[1].Centre + 6.03e6 - tunings[0].Centre
	const most = 3 // dB
	for _, honest := range []bool{true, false} {
		sky := capturetest.Sky{Floor: -120, Carriers: []capturetest.Carrier{{At: 6.03e6, Level: -50}}}
		r, fake, m := recorderOf(sky, smallPlan())
		if !honest {
			r.Receiver = hasty{fake}
		}
		run(t, r)
		for _, s := range m.sweeps {
			above := s.Readings[1]
			want := sky.Density(s.Setup.Antenna, above.Gain.DB)
			// The mean of 8 bins of some 16 looks scatters by 0.5 dB (bins correlated); the
			// station is 47 dB over the noise in a bin, and fills two fifths of the reading;
			// most frames that hold it are left out as a pulse's.
			over := densityAbout(above.Spectrum, ghost).Over(want)
			switch {
			case honest && (over > most || len(above.Carriers) != 0):
				t.Errorf("%v: %.1f dB over the noise where the station was before the retune; carriers %v", s.Setup, over, above.Carriers)
			case !honest && over <= most:
				t.Errorf("%v: stale samples of a strong station leave %.1f dB: this test sees nothing", s.Setup, over)
			}
			if honest && (above.Floor == nil || math.Abs(float64(above.Floor.Density.Over(want))) > 0.3) { // as in TestReadingsAreTrue
				t.Errorf("%v: floor %+v of the empty segment, want %.2f dBFS/Hz", s.Setup, above.Floor, want)
			}
		}
	}
}

// densityAbout gives the mean density of the eight bins about a frequency.
func densityAbout(s *survey.Spectrum, f survey.Hz) survey.DBFSPerHz {
	at := int(math.Round(float64((f - s.First) / s.Step)))
	return survey.DBFSPerHz(10 * math.Log10(mean(&survey.Spectrum{Density: s.Density[at-4 : at+4]})))
}

// Samples from before the antenna was changed are thrown away too.
func TestNoReadingHoldsTheOtherAntenna(t *testing.T) {
	// 400 ms of queue would fill a reading whole, with 20 dB more or less.
	sky := capturetest.Sky{Floor: -130, Antennas: map[string]survey.DB{"loop": 20}, Stale: 400 * time.Millisecond, Gains: []survey.DB{30}}
	p := smallPlan()
	p.Setups = []survey.Setup{loop, whip}
	r, _, m := recorderOf(sky, p)
	run(t, r)
	for _, s := range m.sweeps {
		for _, reading := range s.Readings {
			want := sky.Density(s.Setup.Antenna, 30)
			if reading.Floor == nil || math.Abs(float64(reading.Floor.Density.Over(want))) > 0.3 { // as in TestReadingsAreTrue
				t.Errorf("%v: floor %+v, want %.2f dBFS/Hz", s.Setup, reading.Floor, want)
			}
		}
	}
}
