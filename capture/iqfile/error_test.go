package iqfile

import (
	"bytes"
	"encoding/binary"
	"errors"
	"flag"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"nightfloor/survey"
)

var update = flag.Bool("update", false, "rewrite testdata/errors.txt")

// wantError checks a kind and a text.
func wantError(t *testing.T, what string, err, kind error, text string) {
	t.Helper()
	if !errors.Is(err, kind) {
		t.Errorf("%s: error %v is not %v", what, err, kind)
	}
	if err == nil || err.Error() != text {
		t.Errorf("%s:\n got %v\nwant %s", what, err, text)
	}
}

// A broken is a file that cannot be read, and the kind of error it must give.
type broken struct {
	name string // of the case
	kind error
	file string // to be opened
	lay  map[string][]byte
	o    Options
}

const (
	goodGlobal  = `"core:datatype":"cu8","core:sample_rate":2400000`
	goodCapture = `{"core:sample_start":0,"core:frequency":9650000}`
)

// metaCase is a pair of 8 samples whose description is broken.
func metaCase(name string, kind error, meta string) broken {
	return broken{name: name, kind: kind, file: "n.sigmf-meta", lay: map[string][]byte{
		"n.sigmf-meta": []byte(meta), "n.sigmf-data": make([]byte, 16)}}
}

func globalCase(name string, kind error, fields string) broken {
	return metaCase(name, kind, `{"global":{`+fields+`},"captures":[`+goodCapture+`]}`)
}

func capturesCase(name string, kind error, captures string) broken {
	return metaCase(name, kind, `{"global":{`+goodGlobal+`},"captures":[`+captures+`]}`)
}

func brokenMetas() []broken {
	deep := `{"global":{` + goodGlobal + `,"x":` + strings.Repeat("[", 20_000) + strings.Repeat("]", 20_000) + `}}`
	return []broken{
		metaCase("no JSON", ErrFormat, "RIFF\x00\x00"),
		metaCase("JSON cut off", ErrFormat, "{\n\"global\": {\n\"core:datatype\": \"cu8\""),
		metaCase("JSON of Python's NaN", ErrFormat, "{\"global\":{\n\"core:sample_rate\":NaN}}"),
		metaCase("deep JSON", ErrFormat, deep),
		metaCase("huge description", ErrUnsupported, strings.Repeat(" ", largestMeta+1)),
		metaCase("empty description", ErrFormat, ""),
		metaCase("array at the top", ErrFormat, "[]"),
		metaCase("nothing in global", ErrFormat, "{}"),
		metaCase("captures not an array", ErrFormat, `{"global":{`+goodGlobal+`},"captures":{}}`),
		metaCase("too many annotations", ErrUnsupported, `{"global":{`+goodGlobal+`},"captures":[`+goodCapture+`],"annotations":[`+strings.Repeat("{},", mostAnnotations)+`{}]}`),
		capturesCase("too many captures", ErrUnsupported, strings.Repeat("{},", mostCaptures)+"{}"),
		globalCase("datatype a number", ErrFormat, `"core:datatype":8`),
		globalCase("datatype unknown", ErrFormat, `"core:datatype":"complex<int8>","core:sample_rate":2400000`),
		globalCase("datatype goes on for pages", ErrFormat, `"core:datatype":"`+strings.Repeat("cu8", 5000)+`"`),
		globalCase("datatype real", ErrUnsupported, `"core:datatype":"rf32_le","core:sample_rate":2400000`),
		globalCase("datatype without byte order", ErrFormat, `"core:datatype":"ci16","core:sample_rate":2400000`),
		globalCase("datatype of 24 bits", ErrFormat, `"core:datatype":"ci24_le","core:sample_rate":2400000`),
		globalCase("datatype without sign", ErrUnsupported, `"core:datatype":"cu16_le","core:sample_rate":2400000`),
		globalCase("no rate", ErrNoRate, `"core:datatype":"cu8"`),
		globalCase("rate 0", ErrFormat, `"core:datatype":"cu8","core:sample_rate":0`),
		globalCase("rate negative", ErrFormat, `"core:datatype":"cu8","core:sample_rate":-2400000`),
		globalCase("rate overflows", ErrFormat, `"core:datatype":"cu8","core:sample_rate":1e999`),
		globalCase("two channels", ErrUnsupported, goodGlobal+`,"core:num_channels":2`),
		globalCase("no data", ErrEmpty, goodGlobal+`,"core:metadata_only":true`),
		globalCase("extension compulsory", ErrUnsupported, goodGlobal+`,"core:extensions":[{"name":"crypt","version":"1.0.0","optional":false}]`),
		globalCase("extensions a text", ErrFormat, goodGlobal+`,"core:extensions":"antenna"`),
		globalCase("data outside the folder", ErrFormat, goodGlobal+`,"core:dataset":"../../etc/passwd"`),
		globalCase("data anywhere", ErrFormat, goodGlobal+`,"core:dataset":"/dev/zero"`),
		globalCase("data of another name missing", fs.ErrNotExist, goodGlobal+`,"core:dataset":"other.raw"`),
		globalCase("checksum of another kind", ErrFormat, goodGlobal+`,"core:sha512":"d41d8cd98f00b204"`),
		globalCase("checksum differs", ErrChecksum, goodGlobal+`,"core:sha512":"`+strings.Repeat("0", 128)+`"`),
		globalCase("tail longer than the data", ErrFormat, goodGlobal+`,"core:trailing_bytes":16`),
		globalCase("antenna's name steers the terminal", ErrFormat, goodGlobal+`,"antenna:model":"loop\u001b[2J"`),
		globalCase("gain absurd", ErrFormat, goodGlobal+`,"capture_details:gain":1e10`),
	}
}

