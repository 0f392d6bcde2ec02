package survey

import (
	"fmt"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// String writes the setup as ParseSetup reads it, ANTENNA@PLACEMENT:BEARING. It is the one way
// in which setups are written, and safe to print: odd names are in quotes, what a terminal would
// obey in them escaped.
func (s Setup) String() string {
	if s == (Setup{}) {
		return ""
	}
	text := setupName(s.Antenna)
	if s.Placement != "" || s.Bearing.Known {
		text += "@" + setupName(s.Placement)
	}
	if s.Bearing.Known {
		text += ":" + strconv.FormatFloat(s.Bearing.Deg, 'f', -1, 64)
	}
	return text
}

// setupName puts a name into quotes, as Go has them, that would be read as another or could not be
// printed.
func setupName(name string) string {
	if name == "" || strings.ContainsAny(name, "@:") || name[0] == '"' || strings.TrimSpace(name) != name || !Printable(name) {
		return strconv.Quote(name)
	}
	return name
}

// ParseSetup reads ANTENNA[@PLACEMENT[:BEARING]], the bearing in degrees from true north; what is
// left out stays empty. Names may be in quotes, as Go has them; others end at the first @, and at
// the last colon after it.
func ParseSetup(text string) (s Setup, err error) {
	name, rest, hasPlace := cutName(text, "@", strings.Index)
	if s.Antenna = name; name == "" {
		return s, fmt.Errorf("setup %q: no antenna named; write ANTENNA[@PLACEMENT[:BEARING]], such as loop@attic:40", text)
	}
	if !hasPlace {
		return s, nil
	}
	name, degrees, hasBearing := cutName(rest, ":", strings.LastIndex)
	if s.Placement = name; rest == "" || rest[0] == ':' {
		return s, fmt.Errorf("setup %q: no placement after @; leave the @ away or name one", text)
	}
	if hasBearing {
		deg, err := strconv.ParseFloat(strings.TrimSuffix(degrees, "°"), 64)
		if err != nil || !(deg >= 0 && deg < 360) {
			return s, fmt.Errorf("setup %q: bearing %q is no number of degrees in 0 ≤ bearing < 360; write such as loop@attic:40", text, degrees)
		}
		s.Bearing = BearingOf(deg)
	}
	return s, nil
}

// cutName takes a name off a text, up to the mark that index finds, or to the end of its quotes.
func cutName(text, mark string, index func(text, mark string) int) (name, rest string, found bool) {
	if quoted, err := strconv.QuotedPrefix(text); err == nil && text[0] == '"' {
		rest, found = strings.CutPrefix(text[len(quoted):], mark)
		if name, err = strconv.Unquote(quoted); err == nil && (found || rest == "") {
			return name, rest, found
		}
	}
	if i := index(text, mark); i >= 0 {
		return text[:i], text[i+len(mark):], true
	}
	return text, "", false
}

// Matches tells whether a setup as ParseSetup read it is this one: what was left out matches
// anything, and so does what Short left out.
func (s Setup) Matches(pattern Setup) bool {
	return (sameName(pattern.Antenna, s.Antenna) || s.State != State{} && sameName(pattern.Antenna, s.State.name())) &&
		(pattern.Placement == "" || sameName(pattern.Placement, s.Placement)) &&
		(!pattern.Bearing.Known || s.Bearing == pattern.Bearing)
}

// sameName tells whether a name is what was written, in which … stands for anything.
func sameName(written, name string) bool {
	parts := strings.Split(written, cutMark)
	last := len(parts) - 1
	if last == 0 || !strings.HasPrefix(name, parts[0]) {
		return name == written
	}
	name = name[len(parts[0]):]
	for _, part := range parts[1:last] {
		_, rest, found := strings.Cut(name, part)
		if !found {
			return false
		}
		name = rest
	}
	return strings.HasSuffix(name, parts[last])
}

// name gives the shortest name of an antenna that was repeaked.
func (s State) name() string { return s.Antenna + s.suffix() }

func (s State) suffix() string { return " (" + s.Clock + ")" }

// Short writes the setup with at most room characters, as far as that goes: of names that are too
// long the longer one is cut, so that Matches still finds it. What tells bearings and
// states of an antenna apart is not cut.
func (s Setup) Short(room int) string {
	text := s.String()
	antenna, suffix := s.Antenna, ""
	if s.State != (State{}) {
		antenna, suffix = s.State.Antenna, s.State.suffix()
	}
	short, most := s, max(room, 4)
	for a, p := min(most, utf8.RuneCountInString(antenna)), min(most, utf8.RuneCountInString(s.Placement)); utf8.RuneCountInString(text) > room; {
		short.Antenna, short.Placement = Shorten(antenna, a)+suffix, Shorten(s.Placement, p)
		text = short.String()
		switch {
		case max(a, p) <= 4:
			return text
		case a+len(suffix) >= p && a > 4:
			a--
		default:
			p--
		}
	}
	return text
}

// cutMark stands for what Shorten left out.
const cutMark = "…"

// Shorten cuts a text in its middle: names are told apart by beginning and end.
func Shorten(text string, room int) string {
	if nth(text, room) == len(text) {
		return text
	}
	head := (room - 1) * 2 / 3
	tail := len(text)
	for range room - 1 - head {
		_, size := utf8.DecodeLastRuneInString(text[:tail])
		tail -= size
	}
	return text[:nth(text, head)] + cutMark + text[tail:]
}

// nth gives where the character of that number begins, from 0; the text's end where there is none.
func nth(text string, number int) int {
	for i := range text {
		if number == 0 {
			return i
		}
		number--
	}
	return len(text)
}

// mostNameLength is how many characters a name may have; half a line is plenty. Chosen.
const mostNameLength = 200

// CheckPrintable tells why a text that somebody gives is no name of an antenna, a placement, a segment or a plan.
func CheckPrintable(name string) error {
	if !Printable(name) || utf8.RuneCountInString(name) > mostNameLength {
		return fmt.Errorf("%q: a name is printable and has at most %d characters", Shorten(name, 80), mostNameLength)
	}
	return nil
}

// Printable tells whether a text holds nothing that a terminal obeys, that takes no room or that
// is no character.
func Printable(text string) bool {
	return utf8.ValidString(text) && !strings.ContainsFunc(text, func(r rune) bool { return !unicode.IsPrint(r) })
}
