package iqfile

import (
	"bytes"
	"io"
	"path/filepath"
	"strings"

	"nightfloor/capture/iqfile/wav"
	"nightfloor/survey"
)

// bareTypes gives the datatype of a file without description by its ending. Samples of several
// bytes are little-endian, as the machines are that such files come from.
var bareTypes = map[string]Datatype{
	".cu8":  CU8,
	".ci8":  CI8,
	".cs8":  CI8,
	".ci16": CI16LE,
	".cs16": CI16LE,
	".cf32": CF32LE,
}

// readBare reads a file that holds samples and nothing else.
func readBare(name string, f io.ReaderAt, size int64, o Options) ([]Recording, error) {
	r := Recording{
		Datatype: bareTypes[strings.ToLower(filepath.Ext(name))],
		Centre:   o.Centre, Rate: o.Rate,
		data: &dataset{parts: []stretch{{size: size}}},
	}
	if err := r.fill(size); err != nil { // which no flag mends
		return nil, err
	}
	o.fromName(&r)
	if r.Centre == 0 || r.Rate == 0 {
		return nil, bareNeeds(r, o.named)
	}
	if err := checkBare(f); err != nil {
		return nil, err
	}
	return []Recording{r}, nil
}

// bareNeeds gives the error for a centre or a rate that is missing, or for both.
func bareNeeds(r Recording, named Named) error {
	const why = "a bare sample file does not say its "
	switch {
	case r.Centre != 0:
		return faultf(ErrNoRate, "give it with --rate HZ", why+"sample rate%s", also(named.NoRate))
	case r.Rate != 0:
		return faultf(ErrNoCentre, "give it with --center HZ", why+"centre frequency%s", also(named.NoCentre))
	}
	return faultf(ErrNoCentre, "give them with --center HZ and --rate HZ", why+"centre frequency and sample rate%s", also(named.NoCentre))
}

// checkBare refuses WAV files and tar archives that have the ending of a bare file. Samples would
// begin like one of them with a probability under 1e-11.
func checkBare(f io.ReaderAt) error {
	var head [262]byte
	n, err := f.ReadAt(head[:], 0)
	if err != nil && err != io.EOF {
		return err
	}
	switch {
	case wav.Is(head[:n]):
		return faultf(ErrFormat, "name it .wav", "this is a WAV file by its first bytes")
	case n == len(head) && bytes.Equal(head[257:262], []byte("ustar")):
		return faultf(ErrFormat, "name it .sigmf if it is a SigMF archive, else unpack it", "this is a tar archive by its first bytes")
	}
	return nil
}

// fill sets Samples to the whole samples in so many bytes, and adds a doubt where bytes are left.
func (r *Recording) fill(bytes int64) error {
	size := r.Datatype.Size()
	r.Samples = bytes / size
	if r.Samples == 0 {
		return faultf(ErrEmpty, "check how it was recorded", "%s, and a sample takes %d", survey.Count(int(bytes), "byte"), size)
	}
	// A recorder that is killed or meets a full disk stops at any byte; to refuse the recording
	// for that would lose a night, and every sample before is whole.
	if rest := bytes % size; rest != 0 {
		r.Doubts = append(r.Doubts, survey.Count(int(rest), "byte")+" after the last whole sample left out: the recording was cut off")
	}
	return nil
}
