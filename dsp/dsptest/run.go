package dsptest

import (
	"flag"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"sync/atomic"
	"testing"
)

// FreshSeeds declares the flag -fresh for a package's tests and returns the number that they
// add to their seeds: 0, or with the flag another one at each run.
func FreshSeeds() (seeds func() uint64) {
	fresh := flag.Bool("fresh", false, "new seeds for statistical tests")
	return sync.OnceValue(func() uint64 {
		if !*fresh {
			return 0
		}
		return rand.Uint64()
	})
}

// SkipIfShort skips a test with -short, as under the race detector: it tests the arithmetic of
// one goroutine, which other tests run there, too.
func SkipIfShort(t *testing.T) {
	t.Helper()
	if testing.Short() {
		t.Skip("long arithmetic of one goroutine; it runs without -short")
	}
}

// RealRecording reads a recording from the folder beside the module, or skips.
func RealRecording(t *testing.T, name string) []byte {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	exists := func(path string) bool { _, err := os.Stat(path); return err == nil }
	for !exists(filepath.Join(dir, "go.mod")) && dir != filepath.Dir(dir) {
		dir = filepath.Dir(dir)
	}
	raw, err := os.ReadFile(filepath.Join(dir, "../shared/data/real", name))
	if err != nil && os.Getenv("CI") == "true" {
		t.Fatalf("real recordings must be at hand in CI: %v", err)
	}
	if err != nil {
		t.Skipf("real recordings are not at hand: %v", err)
	}
	return raw
}

// CountParallel calls f(0) … f(n−1) on all processors and counts how often it returns true.
func CountParallel(n int, f func(i int) bool) int {
	var yes atomic.Int64
	var wait sync.WaitGroup
	workers := runtime.GOMAXPROCS(0)
	for first := range workers {
		wait.Go(func() {
			for i := first; i < n; i += workers {
				if f(i) {
					yes.Add(1)
				}
			}
		})
	}
	wait.Wait()
	return int(yes.Load())
}
