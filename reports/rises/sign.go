package rises

import (
	"nightfloor/reports/readlog"
	"nightfloor/reports/stats"
	"nightfloor/survey"
)

// Signs of interference that go with a rise of the floor.
const (
	signMains = iota // noise modulated by the mains
	signComb
	signVd // an envelope more pulse-like than that of noise
	signs
)

const (
	// impulsive is over what Vd, in dB, noise is not Gaussian any more, of which it is 1.05 dB
	// (PHYSICS.md 8.4).
	impulsive = 1.5
	// humpsMost is from what share of the segment on humps are what raises all of it (PHYSICS.md 8.5).
	// TestHumpsOverASegment fails when it moves.
	humpsMost = 0.6
)

// growth is how many times as strong a sign must be while the floor is raised than otherwise, where
// it is there all the time: of a floor raised to twice the power, all by what makes the lines
// (STATISTICS.md 9.6). Modulation is stored as the square of a power; Vd has no strength.
// TestSignsThatGrow fails when they move.
var growth = [signs]float64{signMains: 4, signComb: 2}

// sweepSigns gives the signs that were found in each sweep: what is found in one tuning
// and one segment is there in others of the same seconds.
func sweepSigns(l *readlog.Log) map[*survey.Sweep][signs]bool {
	found := map[*survey.Sweep][signs]bool{}
	for i := range l.Readings {
		h := &l.Readings[i]
		now := found[h.Sweep]
		for j := range h.Findings {
			if f := &h.Findings[j]; f.Detected() {
				now[signMains] = now[signMains] || f.Kind == survey.FindingMains
				now[signComb] = now[signComb] || f.Kind == survey.FindingComb
			}
		}
		found[h.Sweep] = now
	}
	return found
}

// measureSigns notes at a point what its own readings tell: Vd, how strong combs and modulation
// are, and humps.
func measureSigns(l *readlog.Log, p *floorPoint) {
	var vds, humps []float64
	var power [signs][]float64
	for _, i := range p.readings {
		h := &l.Readings[i]
		var sum [signs]float64
		scale := stats.FromDecibel(-loweredBy(h))
		for j := range h.Findings {
			switch f := &h.Findings[j]; {
			case !stats.Finite(f.Power):
			case f.Kind == survey.FindingMains:
				sum[signMains] += f.Power * scale * scale
			case f.Kind == survey.FindingComb:
				sum[signComb] += f.Power * scale
			}
		}
		for k := range power {
			power[k] = append(power[k], sum[k])
		}
		if h.Vd != nil && stats.Finite(float64(*h.Vd)) {
			vds = append(vds, float64(*h.Vd))
		}
		humps = append(humps, humped(h))
	}
	for k := range power {
		p.power[k] = stats.Median(power[k])
	}
	p.signs[signVd] = len(vds) > 0 && stats.Median(vds) > impulsive
	p.hump = stats.Median(humps)
}

// humped gives by how much at the most humps have raised the mean over the segment, dB,
// where together they cover less than most of it.
func humped(h *readlog.Reading) float64 {
	width := float64(h.Segment.High - h.Segment.Low)
	share, more := 0.0, 0.0
	for j := range h.Findings {
		f := &h.Findings[j]
		if f.Kind != survey.FindingHump || !f.Detected() || !stats.Finite(float64(f.Strength)) {
			continue
		}
		if part := float64(min(f.High, h.Segment.High)-max(f.Low, h.Segment.Low)) / width; part > 0 {
			share += part
			more += part * (stats.FromDecibel(float64(f.Strength)) - 1)
		}
	}
	if share >= humpsMost {
		return 0
	}
	return stats.Decibel(1 + max(0, more))
}

// explains tells whether a sign explains that the floor is raised at some points of a
// series: it is there at half of them or more, and where the floor is not raised it is there
// half as often at the most, or is weaker by what the floor is lower. What is there alike all
// the time does not.
func (s *floorSeries) explains(sign int, raised []int) bool {
	n, power := s.signAt(sign, raised)
	up, down := share(n, len(raised)), share(s.quiet.signs[sign], s.quiet.points)
	return up >= 0.5 && (down <= up/2 || power > 0 && power >= growth[sign]*s.quiet.power[sign])
}

// signAt counts the points at which a sign was found, and gives the median of its power.
func (s *floorSeries) signAt(sign int, points []int) (count int, power float64) {
	var powers []float64
	for _, n := range points {
		if s.points[n].signs[sign] {
			count++
		}
		powers = append(powers, s.points[n].power[sign])
	}
	return count, stats.Median(powers)
}

func share(some, all int) float64 { return float64(some) / float64(max(1, all)) }
