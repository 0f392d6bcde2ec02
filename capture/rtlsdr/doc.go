// Package rtlsdr receives through an RTL2832U dongle, by way of the system's
// librtlsdr, which is opened at run time: a machine without it runs everything
// else, and no C compiler is needed.
//
// The driver reports neither what age the samples are nor when some are lost.
// Here samples are counted from the start of the stream, and the counter
// pattern that the chip can put in place of samples tells, at a known time,
// which count belongs to which moment (timeline.go). So what is left over from
// before a retune is thrown away, whatever the length of the queue, and no
// more; and a count that falls behind the monotonic clock tells of a loss.
//
// Gains are always set by hand, the chip's own gain control is always off, and
// the bias tee is off unless asked for. Frequencies are radio frequencies, in
// Hz, with up-converter and clock error taken care of.
package rtlsdr
