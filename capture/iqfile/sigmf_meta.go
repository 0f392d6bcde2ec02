package iqfile

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"io"
	"math"
	"nightfloor/survey"
	"strings"
	"time"
)

// Bounds on descriptions. Real ones have a few kilobytes, and some megabytes where
// each signal is annotated; the bounds keep a malicious one from filling the memory
// (TestMemoryOfDescriptions).
const (
	largestMeta     = 16 << 20 // bytes
	mostCaptures    = 1 << 16
	mostAnnotations = 1 << 17
	mostExtensions  = 1 << 10
)

// A sigmfMeta is what we use of a .sigmf-meta file (SigMF 1.2.5). Unknown
// fields are passed over, as the standard asks.
type sigmfMeta struct {
	Global      sigmfGlobal                  `json:"global"`
	Captures    boundedList[sigmfCapture]    `json:"captures"`
	Annotations boundedList[sigmfAnnotation] `json:"annotations"`
}

type sigmfGlobal struct {
	Datatype      string          `json:"core:datatype"`
	SampleRate    *float64        `json:"core:sample_rate"`
	SHA512        *string         `json:"core:sha512"`
	Channels      *json.Number    `json:"core:num_channels"`
	Offset        *json.Number    `json:"core:offset"`
	TrailingBytes *json.Number    `json:"core:trailing_bytes"`
	Dataset       string          `json:"core:dataset"`
	MetadataOnly  bool            `json:"core:metadata_only"`
	Extensions    json.RawMessage `json:"core:extensions"`
	Model         string          `json:"antenna:model"`
	Gain          *float64        `json:"capture_details:gain"`
	Placement     string          `json:"nightfloor:placement"`
	Simulated     bool            `json:"nightfloor:simulated"`
	Azimuth       json.RawMessage `json:"antenna:azimuth_angle"` // belongs in an annotation
}

type sigmfCapture struct {
	SampleStart *json.Number    `json:"core:sample_start"`
	Frequency   *float64        `json:"core:frequency"`
	Datetime    *string         `json:"core:datetime"`
	GlobalIndex *json.Number    `json:"core:global_index"`
	HeaderBytes *json.Number    `json:"core:header_bytes"`
	Gain        *float64        `json:"capture_details:gain"`
	Azimuth     json.RawMessage `json:"antenna:azimuth_angle"` // belongs in an annotation
}

type sigmfAnnotation struct {
	SampleStart *json.Number `json:"core:sample_start"`
	Azimuth     *float64     `json:"antenna:azimuth_angle"`
}

type sigmfExtension struct {
	Name     string `json:"name"`
	Optional *bool  `json:"optional"`
}

func (sigmfCapture) most() int    { return mostCaptures }
func (sigmfAnnotation) most() int { return mostAnnotations }
func (sigmfExtension) most() int  { return mostExtensions }

// A boundedList is a JSON array that is refused where it grows too long, before
// it has filled the memory.
type boundedList[T interface{ most() int }] []T

// UnmarshalJSON reads an array element by element.
func (l *boundedList[T]) UnmarshalJSON(text []byte) error {
	*l = nil
	if string(text) == "null" {
		return nil
	}
	d := json.NewDecoder(bytes.NewReader(text))
	if start, err := d.Token(); err != nil || start != json.Delim('[') {
		return faultf(ErrFormat, "correct the description", "captures and annotations must be arrays")
	}
	for d.More() {
		var one T
		if len(*l) == one.most() {
			return faultf(ErrUnsupported, "split the recording", "more than %d captures or annotations", one.most())
		}
		if err := d.Decode(&one); err != nil {
			return err
		}
		*l = append(*l, one)
	}
	return nil
}

// parseMeta reads a description and checks what can be checked without the
// data.
func parseMeta(r io.Reader) (*sigmfMeta, error) {
	text, err := io.ReadAll(io.LimitReader(r, largestMeta+1))
	if err != nil {
		return nil, err
	}
	if len(text) > largestMeta {
		return nil, faultf(ErrUnsupported, "check that this is a description and not data", "the description is larger than %d MiB", largestMeta>>20)
	}
	var m sigmfMeta
	if err := json.Unmarshal(text, &m); err != nil {
		return nil, jsonFault(err, text)
	}
	return &m, m.check()
}