func brokenCaptures() []broken {
	start := func(n string) string { return `{"core:frequency":9650000,"core:sample_start":` + n + `}` }
	return []broken{
		capturesCase("no frequency", ErrNoCentre, `{"core:sample_start":0}`),
		capturesCase("second without frequency", ErrNoCentre, goodCapture+`,{"core:sample_start":4}`),
		capturesCase("frequency negative", ErrFormat, `{"core:sample_start":0,"core:frequency":-1}`),
		capturesCase("start negative", ErrFormat, start("-1")),
		capturesCase("start a fraction", ErrFormat, start("1.5")),
		capturesCase("start beyond the data", ErrTruncated, start("8")),
		capturesCase("start huge", ErrTruncated, start("9223372036854775807")),
		capturesCase("start overflows", ErrFormat, start("99999999999999999999999999")),
		capturesCase("start goes on for pages", ErrFormat, start("1"+strings.Repeat("0", 5000))),
		capturesCase("start overflows by exponent", ErrFormat, start("1e308")),
		capturesCase("second beyond the data", ErrTruncated, start("0")+","+start("100")),
		capturesCase("not sorted", ErrFormat, start("4")+","+start("0")),
		capturesCase("twice the same", ErrFormat, start("4")+","+start("4")),
		capturesCase("header longer than the data", ErrTruncated, `{"core:sample_start":0,"core:frequency":1,"core:header_bytes":16}`),
		capturesCase("header overflows", ErrTruncated, `{"core:sample_start":0,"core:frequency":1,"core:header_bytes":9223372036854775807}`),
		capturesCase("time without zone", ErrFormat, `{"core:sample_start":0,"core:frequency":1,"core:datetime":"2026-11-03T21:04:10"}`),
		capturesCase("index negative", ErrFormat, `{"core:sample_start":0,"core:frequency":1,"core:global_index":-5}`),
		metaCase("azimuth a text", ErrFormat, `{"global":{`+goodGlobal+`},"captures":[`+goodCapture+`],"annotations":[{"core:sample_start":0,"antenna:azimuth_angle":"north"}]}`),
		metaCase("azimuth absurd", ErrFormat, `{"global":{`+goodGlobal+`},"captures":[`+goodCapture+`],"annotations":[{"core:sample_start":0,"antenna:azimuth_angle":1e9}]}`),
		metaCase("before the offset", ErrFormat, `{"global":{`+goodGlobal+`,"core:offset":10},"captures":[`+start("9")+`]}`),
	}
}

