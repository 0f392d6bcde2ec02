package iqfile

import (
	"bytes"
	"encoding/binary"
	"math"
	"slices"
	"testing"
	"time"
)

// formOf gives a file of these chunks, whose header says so many bytes; −1: as many as there are.
func formOf(id string, riff int64, chunks ...[]byte) []byte {
	all := bytes.Join(chunks, nil)
	if riff < 0 {
		riff = int64(len(all)) + 4
	}
	return slices.Concat([]byte(id), binary.LittleEndian.AppendUint32(nil, uint32(riff)), []byte("WAVE"), all)
}

// lying gives a chunk with another length in its header.
func lying(length uint32, chunk []byte) []byte {
	chunk = slices.Clone(chunk)
	binary.LittleEndian.PutUint32(chunk[4:], length)
	return chunk
}

// formatOf gives a format chunk for frames of 4 bytes, or so many as align says.
func formatOf(channels, bits, align uint16) []byte {
	le := binary.LittleEndian
	b := le.AppendUint16(le.AppendUint16(nil, wavePCM), channels)
	b = le.AppendUint32(le.AppendUint32(b, 48_000), 48_000*uint32(align))
	return chunkOf("fmt ", le.AppendUint16(le.AppendUint16(b, align), bits))
}

// ds64Of gives the chunk with the lengths of 64 bits: of the form, of the samples, of the others.
func ds64Of(riff, data uint64, others ...uint64) []byte {
	le := binary.LittleEndian
	b := le.AppendUint64(le.AppendUint64(le.AppendUint64(nil, riff), data), data/4)
	b = le.AppendUint32(b, uint32(len(others)))
	for _, o := range others {
		b = le.AppendUint64(append(b, "data"...), o)
	}
	return chunkOf("ds64", b)
}

// bextOf gives a broadcast extension chunk by EBU Tech 3285: description, originator and its
// reference, date, time, TimeReference, version, and what else has no part here.
func bextOf(date, clock string, reference uint64) []byte {
	b := make([]byte, 602)
	copy(b, "noise of the loft")
	copy(b[320:], date)
	copy(b[330:], clock)
	binary.LittleEndian.PutUint64(b[338:], reference)
	binary.LittleEndian.PutUint16(b[346:], 2)
	return chunkOf("bext", b)
}

// frames gives samples of 16 bits: n, n+1, … as I and 0 as Q.
func frames(n, count int) (raw []byte, x []complex64) {
	for i := range count {
		raw = binary.LittleEndian.AppendUint16(raw, uint16(n+i))
		raw = append(raw, 0, 0)
		x = append(x, complex(float32(n+i)/32768, 0))
	}
	return raw, x
}

// A chunkCase is a WAV file, and what is read of it.
type chunkCase struct {
	file    []byte
	want    []complex64
	dropped int64
	doubts  []string
}

