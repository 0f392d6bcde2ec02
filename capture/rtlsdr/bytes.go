package rtlsdr

import "unsafe"

// bytesAt gives the driver's buffer as a slice, valid as long as the buffer is.
func bytesAt(buf *byte, length uint32) []byte { return unsafe.Slice(buf, length) }
