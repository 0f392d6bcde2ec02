package envelope

import "math"

// Choice of the channels of a band and of the whole passband (METHODS.md 8.2); chosen.
const (
	channelWidth = 10e3 // Hz, wanted noise bandwidth
	mostChannels = 12   // of a band; 12 of 10 kHz for 0.5 s: Vd's standard error is 0.006 dB
	fewestBins   = 8    // a channel narrower than this is mostly its own edges

	passbandChannelsMost = 32 // noise that is modulated in a fifth of the passband still stands out
	passbandChannelsWant = 12 // narrower channels are taken where there are fewer
)

// channelShares are the shares of channelWidth that are tried in turn.
var channelShares = []float64{1, 0.7, 0.5, 0.35, 0.25, 0.15}

// A channelChoice holds where channels lie. Buffers are reused.
type channelChoice struct {
	bins   int   // columns of a channel, 0 where none fits
	firsts []int // lowest columns
	trial  []int
}

// choose finds places for channels that lie wholly in free columns: as near to channelWidth
// as possible, narrower ones where fewer than wanted fit.
func (c *channelChoice) choose(free []bool, binWidth float64, wanted int) {
	c.bins, c.firsts = 0, c.firsts[:0]
	for _, share := range channelShares {
		width := int(math.Round(channelWidth / channelFill * share / binWidth))
		if width < fewestBins || len(c.firsts) >= wanted {
			break
		}
		if c.trial = placeChannels(c.trial[:0], free, width); len(c.trial) > len(c.firsts) {
			c.bins, c.firsts = width, append(c.firsts[:0], c.trial...)
		}
	}
}

// placeChannels puts channels of width columns side by side into each run of
// free columns, what is left over shared between the ends.
func placeChannels(firsts []int, free []bool, width int) []int {
	for b := 0; b < len(free); {
		run := b
		for run < len(free) && free[run] {
			run++
		}
		first := b + (run-b)%width/2
		for ; first+width <= run; first += width {
			firsts = append(firsts, first)
		}
		b = run + 1
	}
	return firsts
}

// spread keeps most of the places at most, evenly.
func spread(firsts []int, most int) []int {
	n := len(firsts)
	if n <= most {
		return firsts
	}
	for i := range most {
		firsts[i] = firsts[(2*i+1)*n/(2*most)]
	}
	return firsts[:most]
}
