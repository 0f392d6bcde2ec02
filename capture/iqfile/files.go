package iqfile

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// Files gives the recordings that arguments of a command name, each a file, a folder or a
// pattern which the shell left as it is: those in a folder by their names, sub-folders not
// looked into, and what fits a pattern as if it were named, but for files whose ending is
// none of a recording. left counts these, and those in folders. Of a pair the description
// alone is given. An argument that leads nowhere stays, and Open says what is wrong with it.
func Files(arguments []string) (files []string, left int) {
	for _, argument := range arguments {
		found := []string{argument}
		if _, err := os.Stat(argument); err != nil {
			if fit, err := filepath.Glob(argument); err == nil && len(fit) > 0 { // sorted
				var others int
				found, others = recordingsAmong(fit)
				left += others
			}
		}
		for _, file := range found {
			inside, others := inFolder(file)
			files, left = append(files, inside...), left+others
		}
	}
	described := map[string]bool{} // without their endings
	for _, file := range files {
		if base, is := strings.CutSuffix(file, metaEnding); is {
			described[base] = true
		}
	}
	return slices.DeleteFunc(files, func(file string) bool {
		base, isData := strings.CutSuffix(file, dataEnding)
		return isData && described[base]
	}), left
}

// inFolder gives the recordings in a folder, and how many other files there are; a file
// itself, and a folder without recordings.
func inFolder(path string) (files []string, left int) {
	list, err := os.ReadDir(path) // sorted
	if err != nil {
		return []string{path}, 0
	}
	var all []string
	for _, entry := range list {
		if !entry.IsDir() {
			all = append(all, filepath.Join(path, entry.Name()))
		}
	}
	if files, left = recordingsAmong(all); len(files) == 0 {
		return []string{path}, 0
	}
	return files, left
}

// recordingsAmong gives those that may be recordings by their names, or are folders, and
// how many others there are. Hidden files are others: systems put their own notes there.
func recordingsAmong(files []string) (recordings []string, left int) {
	for _, file := range files {
		info, err := os.Stat(file)
		_, unknown := readerFor(file)
		hidden := strings.HasPrefix(filepath.Base(file), ".")
		if err == nil && info.IsDir() && !hidden || unknown == nil && !hidden {
			recordings = append(recordings, file)
		} else {
			left++
		}
	}
	return recordings, left
}
