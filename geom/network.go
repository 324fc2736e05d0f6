package geom

// A Network is a drawing's centrelines as they were traced: pen strokes that
// share knots where they meet.
type Network struct {
	// Knots are the ends, junctions and closing points of the strokes.
	Knots []Knot
	// Strokes are the pen lines, each a walk from knot to knot.
	Strokes []Stroke
}

// A Knot is a point where a stroke starts, stops, or meets another.
type Knot struct {
	At Point
	// Degree counts the runs that leave the knot: 1 at a free end, 3 at a T,
	// 4 at a crossing, 2 where a closed stroke starts.
	Degree int
}

// A Stroke is one pen line. Its runs follow one another, run i from knot
// Knots[i] to knot Knots[i+1], passing smoothly through the knots between.
type Stroke struct {
	Runs   []Polyline
	Knots  []int
	Closed bool    // the last knot is the first, and the line is smooth there
	Width  float64 // the pen line's width
	Ink    int     // which pen drew it, 0 for the first
}

// Length returns the length of all the stroke's runs.
func (s Stroke) Length() float64 { return TotalLength(s.Runs) }

// Scaled returns n with every length multiplied by k.
func (n Network) Scaled(k float64) Network {
	out := Network{Knots: make([]Knot, len(n.Knots)), Strokes: make([]Stroke, len(n.Strokes))}
	for i, kn := range n.Knots {
		out.Knots[i] = Knot{At: kn.At.Mul(k), Degree: kn.Degree}
	}
	for i, s := range n.Strokes {
		t := Stroke{Knots: s.Knots, Closed: s.Closed, Width: s.Width * k, Ink: s.Ink}
		for _, r := range s.Runs {
			t.Runs = append(t.Runs, r.Scaled(k))
		}
		out.Strokes[i] = t
	}
	return out
}

// A Topology is what of a drawing does not depend on where its points lie.
type Topology struct {
	Parts     int // connected parts
	Ends      int // free ends
	Junctions int // points where three or more runs meet
	Loops     int // independent closed paths: runs − knots + parts
}

// Topology counts the parts, ends, junctions and loops of n.
func (n Network) Topology() Topology {
	set := NewForest(len(n.Knots))
	root := set.Root
	degree := make([]int, len(n.Knots))
	runs := 0
	for _, s := range n.Strokes {
		for i := range s.Runs {
			a, b := s.Knots[i], s.Knots[i+1]
			degree[a]++
			degree[b]++
			set.Join(a, b)
			runs++
		}
	}
	var t Topology
	knots := 0
	for i, d := range degree {
		if d == 0 {
			continue
		}
		knots++
		if root(i) == i {
			t.Parts++
		}
		if d == 1 {
			t.Ends++
		}
		if d > 2 {
			t.Junctions++
		}
	}
	// A root may be a knot without runs only if it stands alone, so every
	// part is counted once.
	t.Loops = runs - knots + t.Parts
	return t
}
