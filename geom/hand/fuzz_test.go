package hand

import (
	"encoding/binary"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"inkchannel/geom"
)

// Changes of any kind, at any places, leave lines that are finite and whole, or are told as missed.
func FuzzApply(f *testing.F) {
	verbs := []Verb{Move, Draw, Bow, Ring, Freehand, RubOut, Meet, Straighten, Round, Length, Angle, Radius, Parallel, Equal, Tangent, Bend, Mirror, Split}
	for i := range verbs {
		f.Add([]byte{byte(i), 60, 0, 0, 0, 60, 0, 20, 0, 90, 0, 10, 0, 40})
	}
	f.Add([]byte{9, 50, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 70, 13, 10, 0, 0, 0, 60, 0, 20, 0, 0, 0, 0, 0, 0})
	f.Fuzz(func(t *testing.T, data []byte) {
		var changes []Change
		const size = 14 // a verb, three places, a number
		for ; len(data) >= size && len(changes) < 6; data = data[size:] {
			v := verbs[int(data[0])%len(verbs)]
			c := Change{Verb: v, Value: 1 + float64(data[13])}
			for k := range v.Places() {
				x := int16(binary.LittleEndian.Uint16(data[1+4*k:]))
				y := int16(binary.LittleEndian.Uint16(data[3+4*k:]))
				c.At = append(c.At, geom.Pt(float64(x%400), float64(y%400)))
			}
			changes = append(changes, c)
		}
		out, missed, err := Apply(angled(), changes)
		require.NoError(t, err)
		require.LessOrEqual(t, len(missed), len(changes))
		assertSound(t, out)
		for _, k := range out.Curves {
			for _, p := range k.Pieces {
				for _, q := range p {
					require.False(t, math.IsNaN(q.X+q.Y) || math.IsInf(q.X+q.Y, 0), "%v", changes)
				}
			}
		}
	})
}
