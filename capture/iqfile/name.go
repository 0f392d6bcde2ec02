package iqfile

import (
	"cmp"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"

	"nightfloor/survey"
)

// A Named is what a file's name says plainly of its recording. What it does not say, or not
// plainly, is zero: nothing is guessed.
type Named struct {
	Centre survey.Hz
	Rate   survey.Hz
	Start  time.Time // in UTC where the name says so, else by the clocks of the zone that was given
	// Why it gives none though something in it looks like one, as "its name says none plainly".
	NoCentre, NoRate, NoStart string
}

// What a person may mean by a number in a name. Beyond, another unit or another figure is
// likelier: a flag says such values, a name does not. Chosen: from long wave to what dongles
// tune to, from audio to what recordings can have (highestRate); TestNames.
const (
	leastNamed, mostNamed         survey.Hz = 100e3, 2e9
	leastNamedRate, mostNamedRate survey.Hz = 1e3, highestRate
	firstNamed, lastNamed                   = 1970, 2199 // years
)

// String tells what was read, "" for nothing.
func (n Named) String() string {
	var said []string
	if n.Centre != 0 {
		said = append(said, "centre "+n.Centre.String())
	}
	if n.Rate != 0 {
		said = append(said, "rate "+survey.RateText(n.Rate))
	}
	if !n.Start.IsZero() {
		said = append(said, "start "+n.Start.Format("2 Jan 2006 15:04:05 MST"))
	}
	return strings.Join(said, ", ")
}

// ReadName reads a file's name: a centre frequency with its unit (9650kHz, 9.65 MHz), a sample
// rate beside it (2400ksps), and a date with a time (20261103T210410Z, 2026-11-03 21.04.10),
// which is UTC where Z or UTC follows and else what the clocks of zone showed. Each is taken
// where it stands once and apart from other figures.
func ReadName(path string, zone *time.Location) Named {
	base := filepath.Base(path)
	s := nameScanner{zone: zone, tokens: tokensOf(strings.TrimSuffix(base, filepath.Ext(base)))}
	s.dates()
	var n Named
	switch len(s.starts) {
	case 0:
	case 1:
		if n.Start = s.starts[0]; n.Start.IsZero() {
			n.NoStart = cmp.Or(s.unclear, "its name says no time of day plainly")
		}
	default:
		n.NoStart = noneOf(len(s.starts), "dates")
	}
	if n.Centre, n.NoCentre = s.only("frequencies", frequencyUnits, leastNamed, mostNamed); n.Centre != 0 {
		n.Rate, n.NoRate = s.only("rates", rateUnits, leastNamedRate, mostNamedRate)
	}
	return n
}

func noneOf(count int, what string) string {
	if count == 2 {
		return "of two " + what + " in its name none is taken"
	}
	return "of several " + what + " in its name none is taken"
}

var (
	frequencyUnits = map[string]survey.Hz{"hz": 1, "khz": 1e3, "mhz": 1e6, "ghz": 1e9}
	rateUnits      = map[string]survey.Hz{"sps": 1, "ksps": 1e3, "msps": 1e6}
)

// A token is a run of figures, a run of letters, or a single other character of a name.
type token struct {
	text string
	kind tokenKind
	date bool // of a date and time
}

type tokenKind int

const (
	nothing tokenKind = iota // before the first and after the last
	figures
	letters
	other
)

func kindOf(r rune) tokenKind {
	switch {
	case r >= '0' && r <= '9':
		return figures
	case unicode.IsLetter(r):
		return letters
	}
	return other
}

func tokensOf(name string) (all []token) {
	for _, r := range name {
		kind := kindOf(r)
		if last := len(all) - 1; kind != other && last >= 0 && all[last].kind == kind {
			all[last].text += string(r)
			continue
		}
		all = append(all, token{text: string(r), kind: kind})
	}
	return all
}

// A nameScanner looks through the tokens of a name.
type nameScanner struct {
	zone   *time.Location
	tokens []token
	starts []time.Time // of the dates, zero for one that is no start
	// unclear: why the clocks give no start.
	unclear string
}

