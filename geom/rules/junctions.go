package rules

import (
	"cmp"
	"errors"
	"math"
	"slices"

	"inkchannel/geom"
)

// JunctionSettings tune Junctions.
type JunctionSettings struct {
	Strip float64 // mm, the strip's width with its clearance
}

// A Way is one strip through a junction or up to it.
type Way struct {
	Curve int
	Along float64 // mm along the curve
	Turn  float64 // degrees that the strip turns in passing, 180 if it ends
}

// A Junction says which strip passes where lines meet.
type Junction struct {
	Knot int
	At   geom.Point
	// Passes is the strip that runs on. The others butt against its side: each
	// ends there, or is cut in two.
	Passes Way
	Butts  []Way
	// Room is the shortest stretch, mm, that a strip has from here to the next
	// junction, between the sides of the strips that pass; Cramped tells that
	// it is less than the strip is wide. Room is infinite where no arm ends at
	// another junction.
	Room    float64
	Cramped bool
}

// Junctions decides at each knot where three or more arms meet which strip
// passes: the one that turns least, the longer at a draw.
//
// It returns an error for a strip width that is not over 0.
func Junctions(c geom.Centreline, set JunctionSettings) ([]Junction, error) {
	if !(set.Strip > 0) {
		return nil, errors.New("the strip's width must be over 0 mm")
	}
	rulers := make([]*geom.Ruler, len(c.Curves))
	ways := make([][]Way, len(c.Knots))
	arms := make([]int, len(c.Knots))
	for i, k := range c.Curves {
		r := geom.NewRuler(k)
		rulers[i] = r
		n := len(k.Stops)
		for j, st := range k.Stops {
			w := Way{Curve: i, Along: r.Piece(st.Piece), Turn: 180}
			ends := j == 0 || j == n-1
			switch {
			case ends && k.Closed && k.Stops[0].Knot == k.Stops[n-1].Knot:
				if j > 0 {
					continue
				}
				w.Turn = geom.Degrees(turnOf(k.Pieces[len(k.Pieces)-1], k.Pieces[0]))
				arms[st.Knot]++
			case !ends:
				w.Turn = geom.Degrees(turnOf(k.Pieces[st.Piece-1], k.Pieces[st.Piece]))
				arms[st.Knot]++
			}
			arms[st.Knot]++
			ways[st.Knot] = append(ways[st.Knot], w)
		}
	}
	var out []Junction
	for k, w := range ways {
		if arms[k] < 3 {
			continue
		}
		slices.SortStableFunc(w, func(a, b Way) int {
			return cmp.Or(
				cmp.Compare(math.Round(a.Turn), math.Round(b.Turn)),
				cmp.Compare(rulers[b.Curve].Length(), rulers[a.Curve].Length()),
			)
		})
		out = append(out, Junction{Knot: k, At: c.Knots[k].At, Passes: w[0], Butts: w[1:]})
	}
	for i := range out {
		out[i].Room = room(c, rulers, arms, out[i]) - set.Strip
		out[i].Cramped = out[i].Room < set.Strip
	}
	return out, nil
}

func turnOf(a, b geom.Cubic) float64 {
	h, g := a.Heading(1), b.Heading(0)
	return math.Abs(math.Atan2(h.Cross(g), h.Dot(g)))
}

// room is the shortest way along any strip from junction j to another one.
func room(c geom.Centreline, rulers []*geom.Ruler, arms []int, j Junction) float64 {
	least := math.Inf(1)
	for _, w := range append([]Way{j.Passes}, j.Butts...) {
		for _, st := range c.Curves[w.Curve].Stops {
			s := rulers[w.Curve].Piece(st.Piece)
			if st.Knot == j.Knot && (s == w.Along || !c.Curves[w.Curve].Closed) || arms[st.Knot] < 3 {
				continue
			}
			d := math.Abs(s - w.Along)
			if l := rulers[w.Curve].Length(); c.Curves[w.Curve].Closed {
				d = min(d, l-d)
			}
			if d > 1e-9 {
				least = min(least, d)
			}
		}
	}
	return least
}