// jsonFault says in plain words what an error of encoding/json means. text is the description.
func jsonFault(err error, text []byte) error {
	const do = "correct the description or write it anew"
	var known *Error
	if errors.As(err, &known) {
		return known
	}
	var syntax *json.SyntaxError
	if errors.As(err, &syntax) {
		before := text[:min(max(syntax.Offset, 0), int64(len(text)))]
		return faultf(ErrFormat, do, "the description is not JSON: line %d: %s", bytes.Count(before, []byte("\n"))+1, oneLine(syntax.Error()))
	}
	var kind *json.UnmarshalTypeError
	if errors.As(err, &kind) {
		field := cmp.Or(strings.TrimPrefix(kind.Field, "global."), "the description")
		return faultf(ErrFormat, do, "%s cannot be %s", oneLine(field), article(kind.Value))
	}
	return faultf(ErrFormat, do, "the description is not JSON: %s", oneLine(err.Error()))
}

// article puts "a" or "an" before what encoding/json calls a value: "number", "array". A number
// itself, as in "number 1e999", needs none.
func article(kind string) string {
	switch {
	case strings.Contains(kind, " "):
		return oneLine(cut(kind))
	case kind == "array" || kind == "object":
		return "an " + kind
	}
	return "a " + kind
}

// check refuses what the standard tells readers to refuse, and what cannot be read here.
func (m *sigmfMeta) check() error {
	g := &m.Global
	if g.Datatype == "" {
		return faultf(ErrFormat, "add it to the description", "no core:datatype in global: this does not describe a SigMF recording")
	}
	if g.MetadataOnly {
		return faultf(ErrEmpty, "get the recording with its data", "core:metadata_only: the description comes without samples")
	}
	channels, err := whole(g.Channels, "core:num_channels", 1)
	if err != nil {
		return err
	}
	if channels != 1 {
		return faultf(ErrUnsupported, "split it into one recording a channel", "core:num_channels is %d: recordings of one channel can be read", channels)
	}
	return checkExtensions(g.Extensions)
}

// understood are the namespaces whose fields we use.
var understood = map[string]bool{"core": true, "antenna": true, "capture_details": true, "nightfloor": true}

// checkExtensions refuses a recording that says it cannot be understood without
// a namespace that we do not know. Before version 1.0 core:extensions was an
// object that gave each namespace its version; none was compulsory.
func checkExtensions(text json.RawMessage) error {
	if len(text) == 0 || string(text) == "null" || text[0] == '{' {
		return nil
	}
	var list boundedList[sigmfExtension]
	if text[0] != '[' || json.Unmarshal(text, &list) != nil {
		return faultf(ErrFormat, "correct the description", "core:extensions is not an array of objects with name, version and optional")
	}
	for _, x := range list {
		if x.Optional != nil && !*x.Optional && !understood[x.Name] {
			return faultf(ErrUnsupported, "convert the recording to plain SigMF", "the extension %s must be understood to read it, and is not", quoted(x.Name))
		}
	}
	return nil
}

// whole reads a number of samples or bytes; missing gives the value of a field
// that is not there.
func whole(n *json.Number, field string, missing int64) (int64, error) {
	if n == nil {
		return missing, nil
	}
	const do = "correct the description"
	if v, err := n.Int64(); err == nil {
		if v < 0 {
			return 0, faultf(ErrFormat, do, "%s is %d: it cannot be negative", field, v)
		}
		return v, nil
	}
	v, err := n.Float64()
	switch {
	case err != nil || v >= 1<<62:
		return 0, faultf(ErrFormat, do, "%s is %s: larger than any file", field, oneLine(cut(n.String())))
	case v < 0 || v != math.Trunc(v):
		return 0, faultf(ErrFormat, do, "%s is %s: it must be a whole number", field, oneLine(cut(n.String())))
	}
	return int64(v), nil
}

// cut shortens a number that goes on for pages.
func cut(text string) string {
	if len(text) > 40 {
		return text[:40] + "…"
	}
	return text
}

// startOf reads core:datetime. The standard wants Z; an offset from UTC says the
// same and is taken, a time without either could be anywhere.
func startOf(text *string) (time.Time, error) {
	if text == nil {
		return time.Time{}, nil
	}
	t, err := time.Parse(time.RFC3339Nano, *text)
	if err != nil {
		return time.Time{}, faultf(ErrFormat, "write it as 2026-11-03T21:04:10Z", "core:datetime %s is not a time in UTC", quoted(*text))
	}
	return t.UTC(), nil
}

// nameOf reads a name that will stand in tables.
func nameOf(text, field string) (string, error) {
	name := strings.TrimSpace(text)
	if err := survey.CheckPrintable(name); err != nil {
		return "", faultf(ErrFormat, "correct the description", "%s %v", field, err)
	}
	return name, nil
}

// inCapture puts the number of a capture, counted from 0 as the standard does,
// before a fault.
func inCapture(i int, err error) error {
	var known *Error
	if errors.As(err, &known) {
		return faultf(known.Err, known.Do, "capture %d: %s", i, known.Why)
	}
	return err
}
