package reports

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
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
		Segments: []MeasuredSegment{}, Findings: newMeasuredFindings(r.Findings),
		Quality: MeasuredQuality{ClippedShare: r.Quality.ClippedShare, Dropped: r.Quality.DroppedSamples,
			DC: figure(float64(r.Quality.DC)), Imbalance: figure(float64(r.Quality.IQImbalance)), Flags: []string{}},
	}
	if !r.Start.IsZero() {
		start := r.Start.UTC()
		out.Start = &start
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

// figure gives a rounded figure for JSON, nil for one that is not finite.
func figure(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	x = rounded(x, 4)
	return &x
}

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

// WriteMeasure prints the measurements for a person to read.
func WriteMeasure(w io.Writer, m Measure) error {
	for _, r := range m.Recordings {
		if err := writeMeasured(w, r); err != nil {
			return err
		}
	}
	return nil
}

func writeMeasured(w io.Writer, r MeasuredRecording) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %.3f s at %s, %s samples a second, bins of %.1f Hz\n", Printable(r.File), r.Duration, survey.Hz(r.Centre), millions(r.SampleRate), r.BinWidth)
	if len(r.Quality.Flags) > 0 {
		fmt.Fprintf(&b, "  flags: %s (%.3g %% of the components clipped)\n", strings.Join(r.Quality.Flags, ", "), 100*r.Quality.ClippedShare)
	}
	for _, s := range r.Segments {
		fmt.Fprintf(&b, "  %s, %s–%s: ", Printable(s.Name), survey.Hz(s.Low), survey.Hz(s.High))
		if s.Floor == nil {
			b.WriteString("no floor: too little is free of signals")
		} else {
			fmt.Fprintf(&b, "floor %s ± %.2f dBFS/Hz (95 %%), between bursts %s", decibels(s.Floor), 1.96**s.FloorSigma, decibels(s.Quiet))
		}
		if s.Vd != nil {
			fmt.Fprintf(&b, ", rms over mean of the envelope %.2f dB in %.1f kHz", *s.Vd, *s.VdBandwidth/1e3)
		}
		fmt.Fprintf(&b, ", %.0f %% occupied by signals, %s\n", 100*s.Occupancy, counted(len(s.Carriers), "carrier"))
		for _, c := range s.Carriers {
			fmt.Fprintf(&b, "    %14.4f kHz  %7s dBFS  SNR %6s dB in 9 kHz\n", c.Frequency/1e3, decibels(&c.Level), decibels(c.SNR))
		}
	}
	writeFindings(&b, r.Findings, r.Quality.Flags)
	_, err := io.WriteString(w, b.String())
	return err
}

func decibels(x *float64) string {
	if x == nil {
		return "–"
	}
	return Number(*x, 2)
}

// millions writes a sample rate as a person does.
func millions(rate float64) string {
	if rate < 1e6 {
		return strconv.FormatFloat(rate, 'f', -1, 64)
	}
	return strconv.FormatFloat(rate/1e6, 'f', -1, 64) + " million"
}

// counted writes 1 carrier, 2 carriers.
func counted(n int, what string) string {
	if n != 1 {
		what += "s"
	}
	return fmt.Sprintf("%d %s", n, what)
}
