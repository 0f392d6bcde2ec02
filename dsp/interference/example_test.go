package interference_test

import (
	"fmt"

	"nightfloor/dsp"
	"nightfloor/dsp/dsptest"
	"nightfloor/dsp/interference"
)

// Noise of devices on the mains swells with every half wave. Simulated noise whose power
// swings between 0.2 and 1.8 of its mean at 100 Hz is told from the even noise of the sky:
// P is the probability that noise alone gives evidence so strong.
func ExampleFindings() {
	const rate, centre = 250e3, 9.65e6
	meter, err := dsp.NewMeter(dsp.MeterOptions{Rate: rate, Centre: centre, Samples: rate / 2, Seek: &interference.Options{}})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, s := range []*dsptest.Signal{
		dsptest.New(1, rate, centre).Gated(dsptest.Gated{Mean: 1e-9, Mains: 50, Depth: 0.8}),
		dsptest.New(1, rate, centre).Noise(1e-9),
	} {
		meter.Write(s.Samples(rate / 2))
		found, err := meter.Finish()
		if err != nil {
			fmt.Println(err)
			return
		}
		if m := found.Findings.Mains; interference.Confidence(m.P) > 0.999 {
			fmt.Printf("modulated at %.0f Hz, mains of %.0f Hz, depth %.1f, %s a period\n", m.Envelope, m.Mains, m.Depth, m.Shape)
		} else {
			fmt.Println("nothing found")
		}
		if err := meter.Retune(centre, nil); err != nil {
			fmt.Println(err)
		}
	}
	// Output:
	// modulated at 100 Hz, mains of 50 Hz, depth 0.8, two humps a period
	// nothing found
}
