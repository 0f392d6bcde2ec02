package fft_test

import (
	"os"
	"strconv"
	"time"

	"golang.org/x/sys/unix"
)

// pinThreads moves every thread of this process onto the last core it may use;
// threads and programs started later inherit that. The first core is left to
// the system's interrupts.
func pinThreads() (unpin func(), err error) {
	var before, one unix.CPUSet
	if err := unix.SchedGetaffinity(0, &before); err != nil {
		return func() {}, err
	}
	for core := range 1024 { // the size of a CPUSet
		if before.IsSet(core) {
			one.Zero()
			one.Set(core)
		}
	}
	return func() { setAffinity(&before) }, setAffinity(&one)
}

func setAffinity(set *unix.CPUSet) error {
	threads, err := os.ReadDir("/proc/self/task")
	if err != nil {
		return err
	}
	for _, t := range threads {
		id, err := strconv.Atoi(t.Name())
		if err != nil {
			return err
		}
		// A thread may have ended since the folder was read.
		if err := unix.SchedSetaffinity(id, set); err != nil && err != unix.ESRCH {
			return err
		}
	}
	return nil
}

// cpuTime gives the processor time that this process has used.
func cpuTime() time.Duration {
	var t unix.Timespec
	if err := unix.ClockGettime(unix.CLOCK_PROCESS_CPUTIME_ID, &t); err != nil {
		panic(err) // every Linux has this clock
	}
	return time.Duration(t.Nano())
}
