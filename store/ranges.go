package store

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"sync"

	"nightfloor/survey"
)

// A limits is what can stand in columns of the same kind: numbers from low to high. What is
// outside was not measured: a bit has flipped, or another program wrote it. The limits lie far
// beyond what receivers give, so that nothing measured is refused.
type limits struct {
	columns   string // their names, in whatever table
	low, high float64
	unit      string
	why       string
	silence   bool // −Inf dB may stand there: no power at all, as in a recording of zeros
}

// ranges are the limits of all columns that hold figures. The CHECKs of the tables (step 5 of the
// schema) hold to the same; TestChecks fails where they differ.
var ranges = []limits{
	{columns: "low_hz high_hz frequency_hz centre_hz first_hz", low: -1e9, high: 1e10, unit: "Hz",
		why: "receivers tune to some GHz; half a sample rate below a centre of 0 Hz is negative"},
	{columns: "sample_rate_hz bin_hz resolution_hz vd_bandwidth_hz spacing_hz width_hz envelope_hz mains_hz rate_hz step_hz", high: 1e10, unit: "Hz",
		why: "no width or rate is negative, or beyond what receivers tune to"},
	{columns: "gain_db vd_db strength_db attenuation_db floor_drop_db carrier_drop_db full_scale_dbm level_dbfs density_dbfs_hz", low: -400, high: 400, unit: "dB",
		why: "floats of 32 bits span 1500 dB, receivers 200"},
	{columns: "floor_dbfs_hz quiet_dbfs_hz dc_dbfs iq_imbalance_dbc", low: -400, high: 400, unit: "dB", silence: true,
		why: "as any level; a recording of zeros has none"},
	{columns: "floor_sigma_db sigma_db", high: 400, unit: "dB", why: "no standard error is negative, or greater than any level"},
	{columns: "power", low: -1e15, high: 1e15, unit: "of full scale", why: "raw codes of 24 bits in a recording of floats have 7e13; noise subtracted may leave less than none"},
	{columns: "sigma", high: 1e15, unit: "of full scale", why: "no standard error is negative, or greater than any power"},
	{columns: "occupancy clipped_share confidence depth", high: 1, why: "a share of 1 is all"},
	{columns: "bearing_deg", high: nextBelow360, unit: "degrees", why: "a full turn is 0 again"},
	{columns: "error_ppm", low: -1e6, high: 1e6, unit: "ppm", why: "no clock stands still"},
	{columns: "sigma_ppm", high: 1e6, unit: "ppm", why: "no standard error is negative"},
	{columns: "enbw", high: 1e4, unit: "bins", why: "windows have 1 to 4"},
	{columns: "looks", high: 1e12, why: "an average of so many samples lasts for days"},
	{columns: "round visit", high: 1e8, why: "one a second are reached in three years; a recording whose turn is not known yet has 0"},
	{columns: "number lines carriers stations", high: 1e8, why: "nobody counted more"},
	{columns: "dropped_samples", high: 1e15, why: "so many samples last for years"},
	{columns: "duration_ns", high: 1e15, unit: "ns", why: "a reading of 11 days is none"},
	{columns: "start_ms end_ms from_ms to_ms at_ms", high: 7258118400000, unit: "ms", why: "from 1970 to 2200"},
	{columns: "simulated gain_exact detected regular", high: 1, why: "1 is true, 0 false"},
}

// nextBelow360 is the greatest number below 360.
const nextBelow360 = 360 - 1.0/(1<<44)

// rangeOf gives the limits by column.
var rangeOf = sync.OnceValue(func() map[string]*limits {
	all := map[string]*limits{}
	for i := range ranges {
		for name := range strings.FieldsSeq(ranges[i].columns) {
			all[name] = &ranges[i]
		}
	}
	return all
})

// hold tells whether a number can be; columns without limits hold any.
func (l *limits) hold(x float64) bool {
	return l == nil || x >= l.low && x <= l.high || l.silence && math.IsInf(x, -1)
}

// holdsValue is hold for what stands in the database, or is to stand there. SQLite's own checks
// tell where NULL may not.
func (l *limits) holdsValue(value any) bool {
	switch x := value.(type) {
	case nil:
		return true
	case float64:
		return l.hold(x)
	case int64:
		return l.hold(float64(x))
	}
	_, truth := value.(bool)
	return l == nil || truth
}

// String says what can be.
func (l *limits) String() string {
	text := fmt.Sprintf("not from %.15g to %.15g %s", l.low, l.high, l.unit)
	return strings.TrimSpace(text) + " (" + l.why + ")"
}

// leftOut counts rows that were left out, by table and survey, 0 where the table has no surveys.
type leftOut map[string]map[int64]int

// begin notes that tables are being read.
func (l leftOut) begin(tables ...string) {
	for _, table := range tables {
		l[table] = map[int64]int{}
	}
}

// LeftOut tells how many rows of which table and survey were left out when they were last
// read, since what they hold cannot be. Check names them.
func (s *Store) LeftOut() (all []survey.LeftOut) {
	s.leftOutMutex.Lock()
	defer s.leftOutMutex.Unlock()
	for _, table := range slices.Sorted(maps.Keys(s.leftOut)) {
		for _, id := range slices.Sorted(maps.Keys(s.leftOut[table])) {
			all = append(all, survey.LeftOut{Survey: id, Table: table, Rows: s.leftOut[table][id]})
		}
	}
	return all
}

// noteLeftOut keeps what a read left out in place of what earlier ones of the same tables did.
func (s *Store) noteLeftOut(read leftOut) {
	s.leftOutMutex.Lock()
	defer s.leftOutMutex.Unlock()
	if s.leftOut == nil {
		s.leftOut = leftOut{}
	}
	maps.Copy(s.leftOut, read)
}
