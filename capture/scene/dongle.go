package scene

import (
	"math"
	"math/cmplx"
)

// The faults of the simulated dongle.
const (
	fullScale   = -16.0 // dBm at gain 0 for a complex tone of amplitude 1
	noiseFigure = 10.0  // dB, of the front end at any gain
	codeNoise   = 0.45  // rms of the converter's own noise in I and in Q, codes
	spikeLevel  = -45.0 // dBFS, of the DC offset
	imageLevel  = -45.0 // dBc, of the mirror image
)

const boltzmann290 = 4.0039e-18 // mW/Hz: k · 290 K

// fullScalePower gives the power, mW at the terminal, of a tone at 0 dBFS.
func fullScalePower(gain float64) float64 { return fromDB(fullScale - gain) }

// frontEndNoise is the receiver's own density at its terminal, mW/Hz, including
// the thermal noise of a terminator.
var frontEndNoise = boltzmann290 * fromDB(noiseFigure)

// converterNoise gives the density of the converter's own noise, full-scale
// units per hertz: white over the sample rate, behind the decimation filter.
func converterNoise(rate float64) float64 { return 2 * codeNoise * codeNoise / (128 * 128) / rate }

// roundingNoise gives the density of rounding to 8 bits: 1/12 of a squared step
// in I and in Q, white as long as the noise fills the steps.
func roundingNoise(rate float64) float64 { return 2.0 / 12 / (128 * 128) / rate }

// droopPoints are the response in dB of the decimation filter (PHYSICS.md 7.4),
// over the offset in sample rates: its figures at 2.4 MS/s are
// −0.06 dB at 0.5 MHz, −0.6 at 0.8, −1.5 at 1.0, −3.0 at 1.2.
var droopPoints = []struct{ share, db float64 }{
	{0.5 / 2.4, -0.06}, {0.8 / 2.4, -0.6}, {1.0 / 2.4, -1.5}, {0.5, -3}}

// droop gives the power response at an offset from the centre, in sample rates:
// the figures of droopPoints, joined by the curve a·x^b between each two.
func droop(share float64) float64 {
	x, p, steep := math.Abs(share), droopPoints[0], 4.0 // toward the centre, the fourth power
	for _, q := range droopPoints[1:] {
		if x > p.share {
			steep = math.Log(q.db/p.db) / math.Log(q.share/p.share)
			p = q
		}
	}
	return fromDB(p.db * math.Pow(x/p.share, steep))
}

func fromDB(db float64) float64 { return math.Pow(10, db/10) }
func toDB(x float64) float64    { return 10 * math.Log10(x) }

// An analogFaults holds what the dongle does to a sample: I/Q imbalance and DC offset.
// I' = ii·I + iq·Q + di and Q' = qi·I + qq·Q + dq.
type analogFaults struct{ ii, iq, qi, qq, di, dq float32 }

// newAnalogFaults gives the faults that make x + κ·x* + d of a sample x, for the mirror
// image κ and the DC offset d, each at an arbitrary phase.
func newAnalogFaults() analogFaults {
	k := cmplx.Rect(math.Pow(10, imageLevel/20), 0.8)
	d := cmplx.Rect(math.Pow(10, spikeLevel/20), 2.2)
	across := float32(imag(k))
	return analogFaults{ii: float32(1 + real(k)), iq: across, qi: across, qq: float32(1 - real(k)), di: float32(real(d)), dq: float32(imag(d))}
}

// quantise writes samples as 8-bit codes: 128·x + 127.5, rounded half away from zero and
// limited to 0 and 255.
//
//go:norace
func (f analogFaults) quantise(to []byte, re, im []float32) {
	// For positive numbers, to round half away from zero is to add a half and truncate.
	ii, iq, qi, qq, di, dq := 128*f.ii, 128*f.iq, 128*f.qi, 128*f.qq, 128*f.di+128, 128*f.dq+128
	im = im[:len(re)]
	to = to[:2*len(re)]
	for i, x := range re {
		y := im[i]
		to[2*i] = code(ii*x + iq*y + di)
		to[2*i+1] = code(qi*x + qq*y + dq)
	}
}

// code truncates the fraction and limits the result to a byte.
func code(x float32) byte {
	c := int32(x)
	if uint32(c) > 255 {
		return byte(^c >> 31) // 255 above, 0 below
	}
	return byte(c)
}
