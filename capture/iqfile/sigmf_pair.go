package iqfile

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
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
