package turn

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"math"
	"net"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"pgregory.net/rapid"

	"nightfloor/capture"
	"nightfloor/survey"
	"nightfloor/survey/plan"
)

// A mast is a rotator of the test's own behind a rotctld of its own. It moves
// from reading to reading, not by the clock.
type mast struct {
	address string

	mu          sync.Mutex
	at, goal    float64
	step        float64                                      // degrees that it turns between two readings
	path        []float64                                    // where it is at the next readings, whatever its goal
	name        func(float64) float64                        // how it names where it is; nil: as it is
	answer      func(command string) (reply string, ok bool) // comes before the rotator's own; a reply that ends in cut closes the line
	heard       []string
	connections int
}

const cut = "\x00"

// raise listens for as long as the test goes on.
func (m *mast) raise(t *testing.T) *mast {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { listener.Close() })
	m.address, m.goal = listener.Addr().String(), m.at
	go func() {
		for {
			conn, err := listener.Accept()
			if err != nil {
				return
			}
			m.mu.Lock()
			m.connections++
			m.mu.Unlock()
			go m.serve(conn)
		}
	}()
	return m
}

func (m *mast) serve(conn net.Conn) {
	defer conn.Close()
	for in := bufio.NewScanner(conn); in.Scan(); {
		text, closes := strings.CutSuffix(m.reply(strings.TrimPrefix(in.Text(), `+\`)), cut)
		if _, err := conn.Write([]byte(text)); err != nil || closes {
			return
		}
	}
}

func (m *mast) reply(command string) string {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.heard = append(m.heard, command)
	if m.answer != nil {
		if reply, ok := m.answer(command); ok {
			return reply
		}
	}
	word, _, _ := strings.Cut(command, " ")
	switch word {
	case "set_pos":
		fmt.Sscanf(command, "set_pos %f", &m.goal)
		return command[:7] + ":" + command[7:] + "\nRPRT 0\n"
	case "stop":
		m.goal, m.path = m.at, nil
		return "stop:\nRPRT 0\n"
	case "get_pos":
		if len(m.path) > 0 {
			m.at, m.path = m.path[0], m.path[1:]
		} else {
			m.at += max(-m.step, min(m.step, m.goal-m.at))
		}
		named := m.at
		if m.name != nil {
			named = m.name(named)
		}
		return fmt.Sprintf("get_pos:\nAzimuth: %.2f\nElevation: 0.00\nRPRT 0\n", named)
	}
	return "" // as the daemon does with what it does not know
}

// sent gives the commands of a kind that were heard.
func (m *mast) sent(kind string) []string {
	m.mu.Lock()
	defer m.mu.Unlock()
	return slices.DeleteFunc(slices.Clone(m.heard), func(c string) bool { return !strings.HasPrefix(c, kind) })
}

// rotator turns the loop. Its client is quick, yet no slow machine makes it
// give up: a test that wants that shortens what it wants to pass.
func rotator(address string) *Rotator {
	return &Rotator{
		Rotator: plan.Rotator{Address: address, Antennas: []string{"loop"}, High: 360, Tolerance: 3, TimeOut: time.Minute},
		Log:     slog.New(slog.DiscardHandler),
		timing: &timing{exchange: 30 * time.Second, pause: time.Millisecond, patience: 30 * time.Second,
			poll: time.Millisecond, stall: 30 * time.Second, rest: 30 * time.Second, lastStop: 30 * time.Second},
	}
}

func always(string) bool { return true }

func toward(bearing float64) survey.Setup {
	return survey.Setup{Antenna: "loop", Placement: "attic", Bearing: survey.BearingOf(bearing)}
}

// arrives lets a rotator turn to a bearing and wants it to stand there.
func arrives(t *testing.T, r *Rotator, bearing, exact float64) {
	t.Helper()
	got, err := r.Change(t.Context(), toward(bearing))
	if err != nil || got.Setup != toward(bearing) || got.Said != "" || math.Abs(got.Bearing.Deg-exact) > 0.006 { // replies have two digits
		t.Errorf("asked for %v°: %+v, %v; want it at %v°", bearing, got, err, exact)
	}
}

func TestTurnsUntilItRests(t *testing.T) {
	m := (&mast{at: 10, step: 2}).raise(t)
	r := rotator(m.address)
	r.Zero = 90
	arrives(t, r, 145.5, 145.5)
	if sent := m.sent("set_pos"); !slices.Equal(sent, []string{"set_pos 55.50 0"}) || m.at != 55.5 {
		t.Error(sent, m.at)
	}
	// It comes to rest 2.25° early, which its tolerance allows; the reading is kept.
	m.step, m.path = 0, []float64{55.5, 56, 58, 62, 64, 65.5, 66.5, 67, 67.25}
	m.answer = func(c string) (string, bool) {
		if c == "get_pos" && len(m.path) == 0 {
			m.goal = m.at
		}
		return "", false
	}
	arrives(t, r, 159.5, 157.25)
}

// Neither passing the goal, nor turning round beyond it, nor standing near it
// before the motor starts is arriving.
func TestArrivesOnce(t *testing.T) {
	for what, path := range map[string][]float64{
		"runs past and returns": {0, 30, 60, 68, 70, 74, 77, 77.1, 75, 72, 70.5, 70.5, 70.5},
		"starts late":           {68, 68, 68, 68, 69, 70.5, 70.5, 70.5},
		"slowly":                {67.1, 67.25, 67.4, 67.55, 67.7, 67.85, 68, 68.15, 70.5, 70.5, 70.5},
		// Two readings half a second apart of one that turns 1° a second.
		"in whole degrees": {66, 67, 67, 68, 68, 69, 69, 70, 70, 70, 71, 71, 70, 70, 70, 70},
	} {
		m := (&mast{path: path}).raise(t)
		arrives(t, rotator(m.address), 70, path[len(path)-1])
		if len(m.path) != 0 {
			t.Errorf("%s: not waited for are %v", what, m.path)
		}
	}
}

// In earnest the readings that say that it rests span 1 s, of whole degrees 1.5 s.
func TestRestsLongEnough(t *testing.T) {
	if fine, whole := (restFine-1)*usualTiming.poll, (restWhole-1)*usualTiming.poll; fine != time.Second || whole != 1500*time.Millisecond {
		t.Error(fine, whole)
	}
	// 1° a second, in whole degrees, asked for 20°: from 17° on within the tolerance.
	m, readings := &mast{at: 10, goal: 10}, 0
	m.name = math.Floor
	m.answer = func(c string) (string, bool) {
		if m.step = 0.5; c == "get_pos" {
			readings++
		}
		return "", false
	}
	arrives(t, rotator(m.raise(t).address), 20, 20)
	// The first does not move it; 20 more do, and 3 say that it stays.
	if m.at != 20 || readings != 1+20+3 {
		t.Errorf("taken for still at %v after %d readings", m.at, readings)
	}
}

// One that rests between two whole degrees, and names now the one, now the other,
// is there.
func TestFlickersAtItsRest(t *testing.T) {
	readings := 0
	m := &mast{at: 60, step: 4, name: func(a float64) float64 { readings++; return a + float64(readings%2) }}
	r := rotator(m.raise(t).address)
	got, err := r.Change(t.Context(), toward(70))
	if err != nil || got.Setup != toward(70) || got.Said != "" || m.at != 70 || readings < restFlicker {
		t.Errorf("%+v, %v after %d readings", got, err, readings)
	}
}

func TestReady(t *testing.T) {
	m := (&mast{at: 33}).raise(t)
	if err := rotator(m.address).Ready(t.Context()); err != nil || !slices.Equal(m.heard, []string{"get_pos"}) {
		t.Error(err, m.heard)
	}
	m = (&mast{answer: func(string) (string, bool) { return "get_pos:\nRPRT -5\n", true }}).raise(t)
	for address, want := range map[string]string{
		m.address:     "RPRT -5, the rotator does not answer; see whether the rotator is switched on",
		"127.0.0.1:1": "; start rotctld -m MODEL -r DEVICE -T 127.0.0.1 -t 1 there",
	} {
		r := rotator(address)
		r.timing.patience = 20 * time.Millisecond
		err := r.Ready(t.Context())
		if err == nil || errors.Is(err, capture.ErrNotReached) || !strings.HasPrefix(err.Error(), "rotator at "+address+": ") || !strings.Contains(err.Error(), want) {
			t.Errorf("%v; want %q", err, want)
		}
	}
	if tried := len(m.sent("get_pos")); tried < 2 {
		t.Error("it was not asked again")
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if err := rotator("127.0.0.1:1").Ready(ctx); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
}

func TestWhatItDoesNotTurn(t *testing.T) {
	whip := survey.Setup{Antenna: "whip", Placement: "garden", Bearing: survey.BearingOf(500)}
	got, err := rotator("127.0.0.1:1").Change(t.Context(), whip) // nothing listens there
	if err != nil || got != (capture.Reached{Setup: whip}) {
		t.Error(got, err)
	}
	m := (&mast{at: 33}).raise(t)
	r := rotator(m.address)
	r.Zero = -40
	stays := survey.Setup{Antenna: "loop", Placement: "attic"}
	got, err = r.Change(t.Context(), stays)
	if err != nil || got != (capture.Reached{Setup: stays, Bearing: survey.BearingOf(353)}) || !slices.Equal(m.heard, []string{"get_pos"}) {
		t.Error(got, err, m.heard)
	}
}

func TestStandsElsewhere(t *testing.T) {
	refuses := func(c string) (string, bool) { return "RPRT -1\n", strings.HasPrefix(c, "set_pos") }
	for what, test := range map[string]struct {
		mast  *mast
		half  bool
		short func(*Rotator)
		want  float64
		said  string
		sent  int // orders
	}{
		"it stalls": {mast: &mast{path: []float64{0, 12, 25, 41.3}, step: 0}, want: 41.3, sent: 2,
			short: func(r *Rotator) { r.timing.stall = 60 * time.Millisecond },
			said:  "asked for 070°, stands at 041.3° and does not move"},
		"it lies": {mast: &mast{at: 200}, want: 200, sent: 2,
			short: func(r *Rotator) { r.timing.stall = 60 * time.Millisecond },
			said:  "asked for 070°, stands at 200° and does not move"},
		// 200° is the plane of 020°, nearer to 070° by 180°.
		"a loop that stalls": {mast: &mast{at: 200}, half: true, want: 20, sent: 2,
			short: func(r *Rotator) { r.timing.stall = 60 * time.Millisecond },
			said:  "asked for 070°, stands at 020° and does not move"},
		"it refuses": {mast: &mast{at: 200.6, answer: refuses}, want: 200.6, sent: 1,
			said: "asked for 070°, stands at 200.6° and rotctld refuses azimuth 70.00: RPRT -1, invalid parameter"},
	} {
		m := test.mast.raise(t)
		r := rotator(m.address)
		r.HalfTurn = func(string) bool { return test.half }
		if test.short != nil {
			test.short(r)
		}
		got, err := r.Change(t.Context(), toward(70))
		want := capture.Reached{Setup: toward(math.Round(test.want)), Bearing: survey.BearingOf(test.want), Said: test.said}
		if err != nil || got.Setup != want.Setup || got.Said != want.Said || math.Abs(got.Bearing.From(want.Bearing)) > 0.006 {
			t.Errorf("%s: %+v, %v; want %+v", what, got, err, want)
		}
		if orders, stops := m.sent("set_pos"), m.sent("stop"); len(orders) != test.sent || len(stops) != 1 {
			t.Errorf("%s: %v, %v", what, orders, stops)
		}
	}
}

// An order that came to nothing is given once more, and then has time.
func TestOrderIsLost(t *testing.T) {
	m, readings := &mast{}, 0
	m.answer = func(c string) (string, bool) {
		switch {
		case c == "get_pos" && m.goal == 70:
			if readings++; readings == 4 {
				m.step = 20
			}
		case strings.HasPrefix(c, "set_pos") && len(m.heard) == 2: // after get_pos
			return "set_pos:\nRPRT 0\n", true
		}
		return "", false
	}
	m.raise(t)
	r := rotator(m.address)
	r.timing.stall = 2 * time.Second // 4 readings take some milliseconds
	arrives(t, r, 70, 70)
	if orders := m.sent("set_pos"); len(orders) != 2 {
		t.Error(orders)
	}
}

// One that misses a narrow tolerance by less than what bearings are rounded to
// is not in place.
func TestMissesByLittle(t *testing.T) {
	m := (&mast{at: 70.4}).raise(t)
	r := rotator(m.address)
	r.Tolerance, r.timing.stall = 0.3, 20*time.Millisecond
	got, err := r.Change(t.Context(), toward(70))
	if err != nil || got.Setup == toward(70) || math.Abs(got.Setup.Bearing.Deg-70.4) > 0.006 {
		t.Error(got, err)
	}
}

func TestTimeOut(t *testing.T) {
	m := (&mast{step: 0.5}).raise(t)
	r := rotator(m.address)
	r.TimeOut = 30 * time.Millisecond
	got, err := r.Change(t.Context(), toward(300))
	if err != nil || got.Setup == toward(300) || math.Abs(got.Bearing.Deg-m.at) > 0.006 || m.at == 0 || m.at == 300 || len(m.sent("stop")) != 1 ||
		!strings.HasSuffix(got.Said, "where it was stopped after 30ms") {
		t.Error(got, err, m.at)
	}
	// It knows no stop, and goes round for ever.
	m = &mast{}
	m.answer = func(c string) (string, bool) {
		m.goal, m.step = m.at+5, 5
		if m.at > 350 {
			m.at = 0
		}
		return "stop:\nRPRT -4\n", c == "stop"
	}
	m.raise(t)
	r = rotator(m.address)
	r.TimeOut, r.timing.rest = 30*time.Millisecond, 20*time.Millisecond
	got, err = r.Change(t.Context(), toward(300))
	if !errors.Is(err, capture.ErrNotReached) || !strings.Contains(err.Error(), "does not come to rest within 20ms") || !strings.Contains(err.Error(), m.address) {
		t.Error(got, err)
	}
}

func TestCannotBeAsked(t *testing.T) {
	every := func(reply string) func(string) (string, bool) {
		return func(string) (string, bool) { return reply, true }
	}
	for what, test := range map[string]struct {
		answer func(string) (string, bool)
		want   string
	}{
		"silence":            {every(""), "no answer to get_pos within 40ms; see whether"},
		"garbage":            {every("\xff\xfeSSH-2.0\n"), "not rotctld's way; see whether"},
		"cut in mid-reply":   {every("get_pos:\nAzimuth: 10.0" + cut), "closed before get_pos was answered; see whether"},
		"the rotator is off": {every("get_pos:\nRPRT -5\n"), "RPRT -5, the rotator does not answer; see whether"},
		"no position":        {every("get_pos:\nRPRT -11\n"), "RPRT -11, not available; see whether"},
		"silence on its way": {func(c string) (string, bool) { return "", c == "stop" || strings.HasPrefix(c, "set_pos") },
			"no answer to set_pos within 40ms; see whether"},
	} {
		m := (&mast{answer: test.answer}).raise(t)
		r := rotator(m.address)
		r.timing.patience = 20 * time.Millisecond
		if strings.HasPrefix(what, "silence") {
			r.timing.exchange = 40 * time.Millisecond
		}
		got, err := r.Change(t.Context(), toward(70))
		for err != nil && strings.Contains(err.Error(), "i/o timeout") { // a busy machine was slow to connect
			r.timing.exchange *= 2
			got, err = r.Change(t.Context(), toward(70))
		}
		test.want = strings.Replace(test.want, "40ms", r.timing.exchange.String(), 1)
		if !errors.Is(err, capture.ErrNotReached) || !strings.Contains(err.Error(), "rotator at "+m.address+": ") || !strings.Contains(err.Error(), test.want) || got != (capture.Reached{}) {
			t.Errorf("%s: %+v, %v; want %q", what, got, err, test.want)
		}
		if orders, stops := len(m.sent("set_pos")) > 0, len(m.sent("stop")) > 0; orders != stops {
			t.Errorf("%s: an order was given: %v, and taken back: %v", what, orders, stops)
		}
	}
	r := rotator("127.0.0.1:1")
	r.timing.patience = 20 * time.Millisecond
	_, err := r.Change(t.Context(), toward(70))
	if !errors.Is(err, capture.ErrNotReached) || !strings.Contains(err.Error(), "start rotctld -m MODEL -r DEVICE -T 127.0.0.1 -t 1 there") {
		t.Error(err)
	}
}

// What fails for a while is tried again, each time over a new connection.
func TestFailsForAWhile(t *testing.T) {
	for what, failure := range map[string]string{
		"cut in mid-reply": "get_pos:\nAzimuth: 10.0" + cut, "two replies": "get_pos:\nAzimuth: 1e5\nRPRT 0\nget_pos:\nAzimuth: 70\nRPRT 0\n", "off": "RPRT -6\n",
	} {
		m, turn := &mast{step: 7}, 0
		m.answer = func(string) (string, bool) {
			turn++
			return failure, turn%3 == 0
		}
		m.raise(t)
		arrives(t, rotator(m.address), 70, 70)
		if failed := turn / 3; failed < 3 || m.connections != failed+1 {
			t.Errorf("%s: %d failures, %d connections", what, failed, m.connections)
		}
	}
}

// A second reply after the first belongs to nothing that was asked.
func TestSaysMoreThanAsked(t *testing.T) {
	m := &mast{step: 7}
	m.answer = func(c string) (string, bool) {
		return "get_pos:\nAzimuth: 70.00\nRPRT 0\nget_pos:\nAzimuth: 33.00\nRPRT 0\n", c == "get_pos"
	}
	m.raise(t)
	arrives(t, rotator(m.address), 70, 70)
	if m.connections < 3 {
		t.Error(m.connections)
	}
}

func TestEndsWithTheProgram(t *testing.T) {
	for what, silent := range map[string]bool{"between readings": false, "in mid-exchange": true} {
		ctx, cancel := context.WithCancel(t.Context())
		defer cancel()
		m, polls := &mast{step: 0.6}, 0
		m.answer = func(c string) (string, bool) {
			if c != "get_pos" {
				return "", false
			}
			if polls++; polls == 10 {
				cancel()
			}
			return "", silent && polls >= 10
		}
		m.raise(t)
		_, err := rotator(m.address).Change(ctx, toward(300))
		if !errors.Is(err, context.Canceled) || errors.Is(err, capture.ErrNotReached) || m.heard[len(m.heard)-1] != "stop" || m.goal == 300 {
			t.Errorf("%s: %v, %v", what, err, m.heard)
		}
	}
	// One that was not turned is not stopped.
	ctx, cancel := context.WithCancel(t.Context())
	m := &mast{answer: func(string) (string, bool) { cancel(); return "", true }}
	m.raise(t)
	if _, err := rotator(m.address).Change(ctx, toward(300)); !errors.Is(err, context.Canceled) || len(m.sent("stop")) != 0 {
		t.Error(err, m.heard)
	}
}

func TestPlaces(t *testing.T) {
	unseen := math.NaN()
	for _, test := range []struct{ low, high, last, named, want float64 }{
		{0, 360, unseen, -90, 270},
		{0, 360, unseen, 370, 10},
		{-180, 180, unseen, 270, -90},
		{0, 450, unseen, 10, 10}, // or 370: taken by its name
		{0, 450, unseen, 370, 370},
		{0, 450, 365, 10, 370},
		{0, 450, 15, 10, 10},
		{0, 450, 15, 370, 370}, // moved by hand: 370 is no name of 10 where both exist
		{0, 450, 300, -90, 270},
		{0, 360, 2, 359, -1},       // 3° beyond an end are the tolerance, not a turn
		{0, 360, 358, 1, 361},      //
		{0, 360, 300, 359, 359},    //
		{0, 180, unseen, 270, 270}, // turned by hand to where it may not be sent
		{0, 180, 20, -90, -90},
	} {
		r := rotator("")
		r.Low, r.High, r.at, r.seen = test.low, test.high, test.last, !math.IsNaN(test.last)
		if got := r.withinRange(test.named); got != test.want {
			t.Errorf("%+v: %v", test, got)
		}
	}
}

func TestNamesOfPlaces(t *testing.T) {
	half := func(a float64) float64 { return math.Remainder(a, 360) }
	whole := func(a float64) float64 { return survey.BearingOf(a).Deg }
	for what, test := range map[string]struct {
		low, high float64
		stands    float64
		name      func(float64) float64
		asked     []float64
		sent      []string
	}{
		"half turns for whole ones": {0, 360, 270, half, []float64{280, 350}, []string{"set_pos 280.00 0", "set_pos 350.00 0"}},
		"whole turns for half ones": {-180, 180, -90, whole, []float64{280, 10}, []string{"set_pos -80.00 0", "set_pos 10.00 0"}},
		// From 350 the way to 20 is on to 380; from there 10 is 370, 20 is where it stands, 100 is far.
		"450°":          {0, 450, 350, nil, []float64{20, 10, 100}, []string{"set_pos 380.00 0", "set_pos 370.00 0", "set_pos 100.00 0"}},
		"450°, unnamed": {0, 450, 350, whole, []float64{20, 10, 80}, []string{"set_pos 380.00 0", "set_pos 370.00 0", "set_pos 440.00 0"}},
		"360°, no wrap": {0, 360, 350, nil, []float64{20}, []string{"set_pos 20.00 0"}},
		"370 for 10":    {0, 360, 10, func(a float64) float64 { return a + 360 }, []float64{30}, []string{"set_pos 30.00 0"}},
	} {
		m := (&mast{at: test.stands, step: 15, name: test.name}).raise(t)
		r := rotator(m.address)
		r.Low, r.High = test.low, test.high
		for _, asked := range test.asked {
			if got, err := r.Change(t.Context(), toward(asked)); err != nil || got.Setup != toward(asked) || got.Said != "" {
				t.Errorf("%s: %+v, %v", what, got, err)
			}
		}
		if sent := m.sent("set_pos"); !slices.Equal(sent, test.sent) {
			t.Errorf("%s: %v, want %v", what, sent, test.sent)
		}
	}
}

func TestHalfTurns(t *testing.T) {
	m := (&mast{at: 10, step: 15}).raise(t)
	r := rotator(m.address)
	r.Low, r.High, r.HalfTurn = -180, 180, always
	arrives(t, r, 170, 170) // −10, by 20°; 170 would be by 160°
	arrives(t, r, 350, 350) // the same plane: it stays
	arrives(t, r, 100, 100) // −80 by 70°, not 100 by 110°
	arrives(t, r, 90, 90)   // −90
	arrives(t, r, 300, 300) // −60
	want := []string{"set_pos -10.00 0", "set_pos -10.00 0", "set_pos -80.00 0", "set_pos -90.00 0", "set_pos -60.00 0"}
	if sent := m.sent("set_pos"); !slices.Equal(sent, want) {
		t.Errorf("%v, want %v", sent, want)
	}
}

func TestTargets(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		turn := rapid.SampledFrom([]float64{180, 360}).Draw(t, "turn")
		r := &Rotator{HalfTurn: func(string) bool { return turn == 180 }}
		r.Low = rapid.Float64Range(-360, 500).Draw(t, "low")
		r.High = r.Low + rapid.Float64Range(1, 540).Draw(t, "width")
		r.Zero = rapid.Float64Range(-359, 359).Draw(t, "zero")
		asked, stands := toward(rapid.Float64Range(0, 360).Draw(t, "asked")), rapid.Float64Range(r.Low, r.High).Draw(t, "stands")
		got, ok := r.target(asked, stands)
		if !ok {
			if r.High-r.Low >= turn {
				t.Fatalf("nothing from %v to %v", r.Low, r.High)
			}
			return
		}
		// 1e-5 leaves room for the arithmetic.
		if miss := math.Remainder(got+r.Zero-asked.Bearing.Deg, turn); got < r.Low || got > r.High || math.Abs(miss) > 1e-5 {
			t.Fatalf("%v serves another bearing by %v", got, miss)
		}
		for _, other := range []float64{got - turn, got + turn} {
			if other > r.Low+1e-5 && other < r.High-1e-5 && math.Abs(other-stands) < math.Abs(got-stands)-1e-5 {
				t.Fatalf("%v is nearer to %v than %v", other, stands, got)
			}
		}
	})
}

func TestOutOfReach(t *testing.T) {
	r := rotator("127.0.0.1:1") // not asked
	r.Low, r.High, r.Zero = 0, 270, 20
	setups := []survey.Setup{toward(20), toward(300), toward(10), toward(290), {Antenna: "loop", Placement: "attic"}, {Antenna: "whip", Placement: "attic", Bearing: survey.BearingOf(300)}}
	err := r.CheckSetups(setups)
	if err == nil {
		t.Fatal("none is named")
	}
	lines := strings.Split(err.Error(), "\n")
	if len(lines) != 2 || !strings.HasPrefix(lines[0], "loop@attic:300: out of the rotator's reach: from azimuth 0 to 270 its bearings are 20° to 290°;") || !strings.HasPrefix(lines[1], "loop@attic:10: ") {
		t.Error(err)
	}
	if _, err := r.Change(t.Context(), toward(300)); !errors.Is(err, capture.ErrNotReached) || !strings.Contains(err.Error(), "out of the rotator's reach") {
		t.Error(err)
	}
	r.HalfTurn = always // 120 is the plane of 300, 190 that of 10
	if err := r.CheckSetups(setups); err != nil {
		t.Error(err)
	}
}

func TestRealDaemon(t *testing.T) {
	t.Parallel() // it waits, mostly
	address, end := daemon(t, "")
	r := rotator(address)
	r.Low, r.High, r.Zero, r.HalfTurn = -180, 180, 90, always
	r.timing.poll = 100 * time.Millisecond // it turns 0.6° in that
	turns := func(bearing float64) {
		t.Helper()
		got, err := r.Change(t.Context(), toward(bearing))
		if err != nil || got.Setup != toward(bearing) || got.Said != "" || math.Abs(got.Bearing.From(toward(bearing).Bearing)) > r.Tolerance {
			t.Errorf("%+v, %v", got, err)
		}
	}
	turns(97)
	turns(265) // the plane of 85: azimuth −5
	if math.Abs(r.at+5) > r.Tolerance {
		t.Error("it went the long way, to", r.at)
	}

	end()
	r.timing.patience = 50 * time.Millisecond
	if got, err := r.Change(t.Context(), toward(95)); !errors.Is(err, capture.ErrNotReached) || !strings.Contains(err.Error(), "start rotctld") {
		t.Error(got, err)
	}
	_, end = daemon(t, address)
	defer end()
	r.timing.patience = 30 * time.Second
	turns(95)

	// Its own range ends at 450.
	r.Low, r.High = 460, 540
	got, err := r.Change(t.Context(), toward(190)) // azimuth 100, 280 or 460
	if err != nil || got.Setup == toward(190) || !strings.Contains(got.Said, "rotctld refuses azimuth 460.00: RPRT -1") {
		t.Error(got, err)
	}
}

// awaitTurning waits until the daemon's rotator is on its way from 0.
func awaitTurning(ctx context.Context, address string) {
	watch := rotctl{address: address, limit: 10 * time.Second}
	defer watch.close()
	for ctx.Err() == nil {
		if on, err := watch.position(ctx); err == nil && on > 1 {
			return
		}
		time.Sleep(20 * time.Millisecond)
	}
}

// The rotator does not go on turning when the program has ended.
func TestRealDaemonIsStopped(t *testing.T) {
	t.Parallel() // it waits, mostly
	address, _ := daemon(t, "")
	r := rotator(address)
	r.timing.poll = 100 * time.Millisecond
	ctx, cancel := context.WithCancel(t.Context())
	go func() {
		awaitTurning(ctx, address)
		cancel()
	}()
	if _, err := r.Change(ctx, toward(180)); !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
	c := rotctl{address: address, limit: 10 * time.Second}
	defer c.close()
	one, err := c.position(t.Context())
	time.Sleep(300 * time.Millisecond) // 1.8° for one that turns
	two, err2 := c.position(t.Context())
	if err != nil || err2 != nil || one != two || one <= 1 || one > 150 {
		t.Error(one, two, err, err2)
	}
}

// A daemon that is started anew in mid-turn gets its order again.
func TestRealDaemonHealsInMidTurn(t *testing.T) {
	t.Parallel() // it waits, mostly
	address, end := daemon(t, "")
	r := rotator(address)
	r.timing.poll, r.timing.stall = 100*time.Millisecond, 3*time.Second
	type outcome struct {
		reached capture.Reached
		err     error
	}
	done := make(chan outcome)
	go func() {
		got, err := r.Change(t.Context(), toward(8))
		done <- outcome{got, err}
	}()
	awaitTurning(t.Context(), address)
	end()
	daemon(t, address)
	got := <-done
	if got.err != nil || got.reached.Setup != toward(8) || got.reached.Said != "" {
		t.Error(got)
	}
}
