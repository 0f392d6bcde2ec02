package survey

import "io/fs"

// FileKind says what lies at a path: a file, a folder, a link, a pipe, a socket or a device.
func FileKind(mode fs.FileMode) string {
	switch kind := mode.Type(); {
	case kind == 0:
		return "a file"
	case kind&fs.ModeDir != 0:
		return "a folder"
	case kind&fs.ModeSymlink != 0:
		return "a link"
	case kind&fs.ModeNamedPipe != 0:
		return "a pipe"
	case kind&fs.ModeSocket != 0:
		return "a socket"
	case kind&fs.ModeDevice != 0:
		return "a device"
	}
	return "something else than a file"
}
