package iqfile

import (
	"cmp"
	"encoding/hex"
	"math"
	"slices"
	"sort"
	"strings"

	"nightfloor/survey"
)

// A span is where the samples of one capture lie.
type span struct {
	first   int64 // sample, as core:sample_start counts
	at, end int64 // bytes in the dataset
	index   int64 // of the first sample in the receiver's stream, as core:global_index counts
	indexed bool  // index is known
}

// recordings gives the recordings that the description makes of the data.
func (m *sigmfMeta) recordings(data stretch, o Options) ([]Recording, error) {
	datatype, err := parseDatatype(m.Global.Datatype)
	if err != nil {
		return nil, err
	}
	if data.size == 0 {
		return nil, faultf(ErrEmpty, "check how it was recorded", "the data file is empty")
	}
	if len(m.Captures) == 0 { // nothing is said of any sample: all are one capture
		m.Captures = boundedList[sigmfCapture]{{}}
	}
	if len(m.Captures) > 1 { // a name says one start, and not whose
		o.named = Named{}
	}
	spans, err := m.spans(datatype.Size(), data.size)
	if err != nil {
		return nil, err
	}
	common, err := m.common(datatype, o)
	if err != nil {
		return nil, err
	}
	common.data = &dataset{path: data.path, parts: []stretch{data}}
	if common.data.sha512, err = m.sha512(); err != nil {
		return nil, err
	}
	bearings, err := m.bearings(spans)
	if err != nil {
		return nil, err
	}
	list := make([]Recording, len(m.Captures))
	for i := range list {
		list[i] = common
		list[i].Bearing = bearings[i]
		if err := m.capture(&list[i], i, spans, o); err != nil {
			return nil, inCapture(i, err)
		}
		if i > 0 && list[i].Centre == list[i-1].Centre {
			list[i].Dropped = spans[i].dropped(spans[i-1])
		}
	}
	if !bearings[0].Known && m.azimuthElsewhere() {
		list[0].Doubts = append(list[0].Doubts, "antenna:azimuth_angle is read from annotations alone, and stands elsewhere: no bearing is known; give it with --bearing")
	}
	return list, nil
}

// azimuthElsewhere tells whether an azimuth stands where the standard has none.
func (m *sigmfMeta) azimuthElsewhere() bool {
	return m.Global.Azimuth != nil || slices.ContainsFunc(m.Captures, func(c sigmfCapture) bool { return c.Azimuth != nil })
}

// dropped counts the samples lost between the span before and this one: by how much their
// indices in the receiver's stream differ more than in the data. Across a retune nothing counts
// as lost: samples thrown away while the receiver settles are no loss.
func (s span) dropped(before span) int64 {
	if !s.indexed || !before.indexed {
		return 0
	}
	return max(0, s.index-before.index-(s.first-before.first))
}

// spans places the captures in size bytes of data. Headers come before their
// capture's samples and are no samples; core:offset is the index of the first
// sample where a recording is spread over several files.
func (m *sigmfMeta) spans(sampleSize, size int64) ([]span, error) {
	offset, err := whole(m.Global.Offset, "core:offset", 0)
	if err != nil {
		return nil, err
	}
	trailing, err := whole(m.Global.TrailingBytes, "core:trailing_bytes", 0)
	if err != nil {
		return nil, err
	}
	if trailing >= size {
		return nil, faultf(ErrFormat, "correct the description", "core:trailing_bytes is %d, the data file has %d bytes", trailing, size)
	}
	l := layout{offset: offset, sampleSize: sampleSize, end: size - trailing}
	for i, c := range m.Captures {
		if err := l.add(c); err != nil {
			return nil, inCapture(i, err)
		}
	}
	return l.spans, nil
}

// A layout places captures one after the other.
type layout struct {
	offset     int64 // index of the data's first sample
	sampleSize int64 // bytes
	end        int64 // of the samples, bytes
	headers    int64 // bytes of headers so far
	spans      []span
}

// add places the next capture. Every product and sum is bounded by the data's
// size before it is formed, so that none overflows.
func (l *layout) add(c sigmfCapture) error {
	first, err := whole(c.SampleStart, "core:sample_start", l.offset)
	if err != nil {
		return err
	}
	header, err := whole(c.HeaderBytes, "core:header_bytes", 0)
	if err != nil {
		return err
	}
	index, err := whole(c.GlobalIndex, "core:global_index", 0)
	if err != nil {
		return err
	}
	if err := l.order(first); err != nil {
		return err
	}
	const do = "get the whole recording or correct the description"
	if header > l.end-l.headers {
		return faultf(ErrTruncated, do, "its header of %d bytes goes beyond the data, which end at byte %d", header, l.end)
	}
	l.headers += header
	sample := first - l.offset
	if sample > l.end/l.sampleSize || sample*l.sampleSize > l.end-l.headers-l.sampleSize {
		return faultf(ErrTruncated, do, "it begins at sample %d, and the data end before, at byte %d of %d a sample", first, l.end, l.sampleSize)
	}
	s := span{first: first, at: l.headers + sample*l.sampleSize, end: l.end, index: index, indexed: c.GlobalIndex != nil}
	if n := len(l.spans); n > 0 {
		l.spans[n-1].end = s.at - header
	}
	l.spans = append(l.spans, s)
	return nil
}

