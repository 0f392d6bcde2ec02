package wav

import (
	"encoding/binary"
	"errors"
	"io"
	"math"
	"slices"

	"nightfloor/survey"
)

const (
	headBytes = 12
	// unknown stands in lengths of 32 bits that ds64 gives, or that the recorder never wrote.
	unknown = math.MaxUint32
	// mostChunks bounds how many chunks of a malicious file are read: a night of one a second has
	// half as many. Chosen; TestManyChunks.
	mostChunks = 1 << 16
	// doCopy is what to do about a file that is not whole.
	doCopy = "copy or record it anew"
)

// A walker goes from chunk to chunk.
type walker struct {
	File

	f    io.ReaderAt
	size int64 // bytes in the file
	end  int64 // of the form, as the header says; 0 where it does not

	wide         []wideLength // of ds64, that were not met yet
	format, bext []byte       // contents of these chunks; nil until they come
	data         bool         // a data chunk was met
	last         chunk
	sound        bool  // chunks follow upon the samples
	silence      int64 // frames that were left out since the last samples
	missing      int64 // bytes of the last chunk beyond the file's end
	open         bool  // the samples have no length
}

// A wideLength is the length of 64 bits that ds64 gives for the next chunk of that name.
type wideLength struct {
	id     string
	length int64
}

// A chunk lies between start and end, its header before it.
type chunk struct {
	id            string
	start, length int64
}

func (c chunk) end() int64 { return c.start + c.length }

// begin reads the file's header.
func (w *walker) begin() error {
	head, err := w.read(0, headBytes)
	switch {
	case err != nil:
		return err
	case len(head) < headBytes:
		return faultf(Damaged, "check how it was recorded", "the file is too short to be a WAV file")
	case !Is(head):
		return faultf(Damaged, "name the file by what it holds, such as .cu8 or .cs16", "no WAV header: this is no WAV file")
	case string(head[:4]) == "RIFX":
		return faultf(Unsupported, "convert it to little-endian WAV", "a WAV file with big-endian samples (RIFX)")
	}
	if riff := binary.LittleEndian.Uint32(head[4:]); riff != unknown {
		w.end = 8 + int64(riff)
	}
	return nil
}

// read gives up to n bytes at pos, fewer at the file's end.
func (w *walker) read(pos, n int64) ([]byte, error) {
	b := make([]byte, max(0, min(n, w.size-pos)))
	n1, err := w.f.ReadAt(b, pos)
	if errors.Is(err, io.EOF) { // it became shorter
		err = nil
	}
	return b[:n1], err
}

// chunkAt reads the header of a chunk; there is none where the id does not print.
func (w *walker) chunkAt(pos int64) (c chunk, is bool, err error) {
	b, err := w.read(pos, 8)
	if err != nil || len(b) < 8 || slices.ContainsFunc(b[:4], func(c byte) bool { return c < ' ' || c > '~' }) {
		return c, false, err
	}
	return chunk{string(b[:4]), pos + 8, int64(binary.LittleEndian.Uint32(b[4:]))}, true, nil
}

// fits tells whether a chunk that may be whole begins at pos.
func (w *walker) fits(pos int64) bool {
	c, is, err := w.chunkAt(pos)
	return err == nil && is && (c.length == unknown || c.end() <= w.size)
}

// after gives where the next chunk begins: behind a pad byte where the length is odd, which some
// programs forget.
func (w *walker) after(c chunk) int64 {
	if c.length%2 == 0 || w.fits(c.end()) {
		return c.end()
	}
	return c.end() + 1
}

// walk goes through the file.
func (w *walker) walk() error {
	pos := int64(headBytes)
	for range mostChunks {
		behind := w.last.id == "data" && !w.sound
		if w.data && (behind || pos == w.end) && !w.chunksFrom(pos) {
			return w.rest(pos, behind)
		}
		w.sound = w.sound || behind
		if pos >= w.size {
			return nil
		}
		c, is, err := w.chunkAt(pos)
		if err != nil {
			return err
		}
		if !is {
			return w.rest(pos, false)
		}
		if pos, err = w.take(c); err != nil {
			return err
		}
	}
	return faultf(Unsupported, "convert it to a file with all samples in one", "the WAV file has more than %d chunks", mostChunks)
}

// chunksFrom tells whether chunks stand from pos to the file's end, or to where the header has the
// form end. The last may be cut off there.
func (w *walker) chunksFrom(pos int64) bool {
	for i := range mostChunks {
		switch {
		case pos >= w.size:
			return i == 0 || pos <= max(w.size, w.end)+1
		case i > 0 && pos == w.end:
			return true
		}
		c, is, err := w.chunkAt(pos)
		if err != nil || !is {
			return false
		}
		if c.length == unknown { // which ds64 gives
			return true
		}
		pos = w.after(c)
	}
	return true
}

