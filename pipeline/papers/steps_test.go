package papers

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"inkchannel/geom/bed"
	"inkchannel/pipeline"
)

// Who prints from the files of single pieces is told which ones the bed takes only askew.
func TestTurnedText(t *testing.T) {
	files := FileNames{Sign: "sign.3mf"}
	prints := []pipeline.Print{{Name: "channel 1"}, {Name: "backboard"}, {Name: "lid"}}
	for _, c := range []struct {
		name string
		best []float64
		want string
	}{
		{"all lie straight", []float64{0, 90, 0}, ""},
		{
			"one askew", []float64{0, 21.1, 0},
			" In `sign.3mf` all lie as they fit the bed; printed from files of their own, turn on the bed, anticlockwise seen from above: backboard by 21.1°.",
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			beds := pipeline.BedsFound{Prints: prints}
			for _, b := range c.best {
				beds.Layout.Places = append(beds.Layout.Places, bed.Place{Best: b})
			}
			assert.Equal(t, c.want, turnedText(beds, files))
		})
	}
}
