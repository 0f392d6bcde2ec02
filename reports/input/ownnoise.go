package input

import (
	"math"
	"slices"
	"time"

	"nightfloor/reports/stats"
	"nightfloor/survey"
	"nightfloor/survey/level"
	"nightfloor/survey/plan"
)

// An OwnNoise is what a floor holds beside what the antenna's element brings: the receiver's own noise,
// or that of the antenna's amplifier and the receiver's together.
type OwnNoise struct {
	survey.SelfNoise
	Basis string // what measured it: one of the bases
	// Thermal is the share of it that is the terminator's, kT0, with which no antenna comes: 0
	// where it is not known what full scale stands for.
	Thermal float64
	Run     int64 // the calibration that measured it; 0: a control did
	Curve   int64 // the calibration whose curve of the passband was taken out of it; 0: none
}

// What own noise was measured by.
const (
	ByCalibration = "calibration"       // a terminator at the receiver's input, at another time
	ByTerminator  = "terminator"        // the same in turns with the antennas
	ByReplaced    = survey.KindReplaced // the amplifier, with a dummy in place of the element
)

// ownOf gives the noise that was measured into a terminator, with the terminator's share of it.
func ownOf(n survey.SelfNoise, basis string, l *level.Level) *OwnNoise {
	own := &OwnNoise{SelfNoise: n, Basis: basis}
	if l != nil {
		over := float64(n.Density) + float64(l.FullScale) - float64(level.RoomNoise)
		own.Thermal = min(1, stats.FromDecibel(-over))
	}
	return own
}

// Margin gives how far the reading's floor stands above its own noise.
func (k *CalibrationFor) Margin(r *survey.Reading) (d float64, ok bool) {
	if k == nil || k.Noise == nil || r.Floor == nil || !stats.Finite(float64(r.Floor.Density)) {
		return 0, false
	}
	return float64(r.Floor.Density.Over(k.Noise.Density)), true
}

// share gives how much of a floor at a margin of d is subtracted as its own noise, as powers. Nearer to it
// than LimitedMargin no more is subtracted than at that margin: the rest is not known.
func (n *OwnNoise) share(d float64) float64 {
	return (1 - n.Thermal) * stats.FromDecibel(-max(d, LimitedMargin))
}

// Correction gives by how many dB a floor at a margin of d is to be changed so that its own noise is
// out of it.
func (n *OwnNoise) Correction(d float64) float64 { return stats.Decibel(1 - n.share(d)) }

// Errors gives how many times the errors of a floor and of its own noise, d dB under it, count once
// that is subtracted: r/(r − 1) and 1/(r − 1) where none of it is the terminator's, r = 10^(d/10).
func (n *OwnNoise) Errors(d float64) (floor, own float64) {
	floor = 1 / (1 - n.share(d))
	return floor, floor * stats.FromDecibel(-max(d, LimitedMargin))
}

// A NoiseSeries is own noise as a control showed it visit by visit, in one segment at one gain: a
// terminator at the receiver's input, or an active antenna with a dummy in place of its element.
type NoiseSeries struct {
	Setup   survey.Setup // of the first visit
	Of      string       // the antenna whose amplifier it is; "": the receiver's
	Segment survey.Segment
	Gain    survey.DB
	Visits  []NoiseVisit // in order of time
}

// A NoiseVisit is the own noise of one visit: the mean of its readings, as power.
type NoiseVisit struct {
	Survey   int64
	Visit    int
	Span     Span
	Readings int
	sum      float64 // of densities, full-scale units per hertz
	square   float64 // of the sum's standard error
}

// Density gives the noise of the visit.
func (v *NoiseVisit) Density() survey.DBFSPerHz {
	return survey.DensityOf(v.sum / float64(v.Readings))
}

// relative gives the square of the visit's standard error as a share of its density.
func (v *NoiseVisit) relative() float64 { return v.square / (v.sum * v.sum) }