// one is a single file that is broken.
func one(name string, kind error, file string, content []byte, o Options) broken {
	return broken{name: name, kind: kind, file: file, lay: map[string][]byte{file: content}, o: o}
}

func brokenFiles() []broken {
	good := []byte(`{"global":{` + goodGlobal + `},"captures":[` + goodCapture + `]}`)
	nan := binary.LittleEndian.AppendUint32(make([]byte, 5*8+4), math.Float32bits(float32(math.NaN())))
	// 0.26 is 0x3E851EB8: read the other way round, 0xB81E853E, a harmless −3.8e-5;
	// 0.0156 is 0x3C7F9724 and turns into 0x24977F3C. 1.0000151 is 0x3F80007F: its
	// reversal 0x7F00803F is 1.7e38.
	swapped := binary.BigEndian.AppendUint32(nil, math.Float32bits(0.26))
	swapped = binary.BigEndian.AppendUint32(swapped, math.Float32bits(0.0156))
	swapped = binary.BigEndian.AppendUint32(swapped, 0x3F80007F)
	swapped = binary.BigEndian.AppendUint32(swapped, 0)
	return []broken{
		{name: "missing", kind: fs.ErrNotExist, file: "n.cu8", o: at31m},
		{name: "folder", kind: ErrFormat, file: "n.cu8/", lay: map[string][]byte{"n.cu8/x": nil}, o: at31m},
		one("no ending", ErrUnsupported, "night", good, at31m),
		one("unknown ending", ErrUnsupported, "night.mp3", good, at31m),
		one("collection", ErrUnsupported, "n.sigmf-collection", good, at31m),
		one("description without data", fs.ErrNotExist, "n.sigmf-meta", good, Options{}),
		one("data without description", fs.ErrNotExist, "n.sigmf-data", make([]byte, 16), Options{}),
		{name: "data empty", kind: ErrEmpty, file: "n.sigmf-data", lay: map[string][]byte{"n.sigmf-meta": good, "n.sigmf-data": nil}},
		one("bare without centre and rate", ErrNoCentre, "n.cu8", make([]byte, 16), Options{}),
		one("bare and empty without centre", ErrEmpty, "n.cu8", nil, Options{}),
		one("bare without centre", ErrNoCentre, "n.cu8", make([]byte, 16), Options{Rate: 1e6}),
		one("bare without rate", ErrNoRate, "n.cu8", make([]byte, 16), Options{Centre: 1e6}),
		one("bare and empty", ErrEmpty, "n.cs16", []byte{1, 2, 3}, at31m),
		one("centre not a number", ErrFormat, "n.cu8", make([]byte, 16), Options{Centre: survey.Hz(math.NaN()), Rate: 1e6}),
		one("centre negative", ErrFormat, "n.cu8", make([]byte, 16), Options{Centre: -1, Rate: 1e6}),
		one("rate not a number", ErrFormat, "n.cu8", make([]byte, 16), Options{Centre: 1e6, Rate: survey.Hz(math.Inf(1))}),
		one("WAV named bare", ErrFormat, "n.cu8", waveOf(wavePCM, 8, 48000, make([]byte, 16)).bytes(), at31m),
		one("archive named bare", ErrFormat, "n.cu8", tarOf(member{"n.sigmf-meta", good}), at31m),
		one("float not a number", ErrNotFinite, "n.cf32", nan, at31m),
		one("float in the other byte order", ErrNotFinite, "n.cf32", swapped, at31m),
	}
}

