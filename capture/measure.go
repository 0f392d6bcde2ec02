package capture

import (
	"context"
	"errors"
	"io"

	"nightfloor/dsp"
	"nightfloor/dsp/spectrum"
	"nightfloor/survey"
)

// UsablePassband gives the edges of the central two thirds of the sample rate.
func UsablePassband(centre, rate survey.Hz) (low, high survey.Hz) {
	l, h := spectrum.Usable(float64(rate))
	return centre + survey.Hz(l), centre + survey.Hz(h)
}

// leastShare is the share of a segment that a recording must cover for the segment to be
// measured in it: a small rest says nothing of a segment, and other recordings have it.
const leastShare = 0.1

// Cover gives the parts of segments that the usable passband covers; without
// segments those of the named bands of region, or the whole passband where no
// band reaches in.
func Cover(segments []survey.Segment, centre, rate survey.Hz, region survey.Region) []survey.Segment {
	low, high := UsablePassband(centre, rate)
	if len(segments) == 0 {
		return survey.BandsWithin(low, high, region)
	}
	var out []survey.Segment
	for _, s := range segments {
		if part, share := s.Within(low, high); share >= leastShare {
			out = append(out, part)
		}
	}
	return out
}

// Measure streams a recording through the meter and gives a reading of each
// segment (one or more), in their order. They share the findings, which are sought
// over the whole usable passband; region says where amateur bands lie.
func Measure(ctx context.Context, s Source, segments []survey.Segment, region survey.Region) ([]survey.Reading, error) {
	p, err := measure(ctx, s, segments, region)
	if err != nil {
		return nil, err
	}
	return p.readings, nil
}

// measure is Measure, and gives what combs can be measured in later.
func measure(ctx context.Context, s Source, segments []survey.Segment, region survey.Region) (*heldPassband, error) {
	o := dsp.MeterOptions{Rate: float64(s.Rate), Centre: float64(s.Centre), Samples: s.Samples, Bands: bandsOf(segments), Seek: seekOptions(0, region)}
	meter, err := dsp.NewMeter(o)
	if err != nil {
		return nil, err
	}
	samples, err := s.Open()
	if err != nil {
		return nil, err
	}
	defer samples.Close()
	block := make([]complex64, 1<<15)
	for {
		n, err := samples.Read(block)
		meter.Write(block[:n])
		if errors.Is(err, io.EOF) {
			break
		}
		if err == nil {
			err = ctx.Err()
		}
		if err != nil {
			return nil, err
		}
	}
	m, err := meter.Finish()
	if err != nil {
		return nil, err
	}
	p := newHeardPassband(m, Conditions{Segments: segments, Start: s.Start, Centre: s.Centre, SampleRate: s.Rate, Gain: s.Gain, Dropped: s.Dropped, Codes: samples.Codes()})
	combs := p.measureAll(findCombs(p))
	for i := range combs { // what the search itself found here says more
		f, c := &combs[i].finding, combs[i].comb
		f.Lines, f.Strength = c.Lines, decibels(c.Strength)
	}
	return p.hold(combs), nil
}
