package parallel

import (
	"runtime"
	"sync"
)

// Each calls f for each i under n, as many at once as there are cores. f must
// write to what is its own only, so that the result does not depend on them.
func Each(n int, f func(i int)) { AtMost(runtime.GOMAXPROCS(0), n, f) }

// AtMost calls f for each i under n, at most most at once, for what each needs
// much memory; the rest is as for Each.
func AtMost(most, n int, f func(i int)) {
	var wg sync.WaitGroup
	slots := make(chan struct{}, max(most, 1))
	for i := range n {
		slots <- struct{}{}
		wg.Go(func() {
			defer func() { <-slots }()
			f(i)
		})
	}
	wg.Wait()
}

// Try is Each for a function that may fail: it returns the error of the lowest i
// that had one, nil if none had.
func Try(n int, f func(i int) error) error {
	errs := make([]error, n)
	Each(n, func(i int) { errs[i] = f(i) })
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

// leastBand is how many rows make a band worth a goroutine of its own.
const leastBand = 16

// Bands splits n rows into one band a core and calls f on all bands at once, from
// its first row to before its last. f must write to its own rows only.
func Bands(n int, f func(from, to int)) {
	bands := min(runtime.GOMAXPROCS(0), max(n/leastBand, 1))
	if bands == 1 {
		f(0, n)
		return
	}
	var wg sync.WaitGroup
	for i := range bands {
		wg.Go(func() { f(n*i/bands, n*(i+1)/bands) })
	}
	wg.Wait()
}
