package dsptest

import "math"

// BroadcastFloor is the density of the white noise under Broadcast, FS²/Hz:
// −100 dBFS/Hz moves an 8-bit converter by 1.4 codes rms at 2.4 MS/s.
const BroadcastFloor = 1e-10

// Broadcast makes a broadcast band over noise of BroadcastFloor: stations
// between low and high (Hz) until occupancy of the band lies within 5 kHz of a
// carrier.
func Broadcast(seed uint64, rate, centre, low, high, occupancy float64) *Signal {
	return New(seed, rate, centre).Noise(BroadcastFloor).Stations(low, high, occupancy, BroadcastFloor)
}

// Stations fills a share of low…high with broadcasters on the 10 kHz raster [RR,
// Appendix 11 of the ITU Radio Regulations], one in six moved by 5 kHz into its
// neighbour's sidebands. Carriers are evenly spread from 10 to 60 dB over the floor
// (FS²/Hz) in 100 Hz, up to 10 Hz off frequency, and carry speech whose sidebands
// together are 10 to 13 dB weaker. PHYSICS.md 2.2.
func (s *Signal) Stations(low, high, occupancy, floor float64) *Signal {
	const raster, half = 10e3, 5e3
	r := s.random()
	first := int(math.Ceil((low + half) / raster))
	last := int(math.Floor((high - half) / raster))
	var places []float64
	covered := map[float64]bool{} // stretches of half, by their lower end
	for _, k := range r.Perm(max(0, last-first+1)) {
		if float64(len(covered))*half >= occupancy*(high-low) {
			break
		}
		hz := float64(first+k) * raster
		if r.Float64() < 1.0/6 && hz+half <= high-half {
			hz += half
		}
		places = append(places, hz)
		covered[hz-half], covered[hz] = true, true
	}
	for _, hz := range places {
		s.Station(Station{
			Hz:    hz + 20*(r.Float64()-0.5),
			Level: 10*math.Log10(floor*100) + 10 + 50*r.Float64(),
			Depth: math.Sqrt(fromDB(-10 - 3*r.Float64())),
			Slope: 6 + 6*r.Float64(),
		})
	}
	return s
}