// at gives the noise at a time: on the straight line, as power, between the visits before and after it, that of the
// nearest visit where there are none on both sides. of is the survey of the nearest.
func (s *NoiseSeries) at(t time.Time) (n survey.SelfNoise, of int64) {
	middle := func(i int) time.Time { return s.Visits[i].Span.Middle() }
	after, _ := slices.BinarySearchFunc(s.Visits, t, func(v NoiseVisit, t time.Time) int { return v.Span.Middle().Compare(t) })
	a, b, share := max(0, after-1), min(after, len(s.Visits)-1), 0.0
	if between := middle(b).Sub(middle(a)); between > 0 {
		share = float64(t.Sub(middle(a))) / float64(between)
		share = min(1, max(0, share))
	}
	x, y := &s.Visits[a], &s.Visits[b]
	p, q := (1-share)*x.sum/float64(x.Readings), share*y.sum/float64(y.Readings)
	sigma := math.Sqrt(p*p*x.relative()+q*q*y.relative()) / (p + q)
	if of = x.Survey; share > 0.5 {
		of = y.Survey
	}
	return survey.SelfNoise{Segment: s.Segment, Gain: s.Gain, Density: survey.DensityOf(p + q), Sigma: survey.DB(sigma / stats.Relative(1))}, of
}

// A noiseOwner is whose own noise a control shows: a receiver's in one survey, or an
// amplifier's at a receiver, in all of them.
type noiseOwner struct {
	survey   int64  // 0: any of that receiver
	receiver string // "" with a survey
	antenna  string // "": the receiver
}

// ownNoises is the noise that controls of the surveys show.
type ownNoises struct {
	of       map[noiseOwner][]*NoiseSeries
	all      []*NoiseSeries
	receiver map[int64]string // by survey
	curve    map[int64]int64  // of the passband, by survey
	plans    map[int64]plan.Plan
	served   map[servedKey]*CalibrationFor
}

// ownNoises gathers what controls show of own noise.
func (in Input) ownNoises() *ownNoises {
	o := &ownNoises{of: map[noiseOwner][]*NoiseSeries{}, receiver: map[int64]string{}, curve: map[int64]int64{}, plans: in.Plans(), served: map[servedKey]*CalibrationFor{}}
	for _, s := range in.Surveys {
		o.receiver[s.ID], o.curve[s.ID] = s.Receiver, s.DroopCalibration
	}
	for _, s := range in.Sweeps {
		var owner noiseOwner
		switch a := AntennaOf(o.plans[s.Survey], s.Setup); {
		case a.Kind == survey.KindReplaced && a.Of != "":
			owner = o.amplifier(s.Survey, a.Of)
		case a.AtReceiver():
			owner = noiseOwner{survey: s.Survey}
		default:
			continue
		}
		for i := range s.Readings {
			if r := &s.Readings[i]; Levelled(r) && TellsOwnNoise(r) {
				o.series(owner, s, r).add(s, r)
			}
		}
	}
	for _, s := range o.all {
		slices.SortFunc(s.Visits, func(a, b NoiseVisit) int { return a.Span.Middle().Compare(b.Span.Middle()) })
	}
	return o
}

// amplified tells whether any antenna has an amplifier.
func (o *ownNoises) amplified() bool {
	for _, p := range o.plans {
		if slices.ContainsFunc(p.Antennas, survey.Antenna.HasAmplifier) {
			return true
		}
	}
	return false
}

// TellsOwnNoise tells whether a control's reading does: not where the converter's steps are coarse against the noise, which
// calibrations may compute from higher gains, nor where somebody may have changed the setup meanwhile.
func TellsOwnNoise(r *survey.Reading) bool {
	return Levelled(r) && r.Gain.Known && !r.Quality.Has(survey.FlagSetupDoubt) && !r.Quality.Has(survey.FlagLowDrive)
}

// OwnNoise gives what controls of the surveys show of own noise, in order of appearance.
func (in Input) OwnNoise() []*NoiseSeries {
	if in.own == nil {
		return nil
	}
	return in.own.all
}

// amplifier gives the owner that an antenna's amplifier is; receivers without a name are not the same.
func (o *ownNoises) amplifier(id int64, antenna string) noiseOwner {
	if receiver := o.receiver[id]; receiver != "" {
		return noiseOwner{receiver: receiver, antenna: antenna}
	}
	return noiseOwner{survey: id, antenna: antenna}
}

