package result

import (
	"math"
	"slices"
	"time"

	"nightfloor/survey"
)

// SchemaMeasure names the document of measurements that are not stored.
const SchemaMeasure = "nightfloor/measure/1"

// snrBandwidth is the bandwidth of the noise in a signal-to-noise ratio
// [CISPR 16-1-1, below 30 MHz].
const snrBandwidth = 9e3

// Measure is what was found in recordings, each for itself.
type Measure struct {
	Schema     string              `json:"schema"`
	Recordings []MeasuredRecording `json:"recordings"`
}

// MeasuredRecording is what was found in one recording.
type MeasuredRecording struct {
	File       string            `json:"file"`
	Start      *time.Time        `json:"start"`
	Centre     float64           `json:"center_hz"`
	SampleRate float64           `json:"sample_rate_hz"`
	Duration   float64           `json:"duration_s"`
	BinWidth   float64           `json:"bin_hz"`
	Resolution float64           `json:"resolution_hz"`
	Antenna    *string           `json:"antenna"`
	Placement  *string           `json:"placement"`
	Bearing    survey.Bearing    `json:"bearing_deg"`
	Segments   []MeasuredSegment `json:"segments"`
	Findings   []MeasuredFinding `json:"findings"`
	Quality    MeasuredQuality   `json:"quality"`
}

// MeasuredSegment is what was found in one segment.
type MeasuredSegment struct {
	Name        string            `json:"name"`
	Low         float64           `json:"low_hz"`
	High        float64           `json:"high_hz"`
	HeardLow    *float64          `json:"heard_low_hz"` // of the segment, where the receiver's own filter cuts it
	HeardHigh   *float64          `json:"heard_high_hz"`
	Floor       *float64          `json:"floor_dbfs_hz"`
	FloorSigma  *float64          `json:"floor_sigma_db"`
	Quiet       *float64          `json:"quiet_dbfs_hz"`
	FloorDBm    *float64          `json:"floor_dbm_hz"`
	Fa          *float64          `json:"fa_db"`
	Margin      *float64          `json:"receiver_margin_db"`
	Vd          *float64          `json:"vd_db"`
	VdBandwidth *float64          `json:"vd_bandwidth_hz"`
	Occupancy   float64           `json:"occupancy"`
	Carriers    []MeasuredCarrier `json:"carriers"`
}

// MeasuredCarrier is one coherent line.
type MeasuredCarrier struct {
	Frequency    float64  `json:"frequency_hz"`
	Level        float64  `json:"level_dbfs"`
	LevelDBm     *float64 `json:"level_dbm"`
	SNR          *float64 `json:"snr_db"`
	SNRBandwidth float64  `json:"snr_bandwidth_hz"`
}

// MeasuredFinding is interference seen in one recording.
type MeasuredFinding struct {
	Kind       string   `json:"kind"`
	Spacing    *float64 `json:"spacing_hz"`
	Lines      *int     `json:"lines"`
	Envelope   *float64 `json:"envelope_hz"`
	Mains      *float64 `json:"mains_hz"`
	Depth      *float64 `json:"depth"`
	Shape      *string  `json:"shape"`
	Rate       *float64 `json:"rate_hz"`
	RateLow    *float64 `json:"rate_low_hz"` // 95 % interval of Rate; nil where they are regular
	RateHigh   *float64 `json:"rate_high_hz"`
	Regular    *bool    `json:"regular"`
	Strength   *float64 `json:"strength_db"`
	Low        *float64 `json:"low_hz"`
	High       *float64 `json:"high_hz"`
	Confidence float64  `json:"confidence"`
}

// MeasuredQuality is what speaks against a recording.
type MeasuredQuality struct {
	ClippedShare float64  `json:"clipped_share"`
	Dropped      int64    `json:"dropped_samples"`
	DC           *float64 `json:"dc_dbfs"`
	Imbalance    *float64 `json:"iq_imbalance_dbc"`
	Flags        []string `json:"flags"`
}