func chunkCases() map[string]chunkCase {
	raw, x := frames(1, 12)
	format := formatOf(2, 16, 4)
	first, second := chunkOf("data", raw[:20]), chunkOf("data", raw[20:])
	other := chunkOf("note", []byte("private")) // of odd length: padded
	const goesOn = "the file goes on for 28 bytes after the samples that the WAV header tells of: they are read as samples, too"
	const cut = "the WAV header gives no length: the recording was cut off, and is read to the end of the file"
	return map[string]chunkCase{
		"two data chunks":         {formOf("RIFF", -1, format, first, other, second, other), x, 0, nil},
		"data chunks in a list":   {formOf("RIFF", -1, format, chunkOf("LIST", slices.Concat([]byte("wavl"), first, second)), other), x, 0, nil},
		"format behind the data":  {formOf("RIFF", -1, other, first, other, second, format), x, 0, nil},
		"an empty data chunk":     {formOf("RIFF", -1, format, chunkOf("data", nil), other, first, second), x, 0, nil},
		"pad byte missing":        {formOf("RIFF", -1, format, other[:len(other)-1], first, other[:len(other)-1], second), x, 0, nil},
		"BW64":                    {formOf("BW64", waveUnknown, ds64Of(1, 20), format, other, lying(waveUnknown, first), second, other), x, 0, nil},
		"RF64, two long chunks":   {formOf("RF64", waveUnknown, ds64Of(1, 20, 28), format, lying(waveUnknown, first), other, lying(waveUnknown, second)), x, 0, nil},
		"RF64, lengths of 32 bit": {formOf("RF64", waveUnknown, ds64Of(1, 0), format, first, second), x, 0, nil},
		"RF64 that was killed":    {formOf("RF64", waveUnknown, ds64Of(0, 0), format, lying(waveUnknown, chunkOf("data", raw))), x, 0, []string{cut}},
		"RF64 without ds64":       {formOf("RF64", waveUnknown, other, format, lying(waveUnknown, chunkOf("data", raw))), x, 0, []string{cut}},
		"header of no samples":    {formOf("RIFF", 36, format, chunkOf("data", nil), raw), x, 0, []string{cut}},
		"header of old lengths":   {formOf("RIFF", 36+20, format, first, raw[20:]), x, 0, []string{goesOn}},
		"no length of the form":   {formOf("RIFF", 0, format, first, raw[20:]), x, 0, []string{goesOn}},
		"chunks beyond the form":  {formOf("RIFF", 36+48, format, chunkOf("data", raw), other), x, 0, nil},
		"cut off in a last chunk": {formOf("RIFF", 36+48+100, format, chunkOf("data", raw), lying(92, other)), x, 0,
			[]string{"84 bytes promised by the WAV header are missing: the recording was cut off"}},
		"rest after the last chunk": {formOf("RIFF", 36+48+16, format, chunkOf("data", raw), other, []byte{1, 2, 3}), x, 0,
			[]string{"3 bytes after the last chunk of the WAV file left out"}},
		"text after the form": {formOf("RIFF", 36+48+16, format, chunkOf("data", raw), other, []byte("TAGnoise of the loft")), x, 0,
			[]string{"20 bytes after the last chunk of the WAV file left out"}},
		"last pad byte missing":    {formOf("RIFF", -1, format, chunkOf("data", raw), other[:len(other)-1]), x, 0, nil},
		"last chunk of no length":  {formOf("RIFF", -1, format, chunkOf("data", raw), lying(waveUnknown, other)), x, 0, nil},
		"RF64, no length in ds64":  {formOf("RF64", waveUnknown, ds64Of(math.MaxUint64, math.MaxUint64), format, lying(waveUnknown, chunkOf("data", raw))), x, 0, []string{cut}},
		"the first format counts":  {formOf("RIFF", -1, format, chunkOf("data", raw), formatOf(1, 16, 2)), x, 0, nil},
		"silence before the first": {formOf("RIFF", -1, format, chunkOf("slnt", []byte{7, 0, 0, 0}), first, second), x, 0, nil},
		"an empty chunk behind a part of a sample": {formOf("RIFF", -1, format, chunkOf("data", raw[:47]), chunkOf("data", nil)), x[:11], 0,
			[]string{"3 bytes after the last whole sample left out: the recording was cut off"}},
		"no whole samples in between": {formOf("RIFF", -1, format, chunkOf("data", raw[:19]), second), slices.Concat(x[:4], x[5:]), 1,
			[]string{"3 bytes after the last whole sample of a data chunk left out: samples are missing between it and the next"}},
		"silence between": {formOf("RIFF", -1, format, chunkOf("LIST", slices.Concat([]byte("wavl"), first, chunkOf("slnt", []byte{7, 0, 0, 0}), second))), x, 7,
			[]string{"the WAV file leaves 7 samples out as silence: they are missing"}},
	}
}

// What a WAV file has of samples is read, in whatever chunks, whatever lengths the headers say.
func TestWAVChunks(t *testing.T) {
	for name, test := range chunkCases() {
		r := openOne(t, put(t, t.TempDir(), "night.wav", test.file), Options{Centre: 9_650_000})
		if got := samplesOf(t, r); !slices.Equal(got, test.want) {
			t.Errorf("%s:\n got %v\nwant %v", name, got, test.want)
		}
		if !slices.Equal(r.Doubts, test.doubts) || r.Dropped != test.dropped || r.Rate != 48_000 {
			t.Errorf("%s: doubts %q, %d dropped, %v; want %q, %d", name, r.Doubts, r.Dropped, r.Rate, test.doubts, test.dropped)
		}
	}
}