// at gives a token, one of no kind beyond the name's ends.
func (s *nameScanner) at(i int) token {
	if i < 0 || i >= len(s.tokens) {
		return token{}
	}
	return s.tokens[i]
}

// digits tells whether n figures stand at i.
func (s *nameScanner) digits(i, n int) bool {
	return s.at(i).kind == figures && len(s.at(i).text) == n
}

// parted tells whether other tokens stand at i and i+2 around n figures, both sep.
func (s *nameScanner) parted(i, n int, sep string) bool {
	return s.at(i).text == sep && s.digits(i+1, n)
}

// isSeparator tells whether a token is one of some characters.
func (t token) isSeparator(among string) bool {
	return t.kind == other && strings.Contains(among, t.text)
}

// isUTC tells whether a token names that zone.
func (t token) isUTC() bool {
	return strings.EqualFold(t.text, "UTC") || strings.EqualFold(t.text, "GMT")
}

// isBlank tells whether a token parts words and nothing else.
func (t token) isBlank() bool { return t.kind == other && strings.TrimFunc(t.text, isBlank) == "" }

func isBlank(r rune) bool { return r == '_' || unicode.IsSpace(r) }

// begins tells whether a word begins with a unit.
func (t token) begins(units map[string]survey.Hz) bool {
	for unit := range units {
		if strings.HasPrefix(strings.ToLower(t.text), unit) {
			return true
		}
	}
	return false
}

// dates finds the dates of the name and the start that goes with each.
func (s *nameScanner) dates() {
	for i := 0; i < len(s.tokens); i++ {
		day, end := s.date(i)
		if day == "" {
			continue
		}
		start, end := s.start(day, end)
		if before := s.at(i - 1); before.kind == letters || before.isSeparator(".,+") && s.at(i-2).kind == figures {
			start = time.Time{}
		}
		s.starts = append(s.starts, start)
		for ; i < end; i++ {
			s.tokens[i].date = true
		}
		i--
	}
}

// date reads a date at i, as 2026-11-03, and gives where it ends; "" where there is none.
// One with the day first is found but is nothing that a time goes with: whether its day or
// its month comes first is not said.
func (s *nameScanner) date(i int) (day string, end int) {
	sep := s.at(i + 1)
	switch {
	case s.digits(i, 8) && (sep.kind != letters || strings.EqualFold(sep.text, "T")):
		text := s.at(i).text
		day, end = text[:4]+"-"+text[4:6]+"-"+text[6:], i+1
	case sep.isSeparator("-_.") && s.digits(i, 4) && s.digits(i+2, 2) && s.parted(i+3, 2, sep.text):
		day, end = s.at(i).text+"-"+s.at(i+2).text+"-"+s.at(i+4).text, i+5
	case sep.isSeparator("-_.") && s.digits(i, 2) && s.digits(i+2, 2) && s.parted(i+3, 4, sep.text):
		return "day first", i + 5
	default:
		return "", i
	}
	if at, err := time.Parse(time.DateOnly, day); err != nil || at.Year() < firstNamed || at.Year() > lastNamed {
		return "", i
	}
	return day, end
}

// start reads the time behind a date that ends before i, and gives where it ends; the zero
// time where none stands there plainly.
func (s *nameScanner) start(day string, i int) (start time.Time, end int) {
	join := s.at(i)
	if !join.isSeparator(" _-") && !strings.EqualFold(join.text, "T") {
		return start, i
	}
	clock, end := s.clock(i+1, join.kind == letters)
	if clock == "" {
		return start, i
	}
	zone := s.zone
	switch {
	case s.at(end).isUTC() || strings.EqualFold(s.at(end).text, "Z"):
		zone, end = time.UTC, end+1
	case s.at(end).isSeparator(" _-") && s.at(end+1).isUTC():
		zone, end = time.UTC, end+2
	case slices.ContainsFunc(s.tokens, token.isUTC):
		return start, end
	}
	after := s.at(end)
	if after.kind == letters || after.isSeparator(".,:") && s.at(end+1).kind == figures || s.offset(end, zone == time.UTC) {
		return start, end
	}
	at, why := momentOf(day, clock, zone, "name")
	if why != "" {
		s.unclear = why
	}
	if !at.IsZero() && !s.namesZoneBeside(at) && !s.halfDay(end, clock) {
		return at, end
	}
	return start, end
}

