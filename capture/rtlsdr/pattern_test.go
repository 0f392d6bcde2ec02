package rtlsdr

import (
	"testing"

	"pgregory.net/rapid"
)

// A counter that comes whole or, where samples were lost within it, in pieces
// begins and ends where it does, in whatever buffers the stream comes.
func TestPattern(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		steady := func(n int) []byte { // no two bytes in it go up by one
			b := make([]byte, n)
			for i := range b {
				b[i] = byte(2 * i)
			}
			return b
		}
		const quiet = 100
		stream := steady(rapid.IntRange(0, 300).Draw(t, "before"))
		begin, next := int64(len(stream)), byte(100) // even, as those above are: it continues none of them
		for _, n := range rapid.SliceOfN(rapid.IntRange(patternLength, 500), 1, 3).Draw(t, "pieces") {
			for range n {
				stream = append(stream, next)
				next++
			}
			next += 128 // what was lost between
		}
		end := int64(len(stream))
		tail := append([]byte{next + 7}, steady(quiet-1)...)
		p := patternFrom(1000)
		for rest := stream; len(rest) > 0; {
			n := rapid.IntRange(1, len(rest)).Draw(t, "buffer")
			p.see(rest[:n])
			rest = rest[n:]
			if p.gone(quiet) {
				t.Fatal("gone before its end")
			}
		}
		p.see(tail[:quiet-1])
		if p.gone(quiet) || !p.come() {
			t.Fatalf("%+v: gone before %d bytes without it have come", *p, quiet)
		}
		p.see(tail[quiet-1:])
		if !p.gone(quiet) || p.begin != 1000+begin || p.end != 1000+end {
			t.Fatalf("%+v, want %d to %d", *p, 1000+begin, 1000+end)
		}
		short := patternFrom(0)
		short.see(stream[begin:][:patternLength-1])
		short.see([]byte{stream[begin]})
		if short.come() {
			t.Fatal("found in a counter cut short")
		}
	})
}
