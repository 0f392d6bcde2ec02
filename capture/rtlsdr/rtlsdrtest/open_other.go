//go:build !unix

package rtlsdrtest

import "errors"

func openLibrary(string) (uintptr, error) { return 0, errors.New("not on this system") }
