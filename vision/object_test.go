package vision

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A stain that a drawing runs over was once taken for a thing that lies there, in silence.
// So was the shadow of a phone, whose edge fades.
func TestFindThing(t *testing.T) {
	for _, c := range []struct {
		name  string
		disc  float64 // how dark a disc of 40 mm is
		soft  int     // px of its radius over which it fades
		drawn bool    // whether lines run over it
		thing bool
	}{
		{"a dark thing beside dots", 0.8, 0, false, true},
		{"a pale thing beside dots", 0.35, 0, false, true},
		{"a thing out of focus", 0.8, 6, false, true},
		{"a shadow beside dots", 0.5, 30, false, false},
		{"a stain under a drawing", 0.3, 0, true, false},
		{"a shadow over a drawing", 0.5, 30, true, false},
		{"a drawing alone", 0, 0, true, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := newPage(0)
			p.line(200, 1120, 201, 1120, 20, 0.8)
			p.line(700, 1120, 701, 1120, 20, 0.8)
			if c.disc > 0 {
				for i := 0; i <= c.soft; i++ { // each darker than what lies there
					p.line(450, 500, 451, 500, float64(200+c.soft-2*i), c.disc*float64(i+1)/float64(c.soft+1))
				}
			}
			if c.drawn {
				for _, y := range []float64{300, 400, 500, 600, 700} {
					p.line(150, y, 750, y+60, 18, 0.8)
				}
			}
			_, ok, err := FindThing(p.Colour, 5, DefaultInk())
			require.NoError(t, err)
			assert.Equal(t, c.thing, ok)
		})
	}
}
