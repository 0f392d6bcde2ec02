package plan

import (
	"time"

	"nightfloor/survey"
)

// A Plan is what is to be done, written ahead.
type Plan struct {
	Title      string
	Text       string // the file as it was read
	Site       survey.Site
	Region     survey.Region // of the Radio Regulations
	Receiver   string        // URI, "" where the command line names it
	SampleRate survey.Hz     // 0: the receiver's own
	FrontEnd   survey.FrontEnd
	Antennas   []survey.Antenna // what is said of some of those in Setups
	Change     Change
	// Declination is how far magnetic north lies east of true north, degrees;
	// nil where the plan does not say.
	Declination *float64
	Order       string // OrderShuffled or OrderABBA
	Gains       []FixedGain
	Setups      []survey.Setup
	Segments    []survey.Segment
	Dwell       time.Duration // of one reading
	Sweeps      int           // in a visit
	Rounds      int           // 0: until stopped
	Every       time.Duration // from one visit's start to the next; 0: at once
	Until       string        // local time HH:MM at which it ends, "": when the rounds are done
	Seed        uint64        // of the shuffled rounds
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

// document is the plan as TOML has it.
type document struct {
	Title string `toml:"title"`
	Site  struct {
		Name         string `toml:"name"`
		Locator      string `toml:"locator"`
		Mains        string `toml:"mains"`
		Surroundings string `toml:"surroundings"`
		Region       int    `toml:"region"`
		// Declination is how far magnetic north lies east of true north.
		Declination *float64 `toml:"declination"`
	} `toml:"site"`
	Receiver struct {
		URI        string `toml:"uri"`
		SampleRate string `toml:"sample_rate"`
		FrontEnd   string `toml:"front_end"`
		Offset     string `toml:"offset"`
		Filter     string `toml:"filter"`
		ClockError string `toml:"clock_error"`
		BiasTee    bool   `toml:"bias_tee"`
	} `toml:"receiver"`
	Change struct {
		By       string   `toml:"by"`
		Command  []string `toml:"command"`
		Confirm  []string `toml:"confirm"`
		TimeOut  string   `toml:"time_out"`
		Remind   string   `toml:"remind"`
		Patience string   `toml:"patience"`
	} `toml:"change"`
	Rotator *struct {
		Address   string    `toml:"address"`
		Antennas  []string  `toml:"antennas"`
		Range     []float64 `toml:"range"`
		Zero      float64   `toml:"zero"`
		Tolerance *float64  `toml:"tolerance"`
		TimeOut   string    `toml:"time_out"`
	} `toml:"rotator"`
	Antennas []struct {
		Name      string `toml:"name"`
		Kind      string `toml:"kind"`
		CableLoss string `toml:"cable_loss"`
		Amplifier string `toml:"amplifier"`
		Tuned     string `toml:"tuned"`
	} `toml:"antenna"`
	Gains []struct {
		Antenna   string `toml:"antenna"`
		Placement string `toml:"placement"`
		Segment   string `toml:"segment"`
		Gain      string `toml:"gain"`
	} `toml:"gain"`
	Turns struct {
		Dwell  string `toml:"dwell"`
		Sweeps *int   `toml:"sweeps"`
		Rounds *int   `toml:"rounds"`
		Every  string `toml:"every"`
		Until  string `toml:"until"`
		Order  string `toml:"order"`
		Seed   uint64 `toml:"seed"`
	} `toml:"turns"`
	Setups   []setupTable `toml:"setup"`
	Segments []struct {
		Band string `toml:"band"`
		Name string `toml:"name"`
		Low  string `toml:"low"`
		High string `toml:"high"`
	} `toml:"segment"`
}

type setupTable struct {
	Antenna   string    `toml:"antenna"`
	Placement string    `toml:"placement"`
	Bearings  []float64 `toml:"bearings"`
	Magnetic  []float64 `toml:"magnetic_bearings"` // by the compass
}

// Parse reads a plan. The error joins every mistake found, each with its
// line (errors.Join), so that one look repairs the whole plan. What can be read of
// it is given all the same.
func Parse(text []byte) (Plan, error) {
	found := mistakes{lines: linesOf(text)}
	var file document
	if !found.decode(text, &file) {
		return Plan{}, found.all()
	}
	p := Plan{Title: file.Title, Text: string(text), Receiver: file.Receiver.URI, Seed: file.Turns.Seed}
	p.readSite(&file, &found)
	p.readReceiver(&file, &found)
	p.readAntennas(&file, &found)
	p.readChange(&file, &found)
	p.readTurns(&file, &found)
	p.readSetups(&file, &found)
	p.readSegments(&file, &found)
	p.chooseSweeps(&file)
	p.readGains(&file, &found)
	p.checkTuned(&found)
	p.checkReach(&found)
	return p, found.all()
}
