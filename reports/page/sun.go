package page

import (
	"fmt"
	"time"

	"nightfloor/reports/input"
	"nightfloor/reports/result"
	"nightfloor/reports/wording"
	"nightfloor/survey"
	"nightfloor/survey/sun"
)

// longestSun is how long a survey may be for its periods to be drawn: beyond it
// a night is narrower than a few pixels.
const longestSun = 60 * 24 * time.Hour

// A sunBox is one period of the day as the script draws it.
type sunBox struct {
	Period string `json:"period"`
	From   int64  `json:"from_ms"`
	To     int64  `json:"to_ms"`
}

// A place is where the sun is reckoned for.
type place struct {
	Locator  string
	lat, lon float64
}

// placeOf gives the one place of all surveys; nil where no locator is known, or
// where there are several: then no one sun serves them all.
func placeOf(r *result.Report) *place {
	sites := []survey.Site{r.Site}
	for _, s := range r.Surveys {
		sites = append(sites, s.Site)
	}
	var found *place
	for _, s := range sites {
		lat, lon, err := sun.ParseLocator(s.Locator)
		if err != nil {
			continue
		}
		if found != nil && (found.lat != lat || found.lon != lon) {
			return nil
		}
		if found == nil {
			found = &place{wording.Printable(s.Locator), lat, lon}
		}
	}
	return found
}

// words say how the periods are told apart.
func (p *place) words() string {
	if p == nil {
		return ""
	}
	return fmt.Sprintf("Day, dusk, night and dawn go by the sun at %s: dusk and dawn are while its middle stands within %d° of the horizon, setting or rising; night is while it stands lower, day while it stands higher.",
		p.Locator, input.Twilight)
}

// periods gives the periods from one instant to another, good to a minute, in
// which the sun moves by a quarter of a degree.
func (p *place) periods(from, to time.Time) []sunBox {
	out := []sunBox{}
	if p == nil || to.Sub(from) > longestSun {
		return out
	}
	for t := from; t.Before(to); t = t.Add(time.Minute) {
		name := input.PeriodAt(t, p.lat, p.lon)
		if n := len(out); n == 0 || out[n-1].Period != name {
			if n > 0 {
				out[n-1].To = t.UnixMilli()
			}
			out = append(out, sunBox{Period: name, From: t.UnixMilli(), To: to.UnixMilli()})
		}
	}
	return out
}
