// Package scene is a simulated house: a receiver that listens, through antennas
// in two rooms, to a sky of broadcasters, to a beacon and a time signal, to voices that come and go in amateur bands,
// and to the house's own noise sources.
// It exists for the demo and for tests; whatever is made from it is simulated.
//
// A House is receiver, clock and antenna changer in one: its time passes with
// the samples that are read and with Sleep, and nothing waits, so that a night
// takes as long as it takes to compute.
//
// Field strengths are in (µV/m)², powers at the receiver's terminal in mW,
// densities in those per hertz, all linear unless a name says dB; frequencies
// are in Hz, bearings in degrees clockwise from true north, and times in seconds
// since the scene's start unless they are time.Time. The house and its stations are
// invented; levels are chosen to agree with published noise levels and antenna figures.
package scene

import (
	"cmp"
	"fmt"
	"math/rand/v2"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"sync/atomic"
	"time"

	"nightfloor/capture"
	"nightfloor/survey"
	"nightfloor/survey/sun"
)

// Options set up a scene; the zero value is an evening in November.
type Options struct {
	Start   time.Time // zero: 2026-11-03T17:30:00Z
	Locator string    // Maidenhead, for the sun; "": JO32kh
	Rate    survey.Hz // samples a second; 0: 1.024e6
}

// What applies where Options say nothing.
const (
	defaultRate    = 1.024e6
	defaultLocator = "JO32kh"
)

var defaultStart = time.Date(2026, time.November, 3, 17, 30, 0, 0, time.UTC)

// A House is the simulated house. Its methods are called from one goroutine,
// except that Now may be called while a Read is under way in another.
type House struct {
	info        capture.Info
	rate        float64 // of info
	world       *world
	read        atomic.Int64 // samples
	slept       atomic.Int64 // nanoseconds that were slept through
	view        view         // what the samples now delivered were received with
	pending     []change     // what was asked for, not yet in the samples delivered
	synth       *synth
	undelivered int  // samples of the synth's hop not yet delivered
	skipped     bool // time was slept through since the last Read
	closed      bool
}

// A view is all that a receiver's samples depend on besides time.
type view struct {
	at     mounted
	centre float64 // Hz, as tuned
	gain   float64 // dB, a step
}

// A change of view takes effect in the sample of that index.
type change struct {
	index int64
	to    view
}

// Open opens the scene that uri names, scene:NAME or scene:NAME?seed=N, with a terminator
// in place of an antenna and no gain.
func Open(uri string, o Options) (*House, error) {
	seed, err := parseURI(uri)
	if err != nil {
		return nil, err
	}
	o.Start = cmp.Or(o.Start, defaultStart)
	o.Locator = cmp.Or(o.Locator, defaultLocator)
	o.Rate = cmp.Or(o.Rate, defaultRate)
	lat, lon, err := sun.ParseLocator(o.Locator)
	if err != nil {
		return nil, fmt.Errorf("scene at %s: %w", o.Locator, err)
	}
	if o.Rate < 900e3 || o.Rate > 3.2e6 {
		return nil, fmt.Errorf("scene at %s: out of range; choose 900 kHz to 3.2 MHz", survey.RateText(o.Rate))
	}
	h := &House{rate: float64(o.Rate), world: newWorld(seed, o.Start, lat, lon)}
	h.info = capture.Info{
		URI: uri, Name: "simulated house", Tuner: "simulated", Simulated: true,
		SampleRate: o.Rate, Gains: slices.Clone(gainSteps), GainsExact: true,
		Droop: func(offset survey.Hz) float64 { return droop(float64(offset / o.Rate)) },
		Stale: staleTime,
	}
	h.view.centre = 9.65e6
	h.synth = newSynth(h.world, h.rate, rand.NewPCG(seed, 0x6e6f697365))
	h.restart()
	return h, nil
}

// Info says that the receiver is simulated, always.
func (h *House) Info() capture.Info { return h.info }

// Close ends the scene; no Read follows.
func (h *House) Close() error {
	h.closed = true
	return nil
}

const usage = "write scene:house or scene:house?seed=7"

// parseURI gives the seed of scene:NAME?seed=N, 0 where none is named.
func parseURI(uri string) (seed uint64, err error) {
	rest, ok := strings.CutPrefix(uri, "scene:")
	if !ok {
		return 0, fmt.Errorf("receiver %q: not a scene; %s", uri, usage)
	}
	name, query, _ := strings.Cut(rest, "?")
	if name != "house" { // the only one there is
		return 0, fmt.Errorf("scene %q: not known; the scenes are: house", name)
	}
	values, err := url.ParseQuery(query)
	if err != nil {
		return 0, fmt.Errorf("receiver %q: %w; %s", uri, err, usage)
	}
	for key, given := range values {
		if key != "seed" || len(given) != 1 {
			return 0, fmt.Errorf("receiver %q: %s is not an option, or given twice; %s", uri, key, usage)
		}
	}
	if values.Has("seed") {
		if seed, err = strconv.ParseUint(values.Get("seed"), 10, 64); err != nil {
			return 0, fmt.Errorf("receiver %q: seed: %w; %s", uri, err, usage)
		}
	}
	return seed, nil
}