// A broadcast extension chunk says the start by the clocks that were at the recorder: UTC in the
// name says it better, and flags win over all.
func TestWAVStart(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	const midnight = 48_000 * 3600 // samples an hour
	at := func(h, m, s, ms int) time.Time { return time.Date(2026, 11, 3, h, m, s, ms*1e6, time.UTC) }
	for name, test := range map[string]struct {
		bext   []byte
		file   string
		want   time.Time
		why    string
		doubts []string
	}{
		"date and time":            {bextOf("2026-11-03", "22:04:10", 0), "n.wav", at(21, 4, 10, 0), "", nil},
		"other separators":         {bextOf("2026_11.03", "22-04 10", 0), "n.wav", at(21, 4, 10, 0), "", nil},
		"TimeReference is finer":   {bextOf("2026-11-03", "22:04:10", 22*midnight+250*48_000+12_000), "n.wav", at(21, 4, 10, 250), "", nil},
		"TimeReference is earlier": {bextOf("2026-11-03", "22:04:10", 22*midnight+249*48_000+4_800), "n.wav", at(21, 4, 9, 100), "", nil},
		"TimeReference a second off": {bextOf("2026-11-03", "22:04:10", 22*midnight+251*48_000), "n.wav", at(21, 4, 10, 0), "",
			[]string{"its bext chunk gives two times, 22:04:10 and by its TimeReference 22:04:11: the first is taken as its start"}},
		"TimeReference beyond a day": {bextOf("2026-11-03", "22:04:10", 24*midnight), "n.wav", at(21, 4, 10, 0), "", nil},
		"TimeReference alone":        {bextOf("2026-11-03", "", 22*midnight), "n.wav", at(21, 0, 0, 0), "", nil},
		"TimeReference differs": {bextOf("2026-11-03", "22:04:10", midnight), "n.wav", at(21, 4, 10, 0), "",
			[]string{"its bext chunk gives two times, 22:04:10 and by its TimeReference 01:00:00: the first is taken as its start"}},
		"name says UTC":     {bextOf("2026-11-03", "22:04:10", 0), "20261103T210500Z.wav", at(21, 5, 0, 0), "", nil},
		"name, local clock": {bextOf("2026-11-03", "22:04:10", 0), "20261103T220410.wav", at(21, 4, 10, 0), "", nil},
		"name, 59 s before": {bextOf("2026-11-03", "22:04:10", 0), "20261103T220311.wav", at(21, 4, 10, 0), "", nil},
		"name, 60 s before": {bextOf("2026-11-03", "22:04:10", 0), "20261103T220310.wav", at(21, 4, 10, 0), "",
			[]string{"its name says another start than its bext chunk, 22:03:10 CET and not 22:04:10 CET: that of the chunk is taken"}},
		"name says another": {bextOf("2026-11-03", "22:04:10", 0), "20261103T210410.wav", at(21, 4, 10, 0), "",
			[]string{"its name says another start than its bext chunk, 21:04:10 CET and not 22:04:10 CET: that of the chunk is taken"}},
		"nothing":            {bextOf("", "", 0), "n.wav", time.Time{}, "", nil},
		"zeros":              {bextOf("0000-00-00", "00:00:00", 0), "n.wav", time.Time{}, "", nil},
		"no date":            {bextOf("2026-13-03", "22:04:10", 0), "n.wav", time.Time{}, "", nil},
		"before recordings":  {bextOf("1904-01-01", "22:04:10", 0), "n.wav", time.Time{}, "", nil},
		"cut short":          {chunkOf("bext", make([]byte, 330)), "n.wav", time.Time{}, "", nil},
		"twice that night":   {bextOf("2026-10-25", "02:30:00", 0), "n.wav", time.Time{}, "the 02:30:00 in its bext chunk comes twice that night", nil},
		"none, name has one": {bextOf("", "", 0), "20261103T220410.wav", at(21, 4, 10, 0), "", nil},
	} {
		raw, _ := frames(1, 12)
		for _, file := range [][]byte{
			formOf("RIFF", -1, formatOf(2, 16, 4), test.bext, chunkOf("data", raw)),
			formOf("RIFF", -1, chunkOf("data", raw), test.bext, formatOf(2, 16, 4)),
		} {
			r := openOne(t, put(t, t.TempDir(), test.file, file), Options{Centre: 9_650_000, Zone: zone})
			start := r.Named.Start
			if !r.Origin.IsZero() {
				start = r.Origin
			}
			if !start.Equal(test.want) || r.Named.NoStart != test.why || !slices.Equal(r.Doubts, test.doubts) || !r.Start.IsZero() {
				t.Errorf("%s: %v (%q, %q), want %v (%q, %q)", name, start, r.Named.NoStart, r.Doubts, test.want, test.why, test.doubts)
			}
		}
	}
}
