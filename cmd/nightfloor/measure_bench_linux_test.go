package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"

	"nightfloor/dsp/dsptest"
)

// BenchmarkMeasure measures recordings of several lengths at 2.4 MS/s, all detectors on,
// on one core, and gives how many times real time that is, and the memory it takes. The
// first budget is four times real time, the goal ten; memory is not to grow with length.
func BenchmarkMeasure(b *testing.B) {
	const rate, centre = 2.4e6, 9.65115e6
	s := dsptest.Broadcast(1, rate, centre, 9.4e6, 9.9e6, 0.6)
	s.Comb(dsptest.Comb{Spacing: 65.012e3, Level: -72, Mains: 50, Depth: 0.5, Low: centre - 1.1e6, High: centre + 1.1e6})
	s.Gated(dsptest.Gated{Mean: 1e-10, Mains: 50, Depth: 0.8})
	second := dsptest.U8(nil, s.Samples(rate))
	for _, seconds := range []float64{0.5, 5, 60} {
		file := filepath.Join(b.TempDir(), "long.cu8")
		writeRepeated(b, file, second, int(2*rate*seconds))
		b.Run(fmt.Sprintf("%gs", seconds), func(b *testing.B) {
			var spent, memory float64
			for b.Loop() {
				cmd := exec.Command(os.Args[0], "measure", file, "--center", "9.65115MHz", "--rate", "2.4MHz", "--json")
				cmd.Env = append(os.Environ(), asProgram+"=1", "GOMAXPROCS=1")
				if said, err := cmd.CombinedOutput(); err != nil {
					b.Fatalf("%v %s", err, said)
				}
				spent += cmd.ProcessState.UserTime().Seconds() + cmd.ProcessState.SystemTime().Seconds()
				memory = float64(cmd.ProcessState.SysUsage().(*syscall.Rusage).Maxrss) / 1024 // kilobytes on Linux
			}
			b.ReportMetric(seconds*float64(b.N)/spent, "x-real-time")
			b.ReportMetric(memory, "MiB")
		})
	}
}

// writeRepeated writes n bytes of a block again and again.
func writeRepeated(b *testing.B, path string, block []byte, n int) {
	file, err := os.Create(path)
	if err != nil {
		b.Fatal(err)
	}
	defer file.Close()
	for n > 0 {
		part := block[:min(len(block), n)]
		if _, err := file.Write(part); err != nil {
			b.Fatal(err)
		}
		n -= len(part)
	}
}