// momentOf gives the moment when the clocks of a zone showed a time of a day, or why that is not
// one moment; neither where it is no time of a day that recordings are of. where is what says so.
func momentOf(day, clock string, zone *time.Location, where string) (at time.Time, unclear string) {
	wall, _, wrong := survey.ParseMoment(day+" "+clock, time.UTC)
	at, again, err := survey.ParseMoment(day+" "+clock, zone)
	switch {
	case wrong != nil || wall.Year() < firstNamed || wall.Year() > lastNamed:
		return time.Time{}, ""
	case err != nil:
		return time.Time{}, "the " + clock + " in its " + where + " is none that clocks showed that night"
	case !again.IsZero():
		return time.Time{}, "the " + clock + " in its " + where + " comes twice that night"
	}
	return at.In(zone), ""
}

// zoneNames are the short names of zones, of which several stand for more than one; they are not read.
var zoneNames = strings.Fields("ZULU WET WEST CET CEST MEZ MESZ EET EEST MSK BST IST EST EDT CST CDT MST MDT PST PDT AKST AKDT HST JST AEST AEDT NZST NZDT")

// namesZoneBeside tells whether the name names a zone other than that of a time.
func (s *nameScanner) namesZoneBeside(at time.Time) bool {
	own, _ := at.Zone()
	return slices.ContainsFunc(s.tokens, func(t token) bool {
		word := strings.ToUpper(t.text)
		return word != own && slices.Contains(zoneNames, word)
	})
}

// halfDay tells whether PM stands behind a time, or AM behind one that may be midnight: AM is
// amplitude modulation, too, and says nothing else of any other time.
func (s *nameScanner) halfDay(end int, clock string) bool {
	word := s.at(end + 1).text
	return s.at(end).isSeparator(" _-") && (strings.EqualFold(word, "PM") || strings.EqualFold(word, "AM") && clock[:2] == "12")
}

// offset tells whether what follows a time may be its offset from UTC, as +0100 or -01, or +1
// behind UTC.
func (s *nameScanner) offset(i int, afterUTC bool) bool {
	if s.at(i).isBlank() {
		i++
	}
	hours := s.at(i + 1).text
	if !s.at(i).isSeparator("+-−±") || s.at(i+1).kind != figures || s.at(i+2).kind == letters {
		return false
	}
	return (len(hours) == 2 || len(hours) == 4) && hours[:2] <= "14" || afterUTC && len(hours) == 1
}

// clock reads a time of day at i, as 21:04:10, and gives where it ends; "" where there is none.
// Four figures are one only where T says so: they number recordings, too.
func (s *nameScanner) clock(i int, said bool) (clock string, end int) {
	text, sep := s.at(i).text, s.at(i+1)
	switch {
	case s.digits(i, 6):
		return text[:2] + ":" + text[2:4] + ":" + text[4:], i + 1
	case s.digits(i, 4) && said:
		return text[:2] + ":" + text[2:], i + 1
	case !s.digits(i, 2) || !sep.isSeparator(".-_:") || !s.digits(i+2, 2):
		return "", i
	}
	clock = text + ":" + s.at(i+2).text
	after := s.at(i + 5)
	if s.parted(i+3, 2, sep.text) && (after.kind != letters || after.isUTC() || strings.EqualFold(after.text, "Z")) {
		return clock + ":" + s.at(i+4).text, i + 5
	}
	return clock, i + 3
}

