package envelope

import (
	"math"
	"slices"

	"nightfloor/dsp/spectrum"
)

// Choice of the channels over the whole passband (METHODS.md 8.2); chosen.
const (
	passbandChannelsMost = 32 // noise that is modulated in a fifth of the passband still stands out
	passbandChannelsWant = 12 // narrower channels are taken where there are fewer
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
	filters []*Filter // by width in columns, as they were needed
	filter  *Filter
	firsts  []int // lowest columns
	trial   []int
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
	bins := c.choose(free, s.BinWidth())
	if len(c.firsts) < 2 || s.Frames < 3 {
		return false
	}
	c.filter = c.filterOf(bins)
	c.Low, c.High = c.firsts[0], c.firsts[len(c.firsts)-1]+bins
	c.firsts = spread(c.firsts, passbandChannelsMost)
	c.Rate, c.Start = c.filter.Rate(s), start+float64(s.Hop)/s.Rate
	c.Length = c.filter.Length(s)
	c.Power = slices.Grow(c.Power[:0], len(c.firsts)*c.Length)[:len(c.firsts)*c.Length]
	c.Sum = slices.Grow(c.Sum[:0], c.Length)[:c.Length]
	clear(c.Sum)
	c.Density = c.Density[:0]
	for k, first := range c.firsts {
		mean := c.filter.Powers(c.Of(k), s, first)
		if !(mean > 0) {
			return false
		}
		c.Density = append(c.Density, mean/c.filter.Width(s)*gain[first+bins/2])
		c.normalise(k, mean)
	}
	return true
}

// normalise divides the power of channel k by its mean and adds it to sum.
func (c *Passband) normalise(k int, mean float64) {
	scale, share := float32(1/mean), 1/float64(len(c.firsts))
	sum := c.Sum
	for i, p := range c.Of(k) {
		c.Of(k)[i] = p * scale
		sum[i] += float64(p*scale) * share
	}
}

// choose finds places for channels that lie wholly in free columns: 10 kHz wide,
// narrower where there are few of these, and gives their width in columns.
func (c *Passband) choose(free []bool, binWidth float64) (bins int) {
	c.firsts = c.firsts[:0]
	for _, share := range channelShares {
		width := int(math.Round(channelWidth / channelFill * share / binWidth))
		if width < fewestBins {
			break
		}
		if c.trial = placeChannels(c.trial[:0], free, width); len(c.trial) > len(c.firsts) {
			c.firsts, c.trial, bins = c.trial, c.firsts, width
		}
		if len(c.firsts) >= passbandChannelsWant {
			break
		}
	}
	return bins
}

// filterOf gives the filter for channels of so many columns.
func (c *Passband) filterOf(bins int) *Filter {
	for _, f := range c.filters {
		if f.Bins() == bins {
			return f
		}
	}
	f := NewFilter(bins)
	c.filters = append(c.filters, f)
	return f
}