func brokenArchives() []broken {
	good := []byte(`{"global":{` + goodGlobal + `},"captures":[` + goodCapture + `]}`)
	whole := tarOf(member{"a/n.sigmf-meta", good}, member{"a/n.sigmf-data", make([]byte, 4096)})
	damaged := slices.Clone(whole)
	copy(damaged[1024:], "not a header")
	var long []member
	for i := range 5 {
		long = append(long, member{fmt.Sprintf("%d%s", i, strings.Repeat("n", 900_000)), nil})
	}
	gone := []byte(`{"global":{` + goodGlobal + `,"core:dataset":"../../../etc/passwd"},"captures":[` + goodCapture + `]}`)
	return []broken{
		one("no archive", ErrFormat, "n.sigmf", bytes.Repeat([]byte("I/Q "), 300), Options{}),
		one("archive empty", ErrEmpty, "n.sigmf", nil, Options{}),
		one("archive without recordings", ErrEmpty, "n.sigmf", tarOf(member{"readme", []byte("hello")}), Options{}),
		one("archive without data", ErrTruncated, "n.sigmf", tarOf(member{"a/n.sigmf-meta", good}), Options{}),
		one("archive cut off in the data", ErrTruncated, "n.sigmf", whole[:len(whole)-3000], Options{}),
		one("archive cut off in a header", ErrTruncated, "n.sigmf", whole[:1024+100], Options{}),
		one("archive with holes", ErrUnsupported, "n.sigmf", tarWithHoles(), Options{}),
		one("archive of long names", ErrUnsupported, "n.sigmf", tarOf(long...), Options{}),
		one("archive damaged", ErrFormat, "n.sigmf", damaged, Options{}),
		one("archive holds one twice", ErrFormat, "n.sigmf", tarOf(member{"n.sigmf-meta", good}, member{"./n.sigmf-meta", good}), Options{}),
		one("archive reaches outside", ErrFormat, "n.sigmf", tarOf(member{"n.sigmf-meta", gone}), Options{}),
		one("archive with a bad description", ErrFormat, "n.sigmf", tarOf(member{"n.sigmf-meta", []byte("{")}), Options{}),
	}
}

func brokenWaves() []broken {
	wav := func(name string, kind error, spoil func(*wave)) broken {
		w := waveOf(wavePCM, 16, 48_000, make([]byte, 16))
		spoil(&w)
		return one(name, kind, "n.wav", w.bytes(), Options{Centre: 9_650_000})
	}
	pcm := waveOf(wavePCM, 16, 48_000, make([]byte, 16)).bytes()
	return []broken{
		one("bare samples named WAV", ErrFormat, "n.wav", make([]byte, 64), at31m),
		one("WAV of 5 bytes", ErrFormat, "n.wav", []byte("RIFF\x00"), at31m),
		one("WAV cut off in its header", ErrTruncated, "n.wav", pcm[:30], at31m),
		one("WAV cut off before its samples", ErrTruncated, "n.wav", pcm[:40], at31m),
		one("WAV without centre", ErrNoCentre, "n.wav", pcm, Options{}),
		one("WAV without format", ErrFormat, "n.wav", append([]byte("RIFF\x10\x00\x00\x00WAVE"), chunkOf("data", make([]byte, 4))...), at31m),
		one("WAV with a short format", ErrFormat, "n.wav", formOf("RIFF", -1, chunkOf("fmt ", make([]byte, 14)), chunkOf("data", make([]byte, 4))), at31m),
		one("WAV without samples", ErrFormat, "n.wav", append([]byte("RIFF\x10\x00\x00\x00WAVE"), bytes.Repeat(chunkOf("LIST", nil), 2000)...), at31m),
		one("WAV cut off in a chunk before its samples", ErrTruncated, "n.wav", append(slices.Clone(pcm[:36]), "note\xFF\x00\x00\x00private"...), at31m),
		one("WAV damaged before its samples", ErrFormat, "n.wav", append(slices.Clone(pcm[:36]), "\x00\x01\x02\x03\x04\x05\x06\x07\x08"...), at31m),
		wav("WAV big-endian", ErrUnsupported, func(w *wave) { w.form = "RIFX" }),
		wav("WAV mono", ErrUnsupported, func(w *wave) { w.channels, w.align = 1, 2 }),
		wav("WAV of three channels", ErrUnsupported, func(w *wave) { w.channels, w.align = 3, 6 }),
		wav("WAV extensible but short", ErrUnsupported, func(w *wave) { w.tag, w.short = waveExtensible, true }),
		wav("WAV of 64 bits", ErrUnsupported, func(w *wave) { w.bits, w.align = 64, 16 }),
		wav("WAV compressed", ErrUnsupported, func(w *wave) { w.tag = 17 }),
		wav("WAV contradicts itself", ErrFormat, func(w *wave) { w.align = 3 }),
		wav("WAV of a foreign sub-format", ErrUnsupported, func(w *wave) { w.tag, w.sub = waveExtensible, 0x2000 }),
		wav("WAV without rate", ErrFormat, func(w *wave) { w.rate = 0 }),
		wav("WAV empty", ErrEmpty, func(w *wave) { w.length, w.samples = 0, nil }),
	}
}

