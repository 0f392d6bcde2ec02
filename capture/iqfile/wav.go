package iqfile

import (
	"errors"
	"io"
	"time"

	"nightfloor/capture/iqfile/wav"
	"nightfloor/survey"
)

var wavTypes = map[wav.Format]Datatype{
	{Bits: 8}: CU8, {Bits: 16}: CI16LE, {Bits: 24}: CI24LE, {Bits: 32}: CI32LE,
	{Float: true, Bits: 32}: CF32LE, {Float: true, Bits: 64}: CF64LE,
}

var wavFaults = map[wav.Kind]error{wav.Damaged: ErrFormat, wav.Unsupported: ErrUnsupported, wav.Truncated: ErrTruncated}

// readWAV reads the header of a two-channel WAV file of size bytes: I left, Q right.
func readWAV(_ string, f io.ReaderAt, size int64, o Options) ([]Recording, error) {
	file, err := wav.Read(f, size)
	var fault *wav.Fault
	if errors.As(err, &fault) {
		return nil, faultf(wavFaults[fault.Kind], fault.Do, "%s", fault.Why)
	}
	if err != nil {
		return nil, err
	}
	if o.Rate == 0 {
		o.Rate = survey.Hz(file.Rate)
		if err := checkRate(o.Rate, "the sample rate in the WAV header"); err != nil {
			return nil, err
		}
	}
	r := Recording{Datatype: wavTypes[file.Format], Centre: o.Centre, Rate: o.Rate, Dropped: file.Lost, Doubts: file.Doubts, data: &dataset{}}
	var bytes int64
	for _, s := range file.Data {
		r.data.parts = append(r.data.parts, stretch{start: s.Start, size: s.Size})
		bytes += s.Size
	}
	if err := r.fill(bytes); err != nil {
		return nil, err
	}
	o.fromName(&r)
	if r.Centre == 0 {
		return nil, faultf(ErrNoCentre, "give it with --center HZ", "a WAV file does not say its centre frequency%s", also(o.named.NoCentre))
	}
	r.began(file.Start, o.Zone)
	return []Recording{r}, nil
}

// apart is by how much the starts of name and chunk differ that are told of: names may have whole
// minutes. Chosen; TestWAVStart.
const apart = time.Minute

// began sets the start that a broadcast extension chunk says, by the clocks of zone; a name that
// says one in UTC says it better.
func (r *Recording) began(s wav.Start, zone *time.Location) {
	if s.Day == "" || zone == nil || r.Named.Start.Location() == time.UTC && !r.Named.Start.IsZero() {
		return
	}
	at, why := momentOf(s.Day, s.Clock, zone, "bext chunk")
	if at.IsZero() {
		if r.Named.Start.IsZero() && why != "" {
			r.Named.NoStart = why
		}
		return
	}
	if named := r.Named.Start; !named.IsZero() && at.Sub(named).Abs() >= apart {
		const clock = "15:04:05 MST"
		r.Doubts = append(r.Doubts, "its name says another start than its bext chunk, "+named.Format(clock)+" and not "+at.Format(clock)+": that of the chunk is taken")
	}
	r.Origin = at.Add(s.Later)
	r.Named.Start, r.Named.NoStart = time.Time{}, ""
}
