package main

import (
	"encoding/json"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"nightfloor/capture"
	"nightfloor/capture/instrument"
	"nightfloor/reports/result"
	"nightfloor/store"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

const crossedHalves = "[halves]\nfeed_lines = [\"straight\", \"crossed\"]\nidle = \"50 ohm\"\n"

// feedLines gives those of visits by round, each once.
func feedLines(visits []survey.Visit) (all []string) {
	for _, v := range visits {
		for len(all) < v.Round {
			all = append(all, "")
		}
		if one := v.Wiring.FeedLines; all[v.Round-1] != one {
			all[v.Round-1] += one
		}
	}
	return all
}

// A night whose feed lines a program crosses, broken off in a round and taken up: each round is stored with what was in
// place, the program was told at each change, and the report has two halves.
func TestRecordCrossed(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	relay, told := filepath.Join(folder, "relay"), filepath.Join(folder, "told")
	writeProgram(t, relay, "#!/bin/sh\necho \"$1 $NIGHTFLOOR_FEED_LINES $NIGHTFLOOR_IDLE.$NIGHTFLOOR_CHOKES\" >> "+told+"\n")
	text := strings.NewReplacer(`by = "person"`, `by = "command"`+"\ncommand = [\""+relay+`"]`, "remind = \"1s\"\n", "", "patience = \"10s\"\n", "", "rounds = 2", "rounds = 6").Replace(byHand)
	p, err := plan.Parse([]byte(crossedHalves + text))
	if err != nil {
		t.Fatal(err)
	}
	ctx, log := t.Context(), slog.New(slog.DiscardHandler)
	in, err := instrument.Open(ctx, p, instrument.Options{Log: log})
	if err != nil {
		t.Fatal(err)
	}
	defer in.Receiver.Close()
	database := filepath.Join(folder, "night.db")
	for _, most := range []int{3, 99} { // the first is stopped in round 2, the next makes the rest
		db, err := store.Open(ctx, database)
		if err != nil {
			t.Fatal(err)
		}
		stored := 0
		r := &capture.Recorder{Plan: p, Receiver: in.Receiver, Clock: in.Clock, Changer: in.Changer, Store: db, Log: log, Version: "test",
			Stop: func() bool { return stored >= most }, Stored: func(*survey.Sweep) { stored++ }}
		if r.Resume, _, err = r.Unfinished(ctx, db); err != nil || (r.Resume != nil) != (most == 99) {
			t.Fatal(r.Resume, err)
		}
		if _, err := r.Run(ctx); err != nil {
			t.Fatal(err)
		}
		if err := db.Close(); err != nil {
			t.Fatal(err)
		}
	}
	visits, sweeps := kept(t, database)
	if got, want := feedLines(visits), []string{"straight", "straight", "straight", "crossed", "crossed", "crossed"}; !slices.Equal(got, want) || len(sweeps) != 12 {
		t.Errorf("%q, %d sweeps; want %q", got, len(sweeps), want)
	}
	lines, err := os.ReadFile(told)
	if n := strings.Count(string(lines), "straight 50 ohm.\n"); err != nil || n != 6 || strings.Count(string(lines), "crossed 50 ohm.\n") != 6 {
		t.Errorf("the program was told %q, %v", lines, err)
	}
	status, out, errOut := command(t, "report", "rank", "--format", "json", "--db", database)
	var rank result.Rank
	if err := json.Unmarshal([]byte(out), &rank); err != nil || status != 0 {
		t.Fatalf("status %d, %v, %s", status, err, errOut)
	}
	for _, s := range rank.Segments {
		if !s.Headline() {
			continue
		}
		if len(s.Halves) != 1 || s.Halves[0].Changed != "feed_lines" || s.Halves[0].RoundsFirst != 3 || s.Halves[0].RoundsSecond != 3 || len(s.Halves[0].Setups) != 2 {
			t.Errorf("%+v", s.Halves)
		}
	}
}

// A person is asked to put the feed lines straight and, at half time, to cross them. Who does not answer then leaves them
// as they are, and the data say so.
func TestRecordCrossedByHand(t *testing.T) {
	t.Parallel()
	for _, crosses := range []bool{true, false} {
		t.Run(map[bool]string{true: "answered", false: "not answered"}[crosses], func(t *testing.T) {
			t.Parallel() // it waits, mostly
			p, cmd, database := recordPlanByHand(t, crossedHalves+byHand, "TERM=dumb")
			answer := func(question string) {
				p.Await(t, question)
				p.Await(t, "? for cautions.)")
				p.Types(t, "\n")
			}
			answer("Put the feed lines straight")
			answer("Connect the")
			answer("Connect the")
			if crosses {
				answer("Now cross the feed lines")
			} else {
				p.Await(t, "Now cross the feed lines")
				p.Await(t, "left as it is: feed lines straight")
			}
			answer("Connect the")
			answer("Connect the")
			if err := cmd.Wait(); err != nil {
				t.Fatalf("%v: %s", err, p.Rest())
			}
			want := []string{"straight", "straight"}
			if crosses {
				want[1] = "crossed"
			}
			if visits, _ := kept(t, database); !slices.Equal(feedLines(visits), want) {
				t.Errorf("%q, want %q", feedLines(visits), want)
			}
		})
	}
}
