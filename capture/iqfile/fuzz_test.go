package iqfile

import (
	"bytes"
	"errors"
	"math"
	"slices"
	"testing"
	"time"
)

// checkFuzzed is what must hold whatever a file says: an error has a kind, a
// recording lies within its data.
func checkFuzzed(t *testing.T, list []Recording, size int64, err error) {
	t.Helper()
	if err != nil {
		var whole *Error
		if named := at("read fuzzed", err); !errors.As(named, &whole) || !form.MatchString(named.Error()) {
			t.Fatalf("%q is not one line of WHAT: WHY; WHAT TO DO", named)
		}
		return
	}
	if len(list) == 0 {
		t.Fatal("no error and no recording")
	}
	for i, r := range list {
		var held, before int64 // bytes of the parts; where the part before ends
		for _, p := range r.data.parts {
			if p.start < before || p.size < 0 || p.size > size-p.start {
				t.Fatalf("recording %d: %d bytes at byte %d of %d, behind %d", i, p.size, p.start, size, before)
			}
			held, before = held+p.size, p.start+p.size
		}
		length := r.Samples * r.Datatype.Size()
		switch {
		case r.Samples < 1 || r.offset < 0 || length > held-r.offset:
			t.Fatalf("recording %d: %d samples of %d bytes at byte %d of %d", i, r.Samples, r.Datatype.Size(), r.offset, held)
		case i > 0 && r.data == list[i-1].data && r.offset < list[i-1].offset+list[i-1].Samples*r.Datatype.Size():
			t.Fatalf("recording %d overlaps the one before", i)
		case !(r.Rate >= 1) || math.IsInf(float64(r.Rate), 0) || !(r.Centre >= 0) || r.Dropped < 0:
			t.Fatalf("recording %d: %v at %v, %d dropped", i, r.Rate, r.Centre, r.Dropped)
		case r.Bearing.Deg < 0 || r.Bearing.Deg >= 360:
			t.Fatalf("recording %d: bearing %v", i, r.Bearing)
		}
	}
}

func FuzzMeta(f *testing.F) {
	for _, b := range append(brokenMetas(), brokenCaptures()...) {
		if len(b.lay[b.file]) < 10_000 {
			f.Add(b.lay[b.file], int64(16))
		}
	}
	f.Add([]byte(twoCaptures), int64(len(twoCapturesData)))
	f.Add([]byte(twoCaptures), int64(math.MaxInt64))
	f.Fuzz(func(t *testing.T, meta []byte, size int64) {
		if size < 0 {
			return
		}
		m, err := parseMeta(bytes.NewReader(meta))
		var list []Recording
		if err == nil {
			list, err = m.recordings(stretch{size: size}, Options{})
		}
		checkFuzzed(t, list, size, err)
	})
}

func FuzzArchive(f *testing.F) {
	for _, b := range brokenArchives() {
		if len(b.lay[b.file]) < 100_000 {
			f.Add(b.lay[b.file])
		}
	}
	f.Add(tarOf(member{"n.sigmf-meta", []byte(twoCaptures)}, member{"n.sigmf-data", twoCapturesData}))
	f.Fuzz(func(t *testing.T, file []byte) {
		list, err := readArchive("fuzzed", bytes.NewReader(file), int64(len(file)), Options{})
		checkFuzzed(t, list, int64(len(file)), err)
	})
}

func FuzzWAV(f *testing.F) {
	for _, b := range brokenWaves() {
		f.Add(b.lay[b.file])
	}
	for _, c := range chunkCases() {
		f.Add(c.file)
	}
	raw, _ := frames(1, 12)
	f.Add(formOf("RIFF", -1, formatOf(2, 16, 4), bextOf("2026-11-03", "22:04:10", 1), chunkOf("data", raw)))
	f.Add(waveOf(waveFloat, 32, 48_000, known[CF32LE].raw).bytes())
	f.Fuzz(func(t *testing.T, file []byte) {
		list, err := readWAV("fuzzed", bytes.NewReader(file), int64(len(file)), Options{Centre: 9_650_000, Zone: time.UTC})
		checkFuzzed(t, list, int64(len(file)), err)
	})
}

// FuzzSamples gives any bytes as any datatype: decoding never fails, floats
// that pass are finite.
func FuzzSamples(f *testing.F) {
	for d, k := range known {
		f.Add(string(d), k.raw)
		f.Add(string(d), append(slices.Clone(k.raw), 1, 2)) // no whole sample
	}
	f.Fuzz(func(t *testing.T, name string, raw []byte) {
		d := CI24LE // which no SigMF name says
		if name != string(d) {
			var err error
			if d, err = parseDatatype(name); err != nil {
				checkFuzzed(t, nil, 0, err)
				return
			}
		}
		x := make([]complex64, int64(len(raw))/d.Size())
		d.decode(x, raw)
		r := Reader{recording: Recording{File: "fuzzed", Datatype: d}}
		if err := r.checkFinite(x); err != nil {
			checkFuzzed(t, nil, 0, err)
			return
		}
		back := make([]byte, int64(len(x))*d.Size())
		d.encode(back, x)
		again := make([]complex64, len(x))
		if d.decode(again, back); !slices.Equal(again, x) {
			t.Fatalf("%s: %v came back as %v", d, x, again)
		}
		rounded := d == CI32LE || d == CI32BE || d == CF64LE || d == CF64BE // longer than a float32
		if !rounded && !bytes.Equal(back, raw[:len(back)]) {
			t.Fatalf("%s: % x came back as % x", d, raw, back)
		}
	})
}
