package iqfile

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"unicode"
)

// Errors that callers test for with errors.Is.
var (
	ErrFormat      = errors.New("not what its name or description says")
	ErrUnsupported = errors.New("not supported")
	ErrTruncated   = errors.New("data is missing")
	ErrEmpty       = errors.New("no samples")
	ErrNoCentre    = errors.New("centre frequency unknown")
	ErrNoRate      = errors.New("sample rate unknown")
	ErrChecksum    = errors.New("checksum differs")
	ErrNotFinite   = errors.New("a sample is not a number in full-scale units")
)

// An Error says what could not be read, why, and what to do. It
// unwraps to one of the package's errors or to that of the operating system.
type Error struct {
	What string // "read night.sigmf-meta"
	Why  string // "capture 2: core:sample_start is negative"
	Do   string // "correct the description"
	Err  error
}

// Error gives WHAT: WHY; WHAT TO DO, on one line.
func (e *Error) Error() string { return e.What + ": " + e.Why + "; " + e.Do }

// Unwrap gives the cause.
func (e *Error) Unwrap() error { return e.Err }

// faultf makes an Error whose What is set later, by at: parsers see bytes, not names. why is a
// format for args.
func faultf(kind error, do, why string, args ...any) *Error {
	return &Error{Why: fmt.Sprintf(why, args...), Do: do, Err: kind}
}

// at sets What unless it is set. An error of another type becomes an Error.
func at(what string, err error) error {
	if err == nil {
		return nil
	}
	named := Error{Why: rootCause(err), Do: "check that the file is there and can be read", Err: err}
	var known *Error
	if errors.As(err, &known) {
		if known.What != "" {
			return err
		}
		named = *known
	}
	named.What = what
	return &named
}

// rootCause gives the text of the innermost error: those around it, such as a PathError, repeat
// the path that What names.
func rootCause(err error) string {
	for {
		inner := errors.Unwrap(err)
		if inner == nil {
			return oneLine(err.Error())
		}
		err = inner
	}
}

// quoted quotes text from a file: it escapes control characters, which could steer a terminal,
// and cuts long text.
func quoted(text string) string {
	const longest = 80
	if r := []rune(text); len(r) > longest {
		text = string(r[:longest]) + "…"
	}
	return strconv.Quote(text)
}

// oneLine quotes text that holds characters which do not print, and leaves other text as it is.
func oneLine(text string) string {
	unprintable := func(r rune) bool { return !unicode.IsPrint(r) }
	if strings.IndexFunc(text, unprintable) < 0 {
		return text
	}
	return quoted(text)
}
