package main

import (
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"unicode"

	"nightfloor/capture"
)

// A firstWord is a word that names of recordings begin with, as whip in "whip loft 1.cu8".
type firstWord struct {
	text  string // as the first name writes it
	names int    // that begin with it
}

// firstWords gives the words that names begin with, "" for what is no word.
func firstWords(names []string) (words []firstWord) {
	for _, name := range names {
		base := filepath.Base(name)
		if end := strings.IndexFunc(base, func(r rune) bool { return !unicode.IsLetter(r) }); end >= 0 {
			base = base[:end]
		}
		i := slices.IndexFunc(words, func(w firstWord) bool { return strings.EqualFold(w.text, base) })
		if i < 0 {
			i, words = len(words), append(words, firstWord{text: base})
		}
		words[i].names++
	}
	return words
}

// contradiction tells of names that begin with other words than the antenna under which all are
// stored; "" where none begins with the antenna's, so that the words may mean anything.
func contradiction(sources []capture.Source, antenna string) string {
	var files []string
	for _, s := range sources {
		files = append(files, s.File)
	}
	files = slices.Compact(files) // a file may have several captures

	own := firstWords([]string{antenna})[0].text
	var others []string
	names, found := 0, false
	for _, w := range firstWords(files) {
		switch {
		case strings.EqualFold(w.text, own):
			found = true
		case w.text != "":
			others, names = append(others, w.text), names+w.names
		}
	}
	verbs := "begin with %s, and are"
	if names == 1 {
		verbs = "begins with %s, and is"
	}
	if own == "" || !found || names == 0 {
		return ""
	}
	if len(others) > 3 {
		others = []string{"other words"}
	}
	return fmt.Sprintf("%d of %d names "+verbs+" stored as %s", names, len(files), strings.Join(others, " or "), antenna)
}

// refusals gives the errors of recordings that were not imported: one for all that name no antenna.
func refusals(all []capture.Refusal) error {
	var errs []error
	var nameless []string // files
	for _, r := range all {
		switch {
		case r.Why != capture.NoAntenna:
			errs = append(errs, fmt.Errorf("%s: not imported: %s", r.File, strings.TrimPrefix(r.Why, "read "+r.File+": ")))
		case !slices.Contains(nameless, r.File):
			nameless = append(nameless, r.File)
		}
	}
	switch len(nameless) {
	case 0:
	case 1:
		errs = append(errs, fmt.Errorf("%s: not imported: %s", nameless[0], capture.NoAntenna))
	default:
		errs = append(errs, fmt.Errorf("%s and %d more: not imported: they name no antenna; %s", nameless[0], len(nameless)-1, nameThem(nameless)))
	}
	return errors.Join(errs...)
}

// nameThem says what to do with files that name no antenna. Two words or a few that each begin
// several names, and all of them together, are likely antennas.
func nameThem(files []string) string {
	const most = 4 // chosen
	words := firstWords(files)
	if len(words) < 2 || len(words) > most || slices.ContainsFunc(words, func(w firstWord) bool { return w.text == "" || w.names < 2 }) {
		return "name it with --antenna"
	}
	var each []string
	for _, w := range words {
		each = append(each, fmt.Sprintf("%s (%d)", w.text, w.names))
	}
	return fmt.Sprintf("their names begin with %s: import each with its own --antenna", strings.Join(each, " and "))
}
