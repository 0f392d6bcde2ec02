package survey

import (
	"errors"
	"slices"
	"strings"
	"time"
)

// ErrInvalid is the error for a figure that no reading can have, which is not stored.
var ErrInvalid = errors.New("a figure cannot be stored")

// A Segment is a named stretch of spectrum to be measured. Segments compare
// with ==.
type Segment struct {
	Name string `json:"segment"`
	Low  Hz     `json:"low_hz"`
	High Hz     `json:"high_hz"`
}

// A Carrier is one coherent line in one reading. Power is linear, in
// full-scale units (1 is a complex tone of amplitude 1), with the noise
// subtracted: the forced measurement of a line that is not there comes out
// near zero and may be negative. Never take the dB of a single such power.
type Carrier struct {
	Frequency Hz
	Power     float64 // full-scale units
	Sigma     float64 // standard error of Power, full-scale units
	Quiet     float64 // what Sigma would be with no line there, full-scale units (stored to a quarter of a dB); 0: not known
	Detected  bool    // false: measured by force at a frequency known from elsewhere
}

// A Floor is the noise density of a segment with carriers and their sidebands
// set aside: the mean over the reading's time.
type Floor struct {
	Density DBFSPerHz
	Sigma   DB        // standard error of Density
	Quiet   DBFSPerHz // the level between bursts
}

// A Gain is the receiver's gain while a reading was taken. Levels taken at two
// gains compare only where both are exact (measured steps), or equal.
type Gain struct {
	DB    DB
	Known bool
	Exact bool // the figure is a measured gain, not a tuner's label
}

// Comparable tells whether levels at gains g and h can be referred to each
// other, and by how much a level at g must be lowered to compare with one at h.
func (g Gain) Comparable(h Gain) (offset DB, ok bool) {
	return g.DB - h.DB, g.Known && h.Known && (g.DB == h.DB || g.Exact && h.Exact)
}

// A Spectrum is averaged noise density over the bins of a segment.
type Spectrum struct {
	First   Hz        // frequency of the first bin's middle
	Step    Hz        // spacing of the bins
	ENBW    float64   // equivalent noise bandwidth of a bin, in bins
	Looks   float64   // number of independent averages in each bin
	Density []float32 // dBFS/Hz
}

// Flags of a reading's quality, as contract and database write them.
const (
	FlagOverload        = "overload"
	FlagLowDrive        = "low-drive"
	FlagReceiverLimited = "receiver-limited"
	FlagDroppedSamples  = "dropped-samples"
	FlagNyquistImage    = "nyquist-image"
	FlagCrowded         = "crowded"
	FlagShort           = "short"
	FlagLineAtCentre    = "line-at-center" // of the tuning, in the segment: a station there is not told from the receiver's own DC offset
	FlagFilterEdge      = "filter-edge"    // the receiver's own filter leaves a part of the segment out: the floor is that of the rest
	FlagSetupDoubt      = "setup-doubt"    // somebody may have changed the antenna meanwhile
	FlagClockSet        = "clock-set"      // the wall clock was set later in the same run, or stood behind readings made before: its time is in doubt
)

// Quality is what speaks against a reading.
type Quality struct {
	ClippedShare   float64 // share of I and Q components at the lowest or highest code
	DroppedSamples int64
	DC             DBFS     // power of the mean
	IQImbalance    DB       // mirror image against the line, dBc
	Flags          []string // sorted
}

// Has tells whether the flag is raised.
func (q Quality) Has(flag string) bool {
	return slices.Contains(q.Flags, flag)
}

// A Reading is what one sweep found in one segment.
type Reading struct {
	ID          int64 // the store's; 0 before it is stored
	Segment     Segment
	Start       time.Time // UTC
	Duration    time.Duration
	Centre      Hz
	SampleRate  Hz
	BinWidth    Hz // spacing of the spectrum's bins
	Resolution  Hz // equivalent noise bandwidth of one bin
	Gain        Gain
	Floor       *Floor // nil: too little of the segment is free
	Vd          *DB    // rms over mean of the floor's envelope in VdBandwidth
	VdBandwidth Hz
	Occupancy   float64 // share of the segment's bins that were taken out
	Carriers    []Carrier
	Findings    []Finding
	Spectrum    *Spectrum // nil where it was not kept
	Quality     Quality
	// HeardLow and HeardHigh are what was measured of a segment that the receiver's own filter cuts (FlagFilterEdge);
	// 0: nothing, or it does not. Not stored.
	HeardLow, HeardHigh Hz
}

