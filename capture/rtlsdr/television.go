package rtlsdr

import (
	"os"
	"strings"
)

// televisionDriver tells whether the kernel's driver for television reception,
// which claims dongles for itself, is loaded (Linux; proc(5)).
func televisionDriver() bool {
	modules, err := os.ReadFile("/proc/modules")
	return err == nil && strings.Contains("\n"+string(modules), "\ndvb_usb_rtl28xxu ")
}
