package comb

import (
	"math"
	"math/rand/v2"

	"nightfloor/dsp/fft"
	"nightfloor/dsp/stat"
)

// A madeSpectrum is a mean spectrum as a recording of half a second at 2.4 MS/s gives
// it, made bin by bin: powers of noise follow the gamma distribution of so many looks,
// neighbouring columns correlated as Hann windows make them (4/9), which is what an
// averaged spectrum of stationary noise is. What is not stationary over the half second
// (programme, wobble) is in it by its mean power.
type madeSpectrum struct {
	r      *rand.Rand
	first  float64 // Hz
	width  float64
	looks  float64
	centre float64
	mean   []float64 // of the noise, by column; 1 is the floor
	line   []float64 // of what is coherent
}

func newMadeSpectrum(seed, stream uint64, centre float64) *madeSpectrum {
	const rate, n = 2.4e6, 32768
	m := &madeSpectrum{r: rand.New(rand.NewPCG(seed, stream)), width: rate / n, looks: 72 / fft.OverlapLoss, centre: centre}
	bins := 2*(n/3) + 1
	m.first = centre - float64(n/3)*m.width
	m.mean, m.line = make([]float64, bins), make([]float64, bins)
	for b := range m.mean {
		m.mean[b] = 1
	}
	return m
}

// addLine adds a line at hz, over times the floor in one resolution, spread evenly over
// wide Hz.
func (m *madeSpectrum) addLine(hz, over, wide float64) {
	parts := max(1, int(math.Ceil(2*wide/m.width)))
	for p := range parts {
		at := (hz + wide*((float64(p)+0.5)/float64(parts)-0.5) - m.first) / m.width
		to := m.line
		if parts > 2 {
			to = m.mean // modulated: its power scatters like noise
		}
		reach := int(3 + math.Cbrt(over))
		for b := max(0, int(at)-reach); b <= min(len(to)-1, int(at)+reach); b++ {
			to[b] += over / float64(parts) * fft.HannPower(float64(b)-at)
		}
	}
}

// addComb adds the multiples of a spacing.
func (m *madeSpectrum) addComb(spacing, over, wide float64) (lines int) {
	for n := math.Ceil(m.first / spacing); n*spacing < m.first+float64(len(m.mean))*m.width; n++ {
		m.addLine(n*spacing, over, n*wide)
		lines++
	}
	return lines
}

// addStation adds an AM station: carrier over times the floor in a column, sidebands
// together 10 dB weaker, their density falling by slope dB an octave from 300 Hz up to
// 4.5 kHz.
func (m *madeSpectrum) addStation(hz, over float64) {
	m.addLine(hz, over, 0)
	slope := 6 + 6*m.r.Float64()
	var density [64]float64
	total := 0.0
	for b := range density {
		f := float64(b) * m.width
		if f > 60 && f < 4500 {
			density[b] = math.Pow(10, -slope/10*math.Log2(max(1, f/300)))
			total += 2 * density[b]
		}
	}
	middle := int(math.Round((hz - m.first) / m.width))
	for d, p := range density {
		for _, b := range []int{middle - d, middle + d} {
			if b >= 0 && b < len(m.mean) && p > 0 {
				// Speech comes and goes, and stands in lines.
				m.mean[b] += p / total * over / 10 * m.r.ExpFloat64()
			}
		}
	}
}

// addBroadcast fills a share of the places of a raster between low and high.
func (m *madeSpectrum) addBroadcast(low, high, raster, occupancy float64) {
	for n := math.Ceil(low / raster); n*raster <= high; n++ {
		if m.r.Float64() < occupancy {
			m.addStation(n*raster+20*(m.r.Float64()-0.5), math.Pow(10, 1+5*m.r.Float64()))
		}
	}
}

// addBlock adds a flat digital transmission.
func (m *madeSpectrum) addBlock(hz, wide, over float64) {
	for b := range m.mean {
		if f := m.first + float64(b)*m.width; math.Abs(f-hz) < wide/2 {
			m.mean[b] += over
		}
	}
}

// addDC adds the spike at the centre.
func (m *madeSpectrum) addDC(over float64) { m.addLine(m.centre, over, 0) }

// view draws the spectrum.
func (m *madeSpectrum) view() *View {
	// A field of correlation 4/9 from bin to bin: white noise through (a, b, a), 2ab = 4/9.
	const a = 0.2355
	b := math.Sqrt(1 - 2*a*a)
	white := make([]float64, len(m.mean)+2)
	for i := range white {
		white[i] = m.r.NormFloat64()
	}
	power := make([]float64, len(m.mean))
	for i := range power {
		z := a*white[i] + b*white[i+1] + a*white[i+2]
		noise := m.mean[i] * stat.NoiseQuantile(m.looks, z)
		cross := math.Sqrt(2*m.line[i]*m.mean[i]/m.looks) * m.r.NormFloat64()
		power[i] = 1e-9 * max(0, noise+m.line[i]+cross)
	}
	return newViewOfPowers(power, m.first, m.width, 1.5, m.looks, m.centre)
}
