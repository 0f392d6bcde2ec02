package pluglog

import (
	"bytes"
	"fmt"
	"io"
	"slices"
	"strings"
	"testing"
	"time"
)

// readLog gives the switchings of a log as lines "21:04:10 kettle on", times in UTC.
func readLog(t *testing.T, text string, l Log) []string {
	t.Helper()
	found, _, err := l.Read(strings.NewReader(text))
	if err != nil {
		t.Fatalf("%v\nfrom\n%s", err, text)
	}
	var lines []string
	for _, s := range found {
		lines = append(lines, s.At.Format("15:04:05 ")+s.String())
	}
	return lines
}

// One evening in every way of writing it: the kettle on at 20:04:10 UTC, off at
// 20:06:00. Clocks stand an hour ahead. 1793736250 s is 2026-11-03T20:04:10Z: 20760
// days since 1970 are 1793664000 s, and 72250 s.
func TestReadSwitchings(t *testing.T) {
	cet := time.FixedZone("CET", 3600)
	kettle := Log{Device: "kettle", Threshold: 5, Zone: cet}
	named := Log{Threshold: 5, Zone: cet}
	for name, test := range map[string]struct {
		log  Log
		text string
	}{
		"no header":          {kettle, "2026-11-03T20:04:10Z,on\n2026-11-03T20:06:00Z,off\n"},
		"device, no header":  {named, "kettle,2026-11-03 21:04:10,1\nkettle,2026-11-03 21:06,0\n"},
		"header":             {named, "Time,Device name,State,Power (W)\r\n2026-11-03 21:04:10,kettle,ON,0\r\n2026-11-03 21:06:00,kettle,Off,2000\r\n"},
		"semicolons, German": {named, "\uFEFFZeitpunkt;Gerät;Leistung [W]\n03.11.2026 21:03:00;kettle;0,4\n03.11.2026 21:04:10;kettle;1980,5\n03.11.2026 21:06;kettle;4,99\n"},
		"tabs, an empty one": {named, "\tname\ttime\tstate\n\tkettle\t1793736250\ttrue\n\tkettle\t1793736360\tfalse\n"},
		"milliseconds":       {kettle, "1793736250000;ein\n1793736360000;aus\n"},
		"quotes":             {named, "\"time\",\"device\",\"status\"\n\"2026-11-03 21:04:10\",\"kettle\",\"on\"\n\n\"2026-11-03 21:06\", \"kettle\",\"off\"\n"},
		"said again":         {kettle, "2026-11-03 21:04:10,on\n2026-11-03 21:05,on\n2026-11-03 21:06,off\n2026-11-03 21:07,off\n"},
		"newest first":       {kettle, "2026-11-03 21:07,off\n2026-11-03 21:06,off\n2026-11-03 21:06,on\n2026-11-03 21:04:10,on\n"},
		"kilowatts":          {kettle, "time,energy (kWh),power (kW)\n2026-11-03 21:03,7,0.001\n2026-11-03 21:04:10,7.1,2.0\n2026-11-03 21:06,7.2,0.005\n2026-11-03 21:06,7.2,0.0049\n"},
		"found on":           {kettle, "time,watts\n2026-11-03 21:03,0\n2026-11-03 21:04:10,5.1\n2026-11-03 21:05,5\n2026-11-03 21:06,4.9\n2026-11-03 21:07,5\n"},
	} {
		want := []string{"20:04:10 kettle on", "20:06:00 kettle off"}
		if got := readLog(t, test.text, test.log); !slices.Equal(got, want) {
			t.Errorf("%s: %q, want %q", name, got, want)
		}
	}
}

// A power tells a switching only by its change, a state by itself. Each device has a
// state of its own.
func TestSwitchingsOfSeveralDevices(t *testing.T) {
	log := Log{Threshold: 100, Zone: time.UTC}
	power := "time,device,watt\n2026-11-03 20:00,lamp,120\n2026-11-03 20:00,oven,0\n2026-11-03 20:01,lamp,99\n2026-11-03 20:02,oven,100.5\n"
	if got, want := readLog(t, power, log), []string{"20:01:00 lamp off", "20:02:00 oven on"}; !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
	state := "time,device,state\n2026-11-03 20:00,lamp,off\n2026-11-03 20:01,oven,on\n2026-11-03 20:02,lamp,on\n"
	if got, want := readLog(t, state, log), []string{"20:00:00 lamp off", "20:01:00 oven on", "20:02:00 lamp on"}; !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}

