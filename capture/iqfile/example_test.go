package iqfile_test

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"nightfloor/capture/iqfile"
)

// A bare file holds codes and nothing else: centre and rate are for the user to say. A cu8
// code c stands for (c − 127.5)/128.
func ExampleOpen() {
	folder, err := os.MkdirTemp("", "")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(folder)
	path := filepath.Join(folder, "night.cu8")
	if err := os.WriteFile(path, []byte{0, 255, 64, 128, 191, 127}, 0o644); err != nil {
		fmt.Println(err)
		return
	}
	if _, err := iqfile.Open(path, iqfile.Options{}); errors.Is(err, iqfile.ErrNoCentre) {
		fmt.Println("without options:", iqfile.ErrNoCentre)
	}
	list, err := iqfile.Open(path, iqfile.Options{Centre: 9.65e6, Rate: 250e3})
	if err != nil {
		fmt.Println(err)
		return
	}
	r := list[0]
	fmt.Printf("%d samples of %s at %v\n", r.Samples, r.Datatype, r.Centre)
	// Output:
	// without options: centre frequency unknown
	// 3 samples of cu8 at 9.65 MHz
}

// A SigMF pair is a description beside its samples. It tells centre, rate, start and gain of
// each capture, and an antenna where it names one.
func ExampleRecording() {
	folder, err := os.MkdirTemp("", "")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(folder)
	const meta = `{
  "global": {"core:datatype": "cu8", "core:version": "1.2.5", "core:sample_rate": 250000, "antenna:model": "loop"},
  "captures": [{"core:sample_start": 0, "core:frequency": 9650000, "core:datetime": "2026-11-03T21:04:10Z"}],
  "annotations": []
}`
	path := filepath.Join(folder, "night.sigmf-meta")
	err = errors.Join(os.WriteFile(path, []byte(meta), 0o644),
		os.WriteFile(filepath.Join(folder, "night.sigmf-data"), []byte{0, 255, 64, 128}, 0o644))
	if err != nil {
		fmt.Println(err)
		return
	}
	list, err := iqfile.Open(path, iqfile.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, r := range list {
		fmt.Printf("%d samples at %v through the %s, from %v\n", r.Samples, r.Centre, r.Antenna, r.Start)
	}
	// Output:
	// 2 samples at 9.65 MHz through the loop, from 2026-11-03 21:04:10 +0000 UTC
}

// A Reader streams samples in full-scale units, and tells the end by io.EOF.
func ExampleReader() {
	folder, err := os.MkdirTemp("", "")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(folder)
	path := filepath.Join(folder, "night.cs8") // signed: code c stands for c/128
	if err := os.WriteFile(path, []byte{0, 64, 0x80, 127, 32, 0xe0}, 0o644); err != nil {
		fmt.Println(err)
		return
	}
	list, err := iqfile.Open(path, iqfile.Options{Centre: 9.65e6, Rate: 250e3})
	if err != nil {
		fmt.Println(err)
		return
	}
	samples, err := list[0].Open()
	if err != nil {
		fmt.Println(err)
		return
	}
	defer samples.Close()
	block := make([]complex64, 2)
	n, err := samples.Read(block)
	for ; err == nil; n, err = samples.Read(block) {
		fmt.Printf("%.3f\n", block[:n])
	}
	if err == io.EOF {
		fmt.Printf("%.0f %% of the codes were clipped\n", 100*samples.Codes().ClippedShare())
	}
	// Output:
	// [(0.000+0.500i) (-1.000+0.992i)]
	// [(0.250-0.250i)]
	// 33 % of the codes were clipped
}
