// Package rtlsdr receives through an RTL2832U dongle, by way of the system's
// librtlsdr, which is opened at run time: a machine without it runs everything
// else, and no C compiler is needed.
//
// The driver reports neither what age the samples are nor when some are lost.
// Here samples are counted from the start of the stream. After each change of
// tuning or gain the chip puts its counter pattern in place of samples for an
// instant (mark.go): what comes behind the pattern was made after the change.
// So what is left over from before is thrown away, whatever the length of the
// queue and however it grows, and no more; and it is known when each sample was
// made. Buffers that come late for good, by a clock that goes on while the host
// sleeps, tell of a loss (arrivals.go).
//
// Gains are always set by hand, the chip's own gain control is always off, and
// the bias tee is off unless asked for. Frequencies are radio frequencies, in
// Hz, with up-converter and clock error taken care of.
package rtlsdr
