package dsp_test

import (
	"fmt"

	"nightfloor/dsp"
	"nightfloor/dsp/dsptest"
	"nightfloor/dsp/spectrum"
	"nightfloor/dsp/stat"
)

// Half a second of I/Q goes in: simulated white noise of 1e-10 per hertz, −100 dBFS/Hz, and
// one carrier of −50 dBFS. The floor comes out, from what the carrier leaves free, and the
// carrier.
func ExampleMeter() {
	const rate, centre = 250e3, 9.65e6
	iq := dsptest.New(1, rate, centre).Noise(1e-10).Tone(9.68e6, -50, 0).Samples(rate / 2)

	m, err := dsp.NewMeter(dsp.MeterOptions{
		Rate: rate, Centre: centre, Samples: int64(len(iq)),
		Bands: []spectrum.Band{{Low: 9.60e6, High: 9.70e6}},
	})
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
	band := found.Bands[0]
	fmt.Printf("floor %.0f dBFS/Hz\n", stat.DB(band.Floor.Density))
	for _, c := range band.Carriers {
		fmt.Printf("carrier at %.0f Hz, %.0f dBFS\n", c.Frequency, stat.DB(c.Power))
	}
	// Output:
	// floor -100 dBFS/Hz
	// carrier at 9680000 Hz, -50 dBFS
}