// rest ends the walk at bytes that are no chunk. Behind samples they are samples, too.
func (w *walker) rest(pos int64, samples bool) error {
	left := w.size - pos
	switch {
	case samples:
		last := &w.Data[len(w.Data)-1]
		more := w.size - last.Start - last.Size
		if w.open = last.Size == 0; !w.open {
			w.doubt("the file goes on for %s after the samples that the WAV header tells of: they are read as samples, too", survey.Count(int(more), "byte"))
		}
		last.Size += more
		return nil
	case w.data:
		w.doubt("%s after the last chunk of the WAV file left out", survey.Count(int(left), "byte"))
		return nil
	case left < 8:
		return w.cut(pos)
	}
	return faultf(Damaged, doCopy, "byte %d of the WAV file should begin a chunk and does not, and its samples have not begun", pos)
}

func (w *walker) cut(pos int64) *Fault {
	return faultf(Truncated, doCopy, "the WAV file is cut off soon after byte %d, before its samples begin", pos)
}

// take reads a chunk, and gives where the next one begins.
func (w *walker) take(c chunk) (next int64, err error) {
	if c.length == unknown {
		c.length = w.wideLength(c)
	}
	switch c.id {
	case "data":
		c = w.addData(c)
	case "fmt ":
		err = w.keep(&w.format, c, 40)
	case "bext":
		err = w.keep(&w.bext, c, bextBytes)
	case "ds64":
		err = w.readDS64(c)
	case "slnt":
		var b []byte
		if b, err = w.read(c.start, min(c.length, 4)); len(b) == 4 {
			w.silence += int64(binary.LittleEndian.Uint32(b))
		}
	case "LIST":
		var b []byte
		if b, err = w.read(c.start, min(c.length, 4)); string(b) == "wavl" {
			return c.start + 4, err // what it holds comes as other chunks do
		}
	}
	w.last, w.missing = c, max(0, c.end()-w.size)
	return w.after(c), err
}

// keep reads the first bytes of a chunk, unless there was one of its name.
func (w *walker) keep(content *[]byte, c chunk, most int64) (err error) {
	if *content == nil {
		*content, err = w.read(c.start, min(c.length, most))
	}
	return err
}

// wideLength gives the length of a chunk whose header has none: that of ds64, or up to the end.
func (w *walker) wideLength(c chunk) int64 {
	i := slices.IndexFunc(w.wide, func(l wideLength) bool { return l.id == c.id })
	if i < 0 {
		w.open = w.open || c.id == "data"
		return w.size - c.start
	}
	length := w.wide[i].length
	w.wide = slices.Delete(w.wide, i, i+1)
	return length
}

// readDS64 reads the lengths of 64 bits: of the form, of the samples, their number, and a table of
// others by their names.
func (w *walker) readDS64(c chunk) error {
	b, err := w.read(c.start, min(c.length, 28+12*mostChunks))
	if err != nil || len(b) < 28 {
		return err
	}
	le := binary.LittleEndian
	const most = math.MaxInt64 / 2 // beyond, it was never written
	if riff := le.Uint64(b); w.end == 0 && riff <= most {
		w.end = 8 + int64(riff)
	}
	add := func(id string, length uint64) {
		if length <= most {
			w.wide = append(w.wide, wideLength{id, int64(length)})
		}
	}
	add("data", le.Uint64(b[8:]))
	count := le.Uint32(b[24:])
	for b = b[28:]; len(b) >= 12 && count > 0; b, count = b[12:], count-1 {
		add(string(b[:4]), le.Uint64(b[4:]))
	}
	return nil
}

// addData adds the samples of a data chunk, as far as the file goes, and gives the chunk in its
// true length.
func (w *walker) addData(c chunk) chunk {
	// Where 32 bits did not hold the lengths, both lack the same whole multiple of 4 GiB.
	if over := w.size - w.end; !w.data && w.end > 0 && over > 0 && over%(1<<32) == 0 {
		w.doubt("the lengths in the WAV header lack %d GiB, more than they can hold: the samples are read to their end", over>>30)
		c.length += over
	}
	w.data = true
	w.Data = append(w.Data, Stretch{c.start, min(c.length, max(0, w.size-c.start))})
	if w.silence > 0 && len(w.Data) > 1 {
		w.doubt("the WAV file leaves %s out as silence: they are missing", survey.Count(int(w.silence), "sample"))
		w.Lost += w.silence
	}
	w.silence = 0
	return c
}
