package survey

import (
	"math"
	"strconv"
)

type (
	// Hz is a frequency or a bandwidth.
	Hz float64
	// DB is a ratio of powers.
	DB float64
	// DBFS is a power against a complex tone of amplitude 1.
	DBFS float64
	// DBFSPerHz is a power density against full scale.
	DBFSPerHz float64
	// DBm is a power at the antenna terminal.
	DBm float64
	// DBmPerHz is a power density at the antenna terminal.
	DBmPerHz float64
)

// In gives the power that density d puts into bandwidth b.
func (d DBFSPerHz) In(b Hz) DBFS { return DBFS(float64(d) + 10*math.Log10(float64(b))) }

// Over gives how far p stands above q: two levels differ by dB, never by dBFS.
func (p DBFS) Over(q DBFS) DB { return DB(p - q) }

// Over gives how far d stands above e.
func (d DBFSPerHz) Over(e DBFSPerHz) DB { return DB(d - e) }

// Linear gives the power of p in full-scale units.
func (p DBFS) Linear() float64 { return math.Pow(10, float64(p)/10) }

// Linear gives the density in full-scale units per hertz.
func (d DBFSPerHz) Linear() float64 { return math.Pow(10, float64(d)/10) }

// LevelOf gives the level of a linear power in full-scale units. A power that
// is not positive has no level: ok is false.
func LevelOf(power float64) (level DBFS, ok bool) {
	if !(power > 0) {
		return 0, false
	}
	return DBFS(10 * math.Log10(power)), true
}

// String writes a frequency in the unit a person would choose.
func (f Hz) String() string {
	unit, scale := " Hz", 1.0
	switch a := math.Abs(float64(f)); {
	case a >= 1e6:
		unit, scale = " MHz", 1e6
	case a >= 1e3:
		unit, scale = " kHz", 1e3
	}
	return strconv.FormatFloat(float64(f)/scale, 'f', -1, 64) + unit
}
