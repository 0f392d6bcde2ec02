package calibrating

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"os"
	"strings"
	"testing"

	"nightfloor/cmd/nightfloor/console"
	"nightfloor/survey"
)

// What is said at a person's terminal, and that nothing is measured before Enter.
func TestCalibrateAsks(t *testing.T) {
	var said bytes.Buffer
	for _, test := range []struct {
		typed string
		want  string // of the error
	}{{"\n", ""}, {"\r\n", ""}, {"", "nobody pressed Enter"}, {"n\nno\n \n\n", ""}, {"y\n", "nobody pressed Enter"}} {
		said.Reset()
		o := options{kind: survey.CalibrateNoise}
		h := operator{c: console.New(nil, nil, &said), in: bufio.NewReader(strings.NewReader(test.typed))}
		err := h.connect(t.Context(), o.connect())
		if (err == nil) != (test.want == "") || err != nil && !strings.Contains(err.Error(), test.want) {
			t.Errorf("%q: %v", test.typed, err)
		}
		// Anything but an empty line is asked for again.
		if again := strings.Count(said.String(), "is not Enter alone"); again != strings.Count(test.typed, "\n")-1 && test.want == "" || again == 0 && test.typed == "y\n" {
			t.Errorf("%q: asked again %d times: %s", test.typed, again, said.String())
		}
		for _, word := range []string{"terminator (50 Ω)", "never a transmitter", "−10 dBm", "thunder", "bias tee", "Enter"} {
			if !strings.Contains(said.String(), word) {
				t.Errorf("%q is not said: %s", word, said.String())
			}
		}
	}
	// An interrupt ends the waiting.
	o := options{kind: survey.CalibrateNoise}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	reader, writer, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer reader.Close()
	defer writer.Close() // ends the goroutine that waits for a line
	h := operator{c: console.New(nil, nil, &said), in: bufio.NewReader(reader)}
	if err := h.connect(ctx, "it"); !errors.Is(err, context.Canceled) || !strings.HasPrefix(o.failed(ctx, err).Error(), "calibrate noise: stopped by the operator: nothing was stored;") {
		t.Errorf("%v", err)
	}
	// What is wrong is said once, with the command that it was.
	if err := o.failed(t.Context(), errors.New("no terminator; connect one")); err.Error() != "calibrate noise: no terminator; connect one; nothing was stored" {
		t.Errorf("%v", err)
	}
	// The attenuator is asked for even where --yes was said, which was of the beginning.
	h = operator{c: console.New(nil, nil, &said), yes: true, in: bufio.NewReader(strings.NewReader(""))}
	if err := h.connect(t.Context(), "it"); err != nil {
		t.Error(err)
	}
	if err := (&handAttenuator{operator: h}).Put(t.Context(), true); err == nil {
		t.Error("nobody was asked for the attenuator")
	}
	// So is the noise source to be turned on, and not to be turned off, which it is at first.
	said.Reset()
	source := handSource{operator: h}
	if err := source.Turn(t.Context(), false); err != nil || said.Len() != 0 {
		t.Errorf("%v, %q", err, said.String())
	}
	if err := source.Turn(t.Context(), true); err == nil || !strings.Contains(said.String(), "turn the noise source on") {
		t.Errorf("%v, %q", err, said.String())
	}
	// Whoever was asked to turn it on is told at the end to turn it off, and is not waited for.
	if err := source.Turn(t.Context(), false); err != nil || strings.Count(said.String(), "turn the noise source off again") != 1 {
		t.Errorf("%v, %q", err, said.String())
	}
	// It is out at the beginning, and is asked in and out again.
	said.Reset()
	a := handAttenuator{operator: operator{c: console.New(nil, nil, &said), in: bufio.NewReader(strings.NewReader("\n\n"))}}
	for i, in := range []bool{false, true, false} {
		if err := a.Put(t.Context(), in); err != nil {
			t.Error(err)
		}
		if got := strings.Count(said.String(), "Press Enter"); got != i {
			t.Errorf("asked %d times after step %d: %s", got, i, said.String())
		}
	}
	if !strings.Contains(said.String(), "put the attenuator between") || !strings.Contains(said.String(), "take the attenuator out again") {
		t.Errorf("%s", said.String())
	}
	// A generator is set to its second level when it is asked for, with its first nothing is to be done.
	said.Reset()
	g := handGenerator{operator{c: console.New(nil, nil, &said), in: bufio.NewReader(strings.NewReader("\n"))}, -60}
	for _, told := range []survey.DBm{-60, -70} {
		if err := g.Set(t.Context(), told); err != nil {
			t.Error(err)
		}
	}
	if strings.Count(said.String(), "Press Enter") != 1 || !strings.Contains(said.String(), "set the generator to -70 dBm") {
		t.Errorf("%s", said.String())
	}
}
