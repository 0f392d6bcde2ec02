package iqfile

import (
	"crypto/sha256"
	"crypto/sha512"
	"encoding/hex"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"nightfloor/survey"
)

// Options are what the user says of a recording. They win over what the file
// says, and that over what its name says.
type Options struct {
	Centre survey.Hz // 0: as the file says
	Rate   survey.Hz // complex samples a second; 0: as the file says
	// Zone is that of times in names which do not say theirs; nil: names are not read.
	Zone *time.Location

	named Named
}

// fromName fills in what neither the user nor the file said of a recording and its name does.
// A start stays beside: it is no part of what was recorded, by which Digest tells recordings.
func (o Options) fromName(r *Recording) {
	if r.Centre == 0 {
		r.Centre, r.Named.Centre = o.named.Centre, o.named.Centre
	}
	if r.Rate == 0 {
		r.Rate, r.Named.Rate = o.named.Rate, o.named.Rate
	}
	if r.Start.IsZero() {
		r.Named.Start, r.Named.NoStart = o.named.Start, o.named.NoStart
	}
}

// also says why a name gives nothing, behind what is missing.
func also(why string) string {
	if why == "" {
		return ""
	}
	return ", and " + why
}

// A Recording is one capture of one file: an unbroken stretch of I/Q samples
// at one centre frequency.
type Recording struct {
	File      string // the name the user gave
	Member    string // the pair's name inside an archive, else ""
	Datatype  Datatype
	Centre    survey.Hz
	Rate      survey.Hz // complex samples a second
	Start     time.Time // UTC; zero where unknown
	Samples   int64     // complex samples, at least 1
	Dropped   int64     // complex samples lost between the capture before and this one, or by a WAV file within
	Antenna   string    // "" where unknown
	Placement string    // "" where unknown
	Bearing   survey.Bearing
	Gain      survey.Gain // exact: the file gives it to refer levels to
	Simulated bool        // the file says that no receiver heard this
	Origin    time.Time   // start by a WAV file's broadcast extension chunk, and the clocks of Options.Zone; zero where Named says it, or nothing
	Named     Named       // what only the file's name says: centre and rate stand above, too
	Doubts    []string    // what to hold against the recording; stops nothing

	data   *dataset
	offset int64 // of the first sample, bytes into the dataset
}

// what names the recording in errors.
func (r Recording) what() string { return naming(r.File, r.Member) }

// naming gives the WHAT of an error on a file, or on a pair in an archive.
func naming(file, member string) string {
	if member != "" {
		return "read " + oneLine(file) + " (" + oneLine(member) + ")"
	}
	return "read " + oneLine(file)
}

// A stretch is a part of a file.
type stretch struct {
	path        string
	start, size int64 // bytes
}

// A dataset is the stretch of a file that holds the samples of a pair, with the headers between
// them that its description names; of WAV all that hold samples. The pair's captures share it, so
// that its checksum is computed once.
type dataset struct {
	path   string
	parts  []stretch // of the file at path
	sha512 string    // 128 lower-case hex digits, "" where the file gives none

	verify   sync.Once
	verified error
}

// open gives the bytes of a recording, after the dataset's were compared once with the checksum
// that the description gives. The caller closes the file.
func (r *Recording) open() (*os.File, io.Reader, error) {
	r.data.verify.Do(func() { r.data.verified = r.data.compare() })
	if r.data.verified != nil {
		return nil, nil, r.data.verified
	}
	f, err := os.Open(r.data.path)
	if err != nil {
		return nil, nil, err
	}
	all := r.data.from(f, r.offset)
	return f, io.LimitReader(all, r.Samples*r.Datatype.Size()), nil
}

// from gives the bytes of the dataset behind so many, which lie in its first part.
func (d *dataset) from(f io.ReaderAt, offset int64) io.Reader {
	readers := make([]io.Reader, len(d.parts))
	for i, p := range d.parts {
		readers[i] = io.NewSectionReader(f, p.start+offset, p.size-offset)
		offset = 0
	}
	return io.MultiReader(readers...)
}

// Open reads the description of a recording and gives one Recording a capture,
// in the file's order. It reads no samples. The kind of file is told by the
// name's ending: .sigmf-meta or .sigmf-data (either of a pair), .sigmf (an
// archive, which may hold several pairs), .cu8, .ci8 or .cs8, .ci16 or .cs16,
// .cf32 (bare samples, little-endian), .wav (two channels: I left, Q right).
// Errors are of type *Error.
func Open(path string, o Options) ([]Recording, error) {
	recordings, err := open(path, o)
	for i := range recordings {
		recordings[i].File = path
	}
	return recordings, at(naming(path, ""), err)
}

