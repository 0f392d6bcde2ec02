package survey

import (
	"math"
	"regexp"
	"strconv"
	"strings"
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

// DensityOf gives the level of a linear power density in full-scale units per hertz.
func DensityOf(density float64) DBFSPerHz { return DBFSPerHz(10 * math.Log10(density)) }

// LevelOf gives the level of a linear power in full-scale units. A power that
// is not positive has no level: ok is false.
func LevelOf(power float64) (level DBFS, ok bool) {
	if !(power > 0) {
		return 0, false
	}
	return DBFS(10 * math.Log10(power)), true
}

// String writes a frequency in the unit a person would choose, to 0.1 Hz, and
// to 1 mHz where it is under 1 kHz.
func (f Hz) String() string {
	unit, scale, places := " MHz", 1e6, 7
	switch tenths := math.Round(math.Abs(float64(f)) * 10); {
	case tenths < 1e4:
		unit, scale, places = " Hz", 1, 3
	case tenths < 1e7:
		unit, scale, places = " kHz", 1e3, 4
	}
	return decimal(float64(f)/scale, places) + unit
}

// Edges writes the edges of a stretch with a word or mark between them, the unit once where
// it is that of both: 9.4 to 9.9 MHz. Edges that come out of a division are written to 0.1 kHz, as in names.
func Edges(low, high Hz, between string) string {
	from, to := written(low).String(), written(high).String()
	if number, unit, ok := strings.Cut(from, " "); ok && strings.HasSuffix(to, " "+unit) {
		from = number
	}
	return from + between + to
}

var sampleRate = regexp.MustCompile(`\b[0-9]+ samples/s`)

// ReceiverText writes a receiver's description for people, with the sample rate in MS/s or
// kS/s. What is stored stays as it is: calibrations are found by it.
func ReceiverText(described string) string {
	return sampleRate.ReplaceAllStringFunc(described, func(text string) string {
		rate, err := strconv.ParseFloat(strings.TrimSuffix(text, " samples/s"), 64)
		if err != nil {
			return text
		}
		return RateText(Hz(rate))
	})
}

// RateText writes a sample rate in MS/s or kS/s.
func RateText(rate Hz) string {
	if rate >= 1e6 {
		return decimal(float64(rate/1e6), 6) + " MS/s"
	}
	return decimal(float64(rate/1e3), 3) + " kS/s"
}

// decimal writes x with so many decimals and leaves out the zeros at their end.
func decimal(x float64, places int) string {
	text := strings.TrimRight(strconv.FormatFloat(x, 'f', places, 64), "0")
	text = strings.TrimSuffix(text, ".")
	if text == "-0" {
		return "0"
	}
	return text
}
