package wav_test

import (
	"encoding/binary"
	"fmt"
	"strings"

	"nightfloor/capture/iqfile/wav"
)

// A file of one second whose recorder was killed: it never wrote the lengths.
func ExampleRead() {
	le := binary.LittleEndian
	format := le.AppendUint16(le.AppendUint16(nil, 1), 2)                   // integers, two channels
	format = le.AppendUint32(le.AppendUint32(format, 48_000), 4*48_000)     // frames and bytes a second
	format = le.AppendUint16(le.AppendUint16(format, 4), 16)                // bytes a frame, bits
	file := "RIFF\x00\x00\x00\x00WAVEfmt \x10\x00\x00\x00" + string(format) // 16 bytes
	file += "data\x00\x00\x00\x00" + strings.Repeat("\x01\x00\xFE\xFF", 48_000)

	found, err := wav.Read(strings.NewReader(file), int64(len(file)))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(found.Format, found.Rate, found.Data)
	fmt.Println(found.Doubts[0])
	// Output:
	// {false 16} 48000 [{44 192000}]
	// the WAV header gives no length: the recording was cut off, and is read to the end of the file
}
