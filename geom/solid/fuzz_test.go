package solid

import (
	"testing"

	"inkchannel/geom"
)

// Whatever is drawn: a mesh that is a solid's. Two bytes are a point in half
// millimetres, 255 lifts the pen.
func FuzzChannel(f *testing.F) {
	f.Add([]byte{10, 10, 180, 10, 180, 180, 10, 180, 10, 10})
	f.Add([]byte{10, 10, 180, 180, 255, 10, 180, 180, 10})
	f.Add([]byte{10, 10, 180, 10, 255, 10, 24, 180, 24, 255, 10, 10, 180, 10})
	f.Fuzz(func(t *testing.T, data []byte) {
		var pls []geom.Polyline
		var pl geom.Polyline
		end := func() {
			if len(pl) > 1 {
				pls = append(pls, pl)
			}
			pl = nil
		}
		data = data[:min(len(data), 80)]
		for i := 0; i+1 < len(data); i += 2 {
			if data[i] == 255 {
				end()
				i--
				continue
			}
			if p := geom.Pt(float64(data[i])/2, float64(data[i+1])/2); len(pl) == 0 || pl[len(pl)-1] != p {
				pl = append(pl, p)
			}
		}
		end()
		if len(pls) == 0 {
			return
		}
		ch, err := BuildChannel(lines(pls...), 130, DefaultChannel())
		if err != nil {
			t.Fatalf("%v: %v", pls, err)
		}
		if err := ch.Solid.Check().Err(); err != nil {
			t.Fatalf("%v: %v", pls, err)
		}
	})
}
