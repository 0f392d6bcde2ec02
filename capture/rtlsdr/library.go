package rtlsdr

import (
	"errors"
	"fmt"
	"runtime"

	"github.com/ebitengine/purego"
)

// ErrNoLibrary is what wraps a failure to find librtlsdr.
var ErrNoLibrary = errors.New("librtlsdr was not found")

// A device is librtlsdr's handle of an open dongle.
type device uintptr

// A library holds the functions of librtlsdr that are used. Widths are exactly
// those of the C interface (rtl-sdr.h, 0.6): nobody else checks them.
type library struct {
	path string

	deviceCount      func() uint32
	deviceName       func(index uint32) string
	deviceUSBStrings func(index uint32, manufacturer, product, serial *byte) int32
	open             func(dev *device, index uint32) int32
	close            func(dev device) int32
	tunerType        func(dev device) int32
	tunerGains       func(dev device, gains *int32) int32
	setTunerGain     func(dev device, tenths int32) int32
	setTunerGainMode func(dev device, manual int32) int32
	setAGCMode       func(dev device, on int32) int32
	setSampleRate    func(dev device, rate uint32) int32
	sampleRate       func(dev device) uint32
	setCentre        func(dev device, hz uint32) int32
	setDirect        func(dev device, branch int32) int32
	setTestMode      func(dev device, on int32) int32
	resetBuffer      func(dev device) int32
	readAsync        func(dev device, callback, context uintptr, buffers, length uint32) int32
	cancelAsync      func(dev device) int32
	setBiasTee       func(dev device, on int32) int32 // nil where the library is too old
}

// A function is one of librtlsdr's, and where it goes.
type function struct {
	name string
	into any
}

// functions gives the functions of librtlsdr that are used.
func (l *library) functions() []function {
	return []function{
		{"rtlsdr_get_device_count", &l.deviceCount}, {"rtlsdr_get_device_name", &l.deviceName},
		{"rtlsdr_get_device_usb_strings", &l.deviceUSBStrings}, {"rtlsdr_open", &l.open}, {"rtlsdr_close", &l.close},
		{"rtlsdr_get_tuner_type", &l.tunerType}, {"rtlsdr_get_tuner_gains", &l.tunerGains},
		{"rtlsdr_set_tuner_gain", &l.setTunerGain}, {"rtlsdr_set_tuner_gain_mode", &l.setTunerGainMode},
		{"rtlsdr_set_agc_mode", &l.setAGCMode}, {"rtlsdr_set_sample_rate", &l.setSampleRate},
		{"rtlsdr_get_sample_rate", &l.sampleRate}, {"rtlsdr_set_center_freq", &l.setCentre},
		{"rtlsdr_set_direct_sampling", &l.setDirect}, {"rtlsdr_set_testmode", &l.setTestMode},
		{"rtlsdr_reset_buffer", &l.resetBuffer}, {"rtlsdr_read_async", &l.readAsync},
		{"rtlsdr_cancel_async", &l.cancelAsync}, {"rtlsdr_set_bias_tee", &l.setBiasTee},
	}
}

// optional are the functions that a library may lack.
var optional = map[string]bool{"rtlsdr_set_bias_tee": true}

// Names under which the loader may know the library: of Debian, of Ubuntu, of a
// development package, of macOS, of Windows.
var names = map[string][]string{
	"darwin":  {"librtlsdr.dylib", "librtlsdr.0.dylib", "librtlsdr.2.dylib", "/opt/homebrew/lib/librtlsdr.dylib", "/usr/local/lib/librtlsdr.dylib", "/opt/local/lib/librtlsdr.dylib"},
	"windows": {"rtlsdr.dll", "librtlsdr.dll"},
	"":        {"librtlsdr.so.0", "librtlsdr.so.2", "librtlsdr.so"},
}

// load opens librtlsdr. The error wraps ErrNoLibrary and says what to install.
func load() (*library, error) {
	candidates, ok := names[runtime.GOOS]
	if !ok {
		candidates = names[""]
	}
	var whys []error
	for _, name := range candidates {
		handle, err := openLibrary(name)
		if err != nil {
			whys = append(whys, err)
			continue
		}
		l := &library{path: name}
		for _, f := range l.functions() {
			at, err := symbol(handle, f.name)
			switch {
			case err == nil:
				purego.RegisterFunc(f.into, at)
			case !optional[f.name]:
				return nil, fmt.Errorf("open %s: %w: it lacks %s; %s", name, ErrNoLibrary, f.name, installHint())
			}
		}
		return l, nil
	}
	return nil, fmt.Errorf("open the receiver's driver: %w; %s", withReason(ErrNoLibrary, whys), installHint())
}

// withReason adds the loader's reason to an error where it is more than "not there".
func withReason(what error, whys []error) error {
	for _, why := range whys {
		if why != nil && !notThere(why) {
			return fmt.Errorf("%w (%v)", what, why)
		}
	}
	return what
}

// installHint says how the library is to be had on this system.
func installHint() string {
	switch runtime.GOOS {
	case "darwin":
		return "install it: brew install librtlsdr, or port install rtl-sdr"
	case "windows":
		return "put rtlsdr.dll with its libusb-1.0.dll beside nightfloor.exe, and give the dongle the WinUSB driver"
	}
	return "install it: apt install librtlsdr0 (Debian; librtlsdr2 on newer releases), dnf install rtl-sdr (Fedora), apk add librtlsdr (Alpine)"
}
