package geom

import (
	"runtime"
	"sync"
)

// onCores calls f for each i under n, as many at once as there are cores. f must
// write to what is its own only, so that the result does not depend on them.
func onCores(n int, f func(i int)) {
	var wg sync.WaitGroup
	slots := make(chan struct{}, runtime.GOMAXPROCS(0))
	for i := range n {
		slots <- struct{}{}
		wg.Go(func() {
			defer func() { <-slots }()
			f(i)
		})
	}
	wg.Wait()
}
