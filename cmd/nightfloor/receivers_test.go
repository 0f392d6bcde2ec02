package main

import (
	"encoding/json"
	"path/filepath"
	"strings"
	"testing"
)

// Dongles with one serial are listed by their order, and it is said what to do.
func TestReceiversAlike(t *testing.T) {
	notInShort(t)
	t.Setenv("COLUMNS", "300")
	b := newBench(t, map[string]float64{"whip": 0}, nil, "devices 3", "serial 77 1")
	said, err := b.command("receivers").CombinedOutput()
	if err != nil {
		t.Fatalf("%v %s", err, said)
	}
	lines := strings.Split(strings.TrimSpace(string(said)), "\n")
	if len(lines) != 4 {
		t.Fatalf("%d lines, want one a dongle and one more:\n%s", len(lines), said)
	}
	for i, want := range []string{"rtlsdr:index=0  ", "rtlsdr:serial=77  ", "rtlsdr:index=2  ", "2 dongles have the serial 00000001 and go by their order"} {
		if !strings.HasPrefix(lines[i], want) {
			t.Errorf("%q, want %q", lines[i], want)
		}
	}
	with80 := b.command("receivers")
	with80.Env = append(with80.Environ(), "COLUMNS=80")
	narrow, err := with80.Output()
	if err != nil {
		t.Error(err)
	}
	holdTo(t, filepath.Join("testdata", "columns-80", "receivers.txt"), string(narrow))
	for _, serial := range []string{"serial 77 1", "serial 1 0\nserial 2 1\nserial 3 2"} {
		b.control(t, "devices 3", serial)
		said, err := b.command("receivers").CombinedOutput()
		if alone := strings.Contains(serial, "3 2"); err != nil || strings.Contains(string(said), "may change") == alone {
			t.Errorf("%s: %v %s", serial, err, said)
		}
	}
}

// A dongle that cannot be opened says why, be it another program or a permission.
func TestReceiversThatCannotBeOpened(t *testing.T) {
	notInShort(t)
	b := newBench(t, map[string]float64{"whip": 0}, nil)
	for line, want := range map[string]string{"kernel_driver 1": "in use by another program", "denied 1": "udev rule", "busy 0": ""} {
		b.control(t, line)
		out, err := b.command("receivers", "--json").Output()
		var document receiversDocument
		if err != nil || json.Unmarshal(out, &document) != nil || len(document.Receivers) != 1 || !strings.Contains(string(out), `"cannot_open": `) {
			t.Fatalf("%s: %v %s", line, err, out)
		}
		why := document.Receivers[0].CannotOpen
		if (why == nil) != (want == "") || why != nil && !strings.Contains(*why, want) {
			t.Errorf("%s: %s, want %q", line, out, want)
		}
		said, err := b.command("receivers").CombinedOutput()
		if err != nil || strings.Contains(string(said), "; cannot be opened: ") != (want != "") || !strings.Contains(string(said), want) {
			t.Errorf("%s: %v %s", line, err, said)
		}
	}
}
