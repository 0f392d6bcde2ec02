package iqfile

import (
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"nightfloor/survey"
)

// twoCaptures is a night of two captures with everything that is used: a header
// of 6 bytes before each, 4 bytes behind, 5 samples lost between, the antenna
// turned between.
const twoCaptures = `{
  "global": {
    "core:datatype": "cu8", "core:version": "1.2.5", "core:sample_rate": 2400000, "core:num_channels": 1,
    "core:trailing_bytes": 4,
    "core:extensions": [
      {"name": "antenna", "version": "1.0.0", "optional": true},
      {"name": "capture_details", "version": "1.0.0", "optional": true},
      {"name": "weather", "version": "1.0.0", "optional": true},
      {"name": "nightfloor", "version": "1.0.0", "optional": false}],
    "antenna:model": "loop", "nightfloor:placement": "attic", "weather:wind": [3, {"gusts": 8}]
  },
  "captures": [
    {"core:sample_start": 0, "core:frequency": 9650000, "core:datetime": "2026-11-03T21:04:10Z",
     "core:global_index": 1000, "core:header_bytes": 6, "capture_details:gain": 32.8},
    {"core:sample_start": 3, "core:frequency": 9650000, "core:datetime": "2026-11-03T22:04:11.25+01:00",
     "core:global_index": 1008, "core:header_bytes": 6}
  ],
  "annotations": [
    {"core:sample_start": 0, "core:sample_count": 1, "core:label": "no azimuth"},
    {"core:sample_start": 1, "antenna:azimuth_angle": 40},
    {"core:sample_start": 2, "antenna:azimuth_angle": 50},
    {"core:sample_start": 4, "antenna:azimuth_angle": -45}
  ]
}`

var twoCapturesData = slices.Concat(
	[]byte("HEADER"), []byte{0, 255, 1, 254, 2, 253},
	[]byte("HEADER"), []byte{3, 252, 4, 251},
	[]byte("TAIL"))

// An azimuth that stands in no annotation is told, once a file; beside one that does it is not.
func TestAzimuthElsewhere(t *testing.T) {
	const note = "antenna:azimuth_angle is read from annotations alone, and stands elsewhere: no bearing is known; give it with --bearing"
	for name, test := range map[string]struct {
		global, capture, annotation string
		told                        bool
	}{
		"nowhere": {}, "global": {global: `"antenna:azimuth_angle": 40,`, told: true}, "capture": {capture: `"antenna:azimuth_angle": 40,`, told: true},
		"annotation": {global: `"antenna:azimuth_angle": 40,`, annotation: `{"core:sample_start": 0, "antenna:azimuth_angle": 40}`},
	} {
		meta := `{"global": {` + test.global + `"core:datatype": "cu8", "core:version": "1.2.5", "core:sample_rate": 2400000},
 "captures": [{"core:sample_start": 0, "core:frequency": 9650000}, {` + test.capture + `"core:sample_start": 2, "core:frequency": 9650000}], "annotations": [` + test.annotation + `]}`
		list, err := Open(putPair(t, t.TempDir(), "turn", meta, []byte{0, 255, 1, 254, 2, 253, 3, 252}), Options{})
		if err != nil || len(list) != 2 {
			t.Fatalf("%s: %d recordings, %v", name, len(list), err)
		}
		if told := slices.Contains(list[0].Doubts, note); told != test.told || slices.Contains(list[1].Doubts, note) {
			t.Errorf("%s: doubts %q and %q", name, list[0].Doubts, list[1].Doubts)
		}
	}
}

