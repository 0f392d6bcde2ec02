package turn

import (
	"bufio"
	"errors"
	"net"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"
)

// position that a reply to get_pos gives.
func reply(text string) (float64, error) {
	lines, err := readReply(bufio.NewReaderSize(strings.NewReader(text), longestLine), "get_pos")
	if err != nil {
		return 0, err
	}
	return azimuthIn(lines)
}

func TestReplies(t *testing.T) {
	for text, want := range map[string]float64{
		"get_pos:\nAzimuth: 12.30\nElevation: 0.00\nRPRT 0\n":        12.3, // as the daemon of Hamlib 4.5 writes it
		"get_pos:\nAzimuth: 370.000000\nRPRT 0\n":                    370,
		"get_pos:\r\nAzimuth: -90\r\nElevation: 5\r\nRPRT 0\r\nmore": -90,
	} {
		if got, err := reply(text); err != nil || got != want {
			t.Errorf("%q: %v, %v", text, got, err)
		}
	}
	for text, want := range map[string]string{
		"": "closed before",
		"get_pos:\nAzimuth: 12.30\nElevation: 0.00\n":              "closed before",
		"get_pos:\nAzimuth: 12.30\nRPRT 0":                         "closed before",
		"get_pos:\nElevation: 12.30\nRPRT 0\n":                     "0 azimuths",
		"get_pos:\nAzimuth: 1\nAzimuth: 2\nRPRT 0\n":               "2 azimuths",
		"get_pos:\nAzimuth: 12,30\nRPRT 0\n":                       "no azimuth",
		"get_pos:\nAzimuth: NaN\nRPRT 0\n":                         "no azimuth",
		"get_pos:\nAzimuth: 1e2\nRPRT 0\n":                         "no azimuth",
		"get_pos:\nAzimuth: 0x10p0\nRPRT 0\n":                      "no azimuth",
		"get_pos:\nAzimuth: 99999\nRPRT 0\n":                       "no azimuth",
		"get_pos:\nAzimuth:\nRPRT 0\n":                             "no azimuth",
		"get_pos:\nAzimuth: 12.30\nRPRT none\n":                    "no number",
		"set_pos: 12.30 0\nRPRT 0\n":                               "not rotctld's way",
		"RPRT 0\n":                                                 "without saying",
		"12.30\n0.00\n":                                            "not rotctld's way",
		strings.Repeat("x", longestLine+1):                         "without an end",
		"get_pos:\n" + strings.Repeat("Azimuth: 1\n", mostLines+1): "more than 32 lines",
	} {
		if _, err := reply(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
}

// Numbers are those of rig_errcode_e in Hamlib's rig.h: invalid parameter 1, bus busy 14.
func TestRefusals(t *testing.T) {
	for text, want := range map[string]struct {
		number  refusal
		passing bool
	}{"RPRT -1\n": {-1, false}, "get_pos:\nRPRT -6\n": {-6, true}, "RPRT -14\n": {-14, true}, "get_pos:\nRPRT 3\n": {3, false}} {
		var no refusal
		if _, err := reply(text); !errors.As(err, &no) || no != want.number || no.passing() != want.passing {
			t.Errorf("%q: %v", text, err)
		}
	}
}

// Whatever a daemon sends: no panic, no azimuth that is none, and none out of a
// reply that lacks a part.
func FuzzReply(f *testing.F) {
	for _, text := range []string{"get_pos:\nAzimuth: 12.30\nElevation: 0.00\nRPRT 0\n", "RPRT -1\n", "get_pos:\nAzimuth: 1e309\nRPRT 0\n",
		"get_pos:\nAzimuth: -\nRPRT 0\n", "get_pos:\nRPRT 99999999999999999999\n", "get_pos:\n\n\n\nAzimuth:1\nRPRT 0\n", "\xff\x00\nRPRT 0\n", strings.Repeat("get_pos:\n", 40)} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		got, err := reply(text)
		if err != nil {
			return
		}
		if !(got >= -720 && got <= 720) || !strings.HasPrefix(text, "get_pos:") || strings.Count(text, "Azimuth:") == 0 {
			t.Errorf("%q: %v", text, got)
		}
		end := strings.Index(text, "RPRT")
		if cut, err := reply(text[:end]); err == nil {
			t.Errorf("%q, cut short: %v", text[:end], cut)
		}
	})
}

// daemon starts Hamlib's own daemon with its dummy rotator, which turns 6° a
// second from azimuth 0, at an address, or at a free one for "". end ends it.
func daemon(t *testing.T, address string) (where string, end func()) {
	t.Helper()
	program, err := exec.LookPath("rotctld")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("no rotctld, and in CI it has to run:", err)
		}
		t.Skip("no rotctld (package libhamlib-utils, or hamlib):", err)
	}
	if address == "" {
		free, err := net.Listen("tcp", "127.0.0.1:0")
		if err != nil {
			t.Fatal(err)
		}
		address = free.Addr().String()
		free.Close()
	}
	_, port, _ := net.SplitHostPort(address)
	cmd := exec.Command(program, "-m", "1", "-T", "127.0.0.1", "-t", port)
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	ended := false
	end = func() {
		if !ended {
			ended = true
			cmd.Process.Kill()
			cmd.Wait()
		}
	}
	t.Cleanup(end)
	for begun := time.Now(); ; time.Sleep(20 * time.Millisecond) {
		conn, err := net.Dial("tcp", address)
		if err == nil {
			conn.Close()
			return address, end
		}
		if time.Since(begun) > time.Minute {
			t.Fatal("rotctld does not listen:", err)
		}
	}
}

func TestSpeaksWithTheDaemon(t *testing.T) {
	t.Parallel() // it waits, mostly
	address, end := daemon(t, "")
	c := rotctl{address: address, limit: 10 * time.Second}
	defer c.close()
	at, err := c.position(t.Context())
	if err != nil || at != 0 {
		t.Fatal(at, err)
	}
	if err := c.setPosition(t.Context(), -120.5); err != nil {
		t.Fatal(err)
	}
	if err := c.stop(t.Context()); err != nil {
		t.Fatal(err)
	}
	// It was stopped on its way; how far it came is a matter of time.
	one, err := c.position(t.Context())
	if err != nil || one > 0 || one <= -120 {
		t.Error(one, err)
	}
	// The dummy reaches from −180 to 450.
	var no refusal
	if err := c.setPosition(t.Context(), 451); !errors.As(err, &no) || no != -1 || c.conn != nil {
		t.Error(err, c.conn)
	}
	if again, err := c.position(t.Context()); err != nil || again != one {
		t.Errorf("it stood at %v, stands at %v: %v", one, again, err)
	}
	end()
	if _, err := c.position(t.Context()); err == nil || c.conn != nil {
		t.Error(err, c.conn)
	}
}