// Every mistake is named with its line, and nothing is read then.
func TestMistakesOfSwitchingLogs(t *testing.T) {
	kettle := Log{Device: "kettle", Threshold: 5, Zone: time.UTC}
	for name, test := range map[string]struct {
		log  Log
		text string
		want []string
	}{
		"several": {Log{Zone: time.UTC}, "time,device,state\nyesterday,oven,on\n2026-11-03 20:00,,perhaps\n2026-11-03 20:00,oven,on\n2026-11-03 20:00,oven\n2026-11-03 20:00,ov\"en,on\n2026-11-03 20:00,ov\x07en,on\n",
			[]string{`line 2: time "yesterday" is no time`, `line 3: state "perhaps"`, "line 3: the device has no name", "line 5: 2 columns", "line 6: ", "line 7: device"}},
		"no device":     {Log{Zone: time.UTC}, "2026-11-03 20:00,on\n", []string{"line 1: no column names the device; name it with --device"}},
		"two devices":   {kettle, "time,device,state\n", []string{"line 1: column 2 names devices"}},
		"no time":       {kettle, "when,state\n2026-11-03 20:00,on\n", []string{"line 1: no time in this line"}},
		"no state":      {kettle, "time,energy (Wh)\n2026-11-03 20:00,7\n", []string{"line 1: no column is called state"}},
		"no state here": {kettle, "2026-11-03 20:00,perhaps\n", []string{"line 1: beside the time"}},
		"two powers":    {kettle, "time,Power A,Power B\n", []string{`line 1: columns "Power A" and "Power B"`}},
		"no power":      {kettle, "time,W\n2026-11-03 20:00,inf\n2026-11-03 20:00,1.2.3\n", []string{`line 2: power "inf"`, `line 3: power "1.2.3"`}},
		"a small time":  {kettle, "time,W\n12345,1\n", []string{`line 2: time "12345" is no Unix time`}},
		"empty":         {kettle, "", []string{"line 1: the log is empty"}},
		"one long line": {kettle, "time,state\n2026-11-03 20:00," + strings.Repeat("x", mostLineBytes), []string{"line 2: a line of more than 65536 bytes"}},
		"open quote":    {kettle, "time,state\n2026-11-03 20:00,\"on\n" + strings.Repeat("2026-11-03 20:00,off\n", 5000), []string{"line 2: a line of more than 65536 bytes, or a quote"}},
	} {
		found, _, err := test.log.Read(strings.NewReader(test.text))
		if err == nil || found != nil {
			t.Errorf("%s: %v, %v; want a mistake and nothing read", name, found, err)
			continue
		}
		for _, want := range test.want {
			if !strings.Contains(err.Error(), want) {
				t.Errorf("%s: no %q in\n%v", name, want, err)
			}
		}
		if n := strings.Count(err.Error(), "\n") + 1; n != len(test.want) {
			t.Errorf("%s: %d mistakes, want %d:\n%v", name, n, len(test.want), err)
		}
	}
	_, _, err := kettle.Read(strings.NewReader("time,W\n" + strings.Repeat("x,y\n", 1000)))
	if n := strings.Count(err.Error(), "\n") + 1; n != mostMistakes+1 || !strings.Contains(err.Error(), "and 1,900 mistakes more") {
		t.Errorf("%d lines of 2000 mistakes, want %d and a word of the rest", n, mostMistakes)
	}
}

// A log of the greatest length is read, a longer one refused.
func TestLengthOfSwitchingLogs(t *testing.T) {
	lines := func(n int) io.Reader {
		var b bytes.Buffer
		for i := range n {
			fmt.Fprintf(&b, "%d,%d\n", 1793736250+i, i/1000%2)
		}
		return &b
	}
	kettle := Log{Device: "kettle", Threshold: 5, Zone: time.UTC}
	if found, _, err := kettle.Read(lines(mostLines)); err != nil || len(found) != mostLines/1000 {
		t.Errorf("%d switchings, %v; want one each 1000 lines", len(found), err)
	}
	if _, _, err := kettle.Read(lines(mostLines + 1)); err == nil || !strings.Contains(err.Error(), "line 1000001: more than 1000000 lines") {
		t.Errorf("%v, want the log refused", err)
	}
}

