package survey

import "time"

// A Calibration is what one run of calibrate found out about a receiver. It
// holds for readings whose survey names the same receiver, word for word: the
// same dongle, front end and sample rate.
type Calibration struct {
	ID       int64 // the store's; 0 before it is stored
	Kind     string
	Receiver string // as Survey.Receiver names it
	At       time.Time
	Note     string // how it was done, in words
	// DroopCalibration is the earlier calibration whose curve of the passband was taken out of what this
	// one measured; 0: its own Droop, or what the receiver says of its own filter.
	DroopCalibration int64

	Noise     []SelfNoise
	Droop     []Droop // of a calibration of noise, lowest offset first; empty: not measured
	Levels    []LevelReference
	Lines     []OwnLine
	Linearity []Linearity
	Clock     *ClockError
}

// Curve gives the calibration whose curve of the passband was taken out of what this one measured; 0: none.
func (c Calibration) Curve() int64 {
	if len(c.Droop) > 0 {
		return c.ID
	}
	return c.DroopCalibration
}

// Kinds of calibration.
const (
	CalibrateNoise     = "noise"
	CalibrateLevel     = "level"
	CalibrateLinearity = "linearity"
	CalibrateLines     = "lines"
	CalibrateClock     = "clock"
	// CalibratePassband is what is left of a calibration of noise that was removed, where the curve of
	// its passband had been taken out of other measurements: its Droop.
	CalibratePassband = "passband"
)

// A SelfNoise is the floor of a segment at a gain with a terminator at the
// receiver's input.
type SelfNoise struct {
	Segment
	Gain    DB        `json:"gain_db"` // the label
	Density DBFSPerHz `json:"density_dbfs_hz"`
	Sigma   DB        `json:"sigma_db"`
}

// A Droop is a point of the power response of the receiver's own filters, relative to the
// centre of its passband.
type Droop struct {
	Offset   Hz `json:"offset_hz"`
	Response DB `json:"response_db"`
	Sigma    DB `json:"sigma_db"`
}

// roughNoise is the standard error from which on self-noise was measured with too few codes moving: they are
// off by 0.6 dB and more then, else by 0.1 (PHYSICS.md 7.2). TestCalibrationsThatServed fails when it moves.
const roughNoise DB = 0.5

// Rough tells whether too few codes moved for the figure to be measured.
func (n SelfNoise) Rough() bool { return !(n.Sigma < roughNoise) }

// A MeasuredNoise is self-noise with what speaks against it.
type MeasuredNoise struct {
	SelfNoise
	Flags    []string `json:"flags"` // empty, never nil
	Carriers int      `json:"-"`
	Rate     Hz       `json:"-"`
	Doubtful bool     `json:"-"` // too few codes moved for the figure to be good
}

// A LevelReference is what 0 dBFS stands for at the receiver's input, at a gain.
// The difference of two is the measured step between their gains.
type LevelReference struct {
	Frequency Hz     `json:"frequency_hz"`
	Gain      DB     `json:"gain_db"`        // the label
	FullScale DBm    `json:"full_scale_dbm"` // of a tone at 0 dBFS
	Sigma     DB     `json:"sigma_db"`
	Basis     string `json:"basis"` // one of the bases
	// Uncertainty is how well what it rests on is known, as a standard uncertainty; nil: not told.
	Uncertainty *DB `json:"uncertainty_db"`
}

// A SkippedStep is a gain step that gave no level, and why.
type SkippedStep struct {
	Gain DB     `json:"gain_db"`
	Why  string `json:"why"`
}

// What a level reference rests on.
const (
	BasisGenerator = "generator"
	BasisSource    = "noise source" // of a known ENR, measured off and on
	BasisFigure    = "noise figure" // told, not measured
)

// An OwnLine is a line that stands there with the antenna replaced by a
// terminator: the receiver's own, or what the feed line picks up.
type OwnLine struct {
	Frequency Hz   `json:"frequency_hz"`
	Gain      DB   `json:"gain_db"` // the label
	Level     DBFS `json:"level_dbfs"`
}

// A Linearity is what an attenuator at the input changes in a segment, between two
// measurements without it. Each drop has its standard error.
type Linearity struct {
	Segment
	Gain         DB     `json:"gain_db"` // the label
	Attenuation  DB     `json:"attenuation_db"`
	FloorDrop    *DB    `json:"floor_drop_db"` // nil: no floor with it or without
	FloorSigma   *DB    `json:"floor_drop_sigma_db"`
	OutsideDrop  *DB    `json:"outside_drop_db"` // the floor's, the receiver's own noise subtracted; nil: not known, or it hides what is left
	OutsideSigma *DB    `json:"outside_drop_sigma_db"`
	CarrierDrop  *DB    `json:"carrier_drop_db"` // median over carriers; nil: none
	CarrierSigma *DB    `json:"carrier_drop_sigma_db"`
	Carriers     int    `json:"carriers"`
	OutChange    *DB    `json:"out_change_db"` // from the first measurement without it to the second: the floor's, without one the carriers'
	Verdict      string `json:"verdict"`       // one of the verdicts
}

// Verdicts of linearity (PHYSICS.md 7.8): with 10 dB put in, noise and carriers
// from outside fall by 10, products by 20 or 30, the receiver's own noise not at
// all.
const (
	VerdictExternal = "external"         // falls as it should: 8 to 11 dB
	VerdictLimited  = "receiver-limited" // falls by less than 3 dB
	VerdictMixed    = "partly receiver noise"
	VerdictProducts = "intermodulation" // what comes from outside falls by more than 11 dB, or carriers by more than 15
	VerdictUnclear  = "unclear"         // the drop's standard error leaves it open, too
)

// A ClockError is by how much the receiver's clock runs fast beyond what the plan
// corrects for.
type ClockError struct {
	PPM      float64 `json:"ppm"`
	Sigma    float64 `json:"sigma_ppm"`
	Stations int     `json:"stations"`
}
