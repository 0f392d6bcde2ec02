package turn

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"strconv"
	"strings"
	"time"
)

// A rotctl speaks with Hamlib's rotctld, in extended replies only: the others
// have no end mark. It connects when it is asked something, and anew after any
// failure, since what comes later may belong to the question before.
type rotctl struct {
	address string
	limit   time.Duration // of an exchange, and of connecting
	conn    net.Conn
	in      *bufio.Reader
}

// setPosition sends the rotator to an azimuth, in degrees. No error says that
// it accepts, not that it is there.
func (c *rotctl) setPosition(ctx context.Context, azimuth float64) error {
	_, err := c.ask(ctx, "set_pos", fmt.Sprintf(" %.2f 0", azimuth))
	return err
}

// position gives the azimuth where the rotator stands, in degrees as it names it.
func (c *rotctl) position(ctx context.Context) (float64, error) {
	lines, err := c.ask(ctx, "get_pos", "")
	if err != nil {
		return 0, err
	}
	azimuth, err := azimuthIn(lines)
	if err != nil {
		c.close()
	}
	return azimuth, err
}

// stop lets the rotator stop where it is.
func (c *rotctl) stop(ctx context.Context) error {
	_, err := c.ask(ctx, "stop", "")
	return err
}

func (c *rotctl) close() {
	if c.conn != nil {
		c.conn.Close()
		c.conn = nil
	}
}

// ask sends a command and gives the lines of its reply. The error is a refusal
// where rotctld says no.
func (c *rotctl) ask(ctx context.Context, command, arguments string) ([]string, error) {
	if c.conn != nil && c.in.Buffered() > 0 {
		c.close() // it says more than it was asked for
	}
	if c.conn == nil {
		conn, err := (&net.Dialer{Timeout: c.limit}).DialContext(ctx, "tcp", c.address)
		if err != nil {
			return nil, err
		}
		c.conn, c.in = conn, bufio.NewReaderSize(conn, longestLine)
	}
	conn := c.conn
	conn.SetDeadline(time.Now().Add(c.limit))
	going := context.AfterFunc(ctx, func() { conn.SetDeadline(time.Unix(1, 0)) })
	var lines []string
	_, err := io.WriteString(conn, `+\`+command+arguments+"\n")
	if err == nil {
		lines, err = readReply(c.in, command)
	}
	if !going() || err != nil {
		c.close()
	}
	if errors.Is(err, os.ErrDeadlineExceeded) {
		err = fmt.Errorf("no answer to %s within %v", command, c.limit)
	}
	return lines, err
}

// A reply of rotctld to what is asked here has four lines of 20 characters.
const (
	longestLine = 256
	mostLines   = 32
)

// readReply reads an extended reply: the command's name and a colon, lines, and
// "RPRT 0". It gives the lines. The error is a refusal for another number.
func readReply(in *bufio.Reader, command string) ([]string, error) {
	var lines []string
	for len(lines) < mostLines {
		raw, err := in.ReadSlice('\n')
		switch {
		case errors.Is(err, bufio.ErrBufferFull):
			return nil, fmt.Errorf("answered %s by a line without an end, %.40q", command, raw)
		case errors.Is(err, io.EOF):
			return nil, fmt.Errorf("the connection was closed before %s was answered", command)
		case err != nil:
			return nil, err
		}
		line := strings.TrimRight(string(raw), "\r\n")
		if text, ends := strings.CutPrefix(line, "RPRT "); ends {
			return endReply(lines, text, command)
		}
		if len(lines) == 0 && !strings.HasPrefix(line, command+":") {
			return nil, fmt.Errorf("answered %s by %.40q: that is not rotctld's way", command, line)
		}
		lines = append(lines, line)
	}
	return nil, fmt.Errorf("answered %s by more than %d lines", command, mostLines)
}

// endReply judges a reply by the number at its end. A refusal may come without
// the command's name before it.
func endReply(lines []string, text, command string) ([]string, error) {
	n, err := strconv.Atoi(text)
	switch {
	case err != nil:
		return nil, fmt.Errorf("answered %s by RPRT %.40q, which is no number", command, text)
	case n != 0:
		return nil, refusal(n)
	case len(lines) == 0:
		return nil, fmt.Errorf("answered RPRT 0 without saying that this is for %s", command)
	}
	return lines[1:], nil
}

// azimuthIn finds the azimuth in a reply to get_pos. An elevation may stand beside it.
func azimuthIn(lines []string) (float64, error) {
	text, found := "", 0
	for _, line := range lines {
		if value, ok := strings.CutPrefix(line, "Azimuth:"); ok {
			text = strings.TrimSpace(value)
			found++
		}
	}
	if found != 1 {
		return 0, fmt.Errorf("answered get_pos by %d azimuths", found)
	}
	azimuth, err := strconv.ParseFloat(text, 64)
	// Two turns either way are more than any rotator has. What the number may be
	// written with leaves out 0x10, 1e2 and NaN.
	if err != nil || strings.Trim(text, "-.0123456789") != "" || azimuth < -720 || azimuth > 720 {
		return 0, fmt.Errorf("%.40q is no azimuth in degrees", text)
	}
	return azimuth, nil
}

// A refusal is the number, not 0, that ends a reply: Hamlib's rig_errcode_e,
// negative.
type refusal int

func (n refusal) Error() string {
	words := map[refusal]string{-1: "invalid parameter", -2: "invalid configuration", -4: "not implemented", -5: "the rotator does not answer",
		-6: "input or output failed", -7: "internal error", -8: "the rotator answers what is not expected", -9: "rejected by the rotator", -11: "not available"}
	return strings.TrimSuffix(fmt.Sprintf("RPRT %d, %s", int(n), words[n]), ", ")
}

// passing tells whether the same command may be accepted a moment later: what
// failed is the line to the rotator (time-out, input or output, protocol, bus).
func (n refusal) passing() bool {
	return n == -5 || n == -6 || n == -8 || n == -13 || n == -14
}