// A Sweep is one pass over the segments of a plan through one setup.
type Sweep struct {
	ID       int64 // the store's; 0 before it is stored
	Survey   int64
	Round    int   // counts from 1 within the survey
	Visit    int   // counts from 1 within the survey
	Setup    Setup // what was really in place
	Start    time.Time
	Readings []Reading
}

// A LeftOut counts rows that were not read, since what they hold cannot be.
type LeftOut struct {
	Survey int64  // 0: rows that belong to no survey
	Table  string // of the database
	Rows   int
}

// A Site is where a survey is made.
type Site struct {
	Name         string
	Locator      string // Maidenhead, "" where unknown
	MainsHz      Hz     // 0 where unknown
	Surroundings string // city, residential, rural, quiet rural; "" where unknown
}

// Ways in which a survey came about.
const (
	KindRecord = "record"
	KindImport = "import"
)

// A Survey is one experiment from start to end.
type Survey struct {
	ID        int64
	Kind      string
	Name      string // of a survey of imports, "" for any other
	Simulated bool
	Site      Site
	Plan      string // the plan file's text, "" for imports
	First     Setup  // the default reference: first setup of the plan or earliest recording's
	Receiver  string
	Seed      uint64 // of the shuffled rounds
	Version   string // of nightfloor
	Start     time.Time
	End       time.Time // zero while it runs
	Ending    string    // how it ended, and why; "" while it runs
	// DroopCalibration is the calibration whose curve of the passband was taken out of its readings;
	// 0: none, but what the receiver says of its own filter.
	DroopCalibration int64
}

// A Visit is a stay at a setup: what was asked for, and what was reached.
type Visit struct {
	Survey  int64
	Number  int // counts from 1 within the survey, as Sweep.Visit does
	Round   int
	Asked   Setup
	Reached Setup // what was in place, which its sweeps bear; zero: not known, and nothing was measured
	// Bearing is where the antenna was seen to point, where something measured
	// it. Within the tolerance of the asked one the visit counts as that.
	Bearing Bearing
	Start   time.Time
	Said    string // by the changer: a program's last line, or why it was not reached
	Wiring  Wiring // that was in place
}

// SaidUnconfirmed begins what is said, and stored, of a visit whose setup nobody confirmed.
const SaidUnconfirmed = "not confirmed"

// Unconfirmed tells whether nobody confirmed the setup that the visit is taken to have reached.
func (v Visit) Unconfirmed() bool {
	return v.Reached == v.Asked && strings.HasPrefix(v.Said, SaidUnconfirmed)
}

// A Gap is a stretch of a survey without readings, and why.
type Gap struct {
	Survey   int64
	From, To time.Time
	Why      string
}

// An Event is what a person notes.
type Event struct {
	Survey int64
	At     time.Time
	Text   string
	// Repeaked names a tuned antenna whose tuning was changed: a new state of it
	// from then on. "" for any other event.
	Repeaked string
}

// A Recording is where an imported sweep came from.
type Recording struct {
	Digest    string // the same for the same recording, wherever it lies
	File      string // as it was named
	Simulated bool   // no receiver heard this
}

// Progress is how far a survey came before it was interrupted.
type Progress struct {
	Survey Survey
	Round  int           // the last that was begun, 0 for none
	Visit  int           // the last
	Made   map[Setup]int // sweeps in that round, by the setup that was asked for
	Last   time.Time     // end of the last reading, zero for none
	Wiring Wiring        // of the last visit
	// Recent are the sweeps of the last rounds; the readings of the very last one
	// come with their spectra.
	Recent []*Sweep
}
