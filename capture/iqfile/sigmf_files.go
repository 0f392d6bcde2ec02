package iqfile

import (
	"archive/tar"
	"errors"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"sort"
	"strings"
)

const (
	metaEnding = ".sigmf-meta"
	dataEnding = ".sigmf-data"
)

// openPair reads a recording by either of its two files.
func openPair(path string, o Options) ([]Recording, error) {
	base := path[:len(path)-len(metaEnding)] // both endings are of one length, in either case
	metaPath, dataPath := base+metaEnding, base+dataEnding
	if strings.EqualFold(filepath.Ext(path), metaEnding) {
		metaPath = path
	} else {
		dataPath = path
	}
	m, err := readMeta(metaPath)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, faultf(err, "put it beside the data, or name the data .cu8, .cs16 or .cf32 and give --center and --rate", "its description %s is missing", quoted(filepath.Base(metaPath)))
	}
	if err != nil {
		return nil, err
	}
	if m.Global.Dataset != nil {
		name, err := datasetName(*m.Global.Dataset)
		if err != nil {
			return nil, err
		}
		dataPath = filepath.Join(filepath.Dir(path), name)
	}
	info, err := os.Stat(dataPath)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, faultf(err, "put it beside the description", "its data file %s is missing", quoted(filepath.Base(dataPath)))
	}
	if err != nil {
		return nil, err
	}
	if err := checkRegular(dataPath); err != nil {
		return nil, err
	}
	list, err := m.recordings(info.Size(), o)
	if err != nil {
		return nil, err
	}
	list[0].data.path = dataPath
	return list, nil
}

func readMeta(path string) (*sigmfMeta, error) {
	if err := checkRegular(path); err != nil {
		return nil, err
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return parseMeta(f)
}

// datasetName checks core:dataset: it names a file beside the description, and
// nothing else on the machine.
func datasetName(name string) (string, error) {
	if name == "" || name == "." || name == ".." || strings.ContainsAny(name, "/\\\x00") || !filepath.IsLocal(name) {
		return "", faultf(ErrFormat, "put the data beside the description and correct core:dataset", "core:dataset %s is not a plain file name", quoted(name))
	}
	return name, nil
}

// mostMembers bounds how many headers of a malicious archive are read.
const mostMembers = 1 << 16

// An archive is the contents of a SigMF archive: where each member lies in the
// tar file. Member names are keys here and never become paths.
type archive struct {
	file    io.ReaderAt
	members map[string]stretch
}

type stretch struct{ start, size int64 }

// readArchive reads a SigMF archive, a POSIX tar file that holds pairs, in size bytes.
// Recordings come by the names of the pairs. Samples stay where they are: they are read
// at their offset.
func readArchive(name string, f io.ReaderAt, size int64, o Options) ([]Recording, error) {
	a, err := parseArchive(f, size)
	if err != nil {
		return nil, err
	}
	var metas []string
	for member := range a.members {
		if strings.HasSuffix(member, metaEnding) {
			metas = append(metas, member)
		}
	}
	if len(a.members) == 0 {
		return nil, faultf(ErrEmpty, "pack it anew", "the archive is empty")
	}
	if len(metas) == 0 {
		return nil, faultf(ErrEmpty, "check what it holds", "the archive holds no description (%s)", metaEnding)
	}
	sort.Strings(metas)
	var all []Recording
	for _, meta := range metas {
		list, err := a.pair(meta, o)
		if err != nil {
			return nil, at(naming(name, meta), err)
		}
		all = append(all, list...)
		if len(all) > mostCaptures {
			return nil, faultf(ErrUnsupported, "split the archive", "the archive holds more than %d captures", mostCaptures)
		}
	}
	return all, nil
}

// parseArchive finds the members. Bytes that are no samples are skipped, not
// read.
func parseArchive(f io.ReaderAt, size int64) (*archive, error) {
	section := io.NewSectionReader(f, 0, size)
	a := &archive{file: f, members: map[string]stretch{}}
	reader := tar.NewReader(section)
	for count := 0; ; count++ {
		header, err := reader.Next()
		if err == io.EOF {
			return a, nil
		}
		if err != nil {
			return nil, tarFault(err, count)
		}
		if count == mostMembers {
			return nil, faultf(ErrUnsupported, "split the archive", "the archive holds more than %d files", mostMembers)
		}
		if header.Typeflag == tar.TypeGNUSparse || hasSparse(header) {
			return nil, faultf(ErrUnsupported, "pack it as a plain POSIX tar", "%s is stored as a sparse file", quoted(header.Name))
		}
		if header.Typeflag != tar.TypeReg {
			continue
		}
		// The reader has just read the header and nothing beyond.
		start, err := section.Seek(0, io.SeekCurrent)
		if err != nil {
			return nil, err
		}
		if header.Size > size-start {
			return nil, faultf(ErrTruncated, "copy it anew", "the archive ends within %s", quoted(header.Name))
		}
		name := path.Clean(header.Name)
		if _, twice := a.members[name]; twice {
			return nil, faultf(ErrFormat, "pack it anew", "the archive holds %s twice", quoted(name))
		}
		a.members[name] = stretch{start, header.Size}
	}
}

func hasSparse(h *tar.Header) bool {
	for key := range h.PAXRecords {
		if strings.HasPrefix(key, "GNU.sparse.") {
			return true
		}
	}
	return false
}

func tarFault(err error, count int) error {
	switch {
	case errors.Is(err, tar.ErrHeader) && count == 0:
		return faultf(ErrFormat, "name the file by what it holds", "this is no tar archive")
	case errors.Is(err, tar.ErrHeader):
		return faultf(ErrFormat, "copy or pack it anew", "the tar archive is damaged after %s", plural(count, "file"))
	case errors.Is(err, io.ErrUnexpectedEOF):
		return faultf(ErrTruncated, "copy it anew", "the archive is cut off after %s", plural(count, "file"))
	}
	return err
}

// pair reads the pair that the description meta belongs to.
func (a *archive) pair(meta string, o Options) ([]Recording, error) {
	where := a.members[meta]
	m, err := parseMeta(io.NewSectionReader(a.file, where.start, where.size))
	if err != nil {
		return nil, err
	}
	dataName := strings.TrimSuffix(meta, metaEnding) + dataEnding
	if m.Global.Dataset != nil {
		name, err := datasetName(*m.Global.Dataset)
		if err != nil {
			return nil, err
		}
		dataName = path.Join(path.Dir(meta), name)
	}
	data, there := a.members[dataName]
	if !there {
		return nil, faultf(ErrTruncated, "pack it anew with its data", "its data file %s is missing in the archive", quoted(path.Base(dataName)))
	}
	list, err := m.recordings(data.size, o)
	if err != nil {
		return nil, err
	}
	list[0].data.start = data.start
	for i := range list {
		list[i].Member = meta
	}
	return list, nil
}
