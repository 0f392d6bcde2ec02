package rtlsdr

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"runtime"
	"slices"
	"strings"

	"nightfloor/capture"
)

// ErrNoDongle is what wraps a failure to find a dongle. It is a capture.ErrUnplugged too.
var ErrNoDongle error = noDongle{}

type noDongle struct{}

func (noDongle) Error() string { return "no dongle found" }
func (noDongle) Unwrap() error { return capture.ErrUnplugged }

// WithoutDongle says what can be done where none is.
const WithoutDongle = "without one, record plays a recording with --receiver file:PATH, the simulated house with --receiver scene:house"

// A Dongle is a dongle that is plugged in.
type Dongle struct {
	Index      int
	Name       string
	Serial     string
	Tuner      string // "" where it could not be opened to ask
	Library    string // the file name of librtlsdr
	SameSerial int    // how many dongles have this serial: sticks often leave the factory with the same one
	Refused    error  // why it cannot be opened now; nil where it can
}

// URI gives the receiver URI: by serial where that is the dongle's own.
func (f Dongle) URI() string {
	if f.ownSerial() == "" {
		return fmt.Sprintf("rtlsdr:index=%d", f.Index)
	}
	return "rtlsdr:serial=" + f.Serial
}

// ownSerial gives the serial where no other dongle has it.
func (f Dongle) ownSerial() string {
	if f.SameSerial > 1 {
		return ""
	}
	return f.Serial
}

// title gives the name, with the serial where that is not the dongle's own.
func (f Dongle) title() string {
	if f.SameSerial > 1 && f.Serial != "" {
		return fmt.Sprintf("%s, serial %s, one of %d alike", f.Name, f.Serial, f.SameSerial)
	}
	return f.Name
}

// List gives the dongles that are plugged in, and asks each that is free for
// its tuner. Errors: ErrNoLibrary, ErrNoDongle, capture.ErrStuck.
func List(ctx context.Context, clock Clock) ([]Dongle, error) {
	return search(ctx, clock, "list receivers", list, func([]Dongle) {})
}

func list() ([]Dongle, error) {
	l, err := load()
	if err != nil {
		return nil, err
	}
	all := l.plugged()
	if len(all) == 0 {
		return nil, fmt.Errorf("list receivers: %w: %s knows of none; plug one in, or out and in again (a USB hub without power may be why); %s", ErrNoDongle, l.path, WithoutDongle)
	}
	for i := range all {
		f := &all[i]
		var dev device
		if code := l.Open(&dev, uint32(f.Index)); code < 0 {
			f.Refused = openError(code)
			continue
		}
		f.Tuner = tunerName(l.TunerType(dev))
		l.Close(dev)
	}
	return all, nil
}

// plugged lists what the library sees, without opening anything.
func (l *library) plugged() []Dongle {
	var all []Dongle
	for i := range l.DeviceCount() {
		var manufacturer, product, serial [256]byte
		f := Dongle{Index: int(i), Name: l.DeviceName(i), Library: l.path}
		if l.DeviceUSBStrings(i, &manufacturer[0], &product[0], &serial[0]) == 0 {
			f.Serial = text(serial[:])
			if m, p := text(manufacturer[:]), text(product[:]); m+p != "" {
				f.Name = strings.TrimSpace(m + " " + p)
			}
		}
		all = append(all, f)
	}
	alike := map[string]int{}
	for _, f := range all {
		alike[f.Serial]++
	}
	for i := range all {
		all[i].SameSerial = alike[all[i].Serial]
	}
	return all
}

// text reads a C string.
func text(b []byte) string {
	s, _, _ := strings.Cut(string(b), "\x00")
	return strings.TrimSpace(strings.ToValidUTF8(s, "?"))
}

// find gives the dongle that is asked for.
func (l *library) find(o Options) (Dongle, error) {
	all := l.plugged()
	if len(all) == 0 {
		return Dongle{}, fmt.Errorf("%w; plug it in, or out and in again, and see nightfloor receivers", ErrNoDongle)
	}
	if o.Serial == "" {
		if o.Index >= len(all) {
			return Dongle{}, fmt.Errorf("%w with index %d, only %d plugged in; see nightfloor receivers", ErrNoDongle, o.Index, len(all))
		}
		return all[o.Index], nil
	}
	i := slices.IndexFunc(all, func(f Dongle) bool { return f.Serial == o.Serial })
	switch {
	case i < 0:
		var serials []string
		for _, f := range all {
			serials = append(serials, f.Serial)
		}
		return Dongle{}, fmt.Errorf("%w with serial %s, only %s; see nightfloor receivers", ErrNoDongle, o.Serial, strings.Join(serials, ", "))
	case all[i].SameSerial > 1:
		return Dongle{}, fmt.Errorf("%d dongles have the serial %s; name one by rtlsdr:index=N", all[i].SameSerial, o.Serial)
	}
	return all[i], nil
}

const unknownTuner = "unknown"

// tunerName names the tuner by the driver's number.
func tunerName(kind int32) string {
	return cmp.Or(map[int32]string{1: "E4000", 2: "FC0012", 3: "FC0013", 4: "FC2580", 5: "R820T", 6: tunerWithConverter}[kind], unknownTuner)
}

// tunerWithConverter is the tuner of the only boards of which the driver knows an up-converter (PHYSICS.md 7.6).
const tunerWithConverter = "R828D"

// Codes of libusb that the driver gives through.
const (
	usbAccess   = -3
	usbNoDevice = -4
	usbBusy     = -6
)

// openError says why a dongle does not open, and what to do.
func openError(code int32) error {
	switch code {
	case usbAccess:
		return errors.New("no permission; put the udev rule of the README into /etc/udev/rules.d, reload (udevadm control --reload) and plug the dongle in again")
	case usbNoDevice:
		return fmt.Errorf("%w; plug it in", capture.ErrUnplugged)
	case usbBusy:
		if runtime.GOOS == "linux" { // there one code stands for both
			return fmt.Errorf("claimed by the system's television driver dvb_usb_rtl28xxu or %w; unload it (modprobe -r dvb_usb_rtl28xxu) and keep it off (a line `blacklist dvb_usb_rtl28xxu` in a file in /etc/modprobe.d), or stop the other program", capture.ErrBusy)
		}
		return fmt.Errorf("%w; stop it, or name another dongle with --receiver", capture.ErrBusy)
	}
	return fmt.Errorf("the driver gave error %d; plug the dongle out and in again, into another port if it stays so", code)
}
