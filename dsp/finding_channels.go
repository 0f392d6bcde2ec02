package dsp

import (
	"math"
	"slices"

	"nightfloor/dsp/spectrum"
)

// Choice of the channels over the whole passband.
const (
	passbandChannelsMost = 32 // noise that beats in a fifth of the passband still stands out
	passbandChannelsWant = 12 // narrower channels are taken where there are fewer
)

// channels are free channels and their power over time in one stretch.
type channels struct {
	low, high int       // columns from…to of all places that there were
	rate      float64   // samples a second
	start     float64   // seconds into the reading of sample 0
	length    int       // samples
	power     []float32 // channel by channel, over the channel's own mean
	sum       []float64 // the same averaged over channels
	density   []float64 // of each channel, FS²/Hz
}

// passbandChannels takes channels spread over the whole passband. Buffers are reused.
type passbandChannels struct {
	channels
	filters []*ChannelFilter // by width in columns, as they were needed
	filter  *ChannelFilter
	firsts  []int // lowest columns
	trial   []int
}

// count gives the number of channels.
func (c *channels) count() int { return len(c.density) }

// seconds gives the length of the stretch.
func (c *channels) seconds() float64 { return float64(c.length) / c.rate }

// of gives the power of channel k.
func (c *channels) of(k int) []float32 { return c.power[k*c.length : (k+1)*c.length] }

// meanDensity gives the mean of the channels' densities.
func (c *channels) meanDensity() float64 {
	sum := 0.0
	for _, d := range c.density {
		sum += d
	}
	return sum / float64(len(c.density))
}

// take looks at a stretch that began start seconds into the reading. free tells the
// columns without signals, gain by column takes the receiver's droop out. It gives
// false where fewer than two channels fit, the stretch is shorter than three frames or
// a channel is silent.
func (c *passbandChannels) take(s *spectrum.Spectrogram, free []bool, gain []float64, start float64) bool {
	bins := c.choose(free, s.BinWidth())
	if len(c.firsts) < 2 || s.Frames < 3 {
		return false
	}
	c.filter = c.filterOf(bins)
	c.low, c.high = c.firsts[0], c.firsts[len(c.firsts)-1]+bins
	c.firsts = spread(c.firsts, passbandChannelsMost)
	c.rate, c.start = c.filter.Rate(s), start+float64(s.Hop)/s.Rate
	c.length = c.filter.length(s)
	c.power = slices.Grow(c.power[:0], len(c.firsts)*c.length)[:len(c.firsts)*c.length]
	c.sum = slices.Grow(c.sum[:0], c.length)[:c.length]
	clear(c.sum)
	c.density = c.density[:0]
	for k, first := range c.firsts {
		mean := c.filter.powers(c.of(k), s, first)
		if !(mean > 0) {
			return false
		}
		c.density = append(c.density, mean/c.filter.Width(s)*gain[first+bins/2])
		c.normalise(k, mean)
	}
	return true
}

// normalise divides the power of channel k by its mean and adds it to sum.
func (c *passbandChannels) normalise(k int, mean float64) {
	scale, share := float32(1/mean), 1/float64(len(c.firsts))
	sum := c.sum
	for i, p := range c.of(k) {
		c.of(k)[i] = p * scale
		sum[i] += float64(p*scale) * share
	}
}

// choose finds places for channels that lie wholly in free columns: 10 kHz wide,
// narrower where there are few of these, and gives their width in columns.
func (c *passbandChannels) choose(free []bool, binWidth float64) (bins int) {
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
func (c *passbandChannels) filterOf(bins int) *ChannelFilter {
	for _, f := range c.filters {
		if f.bins() == bins {
			return f
		}
	}
	f := NewChannelFilter(bins)
	c.filters = append(c.filters, f)
	return f
}
