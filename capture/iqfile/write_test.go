package iqfile

import (
	"bytes"
	"encoding/json"
	"errors"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"nightfloor/survey"
)

var whipMeta = Meta{Datatype: CU8, Rate: 2_400_000, Antenna: "whip", Placement: "attic",
	Bearing: survey.BearingOf(40), Description: "a test", Recorder: "nightfloor"}

// What is written is read back as it was, to half a code.
func TestWriteAndRead(t *testing.T) {
	start := time.Date(2026, 11, 3, 21, 4, 10, 123456789, time.UTC)
	gain := survey.Gain{DB: 32.8, Known: true, Exact: true}
	x := make([]complex64, 20_000) // more than one block of every datatype
	for i := range x {
		x[i] = complex(float32(0.9*math.Cos(float64(i))), float32(0.9*math.Sin(float64(i))))
	}
	for datatype, tolerance := range map[Datatype]float64{CU8: 0.5 / 128, CI8: 0.5 / 128, CI16LE: 0.5 / 32768, CI16BE: 0.5 / 32768, CF32LE: 0, CF32BE: 0} {
		path := filepath.Join(t.TempDir(), "night.sigmf-meta")
		meta := whipMeta
		meta.Datatype, meta.Simulated = datatype, true
		if err := Write(path, meta, Capture{Centre: 9_650_000, Start: start, Gain: gain}, x); err != nil {
			t.Fatal(err)
		}
		r := openOne(t, path, Options{})
		want := Recording{File: path, Datatype: datatype, Centre: 9_650_000, Rate: 2_400_000, Start: start, Samples: int64(len(x)),
			Antenna: "whip", Placement: "attic", Bearing: survey.BearingOf(40), Gain: gain, Simulated: true}
		if !sameRecording(r, want) {
			t.Errorf("%s:\n got %+v\nwant %+v", datatype, r, want)
		}
		for i, v := range samplesOf(t, r) {
			// 1e-7: the codes' levels are exact, x itself is rounded to float32
			if d := v - x[i]; math.Abs(float64(real(d))) > tolerance+1e-7 || math.Abs(float64(imag(d))) > tolerance+1e-7 {
				t.Fatalf("%s: sample %d is %v, want %v ± %g", datatype, i, v, x[i], tolerance)
			}
		}
	}
}

// Two captures, the second after a loss; one begun and left empty is no capture.
func TestWriteCaptures(t *testing.T) {
	path := filepath.Join(t.TempDir(), "night")
	w, err := Create(path, whipMeta, Capture{Centre: 9_650_000, GlobalIndex: ptr(int64(0))})
	if err != nil {
		t.Fatal(err)
	}
	steps := []error{
		w.WriteRaw([]byte{0, 1, 2, 3}),
		w.Begin(Capture{Centre: 1}),
		w.Begin(Capture{Centre: 9_650_000, GlobalIndex: ptr(int64(102))}),
		w.WriteRaw([]byte{4, 5}),
		w.Close(),
	}
	if err := errors.Join(steps...); err != nil {
		t.Fatal(err)
	}
	list, err := Open(path+".sigmf-meta", Options{})
	if err != nil {
		t.Fatal(err)
	}
	// 102 samples went by, 2 were stored: 100 lost
	if len(list) != 2 || list[0].Samples != 2 || list[1].Samples != 1 || list[1].Dropped != 100 {
		t.Errorf("%+v", list)
	}
}

// What the standard asks of a description: required fields, both arrays, only
// declared namespaces, extensions as {name, version, optional}.
func TestWrittenDescriptionConforms(t *testing.T) {
	path := filepath.Join(t.TempDir(), "night.sigmf-meta")
	gain := survey.Gain{DB: 20, Known: true, Exact: true}
	if err := Write(path, whipMeta, Capture{Centre: 9_650_000, Start: time.Unix(0, 0), Gain: gain}, make([]complex64, 10)); err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var top map[string]json.RawMessage
	var parts struct {
		Global                map[string]any
		Captures, Annotations []map[string]any
	}
	if err := errors.Join(json.Unmarshal(text, &top), json.Unmarshal(text, &parts)); err != nil {
		t.Fatal(err)
	}
	if len(top) != 3 || parts.Captures == nil || parts.Annotations == nil {
		t.Errorf("top level has %d keys, want global, captures, annotations:\n%s", len(top), text)
	}
	if g := parts.Global; g["core:datatype"] != "cu8" || g["core:version"] != "1.2.5" || len(g["core:sha512"].(string)) != 128 {
		t.Errorf("global: %v", g)
	}
	if at := parts.Captures[0]["core:datetime"]; at != "1970-01-01T00:00:00.000000000Z" {
		t.Errorf("core:datetime %v", at)
	}
	declared := map[string]bool{"core": true}
	for _, x := range parts.Global["core:extensions"].([]any) {
		x := x.(map[string]any)
		if len(x) != 3 || x["version"] != "1.0.0" || x["optional"] != true {
			t.Errorf("extension %v", x)
		}
		declared[x["name"].(string)] = true
	}
	for _, object := range slices.Concat([]map[string]any{parts.Global}, parts.Captures, parts.Annotations) {
		for field := range object {
			if name, _, _ := strings.Cut(field, ":"); !declared[name] {
				t.Errorf("%s is not declared", field)
			}
		}
	}
	if len(declared) != 4 {
		t.Errorf("declared %v, want core, antenna, capture_details, nightfloor", declared)
	}
}