// Times that clocks showed twice are counted: on 25 October 2026 those in Berlin
// went from 3:00 back to 2:00.
func TestSwitchingsWhileClocksAreSetBack(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	log := Log{Device: "kettle", Zone: berlin}
	found, twice, err := log.Read(strings.NewReader("2026-10-25 01:30,on\n2026-10-25 02:30,off\n2026-10-25 03:30,on\n"))
	if err != nil || twice != 1 || len(found) != 3 || !found[1].At.Equal(time.Date(2026, 10, 25, 0, 30, 0, 0, time.UTC)) {
		t.Errorf("%v, %d twice, %v", found, twice, err)
	}
}

// The order of the lines tells which half of the doubled hour they belong to: behind 02:50 comes
// 02:10 of the second one. Nothing is left to guess then.
func TestOrderTellsTheDoubledHour(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	kettle, named := Log{Device: "kettle", Zone: berlin}, Log{Zone: berlin}
	for what, test := range map[string]struct {
		log   Log
		lines []string // by clocks on 25 October 2026
		want  []string // in UTC
		twice int
	}{
		"in order": {kettle, []string{"01:30,on", "02:10,off", "02:50,on", "02:10,off", "02:50,on", "03:30,off"},
			[]string{"23:30:00 kettle on", "00:10:00 kettle off", "00:50:00 kettle on", "01:10:00 kettle off", "01:50:00 kettle on", "02:30:00 kettle off"}, 0},
		"newest first": {kettle, []string{"03:30,off", "02:50,on", "02:10,off", "02:50,on", "02:10,off", "01:30,on"},
			[]string{"23:30:00 kettle on", "00:10:00 kettle off", "00:50:00 kettle on", "01:10:00 kettle off", "01:50:00 kettle on", "02:30:00 kettle off"}, 0},
		"nothing tells": {kettle, []string{"01:30,on", "02:10,off", "02:50,on", "03:30,off"},
			[]string{"23:30:00 kettle on", "00:10:00 kettle off", "00:50:00 kettle on", "02:30:00 kettle off"}, 2},
		"two devices": {named, []string{"01:30,lamp,on", "02:50,lamp,off", "02:10,oven,on", "03:30,oven,off"},
			[]string{"23:30:00 lamp on", "00:50:00 lamp off", "01:10:00 oven on", "02:30:00 oven off"}, 0},
		"sorted by devices": {named, []string{"01:30,lamp,on", "02:50,lamp,off", "02:20,lamp,on", "04:00,lamp,off", "02:10,oven,on", "03:30,oven,off"},
			[]string{"23:30:00 lamp on", "00:10:00 oven on", "00:50:00 lamp off", "01:20:00 lamp on", "02:30:00 oven off", "03:00:00 lamp off"}, 1},
	} {
		text := "2026-10-25 " + strings.Join(test.lines, "\n2026-10-25 ") + "\n"
		if got := readLog(t, text, test.log); !slices.Equal(got, test.want) {
			t.Errorf("%s: %q, want %q", what, got, test.want)
		}
		if _, twice, err := test.log.Read(strings.NewReader(text)); err != nil || twice != test.twice {
			t.Errorf("%s: %d unsure, want %d: %v", what, twice, test.twice, err)
		}
	}
}

// Whatever a log holds, switchings come in order, each device's on and off by
// turns, with names that can be printed; or there are mistakes and none of them.
func FuzzReadSwitchings(f *testing.F) {
	for _, text := range []string{
		"time,device,state\n2026-11-03 21:04:10,kettle,on\n", "1793736250;2000,5\n1793736251;0\n", "\"a\"\"b\",2026-11-03T20:04:10Z,on",
		"\uFEFFZeit;Gerät;kW\n3.11.2026 21:04;x;1e3\n", "\t\t\n\"\n", "time,W\n1e11,1\n-1,0\n", "a,b\r\n1,2\r\n",
	} {
		f.Add([]byte(text), "kettle")
		f.Add([]byte(text), "")
	}
	f.Fuzz(func(t *testing.T, text []byte, device string) {
		found, twice, err := Log{Device: device, Threshold: 5, Zone: time.UTC}.Read(bytes.NewReader(text))
		if err != nil && len(found) > 0 || twice > 0 {
			t.Fatalf("%d switchings with %v, %d twice in UTC", len(found), err, twice)
		}
		on, known := map[string]bool{}, map[string]bool{}
		for i, s := range found {
			if i > 0 && s.At.Before(found[i-1].At) {
				t.Fatalf("%v after %v", s, found[i-1])
			}
			if known[s.Device] && on[s.Device] == s.On {
				t.Fatalf("%v twice in a row", s)
			}
			if err := checkDevice(s.Device); err != nil {
				t.Fatal(err)
			}
			on[s.Device], known[s.Device] = s.On, true
		}
	})
}
