package plan

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"nightfloor/survey"
)

// A Plan is what is to be done, written ahead.
type Plan struct {
	Title      string
	Text       string // the file as it was read, without a byte-order mark
	Site       survey.Site
	Region     survey.Region // of the Radio Regulations
	Receiver   string        // URI, "" where the command line names it
	SampleRate survey.Hz     // 0: the receiver's own
	FrontEnd   survey.FrontEnd
	Antennas   []survey.Antenna // what is said of some of those in Setups
	Change     Change
	Halves     [2]survey.Wiring // of the first half of the time and of the second
	// Declination is how far magnetic north lies east of true north, degrees;
	// nil where the plan does not say.
	Declination *float64
	Order       string // OrderShuffled or OrderABBA
	Gains       []FixedGain
	Setups      []survey.Setup
	Segments    []survey.Segment
	Listed      map[string][]survey.Hz // by segment, in order: beacons and time signals, measured whether heard or not
	Dwell       time.Duration          // of one reading
	Sweeps      int                    // in a visit
	Rounds      int                    // 0: until stopped
	Every       time.Duration          // from one visit's start to the next; 0: at once
	Until       string                 // local time HH:MM at which it ends, "": when the rounds are done
	Seed        uint64                 // of the shuffled rounds

	lines       keyLines
	segmentKeys map[string]string // by the segment's name
	antennaKeys map[string]string // of the first setup with it, by the antenna's name
}

// Defaults of a plan. A dwell of 0.5 s holds 25 periods of 50 Hz mains. Visits that
// are compared last half a minute or so: fades of seconds average out in it, and
// nothing is worse than a visit as long as a fade (PHYSICS.md 9.2).
const (
	DefaultDwell  = 500 * time.Millisecond
	DefaultSweeps = 3 // of a single setup
	defaultVisit  = 30 * time.Second
)

// The dwells that a plan may ask for: a period of the mains and more, and no
// more than fits into memory (10 s at 2.4 MS/s are 48 MB of I/Q); more sweeps
// average over longer times.
const (
	leastDwell = 20 * time.Millisecond
	mostDwell  = 10 * time.Second
)

// Bounds of a plan: what is larger is none. A sweep of a hundred segments takes a minute at
// the default dwell, and all named bands together are under 30.
const (
	MostBytes    = 1 << 20
	mostSegments = 100
)

// document is the plan as TOML has it. Its fields are named as the keys are, but for
// underscores.
type document struct {
	Title string
	Site  struct {
		Name, Locator, Mains, Surroundings string
		Region                             int
		Declination                        *float64 // how far magnetic north lies east of true north
	}
	Receiver struct {
		URI        string
		SampleRate string `toml:"sample_rate"`
		FrontEnd   string `toml:"front_end"`
		Offset     string
		Filter     string
		Rejection  string `toml:"filter_rejection"` // at 28.8 MHz − f
		HighPass   string `toml:"high_pass"`
		ClockError string `toml:"clock_error"`
		BiasTee    bool   `toml:"bias_tee"`
	}
	Change struct {
		By               string
		Command, Confirm []string
		TimeOut          string `toml:"time_out"`
		Remind, Patience string
	}
	Rotator *struct {
		Address   string
		Antennas  []string
		Range     []float64
		Zero      float64
		Tolerance *float64
		TimeOut   string `toml:"time_out"`
	}
	Antenna []struct {
		Name, Kind, Amplifier, Tuned, Of, At string
		CableLoss                            string `toml:"cable_loss"`
		AntennaFactor                        string `toml:"antenna_factor"`
		Active                               bool
		Removed                              []string // antennas taken away
	}
	Gain   []struct{ Antenna, Placement, Segment, Gain string }
	Halves halvesTable
	Turns  struct {
		Dwell, Every, Until, Order string
		Sweeps, Rounds             *int
		Seed                       uint64
	}
	Setup   []setupTable
	Segment []segmentTable
}

type (
	setupTable struct {
		Antenna, Placement string
		Bearings           []float64
		MagneticBearings   []float64 `toml:"magnetic_bearings"` // by the compass
	}
	segmentTable struct {
		Band, Name, Low, High string
		Listed                []string // beacons and time signals
		Rejection             string   `toml:"filter_rejection"` // where it is not that of [receiver]
	}
)

// Parse reads a plan. The error joins every mistake found, each with its line, so that
// one look repairs the whole plan. What can be read of it is given all the same. A UTF-8
// byte-order mark, which some editors put first, is passed over.
func Parse(text []byte) (Plan, error) {
	if err := checkText(text); err != nil {
		return Plan{}, err
	}
	text = bytes.TrimPrefix(text, []byte("\ufeff"))
	found := mistakes{lines: linesOf(text)}
	var file document
	if !found.decode(text, &file) {
		return Plan{}, found.all()
	}
	p := Plan{Title: file.Title, Text: string(text), Receiver: file.Receiver.URI, Seed: file.Turns.Seed, lines: found.lines,
		Listed: map[string][]survey.Hz{}, segmentKeys: map[string]string{}, antennaKeys: map[string]string{}}
	found.add("title", survey.CheckPrintable(file.Title))
	p.readSite(&file, &found)
	p.readReceiver(&file, &found)
	file.checkNames(&found)
	p.readAntennas(&file, &found)
	p.readTurns(&file, &found)
	p.readSetups(&file, &found)
	p.readChange(&file, &found)
	p.readHalves(&file, &found)
	p.readSegments(&file, &found)
	p.chooseSweeps(&file)
	p.readGains(&file, &found)
	p.checkTuned(&found)
	p.checkReach(&found)
	return p, found.all()
}

// checkText refuses what is no text of a plan's size.
func checkText(text []byte) error {
	if len(text) > MostBytes {
		return fmt.Errorf("more than %d MB: no plan is as large; nightfloor plan new FILE writes one", MostBytes>>20)
	}
	line := 1
	for rest := text; len(rest) > 0; {
		r, size := utf8.DecodeRune(rest)
		if r == utf8.RuneError && size == 1 || unicode.IsControl(r) && !strings.ContainsRune("\t\r\n", r) {
			return mistake{line, errors.New("holds bytes that no text has: is it a plan? Save it as plain text in UTF-8, or name another file; nightfloor plan new FILE writes one")}
		}
		if r == '\n' {
			line++
		}
		rest = rest[size:]
	}
	return nil
}
