package comb_test

import (
	"fmt"

	"nightfloor/dsp"
	"nightfloor/dsp/comb"
	"nightfloor/dsp/dsptest"
	"nightfloor/dsp/interference"
	"nightfloor/dsp/stat"
)

// A simulated switching supply puts a line on every multiple of 37.31 kHz, here −70 dBFS each.
// The Meter keeps a View of its passband, the central two thirds of 1.024 MHz, and Seek finds
// the comb in it. None of the lines need stand at the spacing itself, far below.
func ExampleSeek() {
	const rate, centre = 1.024e6, 9.65e6
	iq := dsptest.New(1, rate, centre).Noise(1e-10).
		Comb(dsptest.Comb{Spacing: 37.31e3, Level: -70, Low: centre - 0.4e6, High: centre + 0.4e6}).
		Samples(rate / 4)

	// A meter that is told to seek interference gives a view with its measurement.
	m, err := dsp.NewMeter(dsp.MeterOptions{Rate: rate, Centre: centre, Samples: int64(len(iq)), Seek: &interference.Options{}})
	if err != nil {
		fmt.Println(err)
		return
	}
	m.Write(iq)
	found, err := m.Finish()
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, c := range comb.Seek([]*comb.View{found.View}, 1e-4) {
		power, _, _ := found.View.Lines(c)
		fmt.Printf("spacing %.2f kHz, %d lines of %.0f dBFS\n", c.Spacing/1e3, c.Lines, stat.DB(power))
	}
	// Output:
	// spacing 37.31 kHz, 18 lines of -70 dBFS
}
