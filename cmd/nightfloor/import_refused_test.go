package main

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// An import of many stores what it can, whatever the others are: each of them is refused with
// its reason.
func TestImportOfManyWithBadOnes(t *testing.T) {
	folder := t.TempDir()
	put := func(name string, content []byte) string {
		path := filepath.Join(folder, name)
		if err := os.WriteFile(path, content, 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	noise := make([]byte, 40_000)
	rng := rand.New(rand.NewPCG(1, 1))
	for i := range noise {
		noise[i] = byte(127.5 + 9*rng.NormFloat64())
	}
	// pair writes a recording with the fields given, over those that it has.
	pair := func(name, fields, start string, data []byte) string {
		put(name+".sigmf-data", data)
		return put(name+".sigmf-meta", fmt.Appendf(nil, `{"global":{"core:version":"1.2.5","core:datatype":"cu8","core:sample_rate":48000,"antenna:model":"wire"%s},
			"captures":[{"core:sample_start":0,"core:frequency":9650000,"core:datetime":%q}],"annotations":[]}`, fields, start))
	}
	const start = "2026-11-03T21:04:10Z"
	bad := map[string]string{ // by file
		pair("slow", `,"core:sample_rate":5000`, start, noise):                           "record with 7800 or more",
		pair("short", "", start, noise[:400]):                                            "too short to measure: 200 of the 512 samples (10.7 ms) that it takes; record for longer",
		pair("empty", "", start, nil):                                                    "empty",
		pair("late", "", "9999-12-31T23:59:59Z", noise):                                  "of the year 9999",
		pair("nameless", `,"antenna:model":""`, start, noise):                            "--antenna",
		pair("no-floats", `,"core:datatype":"cf32_le"`, start, make([]byte, 8)):          "too short",
		pair("nan", `,"core:datatype":"cf32_le"`, start, append(notANumber(), noise...)): "not a finite number",
		pair("changed", `,"core:sha512":"`+strings.Repeat("00", 64)+`"`, start, noise):   "core:sha512",
		put("tar.sigmf", noise):                                                          "no tar archive",
		put("bare.cu8", noise):                                                           "--center",
		put("lone.sigmf-meta", []byte("{}")):                                             "core:datatype",
		put("text.wav", []byte("RIFF of a kind")):                                        "no WAV header",
		filepath.Join(folder, "none.sigmf-meta"):                                         "no such file",
		folder + ".cu8":                                                                  "no such file",
	}
	args := []string{"import", "--json", "--db", filepath.Join(folder, "night.db"), pair("good", "", start, noise)}
	for file := range bad {
		args = append(args, file)
	}
	args = append(args, pair("good-2", "", "2026-11-03T21:14:10Z", noise[2:]))
	status, out, errOut := command(t, args...)
	var got struct {
		Stored, Skipped int
		Refused         []struct{ File, Why string }
	}
	if err := json.Unmarshal([]byte(out), &got); err != nil {
		t.Fatalf("status %d, %v: %s", status, err, errOut)
	}
	if status != 1 || got.Stored != 2 || got.Skipped != 0 || len(got.Refused) != len(bad) {
		t.Errorf("status %d, %d stored, %d skipped, %d refused of %d bad ones: %s", status, got.Stored, got.Skipped, len(got.Refused), len(bad), out)
	}
	for _, r := range got.Refused {
		if want, is := bad[r.File]; !is || !strings.Contains(r.Why, want) {
			t.Errorf("%s refused: %s; want %q in it", r.File, r.Why, want)
		}
		line := r.File + ": not imported: " + strings.TrimPrefix(r.Why, "read "+r.File+": ") + "\n"
		faultRow(t, "import of "+filepath.Base(r.File)+" among others", folders.ReplaceAllString(strings.TrimSpace(line), ""), fmt.Sprintf("%d sound ones are stored", got.Stored), status)
		if line = "nightfloor: " + line; !strings.Contains(errOut, line) || !errorLine.MatchString(line) {
			t.Errorf("no line %q that says what to do in: %s", line, errOut)
		}
	}
}

// notANumber is a sample of cf32_le that is none.
func notANumber() []byte { return []byte{0, 0, 0xC0, 0x7F, 0, 0, 0, 0} }
