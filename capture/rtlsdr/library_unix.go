//go:build unix

package rtlsdr

import (
	"strings"

	"github.com/ebitengine/purego"
)

func openLibrary(name string) (uintptr, error) {
	return purego.Dlopen(name, purego.RTLD_NOW|purego.RTLD_LOCAL)
}

func symbol(handle uintptr, name string) (uintptr, error) { return purego.Dlsym(handle, name) }

// notThere tells whether the loader found no file of that name.
func notThere(err error) bool {
	return strings.Contains(err.Error(), "No such file") || strings.Contains(err.Error(), "no such file") ||
		strings.Contains(err.Error(), "not found")
}