// form is that of every error: one line, WHAT: WHY; WHAT TO DO.
var form = regexp.MustCompile(`^read [^\n]+: [^\n]+; [^\n]+$`)

// Every fault has a kind, one line and a text of its own; the texts stand in
// testdata/errors.txt.
func TestEveryFaultIsOneClearError(t *testing.T) {
	var golden strings.Builder
	seen := map[string]string{}
	for _, b := range slices.Concat(brokenFiles(), brokenMetas(), brokenCaptures(), brokenArchives(), brokenWaves()) {
		folder := t.TempDir()
		b.write(t, folder)
		err := readWhole(filepath.Join(folder, b.file), b.o)
		var whole *Error
		if !errors.Is(err, b.kind) || !errors.As(err, &whole) {
			t.Errorf("%s: %v is not %v", b.name, err, b.kind)
			continue
		}
		text := strings.ReplaceAll(err.Error(), folder+string(filepath.Separator), "")
		if !form.MatchString(text) {
			t.Errorf("%s: %q is not WHAT: WHY; WHAT TO DO", b.name, text)
		}
		if other, twice := seen[text]; twice {
			t.Errorf("%q and %q have one text: %s", other, b.name, text)
		}
		seen[text] = b.name
		fmt.Fprintf(&golden, "%s\n    %s\n", b.name, text)
	}
	path := filepath.Join("testdata", "errors.txt")
	if *update {
		if err := os.WriteFile(path, []byte(golden.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if golden.String() != string(want) {
		t.Errorf("differs from %s (rewrite with -update):\n%s", path, firstDifference(golden.String(), string(want)))
	}
}

func (b broken) write(t *testing.T, folder string) {
	t.Helper()
	for name, content := range b.lay {
		if err := os.MkdirAll(filepath.Dir(filepath.Join(folder, name)), 0o755); err != nil {
			t.Fatal(err)
		}
		put(t, folder, name, content)
	}
}

// readWhole opens a file and reads all its recordings.
func readWhole(path string, o Options) error {
	list, err := Open(path, o)
	if err != nil {
		return err
	}
	for _, r := range list {
		if _, err := readAll(r); err != nil {
			return err
		}
	}
	return nil
}

func firstDifference(got, want string) string {
	a, b := strings.Split(got, "\n"), strings.Split(want, "\n")
	for i := range a {
		if i >= len(b) || a[i] != b[i] {
			return fmt.Sprintf("line %d:\n got %s\nwant %s", i+1, a[i], strings.Join(b[i:min(i+1, len(b))], ""))
		}
	}
	return "it is shorter"
}