// series gives the series that a reading of a control belongs to.
func (o *ownNoises) series(owner noiseOwner, s *survey.Sweep, r *survey.Reading) *NoiseSeries {
	for _, known := range o.of[owner] {
		if known.Segment == r.Segment && level.SameGain(known.Gain, r.Gain.DB) {
			return known
		}
	}
	fresh := &NoiseSeries{Setup: s.Setup, Of: owner.antenna, Segment: r.Segment, Gain: r.Gain.DB}
	o.of[owner], o.all = append(o.of[owner], fresh), append(o.all, fresh)
	return fresh
}

// add puts a reading into its visit.
func (s *NoiseSeries) add(sweep *survey.Sweep, r *survey.Reading) {
	n := len(s.Visits)
	if n == 0 || s.Visits[n-1].Survey != sweep.Survey || s.Visits[n-1].Visit != sweep.Visit {
		s.Visits = append(s.Visits, NoiseVisit{Survey: sweep.Survey, Visit: sweep.Visit})
		n++
	}
	v, density := &s.Visits[n-1], r.Floor.Density.Linear()
	v.Span, v.Readings, v.sum = v.Span.With(SpanOf(r)), v.Readings+1, v.sum+density
	if sigma := float64(r.Floor.Sigma); stats.Finite(sigma) {
		sigma = density * stats.Relative(sigma)
		v.square += sigma * sigma
	}
}

// find gives what an owner's controls show for a reading, nil where there is nothing at its gain.
func (o *ownNoises) find(owner noiseOwner, r *survey.Reading) *NoiseSeries {
	var found *NoiseSeries
	for _, s := range o.of[owner] {
		switch {
		case !r.Gain.Known || !level.SameGain(s.Gain, r.Gain.DB):
		case s.Segment == r.Segment:
			return s
		case mostly(s.Segment, r.Segment):
			found = s
		}
	}
	return found
}

// servedKey is what all readings of a minute share: own noise does not drift within one.
type servedKey struct {
	known      *CalibrationFor
	series     *NoiseSeries
	unmeasured bool
	minute     int64
}

// serve gives what is known of a reading once the controls of its survey have told what they show: of
// an antenna with an amplifier the noise of that, else the receiver's as it was then.
func (o *ownNoises) serve(k *CalibrationFor, s *survey.Sweep, a survey.Antenna, r *survey.Reading) *CalibrationFor {
	if a.AtReceiver() { // it is served by the calibrations, against which it shows the drift
		return k
	}
	series, basis := o.seriesFor(s, a, r)
	amplified := !a.Control() && (a.HasAmplifier() || o.plans[s.Survey].Antenna(a.Of).HasAmplifier())
	unmeasured := amplified && basis != ByReplaced
	if series == nil && !unmeasured {
		return k
	}
	key := servedKey{k, series, unmeasured, r.Start.Unix() / 60}
	if known := o.served[key]; known != nil {
		return known
	}
	more := &CalibrationFor{}
	if k != nil {
		*more = *k
	}
	more.Unmeasured = unmeasured
	if series != nil {
		n, of := series.at(time.Unix(60*key.minute+30, 0))
		if basis == ByReplaced {
			more.Noise = &OwnNoise{SelfNoise: n, Basis: basis}
		} else {
			more.Noise = ownOf(n, basis, more.Level)
		}
		more.Noise.Curve = o.curve[of]
		more.leaveNoiseRun()
	}
	o.served[key] = more
	return more
}

// seriesFor gives what is to be taken out of a reading through an antenna, and what measured it; nil where no
// control did.
func (o *ownNoises) seriesFor(s *survey.Sweep, a survey.Antenna, r *survey.Reading) (*NoiseSeries, string) {
	for _, name := range []string{a.Name, a.Of} {
		if name == "" || a.Control() {
			continue
		}
		if series := o.find(o.amplifier(s.Survey, name), r); series != nil {
			return series, ByReplaced
		}
	}
	return o.find(noiseOwner{survey: s.Survey}, r), ByTerminator
}

// leaveNoiseRun takes out the run that measured the receiver's noise, which serves no more.
func (k *CalibrationFor) leaveNoiseRun() {
	k.Runs = slices.DeleteFunc(slices.Clone(k.Runs), func(c *survey.Calibration) bool {
		return c.Kind == survey.CalibrateNoise && (k.Level == nil || !slices.Contains(k.Level.Runs, c))
	})
}