// A file that is there is not overwritten; half a recording leaves nothing.
func TestWriteOverwritesNothing(t *testing.T) {
	folder := t.TempDir()
	old := put(t, folder, "night.sigmf-data", []byte("old"))
	_, err := Create(filepath.Join(folder, "night"), whipMeta, Capture{})
	wantError(t, "data exists", err, os.ErrExist, "write "+folder+"/night.sigmf-meta: its data file exists; choose another name or remove it")
	if text, _ := os.ReadFile(old); !bytes.Equal(text, []byte("old")) {
		t.Error("the data was touched")
	}
	put(t, folder, "dusk.sigmf-meta", []byte("{}"))
	_, err = Create(filepath.Join(folder, "dusk"), whipMeta, Capture{})
	wantError(t, "description exists", err, os.ErrExist, "write "+folder+"/dusk.sigmf-meta: it exists; choose another name or remove it")

	empty := filepath.Join(folder, "empty")
	err = Write(empty, whipMeta, Capture{}, nil)
	wantError(t, "empty", err, ErrEmpty, "write "+folder+"/empty.sigmf-meta: no sample was written; record for longer")
	err = Write(empty, whipMeta, Capture{Centre: -1}, make([]complex64, 1))
	if !errors.Is(err, ErrFormat) {
		t.Errorf("centre −1 Hz: %v", err)
	}
	if left, _ := filepath.Glob(empty + "*"); len(left) != 0 {
		t.Errorf("left behind: %v", left)
	}
}

// A disk that fills up is an error of the write that meets it, and half a
// recording does not stay.
func TestWriteFails(t *testing.T) {
	folder := t.TempDir()
	w, err := Create(filepath.Join(folder, "night"), whipMeta, Capture{Centre: 1})
	if err != nil {
		t.Fatal(err)
	}
	if err := w.data.Close(); err != nil { // stands for the full disk
		t.Fatal(err)
	}
	want := "write " + folder + "/night.sigmf-meta: file already closed; check that the disk has room and can be written to"
	wantError(t, "write", w.WriteRaw(make([]byte, 2*blockBytes)), os.ErrClosed, want)
	if err := w.Close(); !errors.Is(err, os.ErrClosed) {
		t.Errorf("close: %v", err)
	}
	if left, _ := filepath.Glob(folder + "/*"); len(left) != 0 {
		t.Errorf("left behind: %v", left)
	}
}

// One bit that turns over is noticed, by every capture, before a sample is
// given out.
func TestChecksum(t *testing.T) {
	path := filepath.Join(t.TempDir(), "night.sigmf-meta")
	if err := Write(path, whipMeta, Capture{Centre: 9_650_000}, make([]complex64, 100_000)); err != nil {
		t.Fatal(err)
	}
	data := strings.TrimSuffix(path, metaEnding) + dataEnding
	raw, err := os.ReadFile(data)
	if err != nil {
		t.Fatal(err)
	}
	raw[150_001] ^= 4
	if err := os.WriteFile(data, raw, 0o644); err != nil {
		t.Fatal(err)
	}
	r := openOne(t, path, Options{})
	for range 2 {
		reader, err := r.Open()
		if reader != nil || !errors.Is(err, ErrChecksum) {
			t.Fatalf("reader %v, error %v; want none and %v", reader, err, ErrChecksum)
		}
		if _, err := r.Digest(); !errors.Is(err, ErrChecksum) {
			t.Fatalf("digest: %v, want %v", err, ErrChecksum)
		}
	}
}