// order refuses a capture whose first sample does not come after that of the one before.
func (l *layout) order(first int64) error {
	if first < l.offset {
		return faultf(ErrFormat, "correct the description", "core:sample_start %d comes before core:offset %d", first, l.offset)
	}
	if len(l.spans) == 0 {
		return nil
	}
	switch before := l.spans[len(l.spans)-1].first; {
	case first == before:
		return faultf(ErrFormat, "correct the description", "core:sample_start %d is that of the capture before", first)
	case first < before:
		return faultf(ErrFormat, "sort the captures by core:sample_start", "core:sample_start %d comes before that of the capture before", first)
	}
	return nil
}

// common gives what the captures have in common.
func (m *sigmfMeta) common(datatype Datatype, o Options) (Recording, error) {
	g := &m.Global
	r := Recording{Datatype: datatype, Rate: o.Rate}
	switch {
	case o.Rate != 0:
	case g.SampleRate == nil && o.named.Rate == 0:
		return r, faultf(ErrNoRate, "give it with --rate HZ", "no core:sample_rate in the description%s", also(o.named.NoRate))
	case g.SampleRate != nil:
		r.Rate = survey.Hz(*g.SampleRate)
		if err := checkRate(r.Rate, "core:sample_rate"); err != nil {
			return r, err
		}
	}
	var err error
	if r.Antenna, err = nameOf(g.Model, "antenna:model"); err != nil {
		return r, err
	}
	if r.Placement, err = nameOf(g.Placement, "nightfloor:placement"); err != nil {
		return r, err
	}
	r.Simulated = g.Simulated
	return r, nil
}

// capture fills in what capture i has of its own.
func (m *sigmfMeta) capture(r *Recording, i int, spans []span, o Options) error {
	c := &m.Captures[i]
	r.offset = spans[i].at
	if err := r.fill(spans[i].end - spans[i].at); err != nil {
		return err
	}
	switch {
	case o.Centre != 0:
		r.Centre = o.Centre
	case c.Frequency == nil && o.named.Centre == 0:
		return faultf(ErrNoCentre, "give it with --center HZ", "no core:frequency in the description%s", also(o.named.NoCentre))
	case c.Frequency != nil:
		r.Centre = survey.Hz(*c.Frequency)
		if err := checkCentre(r.Centre, "core:frequency"); err != nil {
			return err
		}
	}
	var err error
	if r.Start, err = startOf(c.Datetime); err != nil {
		return err
	}
	if c.Frequency != nil { // which may be 0
		o.named.Centre = 0
	}
	o.fromName(r)
	r.Gain, err = gainOf(c.Gain, m.Global.Gain)
	return err
}

// gainOf prefers a capture's gain to one given for all captures. A gain that the
// description gives is there to refer levels to: it is taken as measured.
func gainOf(capture, global *float64) (survey.Gain, error) {
	gain := cmp.Or(capture, global)
	if gain == nil {
		return survey.Gain{}, nil
	}
	if math.Abs(*gain) > 300 {
		return survey.Gain{}, faultf(ErrFormat, "correct the description", "capture_details:gain is %g dB, which no receiver has", *gain)
	}
	return survey.Gain{DB: survey.DB(*gain), Known: true, Exact: true}, nil
}

// bearings gives each capture the azimuth of the first annotation that has one:
// the first within the capture, where the antenna was turned between captures,
// else the first of all.
func (m *sigmfMeta) bearings(spans []span) ([]survey.Bearing, error) {
	bearings := make([]survey.Bearing, len(spans))
	var first survey.Bearing
	for _, a := range m.Annotations {
		if a.Azimuth == nil {
			continue
		}
		if math.Abs(*a.Azimuth) > 720 {
			return nil, faultf(ErrFormat, "correct the description", "antenna:azimuth_angle is %g degrees", *a.Azimuth)
		}
		sample, err := whole(a.SampleStart, "core:sample_start of an annotation", 0)
		if err != nil {
			return nil, err
		}
		bearing := survey.BearingOf(*a.Azimuth)
		if !first.Known {
			first = bearing
		}
		after := sort.Search(len(spans), func(i int) bool { return spans[i].first > sample })
		if after > 0 && !bearings[after-1].Known {
			bearings[after-1] = bearing
		}
	}
	for i := range bearings {
		if !bearings[i].Known {
			bearings[i] = first
		}
	}
	return bearings, nil
}

// sha512 gives the checksum of the data file, "" where there is none.
func (m *sigmfMeta) sha512() (string, error) {
	if m.Global.SHA512 == nil {
		return "", nil
	}
	sum := strings.ToLower(*m.Global.SHA512)
	if raw, err := hex.DecodeString(sum); err != nil || len(raw) != 64 {
		return "", faultf(ErrFormat, "correct the description", "core:sha512 is not 128 hexadecimal digits")
	}
	return sum, nil
}
