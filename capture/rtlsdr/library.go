package rtlsdr

import (
	"cmp"
	"errors"
	"fmt"
	"reflect"
	"runtime"

	"github.com/ebitengine/purego"
)

// ErrNoLibrary is what wraps a failure to find librtlsdr, ErrOldLibrary one that lacks a function.
var (
	ErrNoLibrary  = errors.New("librtlsdr was not found")
	ErrOldLibrary = errors.New("librtlsdr is too old")
)

// A device is librtlsdr's handle of an open dongle.
type device uintptr

// A library holds the functions of librtlsdr that are used, each with its name there.
// Widths are exactly those of the C interface (rtl-sdr.h, 0.6): nobody else checks them.
type library struct {
	path string

	DeviceCount      func() uint32                                                             `c:"rtlsdr_get_device_count"`
	DeviceName       func(index uint32) string                                                 `c:"rtlsdr_get_device_name"`
	DeviceUSBStrings func(index uint32, manufacturer, product, serial *byte) int32             `c:"rtlsdr_get_device_usb_strings"`
	Open             func(dev *device, index uint32) int32                                     `c:"rtlsdr_open"`
	Close            func(dev device) int32                                                    `c:"rtlsdr_close"`
	TunerType        func(dev device) int32                                                    `c:"rtlsdr_get_tuner_type"`
	TunerGains       func(dev device, gains *int32) int32                                      `c:"rtlsdr_get_tuner_gains"`
	SetTunerGain     func(dev device, tenths int32) int32                                      `c:"rtlsdr_set_tuner_gain"`
	SetTunerGainMode func(dev device, manual int32) int32                                      `c:"rtlsdr_set_tuner_gain_mode"`
	SetAGCMode       func(dev device, on int32) int32                                          `c:"rtlsdr_set_agc_mode"`
	SetSampleRate    func(dev device, rate uint32) int32                                       `c:"rtlsdr_set_sample_rate"`
	SampleRate       func(dev device) uint32                                                   `c:"rtlsdr_get_sample_rate"`
	SetCentre        func(dev device, hz uint32) int32                                         `c:"rtlsdr_set_center_freq"`
	SetDirect        func(dev device, branch int32) int32                                      `c:"rtlsdr_set_direct_sampling"`
	SetTestMode      func(dev device, on int32) int32                                          `c:"rtlsdr_set_testmode"`
	ResetBuffer      func(dev device) int32                                                    `c:"rtlsdr_reset_buffer"`
	ReadAsync        func(dev device, callback, context uintptr, buffers, length uint32) int32 `c:"rtlsdr_read_async"`
	CancelAsync      func(dev device) int32                                                    `c:"rtlsdr_cancel_async"`
	SetBiasTee       func(dev device, on int32) int32                                          `c:"rtlsdr_set_bias_tee"` // nil where the library is too old
}

// Names under which the loader may know the library: of Debian, of Ubuntu, of a
// development package, of macOS, of Windows.
var names = map[string][]string{
	"darwin":  {"librtlsdr.dylib", "librtlsdr.0.dylib", "librtlsdr.2.dylib", "/opt/homebrew/lib/librtlsdr.dylib", "/usr/local/lib/librtlsdr.dylib", "/opt/local/lib/librtlsdr.dylib"},
	"windows": {"rtlsdr.dll", "librtlsdr.dll"},
	"":        {"librtlsdr.so.0", "librtlsdr.so.2", "librtlsdr.so"},
}

// candidates gives those of this system.
func candidates(names map[string][]string) []string {
	if own, ok := names[runtime.GOOS]; ok {
		return own
	}
	return names[""]
}

// load opens librtlsdr. The error wraps ErrNoLibrary or ErrOldLibrary and says what to install.
func load() (*library, error) {
	var old, broken error
	for _, name := range candidates(names) {
		handle, err := openLibrary(name)
		if err != nil {
			if !notThere(err) {
				broken = cmp.Or(broken, err)
			}
			continue
		}
		l := &library{path: name}
		if lacks := l.bind(handle); lacks != "" {
			old = cmp.Or(old, fmt.Errorf("%w: %s lacks %s; install version 0.6 or newer: %s", ErrOldLibrary, name, lacks, newerHint()))
			continue
		}
		return l, nil
	}
	why := fmt.Errorf("%w; install it: %s", ErrNoLibrary, installHint())
	if broken != nil {
		why = fmt.Errorf("%w (%v); install it: %s", ErrNoLibrary, broken, installHint())
	}
	return nil, fmt.Errorf("open the receiver's driver: %w", cmp.Or(old, why))
}

// bind fills in the library's functions, and gives the name of the first that it lacks.
func (l *library) bind(handle uintptr) (lacks string) {
	for field, into := range reflect.ValueOf(l).Elem().Fields() {
		function := field.Tag.Get("c")
		if function == "" {
			continue
		}
		at, err := symbol(handle, function)
		switch {
		case err == nil:
			purego.RegisterFunc(into.Addr().Interface(), at)
		case field.Name != "SetBiasTee":
			return function
		}
	}
	return ""
}

// installHint says how the library is to be had on this system.
func installHint() string {
	switch runtime.GOOS {
	case "darwin":
		return "brew install librtlsdr, or port install rtl-sdr"
	case "windows":
		return "put rtlsdr.dll with its libusb-1.0.dll beside nightfloor.exe, and give the dongle the WinUSB driver"
	}
	return "apt install librtlsdr0 (Debian; librtlsdr2 on newer releases), dnf install rtl-sdr (Fedora), apk add librtlsdr (Alpine)"
}

// newerHint says how a newer one is to be had.
func newerHint() string {
	switch runtime.GOOS {
	case "darwin":
		return "brew upgrade librtlsdr, or port upgrade rtl-sdr"
	case "windows":
		return installHint()
	}
	return installHint() + " of a newer release of the system, or build it from its sources"
}