// only gives the one figure of the name that has one of these units; 0 where there is none, or
// several, or where it does not stand apart or cannot be meant, and why.
func (s *nameScanner) only(what string, units map[string]survey.Hz, least, most survey.Hz) (found survey.Hz, why string) {
	count := 0
	for i, t := range s.tokens {
		unit, known := units[strings.ToLower(t.text)]
		last := i - 1
		if s.at(last).isBlank() {
			last--
		}
		if !known && !(t.kind == letters && s.at(i-1).kind == figures && t.begins(units)) {
			continue
		}
		count++
		found = s.figure(last, i, unit)
	}
	switch {
	case count == 0 && units["hz"] != 0:
		return 0, s.bare()
	case count > 1:
		return 0, noneOf(count, what)
	case count == 1 && !(found >= least && found <= most):
		return 0, "its name says none plainly"
	}
	return found, ""
}

// bare tells of a number that may be meant for a frequency in kHz, though no unit says so; ""
// where there is none.
func (s *nameScanner) bare() string {
	for i, t := range s.tokens {
		x := parse(t.text)
		if t.kind == figures && !t.date && t.text[0] != '0' && x >= 1000 && x <= 30000 && s.at(i-1).kind != letters && s.at(i+1).kind != letters {
			return "the " + t.text + " in its name has no unit"
		}
	}
	return ""
}

// figure gives the number that ends at token last, with a unit of that scale at token unit; 0
// where it does not stand apart from what is beside it, or its point may part thousands.
func (s *nameScanner) figure(last, unit int, scale survey.Hz) survey.Hz {
	if s.at(last).kind != figures || s.at(last).date || s.at(unit+1).kind == figures {
		return 0
	}
	first, x := s.numberTo(last)
	thousands := first < last && len(s.at(first).text) <= 3 && len(s.at(last).text) == 3 // 144.800kHz
	if thousands && scale < 1e6 || !s.apart(first, x) || s.reaches(unit+1, x) {
		return 0
	}
	return survey.Hz(x) * scale
}

// numberTo reads a number backwards from its last token, and gives its first.
func (s *nameScanner) numberTo(last int) (first int, x float64) {
	first, text := last, s.at(last).text
	if s.at(last-1).text == "." && s.at(last-2).kind == figures && !s.at(last-2).date {
		first, text = last-2, s.at(last-2).text+"."+text
	}
	return first, parse(text)
}

// parse reads figures. So many that they are no number any more are infinite, which nobody means.
func parse(text string) float64 {
	x, _ := strconv.ParseFloat(text, 64)
	return x
}

// between gives the characters from token i on, in steps of step, up to the next word or
// figure, and which token that is. The word "to" is passed over.
func (s *nameScanner) between(i, step int) (text string, next int) {
	for ; s.at(i).kind == other || strings.EqualFold(s.at(i).text, "to"); i += step {
		text += s.at(i).text
	}
	return strings.TrimFunc(text, isBlank), i
}

// apart tells whether the number x that begins at i is not the end of something: of a word, of
// a number whose thousands are parted, or of a stretch, whose lower edge stands before it.
func (s *nameScanner) apart(i int, x float64) bool {
	between, j := s.between(i-1, -1)
	before := s.at(j)
	switch {
	case before.kind != figures:
		return before.kind == nothing || j < i-1
	case strings.ContainsAny(between, ".,'’+±"):
		return false
	case before.date:
		return true
	case between == "":
		return len(s.at(i).text) != 3
	}
	_, lower := s.numberTo(j)
	return lower >= x
}

// reaches tells whether the number x, before i, may be the lower edge of a stretch whose upper
// one follows without a unit.
func (s *nameScanner) reaches(i int, x float64) bool {
	between, j := s.between(i, +1)
	if between == "" || s.at(j).kind != figures || s.at(j).date {
		return false
	}
	if s.at(j+1).text == "." && s.at(j+2).kind == figures {
		j += 2
	}
	_, upper := s.numberTo(j)
	return s.at(j+1).kind != letters && upper >= x
}
