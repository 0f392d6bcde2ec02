package rtlsdr

// patternLength is how many bytes that go up by one, one after the other, make
// the counter pattern: noise does so once in 256^63 tries.
const patternLength = 64

// A pattern follows the stream until the counter that the chip can put in place
// of samples has come and gone. Counts are of bytes since the stream's start.
type pattern struct {
	last  byte
	run   int   // bytes up to now that go up by one
	seen  int64 // how far the stream was followed
	begin int64 // the counter's first byte; −1: it has not come
	end   int64 // the first byte after it, as far as it was followed
}

// patternFrom gives one that follows the stream from a byte on.
func patternFrom(at int64) *pattern { return &pattern{seen: at, begin: -1} }

// see follows the stream through b.
func (p *pattern) see(b []byte) {
	last, run := p.last, p.run
	for i, c := range b {
		if c != last+1 {
			run = 0
		}
		last = c
		if run++; run < patternLength {
			continue
		}
		p.end = p.seen + int64(i) + 1
		if p.begin < 0 {
			p.begin = p.end - patternLength
		}
	}
	p.last, p.run = last, run
	p.seen += int64(len(b))
}

// come tells whether the counter has come, gone whether so many bytes without it
// have come after it. Where samples were lost within it, it comes in pieces.
func (p pattern) come() bool            { return p.begin >= 0 }
func (p pattern) gone(quiet int64) bool { return p.come() && p.seen-p.end >= quiet }