func open(path string, o Options) ([]Recording, error) {
	if err := o.check(); err != nil {
		return nil, err
	}
	if info, err := os.Stat(path); err == nil && info.IsDir() {
		return nil, faultf(ErrFormat, "give files, or the folder that they lie in: "+endings, "a folder in which no recording lies")
	}
	read, err := readerFor(path)
	if err != nil {
		if _, missing := os.Stat(path); missing != nil { // a pattern that nothing fits, say
			err = missing
		}
		return nil, err
	}
	if o.Zone != nil {
		o.named = ReadName(path, o.Zone)
	}
	size, err := regularSize(path)
	if err != nil {
		return nil, err
	}
	if read == nil {
		return openPair(path, o)
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	list, err := read(path, f, size, o)
	for i := range list {
		list[i].data.path = path
	}
	return list, err
}

const endings = ".sigmf-meta, .sigmf, .cu8, .cs8, .cs16, .cf32 or .wav"

// A fileReader reads a recording in one file of size bytes.
type fileReader func(name string, f io.ReaderAt, size int64, o Options) ([]Recording, error)

// readerFor chooses by the name's ending, nil for a pair, which is two files.
func readerFor(path string) (fileReader, error) {
	switch ext := strings.ToLower(filepath.Ext(path)); ext {
	case metaEnding, dataEnding:
		return nil, nil
	case ".sigmf":
		return readArchive, nil
	case ".wav":
		return readWAV, nil
	case ".sigmf-collection":
		return nil, faultf(ErrUnsupported, "give the recordings themselves", "a collection only names recordings")
	case "":
		return nil, faultf(ErrUnsupported, "name it by what it holds: "+endings, "the name has no ending that tells what the file holds")
	default:
		if _, known := bareTypes[ext]; known {
			return readBare, nil
		}
		return nil, faultf(ErrUnsupported, "name it by what it holds: "+endings, "the ending %s names no kind of recording", quoted(ext))
	}
}

// regularSize gives a file's size in bytes and refuses what has none of its own: a pipe would
// block, a folder has no samples.
func regularSize(path string) (int64, error) {
	info, err := os.Stat(path)
	switch {
	case err != nil:
		return 0, err
	case info.IsDir():
		return 0, faultf(ErrFormat, "give the files in it", "this is a folder")
	case !info.Mode().IsRegular():
		return 0, faultf(ErrUnsupported, "store the samples in a file first", "this is %s, not a file", survey.FileKind(info.Mode()))
	}
	return info.Size(), nil
}

func (o Options) check() error {
	if o.Rate != 0 {
		if err := checkRate(o.Rate, "the sample rate given"); err != nil {
			return err
		}
	}
	return checkCentre(o.Centre, "the centre frequency given")
}

// highestHz is the bound that SigMF sets to frequencies. highestRate is ours: at a higher rate
// spectra with bins of 150 Hz would not fit into the memory of a small machine.
const (
	highestHz   = 1e12
	highestRate = 1e8
)

func checkCentre(f survey.Hz, name string) error {
	if !(f >= 0 && f <= highestHz) {
		return faultf(ErrFormat, "give the true one with --center", "%s is %g Hz, outside 0 to 1e12 Hz", name, float64(f))
	}
	return nil
}

// checkRate refuses rates under 1 S/s, too: those were given in a wrong unit, and durations
// computed from them overflow.
func checkRate(f survey.Hz, name string) error {
	if !(f >= 1 && f <= highestRate) {
		return faultf(ErrFormat, "give the true one with --rate", "%s is %g Hz, outside 1 to 1e8 Hz", name, float64(f))
	}
	return nil
}

// Digest identifies what was recorded, so that a recording imported twice is
// stored once: SHA-256, in hexadecimal, over datatype, centre, rate, start and
// the bytes of the samples. Name and container do not count: a pair, and the
// archive it was packed in, have one digest. It reads all samples, and compares
// them with the checksum that the description gives (ErrChecksum).
//
// The start counts that the file says, not the one that was given for it. In older databases that
// one does: before is the digest there, and is digest where they agree.
func (r Recording) Digest(given time.Time) (digest, before string, err error) {
	file, section, err := r.open()
	if err != nil {
		return "", "", at(r.what(), err)
	}
	defer file.Close()
	sum, sumBefore := sha256.New(), sha256.New()
	r.describe(sum, r.Start)
	to := io.Writer(sum)
	if !given.Equal(r.Start) {
		r.describe(sumBefore, given)
		to = io.MultiWriter(sum, sumBefore)
	}
	n, err := io.Copy(to, section)
	if err == nil && n < r.Samples*r.Datatype.Size() {
		err = faultf(ErrTruncated, "leave the file alone while it is read", "the file became shorter while it was read")
	}
	if err != nil {
		return "", "", at(r.what(), err)
	}
	digest = hex.EncodeToString(sum.Sum(nil))
	if before = digest; !given.Equal(r.Start) {
		before = hex.EncodeToString(sumBefore.Sum(nil))
	}
	return digest, before, nil
}

// describe writes what counts in a digest beside the samples.
func (r Recording) describe(to io.Writer, start time.Time) {
	at := ""
	if !start.IsZero() {
		at = start.UTC().Format(time.RFC3339Nano)
	}
	fmt.Fprintf(to, "%s\n%x\n%x\n%s\n", r.Datatype, float64(r.Centre), float64(r.Rate), at)
}

func (d *dataset) compare() error {
	if d.sha512 == "" {
		return nil
	}
	file, err := os.Open(d.path)
	if err != nil {
		return err
	}
	defer file.Close()
	sum := sha512.New()
	if _, err := io.Copy(sum, d.from(file, 0)); err != nil {
		return err
	}
	if hex.EncodeToString(sum.Sum(nil)) != d.sha512 {
		return faultf(ErrChecksum, "get the recording anew; if it was changed on purpose, remove core:sha512 from its description",
			"the data are not what core:sha512 says: the file was damaged or changed")
	}
	return nil
}
