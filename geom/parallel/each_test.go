package parallel

import (
	"errors"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What one of many panics with reaches the caller, who may recover it, after all others are done.
func TestPanicsReachTheCaller(t *testing.T) {
	own := errors.New("too narrow")
	for _, c := range []struct {
		name string
		run  func(done *atomic.Int32)
	}{
		{"each", func(done *atomic.Int32) {
			Each(8, func(i int) {
				if i == 3 {
					panic(own)
				}
				done.Add(1)
			})
		}},
		{"bands", func(done *atomic.Int32) {
			Bands(640, func(from, to int) {
				done.Add(7)
				panic(own)
			})
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			var done atomic.Int32
			assert.Equal(t, own, Caught(func() { c.run(&done) }))
			assert.GreaterOrEqual(t, int(done.Load()), 7)
		})
	}
}

func TestCaught(t *testing.T) {
	assert.Nil(t, Caught(func() {}))
	var none []int
	for name, f := range map[string]func(){
		"here":          func() { none[len(none)]++ },
		"among several": func() { Each(3, func(int) { none[len(none)]++ }) },
	} {
		t.Run(name, func(t *testing.T) {
			fault, ok := Caught(f).(Fault)
			require.True(t, ok)
			assert.ErrorContains(t, fault, "index out of range")
		})
	}
}
