// Package ranges knows what can stand in columns that hold figures.
package ranges

import (
	"fmt"
	"math"
	"strings"
	"sync"
)

// Limits are what can stand in columns of the same kind: numbers from low to high. What is
// outside was not measured: a bit has flipped, or another program wrote it. The limits lie far
// beyond what receivers give, so that nothing measured is refused.
type Limits struct {
	columns   string // their names, in whatever table
	Low, High float64
	unit      string
	why       string
	Silence   bool // −Inf dB may stand there: no power at all, as in a recording of zeros
}

// columns are the limits of all columns that hold figures. The CHECKs of the tables (step 6 of the
// schema) hold to the same; TestChecks fails where they differ.
var columns = []Limits{
	{columns: "low_hz high_hz frequency_hz centre_hz first_hz offset_hz", Low: -1e9, High: 1e10, unit: "Hz",
		why: "receivers tune to some GHz; half a sample rate below a centre of 0 Hz is negative"},
	{columns: "sample_rate_hz bin_hz resolution_hz vd_bandwidth_hz spacing_hz width_hz envelope_hz mains_hz rate_hz step_hz", High: 1e10, unit: "Hz",
		why: "no width or rate is negative, or beyond what receivers tune to"},
	{columns: "gain_db vd_db strength_db attenuation_db floor_drop_db outside_drop_db carrier_drop_db out_change_db response_db full_scale_dbm level_dbfs density_dbfs_hz", Low: -400, High: 400, unit: "dB",
		why: "floats of 32 bits span 1500 dB, receivers 200"},
	{columns: "floor_dbfs_hz quiet_dbfs_hz dc_dbfs iq_imbalance_dbc", Low: -400, High: 400, unit: "dB", Silence: true,
		why: "as any level; a recording of zeros has none"},
	{columns: "floor_sigma_db sigma_db uncertainty_db floor_drop_sigma_db outside_drop_sigma_db carrier_drop_sigma_db", High: 400, unit: "dB", why: "no standard error is negative, or greater than any level"},
	{columns: "power", Low: -1e15, High: 1e15, unit: "of full scale", why: "raw codes of 24 bits in a recording of floats have 7e13; noise subtracted may leave less than none"},
	{columns: "sigma", High: 1e15, unit: "of full scale", why: "no standard error is negative, or greater than any power"},
	{columns: "quiet_quarters", High: 2e4, unit: "quarters of a dB", why: "no error grows by more than floats span"},
	{columns: "occupancy clipped_share confidence depth", High: 1, why: "a share of 1 is all"},
	{columns: "bearing_deg", High: nextBelow360, unit: "degrees", why: "a full turn is 0 again"},
	{columns: "error_ppm", Low: -1e6, High: 1e6, unit: "ppm", why: "no clock stands still"},
	{columns: "sigma_ppm", High: 1e6, unit: "ppm", why: "no standard error is negative"},
	{columns: "enbw", High: 1e4, unit: "bins", why: "windows have 1 to 4"},
	{columns: "looks", High: 1e12, why: "an average of so many samples lasts for days"},
	{columns: "round visit", High: 1e8, why: "one a second are reached in three years; a recording whose turn is not known yet has 0"},
	{columns: "number lines carriers stations", High: 1e8, why: "nobody counted more"},
	{columns: "dropped_samples", High: 1e15, why: "so many samples last for years"},
	{columns: "duration_ns", High: 1e15, unit: "ns", why: "a reading of 11 days is none"},
	{columns: "start_ms end_ms from_ms to_ms at_ms", High: 7258118400000, unit: "ms", why: "from 1970 to 2200"},
	{columns: "simulated gain_exact detected regular", High: 1, why: "1 is true, 0 false"},
}

// nextBelow360 is the greatest number below 360.
const nextBelow360 = 360 - 1.0/(1<<44)

// ByColumn gives the limits by column.
var ByColumn = sync.OnceValue(func() map[string]*Limits {
	all := map[string]*Limits{}
	for i := range columns {
		for name := range strings.FieldsSeq(columns[i].columns) {
			all[name] = &columns[i]
		}
	}
	return all
})

// Hold tells whether a number can be; columns without limits hold any.
func (l *Limits) Hold(x float64) bool {
	return l == nil || x >= l.Low && x <= l.High || l.Silence && math.IsInf(x, -1)
}

// HoldsValue is Hold for what stands in the database, or is to stand there. SQLite's own checks
// tell where NULL may not.
func (l *Limits) HoldsValue(value any) bool {
	switch x := value.(type) {
	case nil:
		return true
	case float64:
		return l.Hold(x)
	case int64:
		return l.Hold(float64(x))
	}
	_, truth := value.(bool)
	return l == nil || truth
}

// String says what can be.
func (l *Limits) String() string {
	text := fmt.Sprintf("not from %.15g to %.15g %s", l.Low, l.High, l.unit)
	return strings.TrimSpace(text) + " (" + l.why + ")"
}
