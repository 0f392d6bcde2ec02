package iqfile

import (
	"archive/tar"
	"cmp"
	"errors"
	"io"
	"io/fs"
	"maps"
	"nightfloor/survey"
	"os"
	"path"
	"path/filepath"
	"slices"
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
	meta, err := openRegular(metaPath)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, faultf(err, "put it beside the data, or name the data .cu8, .cs16 or .cf32 and give --center and --rate", "its description %s is missing", quoted(filepath.Base(metaPath)))
	}
	if err != nil {
		return nil, err
	}
	defer meta.Close()
	return readPair(meta, filepath.Base(dataPath), o, func(name string) (stretch, error) {
		path := filepath.Join(filepath.Dir(path), name)
		size, err := regularSize(path)
		if errors.Is(err, fs.ErrNotExist) {
			err = faultf(err, "put it beside the description", "its data file %s is missing", quoted(name))
		}
		return stretch{path: path, size: size}, err
	})
}

func openRegular(path string) (*os.File, error) {
	if _, err := regularSize(path); err != nil {
		return nil, err
	}
	return os.Open(path)
}

// readPair reads a description and places its captures in the data, which find looks for
// beside it. dataName is the data's name unless the description gives another.
func readPair(meta io.Reader, dataName string, o Options, find func(name string) (stretch, error)) ([]Recording, error) {
	m, err := parseMeta(meta)
	if err != nil {
		return nil, err
	}
	dataName = cmp.Or(m.Global.Dataset, dataName)
	if dataName == "." || dataName == ".." || strings.ContainsAny(dataName, "/\\\x00") || !filepath.IsLocal(dataName) {
		return nil, faultf(ErrFormat, "put the data beside the description and correct core:dataset", "core:dataset %s is not a plain file name", quoted(dataName))
	}
	data, err := find(dataName)
	if err != nil {
		return nil, err
	}
	return m.recordings(data, o)
}

// Bounds on what is read of a malicious archive's headers and kept.
const (
	mostMembers = 1 << 16
	mostNames   = 4 << 20 // bytes of all names
)

// readArchive reads a SigMF archive, a POSIX tar file that holds pairs, in size bytes.
// Recordings come by the names of the pairs. Samples stay where they are: they are read
// at their offset.
func readArchive(name string, f io.ReaderAt, size int64, o Options) ([]Recording, error) {
	members, err := parseArchive(f, size)
	if err != nil {
		return nil, err
	}
	if len(members) == 0 {
		return nil, faultf(ErrEmpty, "pack it anew", "the archive is empty")
	}
	metas := slices.DeleteFunc(slices.Sorted(maps.Keys(members)), func(member string) bool { return !strings.HasSuffix(member, metaEnding) })
	switch {
	case len(metas) == 0:
		return nil, faultf(ErrEmpty, "check what it holds", "the archive holds no description (%s)", metaEnding)
	case len(metas) > 1: // the archive's name says one start, and not whose
		o.named = Named{}
	}
	var all []Recording
	for _, meta := range metas {
		text := io.NewSectionReader(f, members[meta].start, members[meta].size)
		list, err := readPair(text, path.Base(strings.TrimSuffix(meta, metaEnding))+dataEnding, o, func(name string) (stretch, error) {
			data, there := members[path.Join(path.Dir(meta), name)]
			if !there {
				return data, faultf(ErrTruncated, "pack it anew with its data", "its data file %s is missing in the archive", quoted(name))
			}
			return data, nil
		})
		if err != nil {
			return nil, at(naming(name, meta), err)
		}
		for i := range list {
			list[i].Member = meta
		}
		all = append(all, list...)
		if len(all) > mostCaptures {
			return nil, faultf(ErrUnsupported, "split the archive", "the archive holds more than %d captures", mostCaptures)
		}
	}
	return all, nil
}

// parseArchive finds where each member lies. Their names are keys here and never become
// paths. Bytes that are no samples are skipped, not read.
func parseArchive(f io.ReaderAt, size int64) (map[string]stretch, error) {
	section := io.NewSectionReader(f, 0, size)
	members, names := map[string]stretch{}, 0
	reader := tar.NewReader(section)
	for count := 0; ; count++ {
		header, err := reader.Next()
		if err == io.EOF {
			return members, nil
		}
		if err != nil {
			return nil, tarFault(err, count)
		}
		if count == mostMembers {
			return nil, faultf(ErrUnsupported, "split the archive", "the archive holds more than %d files", mostMembers)
		}
		if header.Typeflag == tar.TypeGNUSparse || slices.ContainsFunc(slices.Collect(maps.Keys(header.PAXRecords)), isSparse) {
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
		if names += len(name); names > mostNames {
			return nil, faultf(ErrUnsupported, "pack it anew with short names", "the names in the archive take more than %d MiB", mostNames>>20)
		}
		if _, twice := members[name]; twice {
			return nil, faultf(ErrFormat, "pack it anew", "the archive holds %s twice", quoted(name))
		}
		members[name] = stretch{start: start, size: header.Size}
	}
}

func isSparse(key string) bool { return strings.HasPrefix(key, "GNU.sparse.") }

func tarFault(err error, count int) error {
	switch {
	case errors.Is(err, tar.ErrHeader) && count == 0:
		return faultf(ErrFormat, "name the file by what it holds", "this is no tar archive")
	case errors.Is(err, tar.ErrHeader):
		return faultf(ErrFormat, "copy or pack it anew", "the tar archive is damaged after %s", survey.Count(count, "file"))
	case errors.Is(err, io.ErrUnexpectedEOF):
		return faultf(ErrTruncated, "copy it anew", "the archive is cut off after %s", survey.Count(count, "file"))
	}
	return err
}
