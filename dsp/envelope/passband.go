package envelope

import (
	"slices"

	"nightfloor/dsp/spectrum"
)

// Channels are free channels and their power over time in one stretch.
type Channels struct {
	Low, High int       // columns from…to of all places that there were
	Rate      float64   // samples a second
	Start     float64   // seconds into the reading of sample 0
	Length    int       // samples
	Power     []float32 // channel by channel, over the channel's own mean
	Sum       []float64 // the same averaged over channels
	Density   []float64 // of each channel, FS²/Hz
}

// A Passband takes channels spread over the whole passband. Buffers are reused.
type Passband struct {
	Channels
	channelChoice
	filters map[int]*Filter // by width in columns, as they were needed
}

// Count gives the number of channels.
func (c *Channels) Count() int { return len(c.Density) }

// Seconds gives the length of the stretch.
func (c *Channels) Seconds() float64 { return float64(c.Length) / c.Rate }

// Of gives the power of channel k.
func (c *Channels) Of(k int) []float32 { return c.Power[k*c.Length : (k+1)*c.Length] }

// MeanDensity gives the mean of the channels' densities.
func (c *Channels) MeanDensity() float64 {
	sum := 0.0
	for _, d := range c.Density {
		sum += d
	}
	return sum / float64(len(c.Density))
}

// Take looks at a stretch that began start seconds into the reading. free tells the
// columns without signals, gain by column takes the receiver's droop out. It gives
// false where fewer than two channels fit, the stretch is shorter than three frames or
// a channel is silent.
func (c *Passband) Take(s *spectrum.Spectrogram, free []bool, gain []float64, start float64) bool {
	c.choose(free, s.BinWidth(), passbandChannelsWant)
	if len(c.firsts) < 2 || s.Frames < 3 {
		return false
	}
	filter := c.filters[c.bins]
	if filter == nil {
		if c.filters == nil {
			c.filters = map[int]*Filter{}
		}
		filter = NewFilter(c.bins)
		c.filters[c.bins] = filter
	}
	c.Low, c.High = c.firsts[0], c.firsts[len(c.firsts)-1]+c.bins
	c.firsts = spread(c.firsts, passbandChannelsMost)
	c.Rate, c.Start = filter.Rate(s), start+float64(s.Hop)/s.Rate
	c.Length = filter.Length(s)
	c.Power = slices.Grow(c.Power[:0], len(c.firsts)*c.Length)[:len(c.firsts)*c.Length]
	c.Sum = slices.Grow(c.Sum[:0], c.Length)[:c.Length]
	clear(c.Sum)
	c.Density = c.Density[:0]
	for k, first := range c.firsts {
		power := c.Of(k)
		mean := filter.Powers(power, s, first)
		if !(mean > 0) {
			return false
		}
		c.Density = append(c.Density, mean/filter.Width(s)*gain[first+c.bins/2])
		scale, share := float32(1/mean), 1/float64(len(c.firsts))
		for i, p := range power {
			power[i] = p * scale
			c.Sum[i] += float64(p*scale) * share
		}
	}
	return true
}
