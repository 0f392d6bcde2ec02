package plan

import (
	"fmt"
	"strings"
	"time"
)

// Describe says in words what the plan will hold, with so many tunings in a sweep,
// and what speaks against it.
func (p Plan) Describe(o Outlook, tunings int, length time.Duration, doubts []string) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%d setups, %d segments in %d tunings, readings of %v\n", len(p.Setups), len(p.Segments), tunings, p.Dwell)
	fmt.Fprintf(&b, "a sweep takes %s, a visit %s, a round %s\n", DurationText(o.Sweep), DurationText(o.Visit), DurationText(o.Round))
	switch {
	case o.Rounds == 0 && length > 0: // one of the doubts
	case o.Rounds == 0:
		b.WriteString("it goes on until it is stopped\n")
	default:
		fmt.Fprintf(&b, "%d rounds in %s: %d sweeps, %d readings, %s of listening for each setup and segment, %.0f MB\n",
			o.Rounds, DurationText(o.Total), o.Sweeps, o.Readings, DurationText(o.PerSetup), float64(o.Bytes)/1e6)
	}
	if p.Change.By == ByPerson && len(p.Setups) > 1 {
		b.WriteString("half a minute is reckoned for each change by hand\n")
	}
	if len(p.Setups) > 1 {
		fmt.Fprintf(&b, "two antennas that fade apart differ by %.1f dB from round to round on one carrier: ±1 dB takes %d rounds,\n"+
			"on eight carriers that fade apart some %d (Doppler spread of 0.5 Hz; fading that lasts takes more)\n", o.Scatter, o.Needed, o.NeededOnEight)
	}
	for _, doubt := range doubts {
		fmt.Fprintf(&b, "! %s\n", doubt)
	}
	return b.String()
}

// DurationText writes a duration as a person does: 41.0 s, 3.5 min, 8.2 h.
func DurationText(d time.Duration) string {
	switch {
	case d < time.Minute:
		return fmt.Sprintf("%.1f s", d.Seconds())
	case d < time.Hour:
		return fmt.Sprintf("%.1f min", d.Minutes())
	}
	return fmt.Sprintf("%.1f h", d.Hours())
}
