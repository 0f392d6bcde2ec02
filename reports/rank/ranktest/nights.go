package ranktest

import (
	"flag"
	"runtime"
	"sync"
)

var nights = flag.Int("nights", 0, "nights simulated of each world; 0: a few of some worlds")

// Nights gives how many nights of each world were asked for, 0: none were.
func Nights() int { return *nights }

// Each gives what is found of nights of a world, worked out side by side.
func Each[T any](w World, seed uint64, nights int, find func(*Night) T) []T {
	found := make([]T, nights)
	next := make(chan int)
	var workers sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		workers.Go(func() {
			for i := range next {
				found[i] = find(w.Night(seed + uint64(i)))
			}
		})
	}
	for i := range found {
		next <- i
	}
	close(next)
	workers.Wait()
	return found
}
