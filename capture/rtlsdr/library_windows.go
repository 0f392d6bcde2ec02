package rtlsdr

import (
	"errors"

	"golang.org/x/sys/windows"
)

func openLibrary(name string) (uintptr, error) {
	handle, err := windows.LoadLibrary(name)
	return uintptr(handle), err
}

func symbol(handle uintptr, name string) (uintptr, error) {
	return windows.GetProcAddress(windows.Handle(handle), name)
}

func notThere(err error) bool { return errors.Is(err, windows.ERROR_MOD_NOT_FOUND) }
