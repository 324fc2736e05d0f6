package parallel

import (
	"fmt"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
)

// Each calls f for each i under n, as many at once as there are cores. f must
// write to what is its own only, so that the result does not depend on them.
func Each(n int, f func(i int)) { AtMost(runtime.GOMAXPROCS(0), n, f) }

// AtMost calls f for each i under n, at most most at once, for what each needs
// much memory; the rest is as for Each. What f panics with the caller panics with, once all are done.
func AtMost(most, n int, f func(i int)) {
	var g group
	slots := make(chan struct{}, max(most, 1))
	for i := range n {
		slots <- struct{}{}
		g.start(func() {
			defer func() { <-slots }()
			f(i)
		})
	}
	g.wait()
}

// A group is functions that run at once.
type group struct {
	wg    sync.WaitGroup
	once  sync.Once
	first any // that one of them panicked with
}

func (g *group) start(f func()) {
	g.wg.Go(func() {
		if r := Caught(f); r != nil {
			g.once.Do(func() { g.first = r })
		}
	})
}

func (g *group) wait() {
	if g.wg.Wait(); g.first != nil {
		panic(g.first)
	}
}

// A Fault is a fault of the program's own, as an index out of range, and where it was.
type Fault struct {
	Err runtime.Error
	At  string // file and line
}

// Error says what it was, and where.
func (f Fault) Error() string { return fmt.Sprintf("%v, at %s", f.Err, f.At) }

// Caught calls f and returns what it panicked with, nil if it did not: a Fault for one of the program's
// own.
func Caught(f func()) (r any) {
	defer func() {
		r = recover()
		if err, ok := r.(runtime.Error); ok {
			r = Fault{err, faultAt()}
		}
	}()
	f()
	return nil
}

// faultAt is the place that panicked, while that is recovered: the first of the program's own.
func faultAt() string {
	calls := make([]uintptr, 64)
	frames := runtime.CallersFrames(calls[:runtime.Callers(3, calls)])
	for {
		f, more := frames.Next()
		if strings.HasPrefix(f.Function, "inkchannel/") && !strings.HasPrefix(f.Function, "inkchannel/geom/parallel.") {
			return fmt.Sprintf("%s:%d", filepath.Base(f.File), f.Line)
		}
		if !more {
			return "an unknown place"
		}
	}
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
	var g group
	for i := range bands {
		g.start(func() { f(n*i/bands, n*(i+1)/bands) })
	}
	g.wait()
}
