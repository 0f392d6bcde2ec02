//go:build !linux && !darwin && !freebsd && !netbsd && !windows

package rtlsdr

import "errors"

var errNoLoader = errors.New("shared libraries cannot be opened at run time on this system")

func openLibrary(string) (uintptr, error)     { return 0, errNoLoader }
func symbol(uintptr, string) (uintptr, error) { return 0, errNoLoader }
func notThere(error) bool                     { return false }