// NewMeasuredRecording shows the readings of one recording (at least one),
// which share their conditions. Empty names and a zero start are unknown.
func NewMeasuredRecording(file string, setup survey.Setup, duration float64, readings []survey.Reading) MeasuredRecording {
	r := readings[0]
	out := MeasuredRecording{
		File: file, Centre: rounded(float64(r.Centre), 1), SampleRate: rounded(float64(r.SampleRate), 3), Duration: rounded(duration, 6),
		BinWidth: rounded(float64(r.BinWidth), 4), Resolution: rounded(float64(r.Resolution), 4),
		Antenna: nonEmpty(setup.Antenna), Placement: nonEmpty(setup.Placement), Bearing: setup.Bearing,
		Segments: []MeasuredSegment{}, Findings: []MeasuredFinding{},
		Quality: MeasuredQuality{ClippedShare: r.Quality.ClippedShare, Dropped: r.Quality.DroppedSamples,
			DC: figure(float64(r.Quality.DC)), Imbalance: figure(float64(r.Quality.IQImbalance)), Flags: []string{}},
	}
	if !r.Start.IsZero() {
		out.Start = new(r.Start.UTC())
	}
	for _, f := range r.Findings {
		if f.Detected() { // else it is no evidence
			out.Findings = append(out.Findings, newMeasuredFinding(f))
		}
	}
	for i := range readings {
		out.Segments = append(out.Segments, newMeasuredSegment(&readings[i]))
		out.Quality.Flags = append(out.Quality.Flags, readings[i].Quality.Flags...)
	}
	slices.Sort(out.Quality.Flags)
	out.Quality.Flags = slices.Compact(out.Quality.Flags)
	return out
}

func newMeasuredSegment(r *survey.Reading) MeasuredSegment {
	s := MeasuredSegment{Name: r.Segment.Name, Low: rounded(float64(r.Segment.Low), 1), High: rounded(float64(r.Segment.High), 1),
		Occupancy: rounded(r.Occupancy, 4), Carriers: []MeasuredCarrier{}}
	if r.HeardHigh > r.HeardLow {
		s.HeardLow, s.HeardHigh = digits(float64(r.HeardLow), 1), digits(float64(r.HeardHigh), 1)
	}
	if r.Floor != nil {
		s.Floor, s.FloorSigma, s.Quiet = figure(float64(r.Floor.Density)), figure(float64(r.Floor.Sigma)), figure(float64(r.Floor.Quiet))
	}
	if r.Vd != nil {
		s.Vd, s.VdBandwidth = figure(float64(*r.Vd)), figure(float64(r.VdBandwidth))
	}
	for _, c := range r.Carriers {
		level, ok := survey.LevelOf(c.Power)
		if !ok || !c.Detected {
			continue
		}
		carrier := MeasuredCarrier{Frequency: rounded(float64(c.Frequency), 2), Level: rounded(float64(level), 3), SNRBandwidth: snrBandwidth}
		if r.Floor != nil {
			carrier.SNR = figure(float64(level.Over(r.Floor.Density.In(snrBandwidth))))
		}
		s.Carriers = append(s.Carriers, carrier)
	}
	return s
}

// newMeasuredFinding shows what applies to a finding's kind. Impulses raise the whole
// passband: they have no stretch of their own.
func newMeasuredFinding(f survey.Finding) MeasuredFinding {
	out := MeasuredFinding{Kind: f.Kind, Confidence: sureness(f.Confidence)}
	if f.Kind != survey.FindingImpulses {
		out.Low, out.High = digits(float64(f.Low), 1), digits(float64(f.High), 1)
	}
	if f.Kind != survey.FindingMains {
		out.Strength = digits(float64(f.Strength), 2)
	}
	if f.Mains != 0 {
		out.Mains = digits(float64(f.Mains), 1)
	}
	switch f.Kind {
	case survey.FindingComb:
		out.Spacing, out.Lines = digits(float64(f.Spacing), 2), &f.Lines
		if f.Envelope != 0 {
			out.Envelope, out.Depth = digits(float64(f.Envelope), 2), digits(f.Depth, 3)
		}
	case survey.FindingMains:
		out.Envelope, out.Depth, out.Shape = digits(float64(f.Envelope), 2), digits(f.Depth, 3), nonEmpty(f.Shape)
	case survey.FindingImpulses:
		out.Rate, out.Regular = digits(float64(f.Rate), 2), &f.Regular
		if f.RateHigh > 0 {
			out.RateLow, out.RateHigh = digits(float64(f.RateLow), 2), digits(float64(f.RateHigh), 2)
		}
	}
	return out
}

// figure gives a figure to four decimals, nil for one that is not finite.
func figure(x float64) *float64 { return digits(x, 4) }

func rounded(x float64, digits int) float64 {
	scale := math.Pow(10, float64(digits))
	return math.Round(x*scale) / scale
}

func nonEmpty(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}

// digits gives a figure to some decimals, nil for one that is not finite.
func digits(x float64, places int) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return new(rounded(x, places))
}

// sureness cuts a confidence to seven decimals and never gives 1: the tails of the statistics
// are not known so far out.
func sureness(confidence float64) float64 {
	const steps = 1e7
	return min(math.Floor(confidence*steps+1e-3), steps-1) / steps // the thousandth: 0.99987 is a little less in binary
}