func TestCapturesAreRecordingsOfTheirOwn(t *testing.T) {
	path := putPair(t, t.TempDir(), "night", twoCaptures, twoCapturesData)
	list, err := Open(path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for i := range list {
		list[i].data, list[i].offset = nil, 0
	}
	want := []Recording{
		{File: path, Datatype: CU8, Centre: 9_650_000, Rate: 2_400_000,
			Start: time.Date(2026, 11, 3, 21, 4, 10, 0, time.UTC), Samples: 3,
			Antenna: "loop", Placement: "attic", Bearing: survey.BearingOf(40),
			Gain: survey.Gain{DB: 32.8, Known: true, Exact: true}},
		{File: path, Datatype: CU8, Centre: 9_650_000, Rate: 2_400_000,
			Start: time.Date(2026, 11, 3, 21, 4, 11, 250e6, time.UTC), Samples: 2,
			Dropped: (1008 - 1000) - 3, // 8 samples went by in the receiver's stream, 3 were stored
			Antenna: "loop", Placement: "attic", Bearing: survey.BearingOf(315)},
	}
	if len(list) != len(want) {
		t.Fatalf("%d recordings, want %d", len(list), len(want))
	}
	for i := range want {
		if !sameRecording(list[i], want[i]) {
			t.Errorf("capture %d:\n got %+v\nwant %+v", i, list[i], want[i])
		}
	}
}

func sameRecording(a, b Recording) bool {
	doubts := slices.Equal(a.Doubts, b.Doubts)
	start := a.Start.Equal(b.Start) && a.Start.Location() == b.Start.Location()
	a.Doubts, b.Doubts, a.Start, b.Start = nil, nil, time.Time{}, time.Time{}
	return doubts && start && a.File == b.File && a.Member == b.Member &&
		a.Datatype == b.Datatype && a.Centre == b.Centre && a.Rate == b.Rate && a.Samples == b.Samples &&
		a.Dropped == b.Dropped && a.Antenna == b.Antenna && a.Placement == b.Placement &&
		a.Bearing == b.Bearing && a.Gain == b.Gain && a.Simulated == b.Simulated
}

func TestCapturesSkipHeadersAndTail(t *testing.T) {
	list, err := Open(putPair(t, t.TempDir(), "night", twoCaptures, twoCapturesData), Options{})
	if err != nil {
		t.Fatal(err)
	}
	for i, codes := range [][]byte{{0, 255, 1, 254, 2, 253}, {3, 252, 4, 251}} {
		want := make([]complex64, len(codes)/2)
		CU8.decode(want, codes)
		if got := samplesOf(t, list[i]); !slices.Equal(got, want) {
			t.Errorf("capture %d: %v, want %v", i, got, want)
		}
	}
}

// A pair can be named by either file; an archive holds the same recordings, and
// they have the same digest.
func TestPairAndArchiveAreTheSame(t *testing.T) {
	folder := t.TempDir()
	meta := putPair(t, folder, "night", twoCaptures, twoCapturesData)
	packed := put(t, folder, "nights.sigmf", tarOf(
		member{"nights/late.sigmf-data", twoCapturesData}, // data may come first
		member{"nights/readme.txt", []byte("not a recording")},
		member{"nights/late.sigmf-meta", []byte(twoCaptures)},
		member{"nights/early.sigmf-meta", []byte(twoCaptures)},
		member{"nights/early.sigmf-data", twoCapturesData},
	))
	var pair []Recording
	for _, name := range []string{meta, filepath.Join(folder, "night.sigmf-data")} {
		list, err := Open(name, Options{})
		if err != nil {
			t.Fatal(err)
		}
		pair = append(pair, list...)
	}
	archived, err := Open(packed, Options{})
	if err != nil {
		t.Fatal(err)
	}
	members := []string{"nights/early.sigmf-meta", "nights/early.sigmf-meta", "nights/late.sigmf-meta", "nights/late.sigmf-meta"}
	if len(pair) != 4 || len(archived) != 4 {
		t.Fatalf("%d of pairs, %d archived, want 4 of each", len(pair), len(archived))
	}
	digests := map[string]int{}
	for i := range 4 {
		digests[digestOf(t, pair[i])]++
		digests[digestOf(t, archived[i])]++
		if archived[i].Member != members[i] || archived[i].File != packed {
			t.Errorf("recording %d: %s in %s", i, archived[i].Member, archived[i].File)
		}
		if got, want := samplesOf(t, archived[i]), samplesOf(t, pair[i]); !slices.Equal(got, want) {
			t.Errorf("recording %d: %v in the archive, %v in the pair", i, got, want)
		}
	}
	if len(digests) != 2 {
		t.Errorf("%d digests for two captures met four times each: %v", len(digests), digests)
	}
}

func digestOf(t testing.TB, r Recording) string {
	t.Helper()
	d, _, err := r.Digest(r.Start)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// What makes another recording makes another digest; what only names it does
// not.
func TestDigestTellsRecordingsApart(t *testing.T) {
	base := openOne(t, put(t, t.TempDir(), "night.cu8", known[CU8].raw), at31m)
	same := openOne(t, put(t, t.TempDir(), "copy.wav", waveOf(wavePCM, 8, 2_400_000, known[CU8].raw).bytes()), at31m)
	if digestOf(t, base) != digestOf(t, same) {
		t.Error("a copy in another container has another digest")
	}
	named := base
	named.Antenna, named.Bearing = "whip", survey.BearingOf(90)
	if digestOf(t, base) != digestOf(t, named) {
		t.Error("a name changes the digest")
	}
	other := map[string]Recording{
		"centre": openOne(t, put(t, t.TempDir(), "night.cu8", known[CU8].raw), Options{Centre: 6_075_000, Rate: 2_400_000}),
		"rate":   openOne(t, put(t, t.TempDir(), "night.cu8", known[CU8].raw), Options{Centre: 9_650_000, Rate: 250_000}),
		"type":   openOne(t, put(t, t.TempDir(), "night.cs8", known[CU8].raw), at31m),
		"sample": openOne(t, put(t, t.TempDir(), "night.cu8", append([]byte{1}, known[CU8].raw[1:]...)), at31m),
	}
	later := base
	later.Start = time.Date(2026, 11, 3, 21, 0, 0, 0, time.UTC)
	other["start"] = later
	for what, r := range other {
		if digestOf(t, base) == digestOf(t, r) {
			t.Errorf("another %s, the same digest", what)
		}
	}
}

func TestOlderAndOddDescriptions(t *testing.T) {
	const head, tail = `{"global":{"core:datatype":"cu8","core:sample_rate":2.4e6`, `"captures":[{"core:sample_start":0,"core:frequency":9.65e6}]}`
	for name, test := range map[string]struct {
		meta    string
		samples int64
		gain    survey.Gain
	}{
		"extensions as an object":   {head + `,"core:extensions":{"antenna":"v0.9.0","weather":"v0.0.1"}},` + tail, 4, survey.Gain{}},
		"gain in global":            {head + `,"capture_details:gain":0},` + tail, 4, survey.Gain{Known: true, Exact: true}},
		"null fields":               {head + `,"core:sha512":null,"core:extensions":null,"core:offset":null},"annotations":null,` + tail, 4, survey.Gain{}},
		"numbers in other dress":    {head + `},"captures":[{"core:sample_start":1.0e0,"core:frequency":9650000}]}`, 3, survey.Gain{}},
		"first capture begins late": {head + `},"captures":[{"core:sample_start":2,"core:frequency":9650000}]}`, 2, survey.Gain{}},
		"part of a larger whole":    {head + `,"core:offset":1000000},"captures":[{"core:sample_start":1000001,"core:frequency":9650000}]}`, 3, survey.Gain{}},
	} {
		r := openOne(t, putPair(t, t.TempDir(), "night", test.meta, []byte("\x00\x01\x02\x03\x04\x05\x06\x07")), Options{})
		if r.Samples != test.samples || r.Gain != test.gain || r.Centre != 9_650_000 {
			t.Errorf("%s: %+v", name, r)
		}
	}
	r := openOne(t, putPair(t, t.TempDir(), "night", head+`},"captures":[]}`, known[CU8].raw), at31m)
	if r.Samples != 3 {
		t.Errorf("without captures: %d samples, want all 3", r.Samples)
	}
}

// core:dataset names data of another ending beside the description.
func TestDatasetOfAnotherName(t *testing.T) {
	folder := t.TempDir()
	put(t, folder, "night.raw", known[CU8].raw)
	meta := `{"global":{"core:datatype":"cu8","core:sample_rate":2400000,"core:dataset":"night.raw"},"captures":[{"core:sample_start":0,"core:frequency":9650000}]}`
	r := openOne(t, put(t, folder, "night.sigmf-meta", []byte(meta)), Options{})
	if got := samplesOf(t, r); !slices.Equal(got, known[CU8].x) {
		t.Errorf("%v", got)
	}
	packed := put(t, folder, "night.sigmf", tarOf(member{"a/night.raw", known[CU8].raw}, member{"a/night.sigmf-meta", []byte(meta)}))
	if got := samplesOf(t, openOne(t, packed, Options{})); !slices.Equal(got, known[CU8].x) {
		t.Errorf("in the archive: %v", got)
	}
}

// Samples thrown away around a retune are not lost.
func TestRetuneLosesNothing(t *testing.T) {
	meta := `{"global":{"core:datatype":"cu8","core:sample_rate":2400000},"captures":[
		{"core:sample_start":0,"core:frequency":9650000,"core:global_index":0},
		{"core:sample_start":1,"core:frequency":11850000,"core:global_index":500},
		{"core:sample_start":2,"core:frequency":11850000}]}`
	list, err := Open(putPair(t, t.TempDir(), "night", meta, known[CU8].raw), Options{})
	if err != nil {
		t.Fatal(err)
	}
	for i, r := range list {
		if r.Dropped != 0 {
			t.Errorf("capture %d: %d dropped", i, r.Dropped)
		}
	}
}

// The file may change between a look at it and the reading.
func TestFileBecomesShorter(t *testing.T) {
	path := put(t, t.TempDir(), "night.cu8", make([]byte, 1000))
	r := openOne(t, path, at31m)
	if err := os.Truncate(path, 500); err != nil {
		t.Fatal(err)
	}
	_, err := readAll(r)
	wantError(t, "read", err, ErrTruncated, "read "+path+": the file became shorter while it was read: 500 samples were there, it ends after 0; leave the file alone while it is read")
	_, _, err = r.Digest(r.Start)
	wantError(t, "digest", err, ErrTruncated, "read "+path+": the file became shorter while it was read; leave the file alone while it is read")
}

// Whatever fills a description, reading it takes three times the memory of the longest, and no
// more than twice that.
func TestMemoryOfDescriptions(t *testing.T) {
	fill := func(list, one string, most int) string {
		meta := `{"global":{` + goodGlobal + `},"captures":[` + goodCapture + `],"` + list + `":[` + one
		return meta + strings.Repeat(","+one, min(most, (largestMeta-len(meta)-2)/(len(one)+1))-1) + "]}"
	}
	for name, meta := range map[string]string{
		"annotations": fill("annotations", `{"core:sample_start":1e3,"antenna:azimuth_angle":1}`+strings.Repeat(" ", 70), mostAnnotations),
		"empty ones":  fill("annotations", "{}", mostAnnotations),
		"unknown":     fill("of another kind", "{}", largestMeta),
		"one word":    `{"global":{"core:datatype":"` + strings.Repeat("c", largestMeta-100) + `"}}`,
	} {
		var before, on, after runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&before)
		m, err := parseMeta(strings.NewReader(meta))
		runtime.ReadMemStats(&on)
		runtime.GC()
		runtime.ReadMemStats(&after)
		runtime.KeepAlive(m)
		all, stay := (on.TotalAlloc-before.TotalAlloc)>>20, (int64(after.HeapAlloc)-int64(before.HeapAlloc))>>20
		if err != nil || all > 100 || stay > 40 {
			t.Errorf("%s: %d MiB on the way, %d that stay: %v", name, all, stay, err)
		}
	}
}
